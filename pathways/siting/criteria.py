"""What is measured of a site, and what that is worth."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from shapely import Geometry

from pathways.features import Features
from pathways.grid import Grid
from pathways.rules import RECEPTOR_LAYERS
from pathways.siting.receptors import Surroundings
from pathways.siting.site import Criterion, Place, SiteFlow
from pathways.siting.weights import CriterionName, Weights
from pathways.terrain.pathway import Outcome
from pathways.terrain.slope import plane_gradient

#: Outcomes whose way has a length to something that harms: a drain of unknown outlet
#: counts as water, and so does the ground water under a soakaway.
ARRIVES: Final[tuple[Outcome, ...]] = (
    "reaches_water",
    "enters_piped_drain",
    "enters_ground",
)

#: What a site needs, and the kinds of access that give it.
NEEDS: Final = (("water",), ("power",), ("pesticide_store",), ("track", "gate"))


def measure(
    place: Place,
    grid: Grid,
    features: Features,
    surroundings: Surroundings,
    weights: Weights,
    flow: SiteFlow | None,
) -> tuple[Criterion, ...]:
    """Return each criterion of a place, in the order of the weights.

    Parameters
    ----------
    place : Place
        What is measured.
    grid : Grid
        Heights, for the slope.
    features : Features
        For the supplies that a site needs.
    surroundings : Surroundings
        For the distances to waters and wells.
    weights : Weights
        What a value is worth and how much it weighs.
    flow : SiteFlow or None
        Where a spill goes; None where that was not traced.

    Returns
    -------
    tuple of Criterion
        `worth` is None where a value is not known.
    """
    arrives = flow is not None and flow.outcome in ARRIVES
    gradient = plane_gradient(grid, place.ground)
    values: dict[CriterionName, float | None] = {
        "distance_to_water": _nearest(place.footprint, surroundings, "watercourses"),
        "distance_along_flow": flow.length_m if flow and arrives else None,
        "distance_to_wells": _nearest(place.footprint, surroundings, "water_supplies"),
        "upslope_area": flow.upslope_area_m2 if flow else None,
        "slope": None if gradient is None else float(gradient.slope),
        "distance_to_supplies": _farthest_need(place.footprint, features),
    }
    worths: dict[CriterionName, float | None] = {}
    if flow and not arrives:
        worths["distance_along_flow"] = weights.worth_by_outcome.get(flow.outcome)
    for one in weights.criteria:
        value = values[one.name]
        if value is not None:
            worths[one.name] = one.worth(value)
    return tuple(
        Criterion(
            name=one.name,
            value=values[one.name],
            unit=one.unit,
            worth=worths.get(one.name),
            weight=one.weight,
            standing=weights.standing,
        )
        for one in weights.criteria
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


def _nearest(
    footprint: Geometry, surroundings: Surroundings, layer: str
) -> float | None:
    distances_m = [
        float(footprint.distance(one.geometry))
        for one in surroundings.receptors
        if RECEPTOR_LAYERS[one.kind] == layer
    ]
    return min(distances_m, default=None)


def _farthest_need(footprint: Geometry, features: Features) -> float | None:
    """Return how far the farthest of the needs is that were drawn [m]."""
    nearest_m = []
    for kinds in NEEDS:
        distances_m = [
            float(footprint.distance(one.geometry))
            for one in features.access
            if one.kind in kinds
        ]
        if distances_m:
            nearest_m.append(min(distances_m))
    return max(nearest_m, default=None)
