"""Ways to do without building, held against what is drawn of a farm."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Final

from shapely import Geometry, union_all

from pathways.features import Features
from pathways.siting.without_building import CheckName, WayWithout
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Pathway
from pathways.units import SQUARE_METRES_PER_HECTARE

#: Covers on which a sprayer can be filled in the field.
_FIELDS: Final = ("arable", "short_grass", "dense_grass", "bare_soil")
_NOTHING_DRAWN: Final = "no layer {layer} was drawn, so {what} was not looked at"


def checked(
    ways: Iterable[WayWithout], terrain: Terrain, pathways: Iterable[Pathway]
) -> tuple[WayWithout, ...]:
    """Return ways with what the drawing of a farm says to each.

    Parameters
    ----------
    ways : iterable of WayWithout
        From the table; `check` names what is looked at.
    terrain : Terrain
        Waters, drains, covers, tanks.
    pathways : iterable of Pathway
        Where spills of the sources go.

    Returns
    -------
    tuple of WayWithout
        With `on_this_farm`; none of it says that a way is allowed.
    """
    told = tuple(pathways)
    return tuple(
        replace(one, on_this_farm=tuple(_CHECKS[one.check](one, terrain, told)))
        for one in ways
    )


def _field_ground(
    way: WayWithout, terrain: Terrain, _: tuple[Pathway, ...]
) -> Iterator[str]:
    """Yield how much drawn field keeps the distances of a way."""
    features = terrain.features
    fields = union_all(
        [one.geometry for one in features.surfaces if one.kind in _FIELDS]
    )
    if fields.is_empty:
        yield "no field is drawn, so none was looked at"
        return
    for layer, what in (
        ("watercourses", "water"),
        ("pipes", "land drains and culverts"),
        ("inlets", "openings of drains"),
        ("water_supplies", "wells and springs"),
        ("exclusions", "zones"),
    ):
        if not _is_drawn(features, layer):
            yield _NOTHING_DRAWN.format(layer=layer, what=what)
    off_drains_m = max(
        way.from_drains_m, terrain.assumed["drains", "land_drain_corridor_m"]
    )
    waters = [*terrain.waters]
    waters += [one.geometry for one in features.pipes if one.kind == "culvert"]
    drains = [one.geometry for one in features.pipes if one.kind != "culvert"]
    drains += [one.geometry for one in features.inlets if one.drains_to != "capped"]
    taken: list[Geometry] = [
        union_all(waters).buffer(way.from_water_m),
        union_all(drains).buffer(off_drains_m),
        *(one.geometry for one in features.buildings),
        *(one.geometry for one in features.exclusions),
        *(one.geometry for one in features.surfaces if one.kind not in _FIELDS),
        *(
            one.geometry.buffer(way.from_supplies_m)
            for one in features.water_supplies
            if one.use != "other"
        ),
    ]
    left = fields.difference(union_all(taken))
    yield (
        f"{_hectares(left.area)} of {_hectares(fields.area)} of drawn field keep these "
        "distances to what is drawn and lie in no zone; the soil, tracks and gateways, "
        "and drains that nobody drew were not looked at"
    )


def _openings(
    _: WayWithout, terrain: Terrain, pathways: tuple[Pathway, ...]
) -> Iterator[str]:
    """Yield which openings ways of the sources enter, or may."""
    inlets = {one.id: one for one in terrain.features.inlets}
    if not _is_drawn(terrain.features, "inlets"):
        yield _NOTHING_DRAWN.format(layer="inlets", what="gullies")
        return
    entered: dict[str, set[str]] = {}
    for pathway in pathways:
        ways = (pathway.via, *(one.via for one in pathway.alternatives))
        for name in (name for via in ways for name in via if name in inlets):
            entered.setdefault(name, set()).add(
                pathway.source_name or pathway.source_id
            )
    if not entered:
        yield "no way of a source enters a drawn gully"
    for name, sources in sorted(entered.items()):
        listed = ", ".join(sorted(sources))
        yield f"{inlets[name].title} takes a spill from {listed}, or may"


def _concrete(
    _: WayWithout, terrain: Terrain, __: tuple[Pathway, ...]
) -> Iterator[str]:
    """Yield what concrete is drawn, its state, and the openings in it."""
    features = terrain.features
    slabs = [one for one in features.surfaces if one.kind == "concrete"]
    if not slabs:
        yield "no concrete is drawn"
    for slab in slabs:
        openings = [
            one.title
            for one in features.inlets
            if one.drains_to != "capped" and slab.geometry.intersects(one.geometry)
        ]
        has = (
            f"openings in it: {', '.join(openings)}"
            if openings
            else (
                "no opening is drawn in it"
                if _is_drawn(features, "inlets")
                else "gullies were not drawn"
            )
        )
        yield (
            f"{slab.title or 'concrete'}, {slab.geometry.area:,.0f} m², drawn as "
            f"{slab.condition}: {has}"
        )


def _tanks(_: WayWithout, terrain: Terrain, __: tuple[Pathway, ...]) -> Iterator[str]:
    """Yield what tanks are drawn and what they can be relied on to take."""
    tanks = terrain.features.tanks
    if not tanks:
        yield "no tank is drawn"
    for tank in tanks:
        takes = "what it can take is not given"
        if tank.free_l is not None:
            takes = f"{tank.free_l:,.0f} l can be relied on"
        cared = "inspected and emptied" if tank.maintained else "not said to be emptied"
        yield f"{tank.title}: holds {tank.capacity_l:,.0f} l, {takes}, {cared}"


def _nothing(_: WayWithout, __: Terrain, ___: tuple[Pathway, ...]) -> Iterator[str]:
    return iter(())


_CHECKS: Final[
    Mapping[
        CheckName,
        Callable[[WayWithout, Terrain, tuple[Pathway, ...]], Iterator[str]],
    ]
] = {
    "": _nothing,
    "field_ground": _field_ground,
    "openings": _openings,
    "concrete": _concrete,
    "tanks": _tanks,
}


def _is_drawn(features: Features, layer: str) -> bool:
    return layer in features.drawn or bool(getattr(features, layer))


def _hectares(area_m2: float) -> str:
    return f"{area_m2 / SQUARE_METRES_PER_HECTARE:,.1f} ha"
