"""One source, and the way its liquid takes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from pathways.terrain.shares import Share, entropy_bits

#: A share of versions above this, or below its complement, is a decision.
_DECIDED: Final = 0.8
_UNDECIDED_BITS: Final = 0.5

Outcome = Literal[
    "reaches_water",
    "enters_piped_drain",
    "enters_ground",
    "not_known",
    "stops_on_surface",
    "contained",
]

#: Worst first. `not_known` stands above the last two: nothing is called harmless for
#: lack of data.
OUTCOMES: tuple[Outcome, ...] = (
    "reaches_water",
    "enters_piped_drain",
    "enters_ground",
    "not_known",
    "stops_on_surface",
    "contained",
)


@dataclass(frozen=True, kw_only=True)
class Leg:
    """A stretch of a pathway: over the ground, through a pipe, or as seen."""

    kind: Literal["surface", "pipe", "observed", "joined"]
    line: LineString
    through: str = ""  # id of the pipe or of the observation
    enters: str = ""  # id of the opening that liquid enters at its end
    tank: str = ""  # id of the tank in which it comes to stand at its end


@dataclass(frozen=True, kw_only=True)
class Hollow:
    """A hollow on the way, which must fill before liquid goes on."""

    easting_m: float
    northing_m: float
    depth_m: float
    capacity_l: float
    level_m: float
    area_m2: float
    held_by: str = ""  # id of the barrier that liquid overtops to go on


@dataclass(frozen=True, kw_only=True)
class Nearby:
    """Something that the way passes near."""

    id: str
    kind: str
    distance_m: float


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another way that the same liquid may take, and why it may."""

    why: str
    outcome: Outcome
    receptor_id: str
    receptor_kind: str
    length_m: float
    via: tuple[str, ...]
    legs: tuple[Leg, ...] = ()
    end_why: str = ""  # why its end is not known


@dataclass(frozen=True, kw_only=True)
class End:
    """Something that a source's liquid can end in, and how often it does."""

    id: str
    kind: str
    share: Share


@dataclass(frozen=True)
class Reach:
    """In what share of the versions of the ground each square of it is passed.

    Parameters
    ----------
    side : int
        Side of the squares [cells].
    blocks : ndarray of int64
        Numbers of the squares that any version passes, counted by rows of squares.
    shares : ndarray of float32
        Share of the versions that pass each.
    """

    side: int
    blocks: NDArray[np.int64]
    shares: NDArray[np.float32]

    def squares(
        self, columns: int, least: float
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float32]]:
        """Return row, column and share of the squares from a share on.

        Parameters
        ----------
        columns : int
            Columns of the grid [cells].
        least : float
            Share of the versions.

        Returns
        -------
        tuple of ndarray
            Rows and columns of squares, and their shares.
        """
        shown = self.shares >= least
        row, column = np.divmod(self.blocks[shown], -(-columns // self.side))
        return row, column, self.shares[shown]

    @property
    def undecided(self) -> float:
        """Share of the squares that any version passes that are rather undecided.

        Entropy above 0.5 bits: passed by 11 to 89 % of the versions (Hengl, Heuvelink &
        van Loon 2010 give the share of an area by this measure).
        """
        return float((entropy_bits(self.shares) > _UNDECIDED_BITS).mean())


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """What a source's liquid reaches under one scenario of the error.

    `reaches_water` counts every piece of water that is reached as drawn, and
    `may_reach_water` those and every end but a tank that holds it: a drain of unknown
    outlet, the edge of the ground and the like are not known to keep it from water.
    `ends` tells each apart, the most frequent first. `length_m` has the 5, 50 and 95 %
    quantiles of the length of ways to water, over the ground, and `time_s` those of the
    time that storm runoff takes for it, a fast bound [s]. `parts_at` is where the ways
    part most, None where they keep together. `visited` holds, for cells that any way
    passes, the number and the share of the versions.
    """

    scenario: str
    says: str
    reaches_water: Share
    may_reach_water: Share
    ends: tuple[End, ...]
    length_m: tuple[float, float, float] | None
    parts_at: tuple[float, float] | None
    parts_near: str
    visited: tuple[NDArray[np.int64], NDArray[np.float32]]
    reach: Reach
    time_s: tuple[float, float, float] | None = None

    @property
    def decided(self) -> bool:
        """Whether the ground decides: one end takes most of the versions."""
        water = self.reaches_water
        sure = water.low > _DECIDED or water.high < 1 - _DECIDED
        return sure and self.ends[0].share.probability > _DECIDED


@dataclass(frozen=True, kw_only=True)
class Pathway:
    """The way of one source's liquid, told from its start to its end.

    Parameters
    ----------
    source_id, source_kind, source_name : str
        The source, as it was drawn.
    start_kind : {"point", "lowest_edge", "nearest_water", "door"}
        Where at the source the way begins.
    outcome : str
        What the way ends in: one of `OUTCOMES`.
    why : str
        Why the outcome is `not_known`; empty with every other.
    receptor_id, receptor_kind : str
        What it reaches; empty where that is not known.
    length_m : float
        Length of its legs together, in plan [m].
    straight_line_m : float or None
        From the source to the nearest water's edge of any kind, in plan [m]; None where
        no water was drawn.
    drop_m : float
        Measured height of its start less that of its end [m]; NaN where one is unknown.
    mean_slope : float or None
        `drop_m` over `length_m` [m/m]; None of a way without length.
    surfaces : tuple of (str, float)
        What it runs over, in its order, and for how long [m].
    via : tuple of str
        Inlets, pipes and tanks that it goes through, in its order.
    hollows : tuple of Hollow
        Those that fill on it, in its order.
    start, end : tuple of float
        Easting and northing [m].
    passes_near : tuple of Nearby
        Wells, springs and inlets near it, the nearest first.
    alternatives : tuple of Alternative
        Other ways that the same liquid may take, the first concern first.
    cautions : tuple of str
        What a reader must know of this way.
    legs : tuple of Leg
        Its stretches, end to end.
    overtops_at_m : float or None
        Level at which liquid that a wall shuts in would run over [m].
    arrivals : tuple of Arrival
        How sure it is, the scenario in which most versions of the ground reach water
        first, of equal ones that in which the ground decides less; empty where that was
        not run.
    """

    source_id: str
    source_kind: str
    source_name: str
    start_kind: Literal["point", "lowest_edge", "nearest_water", "door"]
    outcome: Outcome
    why: str
    receptor_id: str
    receptor_kind: str
    length_m: float
    straight_line_m: float | None
    drop_m: float
    mean_slope: float | None
    surfaces: tuple[tuple[str, float], ...]
    via: tuple[str, ...]
    hollows: tuple[Hollow, ...]
    start: tuple[float, float]
    end: tuple[float, float]
    passes_near: tuple[Nearby, ...]
    alternatives: tuple[Alternative, ...]
    cautions: tuple[str, ...]
    legs: tuple[Leg, ...] = field(repr=False)
    overtops_at_m: float | None = None
    arrivals: tuple[Arrival, ...] = field(default=(), repr=False)

    def hollows_by_leg(
        self, hollows: Iterable[Hollow]
    ) -> dict[int, list[tuple[float, Hollow]]]:
        """Return hollows beside the legs over the ground, in the order of the way.

        Parameters
        ----------
        hollows : iterable of Hollow
            Some of `hollows`.

        Returns
        -------
        dict of int to list of (float, Hollow)
            Place of a leg in `legs`; how far along it [m], and the hollow.
        """
        found: dict[int, list[tuple[float, Hollow]]] = {}
        ground = [
            (number, leg)
            for number, leg in enumerate(self.legs)
            if leg.kind in ("surface", "observed")
        ]
        for hollow in hollows if ground else ():
            place = Point(hollow.easting_m, hollow.northing_m)
            number, leg = min(ground, key=lambda one: one[1].line.distance(place))
            found.setdefault(number, []).append((leg.line.project(place), hollow))
        return {
            number: sorted(those, key=lambda one: one[0])
            for number, those in found.items()
        }
