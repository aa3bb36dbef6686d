"""What is measured of a site, and what that is worth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Final

from shapely import Geometry, LineString, shortest_line

from pathways.rules import RECEPTOR_LAYERS
from pathways.siting.lie import earth_moved, fall_to_bed, slopes_of
from pathways.siting.measured import NOT_KNOWN, Measured, give_or_take
from pathways.siting.site import Criterion, Place, SiteFlow
from pathways.siting.situation import Situation
from pathways.siting.weights import CriterionName, Yardstick
from pathways.terrain.pathway import Arrival, Outcome

#: Outcomes whose way has a length to something that harms: a drain of unknown outlet
#: counts as water, and so does the ground water under a soakaway.
ARRIVES: Final[tuple[Outcome, ...]] = (
    "reaches_water",
    "enters_piped_drain",
    "enters_ground",
)

#: What a site needs, and the kinds of access that give it.
NEEDS: Final = (("water",), ("power",), ("pesticide_store",), ("track", "gate"))

#: State of the ground in which the least loss counts: in rain any amount gets there.
_STATE: Final = "wet"

_ON_OTHER_ENDS: Final[Mapping[Outcome, str]] = {
    "stops_on_surface": "a spill stays on the surface until the next rain",
    "contained": "a spill is held by what is there",
}
_NONE_DRAWN: Final = Measured(told="none is drawn", worth=1.0)


def measure(
    place: Place, situation: Situation, flow: SiteFlow | None
) -> tuple[Criterion, ...]:
    """Return each criterion of a place, in the order of the weights.

    Parameters
    ----------
    place : Place
        What is measured.
    situation : Situation
        What it is measured in.
    flow : SiteFlow or None
        Where a spill goes; None where that was not traced.

    Returns
    -------
    tuple of Criterion
        `worth` is None where a value is not known.
    """
    found = {
        **_straight(place.footprint, situation),
        **_of_the_way(flow, situation),
        **_of_the_ground(place, situation, flow),
        "distance_to_supplies": _farthest_need(place.footprint, situation),
        "ways_crossed": _ways_crossed(place, situation),
    }
    standing = situation.weights.standing
    return tuple(
        _criterion(one, found[one.name], standing) for one in situation.weights.criteria
    )


def _criterion(yardstick: Yardstick, found: Measured, standing: str) -> Criterion:
    value, spread = found.value, found.spread
    return Criterion(
        name=yardstick.name,
        value=value,
        unit=yardstick.unit,
        worth=found.worth if value is None else yardstick.worth(value),
        weight=yardstick.weight,
        standing=standing,
        told=found.told,
        spread=spread,
        worths=None
        if spread is None
        else (
            yardstick.worth(spread[0]),
            yardstick.worth(spread[1]),
            yardstick.worth(spread[2]),
        ),
    )


def score_of(criteria: Iterable[Criterion]) -> float | None:
    """Return the weighted sum of what the criteria are worth, from 0 to 1.

    What is not known counts as the worst: a missing value lowers a claim and never
    raises it. None where nothing at all is known.

    Parameters
    ----------
    criteria : iterable of Criterion
        Their weights add up to 1.

    Returns
    -------
    float or None
    """
    known = [(one.weight, one.worth) for one in criteria if one.worth is not None]
    if not known:
        return None
    return sum(weight * worth for weight, worth in known)


def _straight(
    footprint: Geometry, situation: Situation
) -> dict[CriterionName, Measured]:
    """Return the straight distances to what a site keeps away from [m]."""
    around = situation.surroundings
    receptors = [
        (RECEPTOR_LAYERS[one.kind], one.kind, one.title, one.geometry)
        for one in around.receptors
    ]
    pipes = [
        (f"{one.kind.replace('_', ' ')} {one.title}".strip(), one.geometry)
        for one in situation.features.pipes
    ]
    pipes += [
        (f"culverted {one.kind} {one.title}".strip(), one.geometry)
        for one in situation.features.watercourses
        if one.culverted
    ]
    dwellings = [
        (one.title or "a dwelling", one.geometry)
        for one in situation.features.buildings
        if one.dwelling
    ]
    error_m = situation.settings.ground.position_error_m

    def nearest(layer: str, things: list[tuple[str, Geometry]]) -> Measured:
        if layer not in around.drawn:
            return NOT_KNOWN
        if not things:
            return _NONE_DRAWN
        distance_m, title = min(
            (float(footprint.distance(shape)), title) for title, shape in things
        )
        spread = give_or_take(distance_m, error_m)
        return Measured(value=distance_m, told=f"to {title}", spread=spread)

    def of(layer: str) -> Measured:
        return nearest(
            layer,
            [(title, shape) for one, _, title, shape in receptors if one == layer],
        )

    openings = [
        (title, shape) for _, kind, title, shape in receptors if kind == "drain_opening"
    ]
    return {
        "distance_to_water": of("watercourses"),
        "distance_to_drains": nearest("inlets", openings),
        "distance_to_wells": of("water_supplies"),
        "distance_to_pipes": nearest("pipes", pipes),
        "distance_to_dwellings": nearest("buildings", dwellings),
    }


def _of_the_way(
    flow: SiteFlow | None, situation: Situation
) -> dict[CriterionName, Measured]:
    """Return what is known of the way of a spill."""
    names: tuple[CriterionName, ...] = (
        "distance_along_flow",
        "time_along_flow",
        "critical_volume",
        "chance_of_water",
    )
    if flow is None:
        return dict.fromkeys(names, NOT_KNOWN)
    if flow.outcome not in ARRIVES:
        ends = Measured(
            told=_ON_OTHER_ENDS.get(flow.outcome, ""),
            worth=situation.weights.worth_by_outcome.get(flow.outcome),
        )
        return {**dict.fromkeys(names, ends), "chance_of_water": _chance(flow)}
    worst = worst_of(flow.arrivals)
    spread = None
    if worst is not None and worst.length_m is not None and flow.length_m is not None:
        low, middle, high = worst.length_m
        spread = (min(low, flow.length_m), middle, max(high, flow.length_m))
    receptor = situation.features.title_of(flow.receptor_id)
    to = f"to {receptor}" if receptor else ""
    return {
        "distance_along_flow": Measured(value=flow.length_m, told=to, spread=spread),
        "time_along_flow": Measured(value=flow.time_s, told="as little as this"),
        "critical_volume": _critical(flow),
        "chance_of_water": _chance(flow),
    }


def _critical(flow: SiteFlow) -> Measured:
    """Return the smallest loss that gets there on wet ground [l]."""
    for one in flow.critical:
        if one.state == _STATE:
            if one.low_l is None:
                return Measured(told="no loss was found that gets there", worth=1.0)
            middle = one.low_l if one.median_l is None else one.median_l
            high = middle if one.high_l is None else one.high_l
            return Measured(
                value=one.low_l,
                told="on wet ground; in rain any amount gets there",
                spread=(one.low_l, middle, high),
            )
    return NOT_KNOWN


def _chance(flow: SiteFlow) -> Measured:
    """Return the share of the versions of the ground that may reach water."""
    worst = worst_of(flow.arrivals)
    if worst is None:
        return NOT_KNOWN
    share, reaches = worst.may_reach_water, worst.reaches_water.probability
    return Measured(
        value=share.probability,
        told=f"of the versions of the ground, {worst.scenario.replace('_', ' ')}; it "
        f"surely does in {reaches:.2f}",
        spread=(share.low, share.probability, share.high),
    )


def worst_of(arrivals: Iterable[Arrival]) -> Arrival | None:
    """Return the scenario in which most versions may or do reach water.

    Parameters
    ----------
    arrivals : iterable of Arrival
        One a scenario.

    Returns
    -------
    Arrival or None
        Of equal ones that in which the ground decides less.
    """
    return max(
        arrivals,
        key=lambda one: (
            one.may_reach_water.probability,
            one.reaches_water.probability,
            not one.decided,
        ),
        default=None,
    )


def _of_the_ground(
    place: Place, situation: Situation, flow: SiteFlow | None
) -> dict[CriterionName, Measured]:
    slope, across = slopes_of(place, situation)
    depth_m = place.depth_to_water_m
    if depth_m is None:
        depth_m = situation.settings.soil.depth_to_water_m
    return {
        "upslope_area": Measured(value=flow.upslope_area_m2 if flow else None),
        "hollow_depth": _hollow(flow),
        "depth_to_water": NOT_KNOWN
        if depth_m is None
        else Measured(value=depth_m, told="in winter, as given"),
        "slope": slope,
        "cross_slope": across,
        "earth_moved": earth_moved(place, situation),
        "fall_to_bed": fall_to_bed(place, situation),
    }


def _hollow(flow: SiteFlow | None) -> Measured:
    """Return how deep rain stands in the deepest hollow of a site [m]."""
    if flow is None or flow.hollow_depth_m is None:
        return NOT_KNOWN
    if not math.isfinite(flow.hollow_depth_m):
        return Measured(told="the ground is shut in: water has no way out", worth=0.0)
    return Measured(value=flow.hollow_depth_m)


def _farthest_need(footprint: Geometry, situation: Situation) -> Measured:
    """Return how far the farthest of the needs is that were drawn [m]."""
    nearest = []
    for kinds in NEEDS:
        distances_m = [
            (float(footprint.distance(one.geometry)), one.kind)
            for one in situation.features.access
            if one.kind in kinds
        ]
        if distances_m:
            nearest.append(min(distances_m))
    if not nearest:
        return NOT_KNOWN
    distance_m, kind = max(nearest)
    error_m = situation.settings.ground.position_error_m
    return Measured(
        value=distance_m,
        told=f"to the nearest {kind.replace('_', ' ')}, the farthest of "
        f"{len(nearest)} of {len(NEEDS)} kinds of supply that are drawn",
        spread=give_or_take(distance_m, error_m),
    )


def _ways_crossed(place: Place, situation: Situation) -> Measured:
    """Return how many ways of a spill lie between a site and the nearest way in."""
    doors = [
        one.geometry
        for one in situation.features.access
        if one.kind in ("track", "gate")
    ]
    if not doors:
        return NOT_KNOWN
    nearest = min(doors, key=place.footprint.distance)
    drive: LineString = shortest_line(place.footprint, nearest)
    crossed = [
        way.name or way.source_id
        for way in situation.ways
        if way.source_id != place.site_id
        and any(drive.intersects(line) for line in way.lines)
    ]
    told = f"from {', '.join(crossed)}" if crossed else "straight to the nearest way in"
    return Measured(value=float(len(crossed)), told=told)
