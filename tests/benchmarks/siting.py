"""What searching 1 km² at 1 m for sites takes, and what takes most of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from ground import lidar_like, river_columns
from shapely import LineString, Point, box

from pathways.features import Access, Features, SearchArea, Watercourse, WaterSupply
from pathways.grid import Grid
from pathways.io.rulebooks import read_rulebook, read_weights
from pathways.io.tables import read_assumed
from pathways.rules import with_given_distances
from pathways.settings import RuleSettings, SitingSettings
from pathways.siting.layout import layout_of, try_places
from pathways.siting.quick import quick_scores
from pathways.siting.receptors import surroundings_of
from pathways.siting.search import blocked_ground, search
from pathways.terrain.landscape import Terrain

#: Side of the ground and of the area that is searched [m].
SIZE_M, SEARCHED_M = 1000, 400


def yard() -> Terrain:
    """Return hills with a river, wells and supplies, and an area to search."""
    heights = lidar_like(SIZE_M)
    grid = Grid(heights, 0.0, float(SIZE_M), 1.0, "", "local")
    rows = np.arange(0, SIZE_M, 5)
    river = [
        (column + 0.5, SIZE_M - row - 0.5)
        for row, column in zip(rows, river_columns(SIZE_M)[rows], strict=True)
    ]
    middle = (SIZE_M - SEARCHED_M) / 2
    area = box(middle, middle, middle + SEARCHED_M, middle + SEARCHED_M)
    features = Features(
        watercourses=(
            Watercourse(id="W1", geometry=LineString(river), half_width_m=2.0),
        ),
        water_supplies=(WaterSupply(id="S1", kind="well", geometry=Point(400, 400)),),
        access=(
            Access(kind="track", geometry=LineString([(300, 300), (700, 700)])),
            Access(kind="water", geometry=Point(500, 500)),
        ),
        search_area=(SearchArea(geometry=area),),
        drawn=frozenset({"watercourses", "water_supplies", "access", "search_area"}),
    )
    return Terrain(grid, features, read_assumed())


def measured(cpu_s: Callable[[], float]) -> dict[str, Any]:
    """Return CPU times [s], everything compiled and the ground routed before."""
    farm, weights, assumed = yard(), read_weights(), read_assumed()
    given = RuleSettings(watercourse_m=10.0, water_supply_m=50.0, drain_opening_m=10.0)
    rules = with_given_distances(read_rulebook("generic"), given)
    around = surroundings_of(farm.features, assumed.half_widths_m)
    layout = layout_of(SitingSettings(), assumed)
    search(farm, around, rules, weights, layout)
    began = cpu_s()
    search(farm, around, rules, weights, layout)
    whole_s = cpu_s() - began
    began = cpu_s()
    area = farm.features.search_area[0].geometry
    tried = try_places(area, blocked_ground(farm), layout)
    tried_s = cpu_s() - began
    began = cpu_s()
    quick_scores(farm, tried, around, weights)
    scored_s = cpu_s() - began
    return {
        "tried": tried.count,
        "free": tried.pads.size,
        "whole_s": whole_s,
        "trying_s": tried_s,
        "scoring_s": scored_s,
        "for 20,000 free, s": whole_s * 20_000 / tried.pads.size,
    }
