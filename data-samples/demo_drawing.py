"""Drawing of the invented demo farm: every layer that a farm folder can hold.

All names, volumes and dates are invented.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Final

import demo_plan as plan
import numpy as np
import shapely
import shapely.affinity
from demo_cells import heights_at
from demo_fields import surfaces
from demo_plan import Numbers, stretch, yard_line, yard_point, yard_rectangle
from shapely import Geometry, LineString, Point, Polygon

from pathways.features import (
    Access,
    Barrier,
    Building,
    Candidate,
    Exclusion,
    Feature,
    Inlet,
    Observation,
    Pipe,
    SearchArea,
    Source,
    SpotLevel,
    Tank,
    Watercourse,
    WaterSupply,
)

#: Coordinates are drawn to the centimetre [m].
DRAWN_TO_M: Final = 0.01

BOREHOLE: Final = (168.0, 262.0)

#: Where the pipe from the yard's gully enters the ditch, and the land drain the stream.
_OUTFALL: Final = plan.DITCH.interpolate(plan.DITCH.project(Point(329.0, 163.0)))
_DRAIN_OUTFALL: Final = plan.STREAM.interpolate(plan.STREAM.project(Point(392.0, 74.0)))
#: The ditch's assumed half width and 8 m more: where the second site lies from it [m].
_FROM_DITCH_M: Final = 8.75


def _here(geometry: Geometry) -> Geometry:
    """Return a geometry cut to the grid, at its place in the national grid."""
    inside: Geometry = geometry.intersection(plan.GROUND)
    moved = shapely.transform(
        inside, lambda xy: xy + np.array([plan.WEST_M, plan.SOUTH_M])
    )
    return shapely.set_precision(moved, DRAWN_TO_M, mode="pointwise")


def sources() -> tuple[Source, ...]:
    """Return the places where a spill can begin."""

    def source(key: str, at: Geometry, kind: str, name: str, **more: Any) -> Source:
        return Source(geometry=at, id=key, kind=kind, name=name, **more)

    return (
        source(
            "F1", Point(plan.F1), "filling_point", "Filling point by the Long Barn",
            volume_l=3000.0, release_l_per_min=400.0, fills_per_year=160.0,
        ),
        source(
            "F2", Point(plan.F2), "filling_point", "Old filling place on the apron",
            volume_l=2000.0, release_l_per_min=300.0, fills_per_year=20.0,
        ),
        source(
            "S1", Point(plan.S1), "pesticide_store", "Spray store",
            volume_l=200.0, release_l_per_min=20.0, door="AD1",
        ),
        source(
            "W1", Point(plan.W1), "washdown", "Washdown bay",
            volume_l=600.0, release_l_per_min=25.0,
        ),
        source(
            "D1", plan.DIESEL_TANK, "fuel_store", "Diesel tank",
            volume_l=2500.0, release_l_per_min=60.0,
        ),
    )  # fmt: skip


def watercourses() -> tuple[Watercourse, ...]:
    """Return the stream and the ditch, which runs under the track in a culvert."""
    upper = stretch(plan.DITCH, 0.0, plan.CULVERT_FROM_M)
    under = stretch(plan.DITCH, plan.CULVERT_FROM_M, plan.CULVERT_TO_M)
    lower = stretch(plan.DITCH, plan.CULVERT_TO_M, plan.DITCH.length)
    name = "Parson's Ditch"
    return (
        Watercourse(
            geometry=plan.STREAM, id="ST1", name="Gannet Water", half_width_m=1.6
        ),
        Watercourse(geometry=upper, id="DT1", name=name, kind="ditch", seasonal=True),
        Watercourse(geometry=under, id="DT2", name=name, kind="ditch", culverted=True),
        Watercourse(geometry=lower, id="DT3", name=name, kind="ditch"),
    )


def conduits() -> dict[str, tuple[Feature, ...]]:
    """Return inlets, pipes and tanks."""
    drain = LineString([(412.0, 186.0), (403.0, 130.0), _DRAIN_OUTFALL.coords[0]])
    under = stretch(plan.DITCH, plan.CULVERT_FROM_M, plan.CULVERT_TO_M)
    to_ditch = LineString([plan.G1, yard_point(72.0, 3.0), _OUTFALL.coords[0]])
    return {
        "inlets": (
            Inlet(geometry=Point(plan.G1), id="G1", name="Yard gully", drains_to="P1"),
            Inlet(
                geometry=Point(plan.G2), id="G2", name="Store gully",
                drains_to="unknown",
            ),
            Inlet(
                geometry=plan.CHANNEL_DRAIN, id="CD1", name="Apron drain",
                kind="channel_drain", drains_to="T1",
            ),
        ),
        "pipes": (
            Pipe(geometry=to_ditch, id="P1", name="Yard drain", diameter_mm=150.0),
            Pipe(
                geometry=under, id="CU1", name="Track culvert", kind="culvert",
                diameter_mm=450.0,
            ),
            Pipe(
                geometry=drain, id="LD1", name="Leaze drain", kind="land_drain",
                diameter_mm=80.0,
            ),
        ),
        "tanks": (
            Tank(
                geometry=yard_rectangle(93.0, 71.0, 97.0, 74.0), id="T1",
                name="Apron tank", capacity_l=6000.0, free_l=4000.0, maintained=True,
            ),
        ),
    }  # fmt: skip


def barriers() -> tuple[Barrier, ...]:
    """Return the yard's kerb with its drop, and the wall with the gate in it."""
    kerbs = tuple(
        Barrier(geometry=line, id=key, name="Yard kerb", kind="kerb", height_m=0.1)
        for key, line in plan.KERBS.items()
    )
    wall = Barrier(
        geometry=plan.WALL, id="WL1", name="Yard wall", kind="wall", height_m=1.5
    )
    return (*kerbs, wall)


def access() -> tuple[Access, ...]:
    """Return ways in and supplies."""
    points = (
        ("A1", "gate", "Yard gate", plan.GATE, 4.0),
        ("A2", "track", "Top Ground gateway", (128.0, 271.2), 6.0),
        ("AD1", "door", "Spray store door", plan.S1_DOOR, 1.2),
        ("A3", "door", "Grain store door", yard_point(-5.0, 40.0), 5.0),
        ("A4", "water", "Standpipe on the Long Barn", yard_point(22.0, 65.5), None),
        ("A5", "power", "Supply on the spray store", yard_point(65.0, 59.5), None),
        ("A6", "pesticide_store", "Spray store", plan.S1, None),
    )
    return (
        *(
            Access(geometry=Point(at), id=key, kind=kind, name=name, width_m=width_m)
            for key, kind, name, at, width_m in points
        ),
        Access(geometry=plan.TRACK, id="A7", kind="track", name="Farm track"),
    )


def siting() -> dict[str, tuple[Feature, ...]]:
    """Return candidate sites, the area to search, and what bars ground."""
    beside = plan.DITCH.parallel_offset(_FROM_DITCH_M, "right")
    by_ditch = beside.interpolate(beside.project(Point(316.0, 184.0)))
    x = np.linspace(-1.0, plan.WIDTH_M + 1.0, 80)
    half_m = 23.0 + 3.5 * np.sin(x / 31.0) + 1.5 * np.sin(x / 13.0)
    axis = plan.valley_axis(x)
    near, far = np.column_stack([x, axis - half_m]), np.column_stack([x, axis + half_m])
    flood = Polygon([*near, *far[::-1]])
    search = Polygon(
        [(108, 150), (200, 140), (326, 150), (319, 182), (312, 204), (304, 240),
         (300, 268), (240, 280), (132, 268), (104, 262)]
    )  # fmt: skip
    ridges = Polygon([(6, 40), (90, 34), (190, 29), (188, 2), (6, 2)])
    pad = shapely.affinity.rotate(shapely.box(120, 208, 133, 217), 8.0)
    return {
        "candidates": (
            Candidate(geometry=pad, id="C1", name="West of the house"),
            Candidate(geometry=by_ditch, id="C2", name="Below the track"),
            Candidate(geometry=Point(182, 266), id="C3", name="Behind the Long Barn"),
        ),
        "search_area": (SearchArea(geometry=search, id="SA1", name="Home ground"),),
        "exclusions": (
            Exclusion(
                geometry=flood, id="X1", name="Flood plain of Gannet Water",
                kind="flood_zone", label="Flood zone (invented)", standing="given",
            ),
            Exclusion(
                geometry=ridges, id="X2", name="Old Ridges", kind="archaeology",
                label="Ridge and furrow (invented)", standing="given",
            ),
        ),
    }  # fmt: skip


def spot_levels(ground: Numbers) -> tuple[SpotLevel, ...]:
    """Return levels as if taken with a staff: the true ground to the centimetre."""
    crown = plan.TRACK.intersection(plan.DITCH)
    places = (
        ("L1", "Apron, ditch side", yard_point(124.0, 61.0)),
        ("L2", "Kerb drop", yard_point(63.2, 7.0)),
        ("L3", "Yard crown", yard_point(56.0, 30.0)),
        ("L4", "Yard by the grain store", yard_point(2.0, 50.0)),
        ("L5", "Track over the culvert", (crown.x, crown.y)),
    )
    levels_m = heights_at(ground, np.array([at for _, _, at in places]))
    return tuple(
        SpotLevel(
            geometry=Point(at),
            id=key,
            name=name,
            level_m=round(float(level_m), 2),
            accuracy_m=0.02,
        )
        for (key, name, at), level_m in zip(places, levels_m, strict=True)
    )


def observations() -> tuple[Observation, ...]:
    """Return what was seen on the ground."""
    ran = yard_line((63.5, 36.0), (63.4, 20.0), (63.2, 8.0), (63.0, 2.0))
    seen = {"date": "2024-11-19", "by": "farm manager"}
    return (
        Observation(
            geometry=ran, id="O1", name="Rain ran out over the kerb drop",
            kind="flow_seen", **seen,
        ),
        Observation(
            geometry=Point(384.0, 287.0), id="O2", name="Water stood for a week",
            kind="ponding_seen", **seen,
        ),
    )  # fmt: skip


def drawing(ground: Numbers) -> dict[str, tuple[Feature, ...]]:
    """Return every layer of the farm, in the coordinates of the national grid.

    Parameters
    ----------
    ground : ndarray of float64, shape (rows, columns)
        True ground, from which the spot levels are taken [m].
    """
    layers: dict[str, Iterable[Feature]] = {
        "sources": sources(),
        "watercourses": watercourses(),
        "water_supplies": (
            WaterSupply(
                geometry=Point(BOREHOLE), id="BH1", name="Yard borehole",
                kind="borehole", use="other",
            ),
            WaterSupply(
                geometry=Point(plan.SPRING), id="SP1", name="Well Close spring",
                kind="spring",
            ),
        ),
        "buildings": [
            Building(
                geometry=outline, id=key, kind=kind, name=name, dwelling=key == "B5"
            )
            for key, (outline, kind, name) in plan.BUILDINGS.items()
        ],
        "barriers": barriers(),
        "surfaces": surfaces(),
        "access": access(),
        "spot_levels": spot_levels(ground),
        "observations": observations(),
        **conduits(),
        **siting(),
    }  # fmt: skip
    return {
        layer: tuple(replace(one, geometry=_here(one.geometry)) for one in features)
        for layer, features in layers.items()
    }
