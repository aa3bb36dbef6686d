"""What a rule may ask distance to: waters, supplies, drain openings and zones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from shapely import Geometry, Point, get_coordinates

from pathways.features import LAYERS, Features, Pipe, Tank, Watercourse
from pathways.rules import RECEPTOR_LAYERS
from pathways.water_edge import assumed_half_width_m, water_outline

#: A pipe that ends this near a tank ends in it [m] (data contract, pipe ends).
_ENDS_IN_TANK_M: Final = 1.0


@dataclass(frozen=True, kw_only=True)
class Receptor:
    """One thing to keep away from.

    `kind` is a key of `pathways.rules.RECEPTOR_LAYERS`; `supply_use` is empty except
    for supplies; `standing` is empty except for zones; `caution` is what a reader of a
    distance to it must know; `bank_allowance_m` is how much nearer than its outline the
    top of its bank may be [m].
    """

    kind: str
    id: str
    title: str
    geometry: Geometry
    supply_use: str = ""
    standing: str = ""
    caution: str = ""
    drawn_at: str = ""
    bank_allowance_m: float = 0.0


@dataclass(frozen=True)
class Surroundings:
    """All receptors of a farm, and what was looked at: layers and kinds of zones."""

    receptors: tuple[Receptor, ...]
    drawn: frozenset[str]

    def looked_for(self, kind: str) -> bool:
        """Return whether somebody looked for a kind of receptor.

        Parameters
        ----------
        kind : str
            A key of `pathways.rules.RECEPTOR_LAYERS`.

        Returns
        -------
        bool
            Of zones each kind by itself: one that is drawn says nothing of another.
        """
        return RECEPTOR_LAYERS[kind] in self.drawn or kind in self.drawn


def surroundings_of(
    features: Features, assumed_half_widths_m: Mapping[str, float]
) -> Surroundings:
    """Return everything drawn that a rule may ask distance to.

    Culverted waters count. Every inlet that is not capped is a drain opening, and so is
    the lower end of every pipe that does not end in a tank. A supply of unknown use
    is taken as domestic, with a caution that says so.

    Parameters
    ----------
    features : Features
        As drawn.
    assumed_half_widths_m : mapping of str to float
        Half width of waters drawn at the centre, by kind [m].

    Returns
    -------
    Surroundings
        What nobody looked for is absent from `drawn`.
    """
    receptors = (
        *_waters(features, assumed_half_widths_m),
        *_supplies(features),
        *_drains(features),
        *_zones(features),
    )
    filled = {one for one in LAYERS if one != "exclusions" and getattr(features, one)}
    filled |= {zone.kind for zone in features.exclusions}
    return Surroundings(receptors, features.drawn | filled)


def _waters(
    features: Features, assumed_half_widths_m: Mapping[str, float]
) -> Iterator[Receptor]:
    for water in features.watercourses:
        half_width_m = assumed_half_width_m(water, assumed_half_widths_m)
        caution = (
            "" if half_width_m is None else f"half width {half_width_m:g} m assumed"
        )
        yield Receptor(
            kind=water.kind,
            id=water.id,
            title=_title("culverted " * water.culverted + water.kind, water.title),
            geometry=water_outline(water, assumed_half_widths_m),
            caution=caution,
            drawn_at=water.drawn_at,
            bank_allowance_m=_bank_allowance_m(water, assumed_half_widths_m),
        )


def _bank_allowance_m(
    water: Watercourse, assumed_half_widths_m: Mapping[str, float]
) -> float:
    """Return how much nearer than drawn the bank top may be [m].

    A half width reaches to the bank top; an outline or a line at the water's edge does
    not, and the half width that is assumed for its kind stands in.
    """
    is_area = water.geometry.area > 0
    at_edge = water.drawn_at == "edge" or (is_area and water.drawn_at == "centre")
    return assumed_half_widths_m[water.kind] if at_edge and not water.culverted else 0.0


def _supplies(features: Features) -> Iterator[Receptor]:
    for supply in features.water_supplies:
        unknown = supply.use == "unknown"
        yield Receptor(
            kind=supply.kind,
            id=supply.id,
            title=_title(supply.kind, supply.title),
            geometry=supply.geometry,
            supply_use="domestic_or_food_production" if unknown else supply.use,
            caution="its use is unknown and taken as domestic" if unknown else "",
        )


def _drains(features: Features) -> Iterator[Receptor]:
    for inlet in features.inlets:
        if inlet.drains_to != "capped":
            yield Receptor(
                kind="drain_opening",
                id=inlet.id,
                title=_title(inlet.kind, inlet.title),
                geometry=inlet.geometry,
            )
    for pipe in features.pipes:
        if pipe.kind != "pipe":
            yield Receptor(
                kind=pipe.kind,
                id=pipe.id,
                title=_title(pipe.kind, pipe.title),
                geometry=pipe.geometry,
            )
        outlet = Point(get_coordinates(pipe.geometry)[-1])
        if not _ends_in_tank(outlet, features.tanks):
            yield Receptor(
                kind="drain_opening",
                id=pipe.id,
                title=f"lower end of {_words(pipe)}",
                geometry=outlet,
            )


def _ends_in_tank(outlet: Point, tanks: tuple[Tank, ...]) -> bool:
    return any(tank.geometry.distance(outlet) <= _ENDS_IN_TANK_M for tank in tanks)


def _zones(features: Features) -> Iterator[Receptor]:
    for number, zone in enumerate(features.exclusions, start=1):
        name = zone.label or zone.title or str(number)
        yield Receptor(
            kind=zone.kind,
            id=zone.id or f"exclusion {number}",
            title=_title(zone.kind, name),
            geometry=zone.geometry,
            standing=zone.standing,
        )


def _words(pipe: Pipe) -> str:
    return _title(pipe.kind, pipe.title)


def _title(kind: str, name: str) -> str:
    return f"{kind.replace('_', ' ')} {name}".strip()
