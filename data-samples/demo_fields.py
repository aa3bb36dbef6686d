"""Cover of the demo farm's ground: yards, track and fields, without overlaps."""

from __future__ import annotations

from typing import Final

import demo_plan as plan
from shapely import Geometry, Polygon, get_parts, union_all

from pathways.features import Surface

#: Pieces smaller than this are slivers of drawing, not fields [m²].
SMALLEST_M2: Final = 4.0

#: Uncropped grass between water and arable fields [m].
MARGIN_M: Final = 6.0

_SOUTH: Final = Polygon([*plan.STREAM.coords, (470, -20), (-20, -20)])
_EAST: Final = Polygon([*plan.DITCH.coords, (346, -30), (470, -30), (470, 380)])
_TOP: Final = Polygon(
    [*plan.HEDGES[0].coords, *plan.HEDGES[1].coords, (330, 292), (330, 380), (-20, 380)]
)
_ABOVE_TRACK: Final = Polygon([*plan.TRACK.coords, (290, 380), (470, 380)])
_WEST_CLOSE: Final = Polygon(
    [*plan.HEDGES[2].coords, *plan.HEDGES[3].coords, (112, 60), (-20, 60), (-20, 290)]
)
_BELOW_HEDGE: Final = Polygon(
    [*plan.HEDGES[5].coords, *plan.HEDGES[6].coords, (470, -20), (-20, -20)]
)
_WEST_HAM: Final = Polygon(
    [*plan.HEDGES[7].coords, (218, 120), (-20, 120), (-20, -20), (206, -20)]
)


def _cover() -> list[tuple[str, str, str, str, Geometry]]:
    """Return id, kind, condition, name and outline; what comes first lies on top."""
    closed = [
        outline for outline, kind, _ in plan.BUILDINGS.values() if kind == "closed"
    ]
    farmstead = union_all(
        [plan.MAIN_TERRACE, plan.EAST_TERRACE, plan.HOUSE_TERRACE]
    ).buffer(8.0)
    margin = union_all([plan.DITCH, plan.STREAM]).buffer(MARGIN_M) & (_EAST | _TOP)
    ground = plan.GROUND
    return [
        ("", "", "", "", union_all(closed)),
        ("Y1", "concrete", "sound", "Main yard", plan.MAIN_CONCRETE),
        ("Y2", "concrete", "worn", "Old filling apron", plan.EAST_CONCRETE),
        ("Y3", "hardcore", "worn", "Stack yard", plan.STACK_YARD),
        ("Y4", "hardcore", "sound", "Diesel stand", plan.DIESEL_STAND),
        ("Y5", "hardcore", "worn", "Farm track", plan.TRACK_GROUND),
        (
            "GR1",
            "dense_grass",
            "sound",
            "Old Ridges",
            _SOUTH & _BELOW_HEDGE & _WEST_HAM,
        ),
        ("GR2", "dense_grass", "sound", "Long Ham", _SOUTH),
        ("GR3", "dense_grass", "sound", "Water margin", margin),
        ("GR4", "short_grass", "sound", "Cae Pwll", _EAST & _ABOVE_TRACK),
        ("AR1", "arable", "sound", "Cooper's Leaze", _EAST),
        ("AR2", "arable", "sound", "Top Ground", _TOP),
        ("GR5", "dense_grass", "sound", "Well Close", _WEST_CLOSE),
        ("GR6", "short_grass", "sound", "Home Close", farmstead),
        ("GR7", "dense_grass", "sound", "Goose Paddock", ground),
    ]


def surfaces() -> tuple[Surface, ...]:
    """Return what the ground is covered with, each place once."""
    taken: Geometry = Polygon()
    found: list[Surface] = []
    for key, kind, condition, name, outline in _cover():
        left = (outline & plan.GROUND) - taken
        taken = taken | outline
        parts = [part for part in get_parts(left) if part.area > SMALLEST_M2]
        for number, part in enumerate(parts if kind else (), start=1):
            found.append(
                Surface(
                    geometry=part,
                    id=key if len(parts) == 1 else f"{key}-{number}",
                    kind=kind,
                    condition=condition,
                    name=name,
                )
            )
    return tuple(found)
