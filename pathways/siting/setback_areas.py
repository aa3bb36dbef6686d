"""The ground within the distances of a rulebook, to be drawn."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Geometry, union_all

from pathways.rules import Rulebook
from pathways.siting.receptors import Surroundings
from pathways.siting.setbacks import concerns


@dataclass(frozen=True, kw_only=True)
class SetbackArea:
    """Ground within the distance of one rule.

    Parameters
    ----------
    rule : str
        Its id, and what it applies to.
    applies_to : tuple of str
        Uses of a site: filling, pad, bed, store.
    says : str
        What it asks, in a sentence.
    citation : str
        Where it stands.
    distance_m : float
        The distance [m]; 0 of ground that is barred.
    area : shapely.Geometry
        The ground.
    """

    rule: str
    applies_to: tuple[str, ...]
    says: str
    citation: str
    distance_m: float
    area: Geometry


def setback_areas(
    surroundings: Surroundings, rulebook: Rulebook
) -> tuple[SetbackArea, ...]:
    """Return the ground within each distance that a rulebook asks for.

    Parameters
    ----------
    surroundings : Surroundings
        What there is to keep away from.
    rulebook : Rulebook
        With the farm's own distances (`with_given_distances`).

    Returns
    -------
    tuple of SetbackArea
        In the order of the rulebook.
    """
    areas = []
    for row in rulebook.setbacks:
        if row.distance_m is None:
            continue
        shapes = [
            one.geometry.buffer(row.distance_m)
            for one in surroundings.receptors
            if concerns(row, one)
        ]
        area = union_all(shapes)
        if area.area > 0:
            name = f"{row.id} ({', '.join(row.applies_to)})"
            areas.append(
                SetbackArea(
                    rule=name,
                    applies_to=tuple(row.applies_to),
                    says=row.says,
                    citation=row.citation.text,
                    distance_m=row.distance_m,
                    area=area,
                )
            )
    return tuple(areas)
