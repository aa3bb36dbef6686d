"""Situations that must come out right on a yard, each a small synthetic farm.

Source of the situations and of their answers: an experienced adviser's review of what
goes wrong on real yards (common practice, no published source).
"""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box
from shapely.affinity import rotate

from pathways.features import (
    Access,
    Barrier,
    Building,
    Inlet,
    Observation,
    Pipe,
    Source,
    Tank,
    Watercourse,
    WaterSupply,
)
from pathways.terrain.tracing import trace
from pathways.terrain.way import follow

SOUTH = 0.02  # the plain farm falls 2 % to the south


def falling_south(east, north):
    return 50.0 + SOUTH * north + 0.0 * east


def filling_point(east, north, **more):
    return Source(id="F1", kind="filling_point", geometry=Point(east, north), **more)


def stream(north=5.0, **more):
    given = {"id": "W1", "kind": "stream", "half_width_m": 1.0, **more}
    return Watercourse(geometry=LineString([(0, north), (100, north)]), **given)


# 1 ---------------------------------------------------------------------------------


def test_unknown_gully_beside_the_way_is_the_first_alternative(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(53.5, 60.5), drains_to="unknown")],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"
    assert pathway.via == ()
    first = pathway.alternatives[0]
    assert (first.outcome, first.via) == ("enters_piped_drain", ("G1",))
    assert any("no known outlet" in caution for caution in pathway.cautions)
    assert [(one.id, one.distance_m) for one in pathway.passes_near] == [("G1", 3.0)]


def test_unknown_gully_eleven_metres_off_is_not_told(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(61.6, 60.5), drains_to="unknown")],
    )
    (pathway,) = trace(farm)
    assert pathway.alternatives == ()


def test_gully_on_the_way_is_told_taken_and_passed(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="unknown")],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.via) == ("enters_piped_drain", ("G1",))
    assert pathway.length_m == pytest.approx(20.0)
    assert pathway.alternatives[0].outcome == "reaches_water"
    assert "blocked" in pathway.alternatives[0].why


# 2 ---------------------------------------------------------------------------------


def test_culverted_ditch_counts_for_distance_but_ends_no_way(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[
            stream(),
            Watercourse(
                id="C1",
                kind="ditch",
                culverted=True,
                half_width_m=0.5,
                geometry=LineString([(0, 50), (100, 50)]),
            ),
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.receptor_id == "W1"
    assert pathway.straight_line_m == pytest.approx(10.0)


def test_manhole_of_a_culverted_ditch_leads_into_it(plane, terrain):
    culvert = Watercourse(
        id="C1",
        kind="ditch",
        culverted=True,
        half_width_m=0.5,
        geometry=LineString([(0, 50), (100, 50)]),
    )
    manhole = Inlet(id="M1", kind="manhole", geometry=Point(50.5, 50.5), drains_to="C1")
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream(), culvert],
        inlets=[manhole],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.receptor_id) == ("reaches_water", "C1")
    assert pathway.via == ("M1",)


# 4 ---------------------------------------------------------------------------------


def land_drain(end):
    return Pipe(
        id="D1", kind="land_drain", geometry=LineString([(50, 70), (50, 60), end])
    )


def test_filling_over_a_land_drain_reaches_water_whatever_the_surface_says(
    plane, terrain
):
    # The ground falls north, away from the only water.
    farm = terrain(
        plane(lambda east, north: 50.0 - SOUTH * north + 0.0 * east, size_m=300.0),
        sources=[filling_point(50.5, 65.5)],
        watercourses=[
            Watercourse(
                id="W1",
                kind="ditch",
                half_width_m=1.0,
                geometry=LineString([(250, 0), (250, 20)]),
            )
        ],
        pipes=[
            Pipe(
                id="D1",
                kind="land_drain",
                geometry=LineString([(50, 70), (50, 10), (249.5, 10)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.receptor_id) == ("reaches_water", "W1")
    assert pathway.via == ("D1",)
    assert pathway.length_m > 250


def test_way_over_a_land_drain_is_taken_by_it(plane, terrain):
    farm = terrain(
        plane(lambda east, north: 50.0 - SOUTH * north + 0.0 * east),
        sources=[filling_point(50.5, 30.5)],
        watercourses=[stream()],
        pipes=[
            Pipe(
                id="D1",
                kind="land_drain",
                geometry=LineString([(20, 60), (80, 60), (80, 6)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.via) == ("reaches_water", ("D1",))
    assert pathway.alternatives[-1].outcome == "not_known"
    assert "past the land drain" in pathway.alternatives[-1].why


def test_land_drain_without_outfall_hides_no_way_to_the_stream(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 65.5)],
        watercourses=[stream()],
        pipes=[land_drain((50, 40))],
    )
    (pathway,) = trace(farm)
    # Over the drain and without its outfall: into the ground; over it the stream waits,
    # and an end of the drain that is less bad must not hide it.
    assert pathway.outcome == "reaches_water"
    by_drain = [one for one in pathway.alternatives if "land drain" in one.why]
    assert [one.outcome for one in by_drain] == ["enters_ground"]
    assert any("ends at nothing" in one.text for one in farm.drains.notices)


# 6 ---------------------------------------------------------------------------------


def test_soakaway_on_the_way_enters_the_ground_and_a_well_is_named(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="S1", geometry=Point(50.5, 40.5), drains_to="soakaway")],
        water_supplies=[WaterSupply(id="B1", kind="well", geometry=Point(60.5, 45.5))],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "enters_ground"
    assert pathway.receptor_kind == "soakaway"
    assert ("B1", "well") in [(one.id, one.kind) for one in pathway.passes_near]
    assert any("domestic" in caution for caution in pathway.cautions)


def test_well_head_on_the_way_is_told(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        water_supplies=[
            WaterSupply(
                id="B1", kind="borehole", use="other", geometry=Point(51.0, 30.0)
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"
    assert pathway.alternatives[0].outcome == "enters_ground"
    assert pathway.alternatives[0].receptor_id == "B1"


# 9 ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "water",
    [
        stream(kind="ditch", seasonal=True),
        Watercourse(id="W1", kind="pond", seasonal=True, geometry=box(40, 2, 60, 12)),
    ],
)
def test_ditch_dry_in_summer_and_pond_without_outlet_are_water(plane, terrain, water):
    farm = terrain(
        plane(falling_south), sources=[filling_point(50.5, 60.5)], watercourses=[water]
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.receptor_id) == ("reaches_water", "W1")


# 11 --------------------------------------------------------------------------------


def test_source_in_a_closed_store_starts_at_its_door(plane, terrain):
    store = Building(id="B1", geometry=box(40, 55, 60, 70))
    door = Access(id="A1", kind="door", geometry=Point(60, 62.5))
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 62.5, door="A1")],
        watercourses=[stream()],
        buildings=[store],
        access=[door],
    )
    (pathway,) = trace(farm)
    assert pathway.start_kind == "door"
    assert pathway.start == pytest.approx((60.0, 62.5), abs=0.02)
    assert pathway.outcome == "reaches_water"


def test_source_in_a_closed_store_without_a_door_starts_at_the_nearest_wall(
    plane, terrain
):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(58.0, 62.5)],
        watercourses=[stream()],
        buildings=[Building(id="B1", geometry=box(40, 55, 60, 70))],
    )
    (pathway,) = trace(farm)
    assert pathway.start_kind == "door"
    assert pathway.start == pytest.approx((60.0, 62.5), abs=0.02)


def test_open_sided_barn_does_not_hold_liquid_back(plane, terrain):
    barn = Building(id="B1", kind="open_sided", geometry=box(40, 30, 60, 50))
    with_barn = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        buildings=[barn],
    )
    (pathway,) = trace(with_barn)
    assert pathway.length_m == pytest.approx(60.5 - 6.0)


def test_closed_barn_turns_liquid_aside(plane, terrain):
    barn = box(40, 30, 60, 50)
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        buildings=[Building(id="B1", geometry=barn)],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"
    assert pathway.length_m > 60
    for leg in pathway.legs:
        assert leg.line.intersection(barn.buffer(-0.75)).length == 0


# 12 --------------------------------------------------------------------------------


def kerb_with_gap(angle, gap_m, at=50.0):
    """A kerb of 60 m through the middle, with a gap, turned about the middle."""
    pieces = [
        LineString([(20, 50), (at - gap_m / 2, 50)]),
        LineString([(at + gap_m / 2, 50), (80, 50)]),
    ]
    return [
        Barrier(
            id=f"K{number}",
            kind="kerb",
            height_m=0.1,
            geometry=rotate(piece, angle, origin=(50, 50)),
        )
        for number, piece in enumerate(pieces)
    ]


def falling_across(angle):
    """Ground that falls 2 % square to a turned kerb, and in to its middle."""
    along = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    square = np.array([-along[1], along[0]])

    def height_of(east, north):
        x, y = east - 50.0, north - 50.0
        across = x * square[0] + y * square[1]
        beside = np.abs(x * along[0] + y * along[1])
        return 50.0 + SOUTH * across + 0.005 * beside

    return height_of


def passes_gap(pathway, reach_m):
    return any(leg.line.distance(Point(50, 50)) <= reach_m for leg in pathway.legs)


@pytest.mark.parametrize("angle", range(0, 180, 15))
@pytest.mark.parametrize("at", [50.0, 50.3, 50.5, 50.8])
def test_gap_of_forty_centimetres_in_a_kerb_leaks_on_cells_of_a_metre(
    plane, terrain, angle, at
):
    start = rotate(Point(50 + 6, 58), angle, origin=(50, 50))
    farm = terrain(
        plane(falling_across(angle)),
        sources=[filling_point(start.x, start.y)],
        watercourses=[],
        barriers=kerb_with_gap(angle, 0.4, at),
    )
    (pathway,) = trace(farm)
    assert pathway.why == "no_water_in_grid"
    assert passes_gap(pathway, 2.0)
    assert not any(hollow.held_by for hollow in pathway.hollows)


@pytest.mark.parametrize("angle", range(0, 180, 15))
def test_kerb_without_gap_holds_until_it_is_overtopped(plane, terrain, angle):
    start = rotate(Point(50 + 6, 58), angle, origin=(50, 50))
    farm = terrain(
        plane(falling_across(angle)),
        sources=[filling_point(start.x, start.y)],
        barriers=kerb_with_gap(angle, 0.05),
    )
    (pathway,) = trace(farm)
    assert [hollow.held_by for hollow in pathway.hollows if hollow.held_by] != []


def test_gap_between_a_kerb_and_a_barn_leaks(plane, terrain):
    barn = Building(id="B1", geometry=box(50.2, 45, 70, 55))
    kerb = Barrier(
        id="K1", kind="kerb", height_m=0.1, geometry=LineString([(10, 50), (49.8, 50)])
    )
    farm = terrain(
        plane(
            lambda east, north: falling_south(east, north) + 0.005 * abs(east - 50.0)
        ),
        sources=[filling_point(44.5, 60.5)],
        barriers=[kerb],
        buildings=[barn],
    )
    (pathway,) = trace(farm)
    assert not any(hollow.held_by for hollow in pathway.hollows)
    assert pathway.why == "no_water_in_grid"


# 13 --------------------------------------------------------------------------------


def walled_yard(angle):
    """A yard of 30 m by 30 m, walled about, turned by an angle."""
    corners = [(35, 35), (65, 35), (65, 65), (35, 65), (35, 35)]
    return Barrier(
        id="V1",
        kind="wall",
        height_m=1.5,
        geometry=rotate(LineString(corners), angle, origin=(50, 50)),
    )


@pytest.mark.parametrize("angle", range(0, 90, 7))
def test_wall_is_continuous_at_any_angle(plane, terrain, angle):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 50.5)],
        watercourses=[stream()],
        barriers=[walled_yard(angle)],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.why) == ("not_known", "shut_in")
    low = 50.0 + SOUTH * (50.0 - 15.0 * np.sqrt(2))
    assert low + 1.4 < pathway.overtops_at_m < 50.0 + SOUTH * 50.0 + 1.5
    assert pathway.alternatives[0].outcome == "reaches_water"
    assert "wall" in pathway.alternatives[0].why


@pytest.mark.parametrize("angle", range(0, 90, 7))
@pytest.mark.parametrize("off_m", [0.0, 3.0])
def test_gate_in_a_wall_passes_though_drawn_three_cells_off(
    plane, terrain, angle, off_m
):
    gate = Access(
        id="A1",
        kind="gate",
        geometry=rotate(Point(50, 35 - off_m), angle, origin=(50, 50)),
    )
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 50.5)],
        watercourses=[stream()],
        barriers=[walled_yard(angle)],
        access=[gate],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.receptor_id) == ("reaches_water", "W1")


def test_yard_shut_in_by_barns_has_no_level_at_which_it_overtops(plane, terrain):
    barns = [
        Building(id=f"B{number}", geometry=shape)
        for number, shape in enumerate(
            [
                box(30, 30, 35, 70),
                box(65, 30, 70, 70),
                box(30, 30, 70, 35),
                box(30, 65, 70, 70),
            ]
        )
    ]
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 50.5)],
        watercourses=[stream()],
        buildings=barns,
    )
    (pathway,) = trace(farm)
    assert (pathway.why, pathway.overtops_at_m) == ("shut_in", None)


def test_gate_far_from_every_wall_is_reported(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 50.5)],
        barriers=[walled_yard(0)],
        access=[Access(id="A1", kind="gate", geometry=Point(50, 20))],
    )
    (notice,) = farm.barriers.notices
    assert notice.code == "gate_without_barrier"
    assert "15.0 m" in notice.text


# 16 --------------------------------------------------------------------------------


def test_flow_seen_in_the_rain_wins_and_both_are_shown(plane, terrain):
    seen = Observation(
        id="O1",
        kind="flow_seen",
        date="2026-02-03",
        geometry=LineString([(50, 55), (75, 50), (90, 40)]),
    )
    pond = Watercourse(id="P1", kind="pond", geometry=box(88, 30, 98, 40))
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream(), pond],
        observations=[seen],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.receptor_id) == ("reaches_water", "P1")
    assert [leg.kind for leg in pathway.legs] == ["surface", "observed"]
    assert pathway.alternatives[-1].receptor_id == "W1"
    assert "overruled" in pathway.alternatives[-1].why
    assert any("2026-02-03" in caution for caution in pathway.cautions)


def test_flow_seen_that_agrees_changes_nothing(plane, terrain):
    seen = Observation(
        id="O1", kind="flow_seen", geometry=LineString([(51, 55), (50, 20)])
    )
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        observations=[seen],
    )
    (pathway,) = trace(farm)
    assert [leg.kind for leg in pathway.legs] == ["surface"]
    assert pathway.alternatives == ()


def test_dye_that_arrived_outweighs_the_drawn_pipe(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="soakaway")],
        observations=[
            Observation(
                id="O1", kind="dye_arrived", from_id="G1", geometry=Point(20, 6)
            )
        ],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.receptor_id) == ("reaches_water", "W1")


# What else must come out right ------------------------------------------------------


def test_source_in_the_water_is_no_way_from_it(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 5.0)],
        watercourses=[stream()],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.length_m) == ("reaches_water", 0.0)


def test_source_off_the_grid_is_not_known(plane, terrain):
    farm = terrain(
        plane(falling_south), sources=[filling_point(500, 5)], watercourses=[stream()]
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.why) == ("not_known", "off_grid")


def test_source_on_no_data_is_not_known(plane, terrain):
    def height_of(east, north):
        heights = falling_south(east, north)
        heights[(abs(east - 50) < 8) & (abs(north - 50) < 8)] = np.nan
        return heights

    farm = terrain(
        plane(height_of), sources=[filling_point(50.5, 50.5)], watercourses=[stream()]
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.why) == ("not_known", "meets_no_data")


def test_way_that_leaves_the_grid_is_not_known(plane, terrain):
    farm = terrain(
        plane(lambda east, north: 50.0 - SOUTH * north + 0.0 * east),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.why) == ("not_known", "leaves_grid")


@pytest.mark.parametrize(
    ("free_l", "maintained", "volume_l", "outcome"),
    [
        (4000.0, True, 3000.0, "contained"),
        (4000.0, True, 4000.0, "contained"),
        (4000.0, True, 4001.0, "reaches_water"),
        (4000.0, False, 3000.0, "reaches_water"),
        (None, True, 3000.0, "reaches_water"),
        (4000.0, True, None, "reaches_water"),
    ],
)
def test_tank_holds_only_what_it_is_sure_to_take(
    plane, terrain, free_l, maintained, volume_l, outcome
):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5, volume_l=volume_l)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="T1")],
        tanks=[
            Tank(
                id="T1",
                capacity_l=9000.0,
                free_l=free_l,
                maintained=maintained,
                geometry=Point(70, 40),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == outcome
    assert "T1" in pathway.via


def test_drains_that_lead_back_to_themselves_end(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="P1")],
        pipes=[
            Pipe(
                id="P1", kind="culvert", geometry=LineString([(50.5, 40.5), (50.5, 58)])
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"
    assert pathway.via == ("G1", "P1")


def test_culvert_carries_a_way_under_a_bank(plane, terrain):
    bank = Barrier(
        id="H1",
        kind="hedge_bank",
        height_m=1.0,
        geometry=LineString([(0, 40), (100, 40)]),
    )
    culvert = Pipe(
        id="C1", kind="culvert", geometry=LineString([(50.5, 42.5), (50.5, 37.5)])
    )
    farm = terrain(
        plane(
            lambda east, north: falling_south(east, north) + 0.005 * abs(east - 50.5)
        ),
        sources=[filling_point(56.5, 60.5)],
        watercourses=[stream()],
        barriers=[bank],
        pipes=[culvert],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.via) == ("reaches_water", ("C1",))
    assert [leg.kind for leg in pathway.legs] == ["surface", "pipe", "surface"]


def test_pipe_with_unknown_lower_end_is_an_unknown_drain(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="P1")],
        pipes=[Pipe(id="P1", geometry=LineString([(50.5, 40.5), (70, 30)]))],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.via) == ("enters_piped_drain", ("G1", "P1"))
    (notice,) = farm.drains.notices
    assert "24.0 m" in notice.text


def test_gully_beside_a_kerb_lies_in_the_yard(plane, terrain):
    # The kerb takes up the gully's own cell; the gully lies on its upper side.
    kerb = Barrier(
        id="K1",
        kind="kerb",
        height_m=0.1,
        geometry=LineString([(30, 40.2), (70, 40.2)]),
    )
    farm = terrain(
        plane(
            lambda east, north: falling_south(east, north) + 0.005 * abs(east - 50.5)
        ),
        sources=[filling_point(54.5, 60.5)],
        watercourses=[stream()],
        barriers=[kerb],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.6), drains_to="unknown")],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.via) == ("enters_piped_drain", ("G1",))


def test_area_gives_the_worse_of_two_ways_first(plane, terrain):
    yard = Source(id="L1", kind="livestock_yard", geometry=box(40, 20, 60, 60))
    farm = terrain(plane(falling_south), sources=[yard], watercourses=[stream()])
    pathways = trace(farm)
    assert {one.start_kind for one in pathways} <= {"lowest_edge", "nearest_water"}
    assert pathways[0].length_m == pytest.approx(20.0 - 6.0, abs=1.0)


def test_surfaces_are_told_in_the_order_of_the_way(plane, terrain):
    from pathways.features import Surface

    farm = terrain(
        plane(falling_south),
        sources=[filling_point(50.5, 60.5)],
        watercourses=[stream()],
        surfaces=[
            Surface(kind="arable", geometry=box(0, 0, 100, 50)),
            Surface(kind="concrete", geometry=box(40, 40, 60, 70)),
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.surfaces == (
        ("concrete", pytest.approx(20.5)),
        ("arable", pytest.approx(34.0)),
    )


def test_lowest_tank_of_a_triangle_is_found(plane, terrain):
    shape = Polygon([(40, 60), (60, 60), (50, 41)])
    farm = terrain(
        plane(falling_south),
        sources=[Source(id="M1", kind="midden", geometry=shape)],
        watercourses=[stream()],
    )
    pathway = trace(farm)[0]
    assert pathway.start == pytest.approx((50.0, 41.0), abs=1.5)


def test_way_from_any_place_never_ends_without_an_outcome(plane, terrain):
    rng = np.random.default_rng(5)
    rough = rng.normal(0.0, 0.05, (100, 100))
    farm = terrain(
        plane(lambda east, north: falling_south(east, north) + rough),
        watercourses=[stream()],
        barriers=kerb_with_gap(30, 0.4),
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="unknown")],
    )
    for east, north in rng.uniform(1, 99, (60, 2)):
        way = follow(farm, Point(east, north))
        assert way.ends
        assert way.outcome != "not_known" or way.why
