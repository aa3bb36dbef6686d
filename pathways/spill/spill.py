"""What losses at one source do along one way, in four states of the ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pathways.assumed import AssumedValues
from pathways.features import Source
from pathways.materials import Soil
from pathways.settings import Settings
from pathways.spill.course import Course
from pathways.spill.critical import critical_volume_m3
from pathways.spill.draws import Draws, draw, middle_draw, widths_of
from pathways.spill.front import Moment, front_along
from pathways.spill.ground_states import GroundState, StateName, ground_states
from pathways.spill.kerbs import InletFlow, KerbFlow, inlets_on, kerbs_along
from pathways.spill.losses import Balance, Conditions, run_along
from pathways.spill.releases import Release, ReleaseName, releases_of
from pathways.spill.times import storm_time_s
from pathways.spill.wave import LONGEST_S, Wave, wave_along
from pathways.spill.yard_rain import YardRain
from pathways.units import LITRES_PER_CUBIC_METRE

Values = NDArray[np.float64]

#: Quantiles that are told.
QUANTILES = (0.05, 0.5, 0.95)


@dataclass(frozen=True, kw_only=True)
class Fate:
    """What one loss does in one state of the ground.

    Parameters
    ----------
    release : str
        Name of the loss.
    state : str
        Name of the state.
    film_l, soaks_l, hollows_l, tanks_l, past_inlets_l, arrives_l : float
        Where it is with middle values of everything; they add up to the loss [l].
        What stays on the surface is `film_l` and `hollows_l`, until the next rain;
        `past_inlets_l` may run past an inlet whose drain leads into a tank.
    gets_past_l : tuple of float
        5, 50 and 95 % quantiles of what arrives or runs past [l].
    time_s : tuple of float, or None
        Those of the time until the first of it arrives; None where none does [s].
    wave : Wave or None
        The same by the kinematic wave; None in rain, in which nothing stays, and of a
        loss that runs out for longer than six hours.
    """

    release: ReleaseName
    state: StateName
    film_l: float
    soaks_l: float
    hollows_l: float
    tanks_l: float
    past_inlets_l: float
    arrives_l: float
    gets_past_l: tuple[float, float, float]
    time_s: tuple[float, float, float] | None
    wave: Wave | None = field(default=None, repr=False)


@dataclass(frozen=True, kw_only=True)
class CriticalVolume:
    """The smallest loss of which some gets past, in one state of the ground.

    Quantiles of the possible spills [l]: 0 where any amount does, None where not even
    a hundred million litres do.
    """

    state: StateName
    low_l: float | None
    median_l: float | None
    high_l: float | None


@dataclass(frozen=True, kw_only=True)
class Spill:
    """What losses at one source do along one way.

    Parameters
    ----------
    releases : tuple of Release
        The losses, the stated one last.
    fates : tuple of Fate
        For each loss its four states, the headline first.
    critical : tuple of CriticalVolume
        For each state.
    others : tuple of tuple of CriticalVolume
        Those of the other ways, in the order in which they are told; hollows on them
        are not counted on.
    soonest_s : float
        The fast bound of all: storm runoff or the fastest loss [s].
    storm_s : float
        Time of storm runoff alone, by the velocity method [s].
    kerbs : tuple of KerbFlow
        Kerbs along the way.
    inlets : tuple of InletFlow
        Inlets on the way.
    covers : tuple of str
        Covers whose numbers were used.
    rain : YardRain or None
        The rain that runs past the source.
    fronts : tuple of (str, tuple of (float, float))
        For each state, where the front of `largest` is through time: distance along the
        way [m] and time [s], with middle values of everything.
    """

    releases: tuple[Release, ...]
    fates: tuple[Fate, ...]
    critical: tuple[CriticalVolume, ...]
    others: tuple[tuple[CriticalVolume, ...], ...] = ()
    soonest_s: float
    storm_s: float
    kerbs: tuple[KerbFlow, ...] = ()
    inlets: tuple[InletFlow, ...] = ()
    covers: tuple[str, ...] = ()
    rain: YardRain | None = None
    fronts: tuple[tuple[StateName, tuple[Moment, ...]], ...] = field(
        default=(), repr=False
    )

    def fate(self, release: str, state: str) -> Fate:
        """Return what one loss does in one state."""
        return next(
            one for one in self.fates if one.release == release and one.state == state
        )

    @property
    def largest(self) -> Release:
        """The stated loss, or the largest where none is stated."""
        return _named(self.releases)


@dataclass(frozen=True, kw_only=True)
class Circumstances:
    """What the spills of a farm depend on besides source and course.

    Parameters
    ----------
    settings : Settings
        Sprayer, width of the path, capture of inlets.
    assumed : AssumedValues
        What stands in for what is not given.
    soil : Soil or None
        What lies under the covers.
    fall_error_m : float
        By how much the measured fall of a whole way may be too small [m].
    """

    settings: Settings
    assumed: AssumedValues
    soil: Soil | None
    fall_error_m: float

    @property
    def widths_m(self) -> dict[str, tuple[float, float, float]]:
        """Low, most likely and high width of the wetted path [m]."""
        return widths_of(self.settings.spill, self.assumed)

    def conditions(self, state: GroundState, draws: Draws) -> Conditions:
        """Return what losses depend on in one state."""
        return Conditions(
            state=state,
            soil=self.soil,
            draws=draws,
            assumed=self.assumed,
            capture_fraction=self.settings.spill.capture_fraction,
            fall_error_m=self.fall_error_m,
        )


@dataclass(frozen=True)
class _Case:
    """One course with everything that its spills depend on."""

    course: Course
    given: Circumstances
    draws: Draws
    middle: Draws


def spill_of(
    course: Course,
    source: Source,
    given: Circumstances,
    others: Sequence[Course] = (),
) -> Spill:
    """Find what losses at a source do along a course.

    Parameters
    ----------
    course : Course
        The way of its liquid.
    source : Source
        States the largest loss.
    given : Circumstances
        What else it depends on.
    others : sequence of Course
        Other ways that the same liquid may take.

    Returns
    -------
    Spill
        The same for the same input.
    """
    assumed, widths_m = given.assumed, given.widths_m
    case = _Case(course, given, draw(widths_m, assumed), middle_draw(widths_m))
    releases = releases_of(source, given.settings, assumed)
    states = ground_states(assumed)
    fates = tuple(
        _fate(case, release, state) for release in releases for state in states
    )
    named = _named(releases)
    fastest = max(releases, key=lambda one: one.rate_l_per_min)
    storm_s = storm_time_s(course, assumed, fall_error_m=given.fall_error_m)
    times = [one.time_s[0] for one in fates if one.time_s is not None]
    return Spill(
        releases=releases,
        fates=fates,
        critical=least_losses(course, named, given),
        others=tuple(least_losses(other, named, given) for other in others),
        soonest_s=min([storm_s, *times]),
        storm_s=storm_s,
        kerbs=tuple(kerbs_along(course, fastest, assumed)),
        inlets=tuple(
            inlets_on(
                course,
                fastest,
                assumed,
                {ground: values[1] for ground, values in widths_m.items()},
                given.settings.spill.capture_fraction,
            )
        ),
        covers=tuple(
            dict.fromkeys(
                part.material.kind
                for one in (course, *others)
                for part in one.stretches
            )
        ),
        fronts=tuple(
            (
                state.name,
                front_along(
                    course,
                    given.conditions(state, case.middle),
                    named.volume_l / LITRES_PER_CUBIC_METRE,
                    named.rate_m3_per_s,
                ),
            )
            for state in states
        ),
    )


def least_losses(
    course: Course, release: Release, given: Circumstances
) -> tuple[CriticalVolume, ...]:
    """Return the smallest loss that gets to the end of a course, in each state.

    Parameters
    ----------
    course : Course
        The way.
    release : Release
        Says how fast it runs out.
    given : Circumstances
        What else it depends on.

    Returns
    -------
    tuple of CriticalVolume
        In the order of the states, the headline first.
    """
    case = _Case(
        course,
        given,
        draw(given.widths_m, given.assumed),
        middle_draw(given.widths_m),
    )
    return tuple(
        _critical(case, release, state) for state in ground_states(given.assumed)
    )


def _named(releases: Sequence[Release]) -> Release:
    """Return the stated loss, or the largest where none is stated."""
    if releases[-1].name == "stated":
        return releases[-1]
    return max(releases, key=lambda one: one.volume_l)


def _fate(case: _Case, release: Release, state: GroundState) -> Fate:
    """Return what a loss does in a state."""
    volume_m3 = release.volume_l / LITRES_PER_CUBIC_METRE
    rate = release.rate_m3_per_s
    middle = case.given.conditions(state, case.middle)
    one = run_along(case.course, middle, np.array([volume_m3]), rate)
    factors = case.draws.volume_factors
    many = run_along(
        case.course, case.given.conditions(state, case.draws), volume_m3 * factors, rate
    )
    # As a share of what was spilt: a stated volume is not told to be exceeded.
    past_m3 = many.gets_past_m3 / factors
    low, median, high = (float(value) for value in np.quantile(past_m3, QUANTILES))
    wave = None
    if not state.in_storm and release.duration_s <= LONGEST_S:
        wave = wave_along(case.course, middle, volume_m3, rate)
    return Fate(
        release=release.name,
        state=state.name,
        **_litres(one),
        gets_past_l=(
            low * LITRES_PER_CUBIC_METRE,
            median * LITRES_PER_CUBIC_METRE,
            high * LITRES_PER_CUBIC_METRE,
        ),
        time_s=_times(many),
        wave=wave,
    )


def _litres(balance: Balance) -> dict[str, float]:
    """Return the balance of a single spill [l]."""
    found = {
        "film_l": balance.film_m3,
        "soaks_l": balance.soaked_m3,
        "hollows_l": balance.hollows_m3,
        "tanks_l": balance.tanks_m3,
        "past_inlets_l": balance.past_inlets_m3,
        "arrives_l": balance.arrives_m3,
    }
    return {name: float(one[0]) * LITRES_PER_CUBIC_METRE for name, one in found.items()}


def _times(many: Balance) -> tuple[float, float, float] | None:
    """Return quantiles of the time over the spills that arrive [s]."""
    arrives = many.time_s[np.isfinite(many.time_s)]
    if not arrives.size:
        return None
    low, median, high = (float(one) for one in np.quantile(arrives, QUANTILES))
    return low, median, high


def _critical(case: _Case, release: Release, state: GroundState) -> CriticalVolume:
    """Return the smallest loss that gets past at the rate of a release."""
    found = critical_volume_m3(
        case.course, case.given.conditions(state, case.draws), release.rate_m3_per_s
    )
    # Between a number and infinity no quantile is taken: one of the spills tells it.
    low, median, high = (
        None if np.isinf(one) else float(one) * LITRES_PER_CUBIC_METRE
        for one in np.quantile(found, QUANTILES, method="inverted_cdf")
    )
    return CriticalVolume(state=state.name, low_l=low, median_l=median, high_l=high)
