"""Sites that nobody drew: free, apart, and the best that the weights know."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, box

from pathways.assumed import AssumedValues
from pathways.features import (
    Access,
    Barrier,
    Building,
    Exclusion,
    Features,
    Inlet,
    SearchArea,
    Watercourse,
    WaterSupply,
)
from pathways.io.rulebooks import read_rulebook, read_weights
from pathways.io.tables import read_assumed
from pathways.rules import with_given_distances
from pathways.settings import RuleSettings, Settings, SitingSettings
from pathways.siting.criteria import measure, score_of
from pathways.siting.flow import hollow_depth_m
from pathways.siting.layout import Layout, layout_of, try_places
from pathways.siting.quick import QUICK, distances_m, quick_scores
from pathways.siting.receptors import surroundings_of
from pathways.siting.search import blocked_ground, numbered, search
from pathways.siting.site import SiteFlow
from pathways.siting.situation import Situation
from pathways.terrain.lengths import lengths_of
from pathways.terrain.upslope import upslope_area_m2
from pathways.terrain.way import follow

ASSUMED: AssumedValues = read_assumed()
WEIGHTS = read_weights()
LAYOUT = Layout(pad_m=(10.0, 6.0), bed_m=(7.0, 7.0), between_m=2.0, step_m=2.0)
GIVEN = RuleSettings(watercourse_m=10.0, water_supply_m=50.0, drain_opening_m=10.0)
RULES = with_given_distances(read_rulebook("generic"), GIVEN)


def falling_south(east, north):
    return 50.0 + 0.02 * north + 0.0 * east


@pytest.fixture
def yard(plane, terrain):
    """A plain farm with a stream in the south, a barn, a wall and a gully."""
    return terrain(
        plane(falling_south),
        watercourses=[
            Watercourse(
                id="W1", geometry=LineString([(0, 5), (100, 5)]), half_width_m=1.0
            )
        ],
        buildings=[Building(geometry=box(60, 50, 80, 70))],
        barriers=[
            Barrier(
                id="B1",
                kind="wall",
                height_m=1.5,
                geometry=LineString([(20, 40), (20, 70)]),
            )
        ],
        inlets=[Inlet(id="G1", geometry=Point(40, 40), drains_to="unknown")],
        water_supplies=[WaterSupply(id="S1", kind="well", geometry=Point(95, 95))],
        access=[
            Access(kind="track", geometry=LineString([(0, 80), (100, 80)])),
            Access(kind="water", geometry=Point(50, 60)),
        ],
        search_area=[SearchArea(geometry=box(5, 8, 95, 98))],
    )


def around(farm):
    return surroundings_of(farm.features, ASSUMED.half_widths_m)


def test_every_place_that_is_tried_is_free(yard):
    area, blocked = box(5, 8, 95, 98), blocked_ground(yard)
    tried = try_places(area, blocked, LAYOUT)
    assert 0 < tried.pads.size < tried.count
    for shapes in (tried.pads, tried.beds):
        assert shapely.within(shapes, area).all()
        assert not shapely.intersects(shapes, blocked).any()
    assert shapely.area(tried.pads) == pytest.approx(60.0)
    assert shapely.area(tried.beds) == pytest.approx(49.0)
    assert shapely.distance(tried.pads, tried.beds) == pytest.approx(2.0)


def test_sites_keep_the_binding_distances_and_lie_apart(yard):
    found = search(yard, around(yard), RULES, WEIGHTS, LAYOUT)
    assert 5 <= len(found) <= 12
    for place in found:
        assert place.footprint.distance(yard.waters[0]) >= 12.0
        assert place.footprint.distance(Point(40, 40)) >= 12.0
        assert place.footprint.distance(Point(95, 95)) >= 52.0
    taken = [one.footprint for one in found]
    for number, one in enumerate(taken):
        assert all(one.distance(other) >= 10.0 for other in taken[:number])


@pytest.mark.parametrize(
    ("kind", "blocks"), [("flood_zone", True), ("services", True), ("spz2", False)]
)
def test_nothing_is_found_in_ground_that_is_barred(plane, terrain, kind, blocks):
    """Situation 7: never merely a low score. A zone to ask about is not blocked."""
    zone = box(0, 50, 100, 100)
    farm = terrain(
        plane(falling_south),
        watercourses=[
            Watercourse(
                id="W1", geometry=LineString([(0, 5), (100, 5)]), half_width_m=1.0
            )
        ],
        exclusions=[Exclusion(id="Z1", kind=kind, geometry=zone)],
        search_area=[SearchArea(geometry=box(5, 8, 95, 98))],
    )
    found = search(farm, around(farm), RULES, WEIGHTS, LAYOUT)
    assert found
    assert any(one.footprint.intersects(zone) for one in found) is not blocks


def test_where_no_place_keeps_the_distances_the_best_of_the_rest_is_told(yard):
    strict = with_given_distances(
        read_rulebook("generic"), RuleSettings(watercourse_m=500.0)
    )
    assert search(yard, around(yard), strict, WEIGHTS, LAYOUT)


def test_without_a_search_area_nothing_is_searched(plane, terrain):
    farm = terrain(plane(falling_south))
    assert search(farm, around(farm), RULES, WEIGHTS, LAYOUT) == ()


def test_area_too_small_for_a_pad_gives_nothing(plane, terrain):
    farm = terrain(
        plane(falling_south), search_area=[SearchArea(geometry=box(40, 40, 48, 48))]
    )
    assert search(farm, around(farm), RULES, WEIGHTS, LAYOUT) == ()


def test_quick_score_is_near_the_exact_one(yard):
    """By the network of steps and four corners, not by the line and all cells."""
    tried = try_places(box(5, 8, 95, 98), blocked_ground(yard), LAYOUT)
    some = tried.only(np.arange(0, tried.pads.size, 97))
    quick = quick_scores(yard, some, around(yard), WEIGHTS)
    situation = Situation(
        grid=yard.grid,
        features=yard.features,
        surroundings=around(yard),
        weights=WEIGHTS,
        settings=Settings(),
        assumed=ASSUMED,
    )
    for number, pad in enumerate(some.pads):
        corners = [Point(one) for one in pad.exterior.coords[:4]]
        start = min(corners, key=lambda one: (one.y, one.x))
        way = follow(yard, start)
        flow = SiteFlow(
            outcome=way.outcome,
            receptor_id=way.receptor_id,
            length_m=way.over_ground_m,
            upslope_area_m2=upslope_area_m2(yard.flow, pad),
            hollow_depth_m=hollow_depth_m(yard.flow, pad),
        )
        (place,) = numbered([_place(pad, some.both[number])], ["x"], Features())
        place = replace(place, pad=pad, bed=some.beds[number])
        exact = [one for one in measure(place, situation, flow) if one.name in QUICK]
        assert quick[number] == pytest.approx(score_of(exact), abs=0.05)


def _place(pad, footprint):
    from pathways.siting.site import Place

    return Place(
        site_id="x",
        name="x",
        existing=False,
        uses=("filling", "pad", "bed"),
        footprint=footprint,
        ground=pad,
        is_nominal=False,
    )


def test_numbers_follow_the_order(yard):
    found = search(yard, around(yard), RULES, WEIGHTS, LAYOUT)
    order = [one.site_id for one in reversed(found)]
    renumbered = numbered(found, order, yard.features)
    assert [one.site_id for one in renumbered] == [
        f"found-{n}" for n in range(1, len(found) + 1)
    ]
    assert renumbered[0].footprint.equals(found[-1].footprint)


@pytest.mark.parametrize(
    ("given_sizes", "pad_m"),
    [({}, (10.0, 6.0)), ({"pad_size_m": [12, 8]}, (12.0, 8.0))],
)
def test_sizes_are_given_or_assumed(given_sizes, pad_m):
    layout = layout_of(SitingSettings.model_validate(given_sizes), ASSUMED)
    assert layout.pad_m == pad_m
    assert layout.bed_m == (7.0, 7.0)


# Fields ----------------------------------------------------------------------------


def test_length_of_every_way_is_that_of_its_steps(yard):
    """Against the ways one by one: straight steps a cell, diagonal ones its root."""
    lengths = lengths_of(yard)
    drainage, grid = yard.flow.drainage, yard.grid
    for cell in np.random.default_rng(1).integers(0, grid.heights_m.size, 200):
        if lengths.ends[cell] < 0:
            assert lengths.length_m[cell] == -1
            continue
        way = drainage.way_from(int(cell))
        row, column = np.divmod(way, grid.columns)
        steps_m = np.hypot(np.diff(row), np.diff(column)) * grid.cell_size_m
        assert lengths.length_m[cell] == pytest.approx(steps_m.sum(), abs=1e-3)
        assert lengths.ends[cell] == way[-1]
        straight_m = np.hypot(row[-1] - row[0], column[-1] - column[0])
        assert lengths.length_m[cell] >= straight_m * grid.cell_size_m - 1e-3


def test_outcome_of_every_way_is_that_of_its_end(yard):
    lengths = lengths_of(yard)
    for cell in np.random.default_rng(2).integers(0, lengths.ends.size, 60):
        if lengths.ends[cell] >= 0:
            end = Point(yard.flow.ground.place(int(lengths.ends[cell])))
            assert lengths.outcomes[cell] == follow(yard, end).outcome


@given(
    st.lists(
        st.tuples(st.integers(-50, 50), st.integers(-50, 50)),
        min_size=2,
        max_size=8,
        unique=True,
    )
)
def test_distances_by_pieces_are_those_of_whole_lines(places):
    line = LineString(places)
    shapes = np.array([box(60, 60, 62, 62), Point(-70, 3).buffer(2), Point(0, 90)])
    assert distances_m(shapes, [line]) == pytest.approx(shapely.distance(shapes, line))
