"""What stays of a spill on its way: the closed form, for many possible spills at once.

Each stretch takes a film and what soaks in while the spill runs out, over a path of
the wetted width. It is cautious for the water at the end of the way: the time that
liquid lies on the ground after the release, in which more soaks in, is left out. For
the same reason it must never be used for what reaches groundwater.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pathways.assumed import AssumedValues
from pathways.materials import Soil, SurfaceMaterial
from pathways.spill.course import Course, Mouth, Store, Stretch
from pathways.spill.draws import Draws
from pathways.spill.ground_states import GroundState, uptake_of
from pathways.spill.gutters import frontal_share, gutter_spread_m
from pathways.spill.hydraulics import (
    runoff_speed_m_per_s,
    spill_speed_m_per_s,
)
from pathways.spill.infiltration import ponded_depth_mm
from pathways.spill.times import time_in_pipes_s
from pathways.units import MILLIMETRES_PER_METRE

Values = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """What the losses of a spill depend on besides its course and its size.

    Parameters
    ----------
    state : GroundState
        What the ground can take.
    soil : Soil or None
        What lies under the covers.
    draws : Draws
        Possible spills.
    assumed : AssumedValues
        Fall towards kerbs, pipes and the like.
    capture_fraction : float or None
        Share that an inlet takes, where the farm says it.
    fall_error_m : float
        By how much the fall of the whole way over the ground may be greater than
        measured, for the times [m].
    """

    state: GroundState
    soil: Soil | None
    draws: Draws
    assumed: AssumedValues
    capture_fraction: float | None = None
    fall_error_m: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Balance:
    """Where the volumes of several possible spills are; arrays of one length [m³].

    All but `volume_m3` and `time_s` add up to `volume_m3`. `time_s` is when the first
    of it arrives [s], infinite where nothing does.
    """

    volume_m3: Values
    film_m3: Values
    soaked_m3: Values
    hollows_m3: Values
    tanks_m3: Values
    past_inlets_m3: Values
    arrives_m3: Values
    time_s: Values

    @property
    def gets_past_m3(self) -> Values:
        """What arrives at the end or runs past an inlet that was to hold it [m³]."""
        return self.arrives_m3 + self.past_inlets_m3


def run_along(
    course: Course,
    given: Conditions,
    volume_m3: Values,
    rate_m3_per_s: float,
    *,
    timed: bool = True,
) -> Balance:
    """Run spills along a course.

    Parameters
    ----------
    course : Course
        The way.
    given : Conditions
        State of the ground and what was drawn.
    volume_m3 : ndarray of float64
        Volume of each spill [m³].
    rate_m3_per_s : float
        At which it runs out [m³/s].
    timed : bool
        Whether times are asked for; else they are nought.

    Returns
    -------
    Balance
        loss = min(V, w L (d + F(T))) on each stretch, with F after Green and Ampt and T
        the duration of the release; hollows and tanks to their capacity.
    """
    ground = RunningSpills(course, given, volume_m3, rate_m3_per_s)
    for part in course.parts:
        if isinstance(part, Stretch):
            ground.over(part, timed=timed)
        elif isinstance(part, Store):
            ground.into(part)
        elif isinstance(part, Mouth):
            ground.down(part)
    pipes_s = time_in_pipes_s(course, given.assumed, fall_error_m=given.fall_error_m)
    return ground.balance(pipes_s)


class RunningSpills:
    """The spills while they run along; one for each draw.

    Parameters
    ----------
    course : Course
        The way, for the fall of the whole of it.
    given : Conditions
        State of the ground and the draws.
    volume_m3 : ndarray of float64
        Volume of each spill [m³].
    rate_m3_per_s : float
        At which it runs out [m³/s].
    """

    def __init__(
        self,
        course: Course,
        given: Conditions,
        volume_m3: Values,
        rate_m3_per_s: float,
    ) -> None:
        self.given = given
        self.steeper = given.fall_error_m / max(course.over_ground_m, 1e-9)
        self.volume_m3 = np.asarray(volume_m3, np.float64)
        self.left_m3 = self.volume_m3.copy()
        self.duration_s = self.volume_m3 / rate_m3_per_s
        self.rate_m3_per_s = rate_m3_per_s
        self.time_s = np.zeros_like(self.left_m3)
        self.last_stretch_s = np.zeros_like(self.left_m3)
        self.wetted_share = np.ones_like(self.left_m3)
        none = np.zeros_like(self.left_m3)
        self.film_m3, self.soaked_m3 = none.copy(), none.copy()
        self.hollows_m3, self.tanks_m3 = none.copy(), none.copy()
        self.past_m3 = none.copy()
        self.spread_m: Values | None = None  # of the flow along a kerb
        self.width_m = given.draws.widths_m["yard"]
        self._taken: dict[str, tuple[Values, Values]] = {}

    def over(self, stretch: Stretch, *, timed: bool) -> None:
        """Run over open ground."""
        before_m3 = self.left_m3
        flow_m3_per_s = before_m3 / self.duration_s
        self.width_m, self.spread_m = self._width(stretch)
        film_m, soak_m = self._depths(stretch.material)
        wetted_m2 = self.width_m * stretch.length_m
        room = wetted_m2 * (film_m + soak_m)
        loss = np.minimum(self.left_m3, room)
        share = np.divide(loss, room, out=np.zeros_like(room), where=room > 0)
        film, soaked = share * wetted_m2 * film_m, share * wetted_m2 * soak_m
        self.film_m3 += film
        self.soaked_m3 += soaked
        # What is used up is nought, and not what rounding leaves.
        used_up = room >= self.left_m3
        self.left_m3 = np.where(used_up, 0.0, self.left_m3 - film - soaked)
        self.wetted_share = np.divide(
            before_m3, room, out=np.ones_like(room), where=used_up & (room > 0)
        )
        if not timed:
            return
        speed = self._speed(stretch, flow_m3_per_s)
        with np.errstate(divide="ignore"):
            self.last_stretch_s = stretch.length_m / speed
        self.time_s += self.last_stretch_s

    def share_wetted(self, stretch: Stretch) -> float:
        """Run over open ground, and return how much of it the first spill wets [-]."""
        self.over(stretch, timed=True)
        return float(self.wetted_share[0])

    def into(self, store: Store) -> None:
        """Fill a hollow or a tank."""
        held = np.minimum(self.left_m3, free_capacity_m3(store, self.given.state))
        self.left_m3 -= held
        if store.kind == "tank":
            self.tanks_m3 += held
        else:
            self.hollows_m3 += held

    def down(self, mouth: Mouth) -> None:
        """Leave the ground by an inlet."""
        if not mouth.into_tank or not self.given.state.tanks_free:
            return  # what it lets pass is told, and counted with what arrives
        past = self.left_m3 * (1 - self.captured(mouth))
        self.past_m3 += past
        self.left_m3 -= past

    def captured(self, mouth: Mouth) -> Values:
        """Return the share of what comes to an inlet that it is sure to take."""
        if self.given.capture_fraction is not None:
            return np.full(self.left_m3.shape, self.given.capture_fraction)
        if self.spread_m is not None:
            return frontal_share(self.spread_m, mouth.width_m)
        return np.minimum(mouth.width_m / self.width_m, 1.0)

    def balance(self, pipes_s: float) -> Balance:
        """Return where everything is, pipes' time added."""
        arrives = self.left_m3 > 0
        return Balance(
            volume_m3=self.volume_m3,
            film_m3=self.film_m3,
            soaked_m3=self.soaked_m3,
            hollows_m3=self.hollows_m3,
            tanks_m3=self.tanks_m3,
            past_inlets_m3=self.past_m3,
            arrives_m3=self.left_m3,
            time_s=np.where(arrives, self.time_s + pipes_s, np.inf),
        )

    def _width(self, stretch: Stretch) -> tuple[Values, Values | None]:
        """Return how wide the path is wetted, and the spread along a kerb if any."""
        drawn = self.given.draws.widths_m[stretch.material.width]
        if stretch.kerb is None:
            return drawn, None
        spread = kerb_spread_m(stretch, self.rate_m3_per_s, self.given.assumed)
        along = np.full(self.left_m3.shape, spread)
        # A kerb gathers flow: it never makes a path wider than it is without.
        return np.minimum(along, drawn), along

    def _depths(self, material: SurfaceMaterial) -> tuple[Values, Values]:
        """Return film and soaked depth of a cover for each spill [m]."""
        if material.kind not in self._taken:
            given = self.given
            film = given.draws.film_mm(material.retention_mm) * given.state.film_share
            uptake = uptake_of(material, given.state, given.soil, given.assumed)
            soak = ponded_depth_mm(
                uptake.conductivity_mm_per_h * given.draws.conductivity_factors,
                uptake.suction_deficit_mm,
                self.duration_s,
            )
            self._taken[material.kind] = (
                film / MILLIMETRES_PER_METRE,
                soak / MILLIMETRES_PER_METRE,
            )
        return self._taken[material.kind]

    def _speed(self, stretch: Stretch, flow_m3_per_s: Values) -> Values:
        """Return how fast the front runs [m/s]: in a storm, the faster of both ways."""
        slope = stretch.fast_slope + self.steeper
        speed = spill_speed_m_per_s(
            flow_m3_per_s, self.width_m, stretch.material.manning_n.value, slope
        )
        if not self.given.state.in_storm:
            return speed
        constant = stretch.material.velocity_m_per_s.value
        return np.maximum(speed, runoff_speed_m_per_s(constant, slope))


def free_capacity_m3(store: Store, state: GroundState) -> float:
    """Return what a hollow or tank still takes in a state of the ground [m³].

    Parameters
    ----------
    store : Store
        A hollow or a tank.
    state : GroundState
        In rain hollows are full and no tank is counted on.

    Returns
    -------
    float
        Its capacity, or nought.
    """
    free = state.tanks_free if store.kind == "tank" else state.hollows_free
    return store.capacity_m3 if free else 0.0


def kerb_spread_m(
    stretch: Stretch, rate_m3_per_s: float, assumed: AssumedValues
) -> float:
    """Return how wide a spill runs along a kerb [m].

    Parameters
    ----------
    stretch : Stretch
        Ground along the kerb.
    rate_m3_per_s : float
        Flow [m³/s].
    assumed : AssumedValues
        Fall of the ground towards the kerb.

    Returns
    -------
    float
        By the gutter formula, HEC-22 equation 4-2.
    """
    return float(
        gutter_spread_m(
            rate_m3_per_s,
            stretch.material.manning_n.value,
            assumed["spill", "kerb_cross_fall"],
            stretch.slope,
        )
    )
