"""How sure a way is: shares, the error of the heights, surveyed levels, versions."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest, entropy
from shapely import LineString, MultiPoint, Point, box

from pathways.elevation_error import OPEN, ClassError, ErrorScenario
from pathways.features import (
    Barrier,
    Inlet,
    Source,
    SpotLevel,
    Surface,
    Tank,
    Watercourse,
)
from pathways.io.tables import read_elevation_errors
from pathways.pages import amounts
from pathways.pages.story import way_story
from pathways.terrain.chance import arrivals
from pathways.terrain.error_field import error_model, spacing_of
from pathways.terrain.lazy import LATTICE_CORRELATION, ErrorModel, LazyTracer
from pathways.terrain.shares import entropy_bits, seed_of, share_of
from pathways.terrain.tracing import trace
from pathways.terrain.versions import Versions

pytestmark = pytest.mark.large

SCENARIOS = read_elevation_errors()["airborne_lidar"]


# Shares ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hits", "runs", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_interval_is_that_of_newcombe_1998_table_1(hits, runs, low, high):
    """Newcombe 1998, Statistics in Medicine 17:857, table I (from memory)."""
    share = share_of(hits, runs)
    assert share.low == pytest.approx(low, abs=6e-5)
    assert share.high == pytest.approx(high, abs=6e-5)


@pytest.mark.parametrize(
    ("hits", "runs", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0, 0.1684),
        (1, 29, 0.0009, 0.1776),
    ],
)
def test_scipys_exact_interval_is_that_of_newcombe_1998_table_1(hits, runs, low, high):
    """Clopper & Pearson 1934, in the same table (from memory): the peer used below."""
    exact = binomtest(hits, runs).proportion_ci(method="exact")
    assert exact.low == pytest.approx(low, abs=6e-5)
    assert exact.high == pytest.approx(high, abs=6e-5)


@pytest.mark.parametrize("runs", [100, 300, 700, 2000])
def test_less_than_is_never_less_than_the_exact_interval_allows(runs):
    """None of many, at every number of versions that is run: 100 at the least."""
    exact = binomtest(0, runs).proportion_ci(method="exact")
    assert share_of(0, runs).high >= exact.high
    assert 1 - share_of(runs, runs).low >= exact.high


@given(st.integers(1, 3000), st.data())
def test_wilson_interval_is_scipys(runs, data):
    hits = data.draw(st.integers(0, runs))
    want = binomtest(hits, runs).proportion_ci(method="wilson")
    share = share_of(hits, runs)
    assert (share.low, share.high) == pytest.approx((want.low, want.high), abs=1e-12)


def test_entropy_is_scipys_and_one_bit_at_a_half():
    shares = np.linspace(0, 1, 101)
    want = entropy(np.array([shares, 1 - shares]), base=2)
    np.testing.assert_allclose(entropy_bits(shares), want, atol=1e-12)
    assert share_of(50, 100).entropy_bits == 1.0
    assert share_of(0, 100).entropy_bits == 0.0


@pytest.mark.parametrize(("hits", "half"), [(50, 0.096), (10, 0.060)])
def test_half_width_of_a_hundred_runs(hits, half):
    share = share_of(hits, 100)
    assert (share.high - share.low) / 2 == pytest.approx(half, abs=0.001)


def test_none_of_many_is_told_as_less_than():
    assert share_of(0, 400).says == "< 1.0 %"
    assert share_of(0, 1000).says == "< 0.4 %"
    assert share_of(400, 400).says == "> 99.0 %"
    assert share_of(87, 100).says == "87 of 100 (79 to 92)"


def test_share_that_rounds_to_none_or_all_is_told_by_its_interval():
    assert share_of(999, 1000).says == "> 99.4 %"
    assert share_of(1, 1000).says == "< 0.6 %"
    assert (
        amounts.versions(share_of(999, 1000)) == "In more than 99.4 % of the versions"
    )
    assert amounts.versions(share_of(1, 1000)) == "In fewer than 0.6 % of the versions"


# The error field --------------------------------------------------------------


def fields(model, count=150, size=64):
    tracer = LazyTracer(
        np.zeros((size, size), np.float32), np.zeros((size, size), np.uint8)
    )
    return np.array(
        [tracer.realise(seed_of("field", one), model) for one in range(count)],
        np.float64,
    )


def test_error_has_the_variance_of_its_model():
    model = ErrorModel(np.array([[0.02, 0.05, 0.10, 4.0, 20.0]]), np.empty((0, 4)))
    found = fields(model)
    assert found.mean() == pytest.approx(0.0, abs=0.006)
    assert found.std() == pytest.approx(np.sqrt(0.02**2 + 0.05**2 + 0.1**2), rel=0.05)


@pytest.mark.parametrize(("down", "right"), [(0, 1), (0, 3), (2, 2), (4, 0), (0, 9)])
def test_error_has_the_correlation_of_its_model(down, right):
    """Against the integral of the lattice's weights (closed form, none published)."""
    model = ErrorModel(np.array([[0.0, 1.0, 0.0, 5.0, 50.0]]), np.empty((0, 4)))
    found = fields(model, count=300)
    one = found[:, : 64 - down, : 64 - right]
    other = found[:, down:, right:]
    distances = np.linspace(0.0, 2.0, len(LATTICE_CORRELATION))
    want = np.interp(down / 5.0, distances, LATTICE_CORRELATION) * np.interp(
        right / 5.0, distances, LATTICE_CORRELATION
    )
    assert (one * other).mean() == pytest.approx(want, abs=0.025)


def test_correlation_at_the_range_is_five_hundredths():
    spacing = spacing_of(8.0, 0.5)
    distances = np.linspace(0.0, 2.0, len(LATTICE_CORRELATION))
    at_range = np.interp(8.0 / 0.5 / spacing, distances, LATTICE_CORRELATION)
    assert at_range == pytest.approx(0.05, abs=0.001)


def test_neighbouring_cells_differ_as_the_model_says():
    """Slope noise of two cells one apart: sqrt(2 (1 - correlation)) deviations."""
    model = error_model(replace(SCENARIOS[0], long_range_m=100.0), 1.0)
    found = fields(model)
    row = model.classes[OPEN]
    distances = np.linspace(0.0, 2.0, len(LATTICE_CORRELATION))
    left = [
        deviation**2 * 2 * (1 - np.interp(1 / spacing, distances, LATTICE_CORRELATION))
        for deviation, spacing in ((row[1], row[3]), (row[2], row[4]))
    ]
    want = np.sqrt(2 * row[0] ** 2 + sum(left))
    assert np.diff(found, axis=2).std() == pytest.approx(want, rel=0.05)


# Surveyed levels --------------------------------------------------------------


def versions_of(farm, scenario=SCENARIOS[1], farm_id="test"):
    return Versions(farm, scenario, farm_id, 0.02)


def tied_fields(farm, scenario, count=60):
    """Heights of whole versions, tied to the farm's levels."""
    from pathways.terrain import _kernels_lazy as kernels

    versions = versions_of(farm, scenario)
    model, ties = versions.tied()
    tracer = versions.tracer()
    errors = model.packed.copy()
    found = []
    for number in range(count):
        seed = np.uint64(seed_of("test", number))
        kernels.tie(
            tracer.covers, tracer.columns, seed, errors, ties.levels, ties.inverse
        )
        out = np.empty(tracer.heights.size, np.float32)
        kernels.realise(
            tracer.heights, tracer.covers, tracer.columns, seed, errors, out
        )
        found.append(out.reshape(farm.grid.heights_m.shape))
    return np.array(found)


def flat(east, north):
    return 50.0 + 0.0 * east + 0.0 * north


def test_perfect_level_is_met_exactly_in_every_version(plane, terrain):
    level = SpotLevel(level_m=50.08, accuracy_m=0.0, geometry=Point(50.5, 50.5))
    farm = terrain(plane(flat), spot_levels=[level])
    found = tied_fields(farm, SCENARIOS[1])
    np.testing.assert_allclose(found[:, 49, 50], 50.08, atol=1e-4)


def test_level_draws_its_neighbours_with_it_and_narrows_them(plane, terrain):
    level = SpotLevel(level_m=50.2, accuracy_m=0.0, geometry=Point(50.5, 50.5))
    scenario = ErrorScenario(
        name="smooth",
        says="",
        standing="assumed",
        source="",
        short_range_m=20.0,
        long_range_m=100.0,
        hard=ClassError(nugget_m=0.0, short_m=0.1, long_m=0.0),
        open=ClassError(nugget_m=0.0, short_m=0.1, long_m=0.0),
    )
    found = tied_fields(terrain(plane(flat), spot_levels=[level]), scenario, 200)
    free = tied_fields(terrain(plane(flat)), scenario, 200)
    assert found[:, 49, 52].mean() > 50.12
    assert found[:, 49, 52].std() < 0.6 * free[:, 49, 52].std()


def test_level_has_no_effect_beyond_three_ranges(plane, terrain):
    level = SpotLevel(level_m=50.5, accuracy_m=0.0, geometry=Point(5.5, 50.5))
    scenario = replace(
        SCENARIOS[1],
        short_range_m=5.0,
        long_range_m=20.0,
    )
    farm = terrain(plane(flat), spot_levels=[level])
    np.testing.assert_array_equal(
        tied_fields(farm, scenario, 5)[:, :, 66:],
        tied_fields(terrain(plane(flat)), scenario, 5)[:, :, 66:],
    )


def test_level_of_some_accuracy_is_met_to_within_it(plane, terrain):
    level = SpotLevel(level_m=50.0, accuracy_m=0.03, geometry=Point(50.5, 50.5))
    found = tied_fields(terrain(plane(flat), spot_levels=[level]), SCENARIOS[1], 400)
    # The error of the level and of the grid meet as two normal numbers do (kriging).
    row = error_model(SCENARIOS[1], 1.0).classes[OPEN]
    grid = row[0] ** 2 + row[1] ** 2 + row[2] ** 2
    want = np.sqrt(1 / (1 / grid + 1 / 0.03**2))
    assert found[:, 49, 50].std() == pytest.approx(want, rel=0.12)


# Versions ---------------------------------------------------------------------


def stream(identity, north):
    return Watercourse(
        id=identity,
        kind="stream",
        half_width_m=1.0,
        geometry=LineString([(0, north), (100, north)]),
    )


def crown(east, north):
    """Ground that falls to two streams, north and south of a level crown."""
    return 50.0 - 0.008 * np.abs(north - 50.0) + 0.0 * east


def test_filling_on_a_crown_goes_to_both_waters(plane, terrain):
    """Situation 3: both waters with their shares, never one line."""
    farm = terrain(
        plane(crown), watercourses=[stream("north", 95.0), stream("south", 5.0)]
    )
    (arrival,) = arrivals(versions_of(farm), [Point(50.5, 50.0)], [None])
    shares = {one.id: one.share.probability for one in arrival.ends}
    assert arrival.reaches_water.probability > 0.9
    assert 0.3 < shares["north"] < 0.7
    assert 0.3 < shares["south"] < 0.7
    assert not arrival.decided


def test_steep_ground_decides(plane, terrain):
    farm = terrain(
        plane(lambda east, north: 50.0 + 0.1 * north + 0.0 * east),
        watercourses=[stream("south", 5.0)],
    )
    (arrival,) = arrivals(versions_of(farm), [Point(50.5, 60.5)], [None])
    assert arrival.reaches_water.low > 0.95
    assert arrival.decided
    low, middle, high = arrival.length_m
    assert 54.0 < low <= middle <= high < 62.0


def test_seam_between_tiles_does_not_lead_the_way(plane, terrain):
    """Situation 15: a step of 3 cm at a seam is within the error of the heights."""

    def stepped(east, north):
        return 50.0 + 0.02 * north + 0.03 * (east > 50.0)

    farm = terrain(plane(stepped), watercourses=[stream("south", 5.0)])
    (arrival,) = arrivals(versions_of(farm), [Point(56.5, 90.5)], [None])
    cells, shares = arrival.visited
    beside_seam = np.isin(cells % 100, (49, 50)) & (cells // 100 > 30)
    assert shares[beside_seam].max() < 0.5


def test_kerb_holds_in_every_version(plane, terrain):
    """Kerbs stay hard: with 6 cm of error none of the ways climbs one of 12 cm."""
    kerb = Barrier(
        id="K1", kind="kerb", height_m=0.12, geometry=LineString([(0, 30), (99, 30)])
    )

    def height_of(east, north):
        return 50.0 + 0.02 * north - 0.02 * east

    farm = terrain(
        plane(height_of),
        watercourses=[stream("south", 5.0)],
        barriers=[kerb],
        surfaces=[Surface(kind="concrete", geometry=box(0, 0, 100, 100))],
    )
    (arrival,) = arrivals(versions_of(farm), [Point(20.5, 60.5)], [None])
    cells, shares = arrival.visited
    crest = farm.flow.ground.barrier_at.ravel()[cells] >= 0
    west = cells % 100 < 80
    assert shares[crest & west].max(initial=0.0) < 0.02


def test_results_do_not_depend_on_threads(plane, terrain):
    farm = terrain(
        plane(crown), watercourses=[stream("north", 95.0), stream("south", 5.0)]
    )
    places = [Point(50.5, 50.0), Point(20.5, 60.5)]
    one, two = (
        arrivals(versions_of(farm), places, [None, None], threads=threads, most=400)
        for threads in (1, 2)
    )
    for first, second in zip(one, two, strict=True):
        assert first.ends == second.ends
        assert first.length_m == second.length_m
        np.testing.assert_array_equal(first.visited[0], second.visited[0])
        np.testing.assert_array_equal(first.visited[1], second.visited[1])


def test_drains_are_followed_to_their_water(plane, terrain):
    farm = terrain(
        plane(lambda east, north: 50.0 + 0.05 * north + 0.06 * np.abs(east - 50.5)),
        watercourses=[stream("south", 5.0)],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 50.5), drains_to="T1")],
        tanks=[
            Tank(
                id="T1",
                capacity_l=5000.0,
                free_l=4000.0,
                maintained=True,
                geometry=Point(70, 50),
            )
        ],
    )
    held, over = arrivals(versions_of(farm), [Point(50.5, 70.5)] * 2, [3000.0, 5000.0])
    assert held.ends[0].kind == "contained"
    assert held.ends[0].share.probability > 0.9
    assert over.reaches_water.probability > 0.9


@pytest.mark.parametrize(
    ("inlets", "kind"),
    [
        ([Inlet(id="G1", drains_to="unknown", geometry=Point(50.5, 50.5))], "drain"),
        ([], "leaves_grid"),
    ],
)
def test_end_that_is_not_known_is_never_told_as_water_not_reached(
    plane, terrain, inlets, kind
):
    """No version is traced to water, and yet all of them may reach it."""
    farm = terrain(
        plane(lambda east, north: 50.0 + 0.05 * north + 0.06 * np.abs(east - 50.5)),
        sources=[Source(id="F1", kind="filling_point", geometry=Point(50.5, 70.5))],
        watercourses=[stream("north", 95.0)],
        inlets=inlets,
    )
    (arrival,) = arrivals(versions_of(farm), [Point(50.5, 70.5)], [None])
    assert arrival.ends[0].kind == kind
    assert arrival.reaches_water.hits == 0
    assert arrival.may_reach_water.hits == arrival.may_reach_water.runs
    (pathway,) = trace(farm)
    story = way_story(replace(pathway, arrivals=(arrival,)), farm.features)
    (sure,) = (one for one in story.parts if one.heading == "How sure that is")
    assert sure.lines[0].startswith("In more than 96 % of the versions")
    assert "treat both as reaching water" in sure.lines[0]
    assert any(line.startswith("It ends in ") for line in sure.lines)


def test_place_off_the_ground_has_no_arrival(plane, terrain):
    farm = terrain(plane(flat), watercourses=[stream("south", 5.0)])
    assert arrivals(versions_of(farm), [Point(-5, -5)], [None]) == (None,)


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("budget", [30, 60, 100, 250])
def test_over_budget_is_routed_to_the_same_end(
    plane, terrain, monkeypatch, budget, threads
):
    """On rough ground, one source down a gully whose tank runs over further on."""
    rough = np.random.default_rng(2).normal(0, 0.05, (100, 100))
    farm = terrain(
        plane(lambda east, north: 50.0 + 0.005 * north + 0.0 * east + rough),
        watercourses=[stream("south", 5.0)],
        inlets=[Inlet(id="G1", geometry=Point(20.5, 60.5), drains_to="T1")],
        tanks=[Tank(id="T1", capacity_l=5000.0, geometry=Point(20.5, 40.5))],
    )
    places = [Point(50.5, 60.5), Point(20.5, 61.5), Point(70.5, 30.5)]
    none = [None] * 3
    lazy = arrivals(versions_of(farm), places, none, most=200)
    monkeypatch.setattr("pathways.terrain.runs.budget_of", lambda _: budget)
    routed = arrivals(versions_of(farm), places, none, most=200, threads=threads)
    for one, other in zip(routed, lazy, strict=True):
        assert one.ends == other.ends
        assert one.length_m == other.length_m
        np.testing.assert_array_equal(one.visited[0], other.visited[0])
        np.testing.assert_array_equal(one.visited[1], other.visited[1])


def test_all_ends_together_are_all_versions(plane, terrain):
    farm = terrain(plane(crown), watercourses=[stream("south", 5.0)])
    (arrival,) = arrivals(versions_of(farm), [Point(50.5, 50.0)], [None])
    runs = arrival.reaches_water.runs
    assert sum(one.share.hits for one in arrival.ends) == runs


# What the map and the layers show of it


def test_squares_count_each_version_once(plane, terrain):
    farm = terrain(
        plane(crown, cell_size_m=0.5),
        watercourses=[stream("north", 95.0), stream("south", 5.0)],
    )
    (arrival,) = arrivals(versions_of(farm), [Point(50.5, 50.0)], [None])
    assert arrival.reach.side == 4
    assert arrival.reach.shares.max() <= 1.0
    row, column, shares = arrival.reach.squares(farm.grid.columns, 0.95)
    start = (int((100.0 - 50.0) // 2.0), int(50.5 // 2.0))
    assert start in set(zip(row.tolist(), column.tolist(), strict=True))
    assert (shares >= 0.95).all()


def test_squares_are_the_same_however_a_version_was_traced(plane, terrain, monkeypatch):
    rough = np.random.default_rng(2).normal(0, 0.05, (100, 100))
    farm = terrain(
        plane(lambda east, north: 50.0 + 0.005 * north + 0.0 * east + rough),
        watercourses=[stream("south", 5.0)],
    )
    place = [Point(50.5, 60.5)]
    (lazy,) = arrivals(versions_of(farm), place, [None], most=100)
    monkeypatch.setattr("pathways.terrain.runs.budget_of", lambda _: 30)
    (routed,) = arrivals(versions_of(farm), place, [None], most=100)
    np.testing.assert_array_equal(routed.reach.blocks, lazy.reach.blocks)
    np.testing.assert_array_equal(routed.reach.shares, lazy.reach.shares)


def test_picture_of_how_sure_lies_where_the_squares_are(plane, terrain):
    """Placement against pyproj, at the corners of the picture: within a square."""
    from pyproj import CRS, Transformer

    from pathways.pages.certainty import reach_picture

    farm = terrain(plane(crown), watercourses=[stream("south", 5.0)])
    (arrival,) = arrivals(versions_of(farm), [Point(50.5, 50.0)], [None])
    crs = CRS.from_epsg(27700)
    grid = replace(
        farm.grid, west_m=80_000.0, north_m=10_100.0, crs=crs.to_wkt(), crs_name="x"
    )
    (south, west), (north, east) = reach_picture(grid, arrival)["corners"]
    to_grid = Transformer.from_crs(4326, crs, always_xy=True)
    row, column, _ = arrival.reach.squares(grid.columns, 0.05)
    side = arrival.reach.side * grid.cell_size_m
    left, top = to_grid.transform(west, north)
    right, bottom = to_grid.transform(east, south)
    # Two clear squares stand about it, and it is turned a little against the grid.
    assert left == pytest.approx(80_000 + (column.min() - 2) * side, abs=6 * side)
    assert top == pytest.approx(10_100 - (row.min() - 2) * side, abs=6 * side)
    assert right == pytest.approx(80_000 + (column.max() + 3) * side, abs=6 * side)
    assert bottom == pytest.approx(10_100 - (row.max() + 3) * side, abs=6 * side)


def test_reach_layer_has_a_polygon_for_each_band(plane, terrain):
    from pathways.assessment import Assessment
    from pathways.farm import Farm
    from pathways.features import Source
    from pathways.io._reach import reach_rows
    from pathways.legend import REACH_BANDS
    from pathways.settings import Settings

    source = Source(id="F1", kind="other", geometry=Point(50.5, 60.5))
    farm = terrain(
        plane(lambda east, north: 50.0 + 0.1 * north + 0.0 * east),
        sources=[source],
        watercourses=[stream("south", 5.0)],
    )
    (pathway,) = trace(farm)
    told = arrivals(versions_of(farm), [Point(pathway.start)], [None])
    assessment = Assessment(
        farm=Farm(farm.grid, farm.features, Settings()),
        pathways=(replace(pathway, arrivals=told),),
        sites=(),
        assumptions=(),
        notices=(),
    )
    rows = list(reach_rows(assessment))
    assert [row["band"] for row, _ in rows] == list(REACH_BANDS)
    for (_, wide), (_, narrow) in itertools.pairwise(rows):
        assert wide.buffer(0.01).covers(narrow)
    assert rows[0][1].contains(source.geometry.buffer(0.1))


# Where ways part --------------------------------------------------------------


def groove(north_end_m):
    """A V-shaped groove along easting 50 down to a northing, then a rounded crown."""

    def height(east, north):
        aside = np.abs(east - 50.5)
        sides = np.where(north > north_end_m, 0.15 * aside, -0.05 * aside)
        return 50.0 + 0.03 * north + sides

    return height


def test_ways_part_where_a_groove_ends_on_a_crown(plane, terrain):
    farm = terrain(
        plane(groove(50.0)),
        watercourses=[stream("south", 5.0)],
        barriers=[
            Barrier(
                id="K1",
                kind="kerb",
                height_m=0.12,
                geometry=LineString([(53.5, 44), (53.5, 52)]),
            )
        ],
    )
    (found,) = arrivals(versions_of(farm), [Point(50.5, 90.5)], [None])
    east, north = found.parts_at
    assert 45 <= east <= 56
    assert 40 <= north <= 52
    assert found.parts_near == "K1"


def test_undecided_ground_is_what_some_versions_pass(plane, terrain):
    farm = terrain(
        plane(crown), watercourses=[stream("north", 95.0), stream("south", 5.0)]
    )
    steep = terrain(plane(groove(0.0)), watercourses=[stream("south", 5.0)])
    (torn,) = arrivals(versions_of(farm), [Point(50.5, 50.0)], [None])
    (sure,) = arrivals(versions_of(steep), [Point(50.5, 90.5)], [None])
    shares = torn.reach.shares
    between = ((shares > 0.1101) & (shares < 0.8899)).mean()
    assert torn.reach.undecided == pytest.approx(between)
    assert torn.reach.undecided > sure.reach.undecided


def test_ways_that_keep_together_part_nowhere(plane, terrain):
    farm = terrain(plane(groove(0.0)), watercourses=[stream("south", 5.0)])
    (found,) = arrivals(versions_of(farm), [Point(50.5, 90.5)], [None])
    assert found.parts_at is None
    assert found.parts_near == ""


def test_ways_side_by_side_in_a_broad_bottom_have_not_parted(plane, terrain):
    """A level bottom two metres wide: cells are shared by few, squares by all."""

    def bottom(east, north):
        return 50.0 + 0.03 * north + 0.15 * np.maximum(0, np.abs(east - 50.5) - 1.2)

    farm = terrain(plane(bottom), watercourses=[stream("south", 5.0)])
    (found,) = arrivals(versions_of(farm), [Point(50.5, 90.5)], [None])
    shares = found.visited[1]
    assert np.sort(shares)[::-1][60] < 0.9  # no cell of most of the way has them all
    assert found.parts_at is None


@pytest.mark.parametrize("bearing", [0, 17, 30])
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("scenario", SCENARIOS)
def test_drawn_line_stays_where_versions_go_though_noise_makes_it_wander(
    plane, terrain, bearing, seed, scenario
):
    """A plane of 2 % with 5 mm of noise: every part lies by a cell that some pass."""
    noise = np.random.default_rng(seed).normal(0, 0.005, (100, 100))
    down = np.radians(bearing)

    def height(east, north):
        return 50 + 0.02 * (north * np.cos(down) + east * np.sin(down)) + noise

    place = Point(70.5, 85.5)
    farm = terrain(
        plane(height),
        watercourses=[stream("south", 5.0)],
        sources=[Source(id="S", kind="filling_point", geometry=place)],
    )
    line = trace(farm)[0].legs[0].line
    (found,) = arrivals(versions_of(farm, scenario), [place], [None])
    cells = found.visited[0]
    passed = MultiPoint(np.column_stack([cells % 100 + 0.5, 99.5 - cells // 100]))
    away_m = max(
        passed.distance(line.interpolate(at)) for at in np.arange(0, line.length, 0.5)
    )
    assert line.length > 80
    assert away_m < 1.5
