"""Yards drawn so as to mislead: what must come out right all the same.

Found by trying to make the tracing say something wrong in silence; the answers follow
from the data contract and from common practice (no published source).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from shapely import LineString, Point, box
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

SOUTH = 0.02


def falling_south(east, north):
    return 50.0 + SOUTH * north + 0.0 * east


def falling_north(east, north):
    return 50.0 - SOUTH * north + 0.0 * east


def point(east, north, **more):
    return Source(id="F1", kind="filling_point", geometry=Point(east, north), **more)


def stream(north=5.0, **more):
    given = {"id": "W1", "kind": "stream", "half_width_m": 1.0, **more}
    return Watercourse(geometry=LineString([(0, north), (100, north)]), **given)


def outcomes(pathway):
    """All outcomes that are told, the headline first."""
    return [pathway.outcome, *(one.outcome for one in pathway.alternatives)]


def gaps_between_legs(legs):
    return [
        Point(a.line.coords[-1]).distance(Point(b.line.coords[0]))
        for a, b in itertools.pairwise(legs)
    ]


# hedge bank in the same cells as a ditch


@pytest.mark.parametrize("kind", ["hedge_bank", "wall", "kerb"])
def test_ditch_beside_a_bank_in_the_same_cells_is_still_water(plane, terrain, kind):
    farm = terrain(
        plane(falling_south, cell_size_m=2.0),
        sources=[point(51, 61)],
        watercourses=[stream(20.4, kind="ditch", half_width_m=0.4)],
        barriers=[
            Barrier(
                id="H1",
                kind=kind,
                height_m=0.3,
                geometry=LineString([(20, 21.5), (80, 21.5)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


def test_bank_over_the_whole_length_hides_the_ditch(plane, terrain):
    farm = terrain(
        plane(falling_south, cell_size_m=2.0),
        sources=[point(51, 61)],
        watercourses=[stream(20.4, kind="ditch", half_width_m=0.4)],
        barriers=[
            Barrier(
                id="H1",
                kind="hedge_bank",
                height_m=0.3,
                geometry=LineString([(0, 21.5), (100, 21.5)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


# tank with outlet


@pytest.mark.parametrize("maintained", [True, False])
def test_tank_with_an_outlet_pipe_to_a_river_reaches_it(plane, terrain, maintained):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 40.5, volume_l=500.0)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 50.5), drains_to="T1")],
        tanks=[
            Tank(
                id="T1",
                capacity_l=2000.0,
                free_l=1000.0,
                maintained=maintained,
                geometry=Point(55, 50),
            )
        ],
        pipes=[Pipe(id="P1", geometry=LineString([(55, 50), (55, 6)]))],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


# G1 blocked, then G2


def test_second_gully_takes_what_passes_the_first(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 30.5)],
        watercourses=[stream()],
        inlets=[
            Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="soakaway"),
            Inlet(id="G2", geometry=Point(50.5, 70.5), drains_to="P2"),
        ],
        pipes=[Pipe(id="P2", geometry=LineString([(50.5, 70.5), (60, 6)]))],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


def test_overflow_that_returns_to_its_gully_meets_the_next_gully(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 30.5)],
        watercourses=[stream()],
        inlets=[
            Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="T1"),
            Inlet(id="G2", geometry=Point(50.5, 70.5), drains_to="P2"),
        ],
        tanks=[Tank(id="T1", capacity_l=2000.0, geometry=Point(50.5, 38.5))],
        pipes=[Pipe(id="P2", geometry=LineString([(50.5, 70.5), (60, 6)]))],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


# land drains


def test_surface_way_to_a_stream_is_told_above_a_land_drain_without_outfall(
    plane, terrain
):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 25.5)],
        watercourses=[stream()],
        pipes=[
            Pipe(id="D1", kind="land_drain", geometry=LineString([(50, 25), (50, 80)]))
        ],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


@pytest.mark.parametrize("order", [1, -1])
def test_all_land_drains_under_the_way_are_told(plane, terrain, order):
    drains = [
        Pipe(id="D1", kind="land_drain", geometry=LineString([(20, 40), (70, 40)])),
        Pipe(
            id="D2",
            kind="land_drain",
            geometry=LineString([(20, 60), (80, 60), (80, 6)]),
        ),
    ][::order]
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 30.5)],
        watercourses=[stream()],
        pipes=drains,
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


def test_land_drain_under_a_source_area_is_told(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[Source(id="F1", kind="livestock_yard", geometry=box(30, 30, 70, 60))],
        watercourses=[
            Watercourse(
                id="W1",
                kind="ditch",
                half_width_m=1.0,
                geometry=LineString([(95, 0), (95, 20)]),
            )
        ],
        pipes=[
            Pipe(
                id="D1",
                kind="land_drain",
                geometry=LineString([(35, 45), (66, 45), (66, 10), (94.5, 10)]),
            )
        ],
    )
    pathways = trace(farm)
    assert any("reaches_water" in outcomes(one) for one in pathways)


def test_land_drain_under_observed_flow_is_told(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 30.5)],
        watercourses=[stream()],
        pipes=[
            Pipe(
                id="D1",
                kind="land_drain",
                geometry=LineString([(20, 60), (95, 60), (95, 6)]),
            )
        ],
        observations=[
            Observation(
                id="O1",
                kind="flow_seen",
                geometry=LineString([(50, 35), (70, 50), (75, 90)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in [pathway.outcome] + [
        a.outcome for a in pathway.alternatives if "grid alone" not in a.why
    ]


# dye


def test_dye_from_a_gully_beside_the_way_outweighs_its_drawn_drain(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 30.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(55.5, 50.5), drains_to="soakaway")],
        observations=[
            Observation(
                id="O1", kind="dye_arrived", from_id="G1", geometry=Point(20, 6)
            )
        ],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


def test_dye_of_one_gully_says_nothing_of_its_neighbour(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[
            Inlet(id="G1", geometry=Point(50.5, 50.5), drains_to="W1"),
            Inlet(id="G2", geometry=Point(52.5, 50.5), drains_to="unknown"),
        ],
        observations=[
            Observation(
                id="O1",
                kind="dye_arrived",
                from_id="G2",
                geometry=LineString([(52.5, 50.5), (90, 90)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.legs[1].line.coords[-1][1] < 10


def test_dye_that_arrived_in_a_culverted_ditch_reached_water(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 30.5)],
        watercourses=[stream(culverted=True)],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 50.5), drains_to="soakaway")],
        observations=[
            Observation(
                id="O1", kind="dye_arrived", from_id="G1", geometry=Point(20, 5)
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


def test_dye_that_overrules_a_drawn_drain_is_said(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 60.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 40.5), drains_to="W1")],
        observations=[
            Observation(
                id="O1", kind="dye_arrived", from_id="G1", geometry=Point(20, 70)
            )
        ],
    )
    (pathway,) = trace(farm)
    assert any("seen" in one for one in pathway.cautions)


# inlets


def test_floor_drain_in_a_closed_barn_takes_no_water_of_the_yard(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(38.5, 60.5, volume_l=100.0)],
        watercourses=[stream()],
        buildings=[Building(id="B1", geometry=box(39, 30, 60, 50))],
        inlets=[Inlet(id="G1", geometry=Point(40.2, 40.5), drains_to="T1")],
        tanks=[
            Tank(
                id="T1",
                capacity_l=9000.0,
                free_l=9000.0,
                maintained=True,
                geometry=Point(50, 40),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


def test_channel_drain_in_the_cells_of_a_kerb_takes_water(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 30.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(
                id="K1",
                kind="kerb",
                height_m=0.1,
                geometry=LineString([(0, 60.6), (100, 60.6)]),
            )
        ],
        inlets=[
            Inlet(
                id="C1",
                kind="channel_drain",
                geometry=LineString([(20, 60.2), (80, 60.2)]),
                drains_to="W1",
            )
        ],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.via) == ("reaches_water", ("C1",))


def test_legs_join_through_a_channel_drain(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(30.5, 60.5)],
        watercourses=[stream()],
        inlets=[
            Inlet(
                id="C1",
                kind="channel_drain",
                geometry=LineString([(25, 40.5), (75, 40.5)]),
                drains_to="P1",
            )
        ],
        pipes=[Pipe(id="P1", geometry=LineString([(75, 40.5), (75, 5)]))],
    )
    (pathway,) = trace(farm)
    assert max(gaps_between_legs(pathway.legs)) < 1e-6


@pytest.mark.parametrize("slope", [0.003, 0.007])
def test_other_way_into_a_gully_is_no_longer_than_the_way_to_it(plane, terrain, slope):
    farm = terrain(
        plane(lambda e, n: falling_south(e, n) + slope * e),
        sources=[point(70.5, 80.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(62.3, 65.2), drains_to="unknown")],
    )
    (pathway,) = trace(farm)
    one = next(one for one in pathway.alternatives if one.via == ("G1",))
    assert one.length_m < 40
    assert max(gaps_between_legs(one.legs), default=0) < 1e-6


def test_other_way_into_a_gully_goes_round_a_barn(plane, terrain):
    barn = box(40, 30, 60, 50)
    farm = terrain(
        plane(falling_south),
        sources=[point(49.5, 60.5)],
        watercourses=[stream()],
        buildings=[Building(id="B1", geometry=barn)],
        inlets=[Inlet(id="G1", geometry=Point(36, 20), drains_to="unknown")],
    )
    (pathway,) = trace(farm)
    assert all(
        leg.line.intersection(barn.buffer(-1)).length == 0
        for one in pathway.alternatives
        for leg in one.legs
    )


# pipes


def test_manhole_at_a_pipe_end_leads_where_it_says(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 30.5)],
        watercourses=[stream()],
        inlets=[
            Inlet(id="G1", geometry=Point(50.5, 50.5), drains_to="P1"),
            Inlet(
                id="M1",
                kind="manhole",
                covered=True,
                geometry=Point(70, 50.5),
                drains_to="P3",
            ),
        ],
        pipes=[
            Pipe(id="P1", geometry=LineString([(50.5, 50.5), (70, 50.5)])),
            Pipe(
                id="D1",
                kind="land_drain",
                geometry=LineString([(70.6, 40), (70.6, 95)]),
            ),
            Pipe(id="P3", geometry=LineString([(70, 50.5), (75, 6)])),
        ],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.receptor_id) == ("reaches_water", "W1")


def test_pipe_leads_into_the_nearer_water(plane, terrain):
    farm = terrain(
        plane(falling_south, cell_size_m=5.0),
        sources=[point(52.5, 62.5)],
        watercourses=[
            Watercourse(
                id="FAR",
                kind="ditch",
                half_width_m=0.5,
                geometry=LineString([(0, 14), (100, 14)]),
            ),
            stream(10.0),
        ],
        inlets=[Inlet(id="G1", geometry=Point(52.5, 42.5), drains_to="P1")],
        pipes=[Pipe(id="P1", geometry=LineString([(52.5, 42.5), (52.5, 11)]))],
    )
    (pathway,) = trace(farm)
    assert pathway.receptor_id == "W1"


def test_culvert_fed_by_a_gully_still_takes_water_at_its_mouth(plane, terrain):
    farm = terrain(
        plane(lambda e, n: falling_south(e, n) + 0.005 * abs(e - 50.5)),
        sources=[point(56.5, 60.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(
                id="H1",
                kind="wall",
                height_m=1.0,
                geometry=LineString([(0, 40), (100, 40)]),
            )
        ],
        pipes=[
            Pipe(
                id="C1",
                kind="culvert",
                geometry=LineString([(50.5, 42.5), (50.5, 37.5)]),
            )
        ],
        inlets=[
            Inlet(id="R1", kind="downpipe", geometry=Point(90, 80), drains_to="C1")
        ],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.via) == ("reaches_water", ("C1",))


def test_culvert_drawn_uphill_is_reported(plane, terrain):
    farm = terrain(
        plane(lambda e, n: falling_south(e, n) + 0.005 * abs(e - 50.5)),
        sources=[point(56.5, 60.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(
                id="H1",
                kind="wall",
                height_m=1.0,
                geometry=LineString([(0, 40), (100, 40)]),
            )
        ],
        pipes=[
            Pipe(
                id="C1",
                kind="culvert",
                geometry=LineString([(50.5, 37.5), (50.5, 42.5)]),
            )
        ],
    )
    (_pathway,) = trace(farm)
    assert farm.drains.notices != ()


def test_culvert_drawn_from_the_water_up_is_reported(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 60.5)],
        watercourses=[stream()],
        pipes=[
            Pipe(
                id="C1", kind="culvert", geometry=LineString([(50.5, 6), (50.5, 42.5)])
            )
        ],
    )
    assert farm.drains.notices != ()


def test_land_drain_drawn_from_the_water_up_reaches_water(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 60.5)],
        watercourses=[stream()],
        pipes=[
            Pipe(
                id="D1",
                kind="land_drain",
                geometry=LineString([(50.5, 5.5), (50.5, 80)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway) or any(
        "backwards" in n.text for n in farm.drains.notices
    )


# what was seen


def test_observed_flow_across_a_ditch_reaches_it(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 60.5)],
        watercourses=[stream(20.0, kind="ditch")],
        observations=[
            Observation(
                id="O1",
                kind="flow_seen",
                geometry=LineString([(50, 55), (60, 40), (62, 12)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


def test_flow_seen_behind_a_kerb_does_not_draw_the_way_over_it(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 60.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(
                id="K1",
                kind="wall",
                height_m=1.0,
                geometry=LineString([(52, 99), (52, 0)]),
            )
        ],
        observations=[
            Observation(
                id="O1",
                kind="flow_seen",
                geometry=LineString([(53, 55), (80, 50), (99, 50)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


def test_wall_shuts_in_before_flow_seen_outside_it(plane, terrain):
    ring = LineString([(35, 35), (65, 35), (65, 65), (35, 65), (35, 35)])
    farm = terrain(
        plane(lambda e, n: falling_south(e, n) + 0.005 * abs(e - 50.5)),
        sources=[point(50.5, 50.5)],
        watercourses=[stream()],
        barriers=[Barrier(id="V1", kind="wall", height_m=1.5, geometry=ring)],
        observations=[
            Observation(
                id="O1",
                kind="flow_seen",
                geometry=LineString([(45, 28), (55, 25), (90, 25), (99.9, 25)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.why == "shut_in"


def test_hollow_before_an_observed_line_is_told(plane, terrain):
    farm = terrain(
        plane(lambda e, n: falling_south(e, n) + 0.005 * abs(e - 50.5)),
        sources=[point(50.5, 60.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(
                id="K1",
                kind="kerb",
                height_m=0.1,
                geometry=LineString([(0, 50), (100, 50)]),
            )
        ],
        observations=[
            Observation(
                id="O1",
                kind="flow_seen",
                geometry=LineString([(40, 40), (70, 30), (99, 30)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert any(h.held_by == "K1" for h in pathway.hollows)


# no data, channel off


def test_river_without_heights_is_still_reached(plane, terrain):
    def height_of(e, n):
        h = falling_south(e, n)
        h[n < 12] = np.nan
        return h

    farm = terrain(
        plane(height_of),
        sources=[point(50.5, 60.5)],
        watercourses=[Watercourse(id="W1", kind="river", geometry=box(0, 2, 100, 12))],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


def test_way_in_a_channel_beside_the_drawn_stream_names_it(plane, terrain):
    farm = terrain(
        plane(
            lambda e, n: (
                50
                + SOUTH * np.maximum(n - 20, 0)
                + 0.05 * np.maximum(20 - n, 0)
                - 1.0 * (abs(n - 20) < 1.0)
                + 0.01 * e
            )
        ),
        sources=[point(50.5, 60.5)],
        watercourses=[stream(17.0)],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


# walls


@pytest.mark.parametrize("wall_north", [20.5, 21.0, 21.4])
def test_wall_along_a_stream_does_not_hide_it(plane, terrain, wall_north):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 60.5)],
        watercourses=[stream(20.0, half_width_m=1.5)],
        barriers=[
            Barrier(
                id="V1",
                kind="wall",
                height_m=1.0,
                geometry=LineString([(30, wall_north), (70, wall_north)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


def test_gate_drawn_across_its_wall_opens_it(plane, terrain):
    ring = LineString([(35, 35), (65, 35), (65, 65), (35, 65), (35, 35)])
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 50.5)],
        watercourses=[stream()],
        barriers=[Barrier(id="V1", kind="wall", height_m=1.5, geometry=ring)],
        access=[
            Access(id="A1", kind="gate", geometry=LineString([(50, 35), (50, 38.5)]))
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water" or farm.barriers.notices


@pytest.mark.parametrize("cell", [1.0, 2.0])
def test_alley_between_two_walls_stays_open(plane, terrain, cell):
    """An alley 1.6 cells wide, between the walls' own cells."""
    west, east = 50 + 0.2 * cell, 50 + 1.8 * cell
    left = LineString([(35, 35.2), (west, 35.2), (west, 20.2)])
    right = LineString([(65, 35.2), (east, 35.2), (east, 20.2)])
    back = LineString([(35, 35.2), (35, 65), (65, 65), (65, 35.2)])
    farm = terrain(
        plane(falling_south, cell_size_m=cell),
        sources=[point(50.5, 50.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(id=f"V{i}", kind="wall", height_m=1.5, geometry=g)
            for i, g in enumerate([left, right, back])
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water" or farm.barriers.notices


@pytest.mark.parametrize("angle", range(0, 90, 10))
@pytest.mark.parametrize("width", [0.6, 0.9, 1.1, 1.3])
def test_thin_closed_building_lets_no_way_through(plane, terrain, angle, width):
    shape = rotate(box(20, 50 - width / 2, 80, 50 + width / 2), angle, origin=(50, 50))
    start = rotate(Point(50, 58), angle, origin=(50, 50))
    a = np.radians(angle)
    farm = terrain(
        plane(
            lambda e, n: (
                50
                + 0.02 * (-(e - 50) * np.sin(a) + (n - 50) * np.cos(a))
                + 0.004 * abs((e - 50) * np.cos(a) + (n - 50) * np.sin(a))
            )
        ),
        sources=[point(start.x, start.y)],
        watercourses=[],
        buildings=[Building(id="B1", geometry=shape)],
    )
    (pathway,) = trace(farm)
    crossing = shape.buffer(-0.2)
    assert all(leg.line.intersection(crossing).length == 0 for leg in pathway.legs)


@pytest.mark.parametrize("width", [0.6, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("angle", range(0, 90, 15))
def test_wall_that_ends_at_a_thin_shed_lets_nothing_by(plane, terrain, angle, width):
    shed = rotate(box(50, 50 - width / 2, 62, 50 + width / 2), angle, origin=(50, 50))
    wall = rotate(
        LineString([(50, 50), (35, 50), (35, 75), (62, 75), (62, 50)]),
        angle,
        origin=(50, 50),
    )
    start = rotate(Point(48, 60), angle, origin=(50, 50))
    a = np.radians(angle)
    farm = terrain(
        plane(
            lambda e, n: (
                50
                + 0.02 * (-(e - 50) * np.sin(a) + (n - 50) * np.cos(a))
                + 0.004 * abs((e - 50) * np.cos(a) + (n - 50) * np.sin(a))
            )
        ),
        sources=[point(start.x, start.y)],
        watercourses=[],
        buildings=[Building(id="B1", geometry=shed)],
        barriers=[Barrier(id="V1", kind="wall", height_m=1.0, geometry=wall)],
    )
    (pathway,) = trace(farm)
    assert pathway.why == "shut_in"


@pytest.mark.parametrize("angle", range(0, 90, 10))
def test_barns_touching_at_a_corner_let_nothing_between(plane, terrain, angle):
    barns = [
        rotate(box(20, 40, 50, 50), angle, origin=(50, 50)),
        rotate(box(50, 50, 80, 60), angle, origin=(50, 50)),
    ]
    ring = [
        rotate(g, angle, origin=(50, 50))
        for g in (box(20, 40, 22, 80), box(20, 78, 80, 80), box(78, 50, 80, 80))
    ]
    a = np.radians(angle)
    start = rotate(Point(45, 70), angle, origin=(50, 50))
    farm = terrain(
        plane(
            lambda e, n: 50 + 0.02 * (-(e - 50) * np.sin(a) + (n - 50) * np.cos(a)),
            size_m=100,
        ),
        sources=[point(start.x, start.y)],
        buildings=[
            Building(id=f"B{i}", geometry=g) for i, g in enumerate(barns + ring)
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.why == "shut_in"


# line


def test_line_into_a_narrow_ditch_ends_where_the_way_does(plane, terrain):
    # down to the south, then aslant to the south-east; the ditch lies a little aslant
    def height_of(e, n):
        return (
            60
            - 0.02 * np.maximum(60 - n, 0)
            - 0.02 * e * (n <= 60)
            + 0.1 * np.maximum(n - 60, 0)
        )

    farm = terrain(
        plane(height_of),
        sources=[point(22.5, 82.5)],
        watercourses=[
            Watercourse(
                id="W1",
                kind="ditch",
                half_width_m=0.1,
                geometry=LineString([(0, 9.5), (100, 19.5)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    cell = farm.grid.cell_at(*pathway.start)
    last = farm.flow.drainage.way_from(farm.flow.ground.number(cell))[-1]
    assert Point(pathway.end).distance(Point(farm.flow.ground.place(last))) < 6


# walls, again


def whole_number_ring():
    return [(27, 65), (32, 27), (47, 22), (76, 35), (71, 74), (50, 79), (27, 65)]


@pytest.mark.parametrize("cell", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("at", range(1, 6))
def test_two_walls_that_meet_on_a_corner_of_cells_shut_in(plane, terrain, cell, at):
    ring = whole_number_ring()
    x, y = np.array(ring[at], float) - 50
    r = np.hypot(x, y)
    walls = [LineString(ring[: at + 1]), LineString(ring[at:])]
    farm = terrain(  # falls towards the joint
        plane(
            lambda e, n: (
                50
                - 0.02 * ((e - 50) * x + (n - 50) * y) / r
                + 0.01 * abs((e - 50) * y - (n - 50) * x) / r
            ),
            cell_size_m=cell,
        ),
        sources=[point(50.3, 50.4)],
        barriers=[
            Barrier(id=f"V{i}", kind="wall", height_m=1.5, geometry=g)
            for i, g in enumerate(walls)
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.why == "shut_in"


@pytest.mark.parametrize("first", range(6))
@pytest.mark.parametrize("turn", range(0, 90, 7))
def test_ring_that_begins_on_a_corner_of_cells_shuts_in(plane, terrain, first, turn):
    corners = [(50, 50), (20, 50), (20, 80), (80, 80), (80, 50), (50, 50)]
    ring = rotate(LineString(corners), 90 * (first % 4) + turn, origin=(50, 50))
    start = rotate(Point(50, 65), 90 * (first % 4) + turn, origin=(50, 50))
    x, y = 50 - start.x, 50 - start.y
    farm = terrain(
        plane(
            lambda e, n: (
                50
                - 0.02 * ((e - 50) * x + (n - 50) * y) / 15
                + 0.006 * abs((e - 50) * y - (n - 50) * x) / 15
            )
        ),
        sources=[point(start.x, start.y)],
        barriers=[Barrier(id="V1", kind="wall", height_m=1.5, geometry=ring)],
    )
    (pathway,) = trace(farm)
    assert pathway.why == "shut_in"


@pytest.mark.parametrize(("cell", "depth"), [(1.0, 1.3), (2.0, 2.4), (5.0, 6.0)])
@pytest.mark.parametrize("angle", range(0, 180, 15))
def test_wall_that_ends_at_a_shallow_barn_is_joined_to_it(
    plane, terrain, angle, cell, depth
):
    barn = rotate(box(45, 40 - depth, 75, 40), angle, origin=(50, 50))
    wall = rotate(
        LineString([(45.2, 40), (32, 40), (32, 70), (74.8, 70), (74.8, 40)]),
        angle,
        origin=(50, 50),
    )
    start = rotate(Point(45.2, 55), angle, origin=(50, 50))
    a = np.radians(angle)

    def height_of(e, n):
        across = -(e - 50) * np.sin(a) + (n - 50) * np.cos(a)
        along = (e - 50) * np.cos(a) + (n - 50) * np.sin(a)
        return 50 + 0.02 * across + 0.006 * abs(along + 4.8)

    farm = terrain(
        plane(height_of, cell_size_m=cell),
        sources=[point(start.x, start.y)],
        buildings=[Building(id="B1", geometry=barn)],
        barriers=[Barrier(id="V1", kind="wall", height_m=1.5, geometry=wall)],
    )
    (pathway,) = trace(farm)
    assert pathway.why == "shut_in"


@pytest.mark.parametrize("over", [0.3, 0.6, 0.9, 1.2])
@pytest.mark.parametrize("gap", [0.4, 0.8, 1.2, 1.8])
def test_wall_that_runs_past_a_corner_stays_whole(plane, terrain, over, gap):
    walls = [
        LineString([(65, 65), (35, 65), (35, 35.3 - over)]),  # runs past the front wall
        LineString([(35, 35.3), (65, 35.3), (65, 65)]),
        LineString([(20, 35.3 - over - gap), (60, 35.3 - over - gap)]),
    ]
    farm = terrain(
        plane(lambda e, n: falling_south(e, n) + 0.01 * abs(e - 35)),
        sources=[point(45.5, 50.5)],
        barriers=[
            Barrier(id=f"V{i}", kind="wall", height_m=1.5, geometry=g)
            for i, g in enumerate(walls)
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.why == "shut_in"


# more


def test_order_of_two_gullies_in_one_cell_does_not_decide(plane, terrain):
    gullies = [
        Inlet(id="G1", geometry=Point(50.3, 40.5), drains_to="W1"),
        Inlet(id="G2", geometry=Point(50.7, 40.5), drains_to="T1"),
    ]
    found = []
    for inlets in (gullies, gullies[::-1]):
        farm = terrain(
            plane(falling_south),
            sources=[point(50.5, 60.5, volume_l=100.0)],
            watercourses=[stream()],
            inlets=inlets,
            tanks=[
                Tank(
                    id="T1",
                    capacity_l=9000.0,
                    free_l=9000.0,
                    maintained=True,
                    geometry=Point(70, 40),
                )
            ],
        )
        (pathway,) = trace(farm)
        found.append(pathway.outcome)
    assert found == ["reaches_water", "reaches_water"]


@pytest.mark.parametrize("cell", [1.0, 2.0, 5.0])
def test_short_culvert_under_a_wall_works_on_any_cells(plane, terrain, cell):
    farm = terrain(
        plane(
            lambda e, n: falling_south(e, n) + 0.005 * abs(e - 52.5), cell_size_m=cell
        ),
        sources=[point(57.5, 62.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(
                id="V1",
                kind="wall",
                height_m=1.0,
                geometry=LineString([(0, 42.5), (100, 42.5)]),
            )
        ],
        pipes=[
            Pipe(
                id="C1",
                kind="culvert",
                geometry=LineString([(52.5, 43.0), (52.5, 42.0)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert (pathway.outcome, pathway.via) == ("reaches_water", ("C1",))


def test_source_on_a_wall_line_is_told_on_both_sides(plane, terrain):
    farm = terrain(
        plane(lambda e, n: 50 - 0.02 * abs(n - 50.5) + 0 * e),
        sources=[point(50.5, 50.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(
                id="V1",
                kind="wall",
                height_m=1.0,
                geometry=LineString([(0, 50.5), (100, 50.5)]),
            )
        ],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


def test_source_in_a_store_without_a_door_tells_every_side(plane, terrain):
    farm = terrain(
        plane(lambda e, n: 50 - 0.02 * abs(n - 60) + 0 * e),
        sources=[point(50.5, 61.5)],
        watercourses=[stream()],
        buildings=[Building(id="B1", geometry=box(40, 55, 60, 65))],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway) or pathway.cautions


def test_well_inside_a_source_area_is_told(plane, terrain):
    farm = terrain(
        plane(falling_south, size_m=200.0),
        sources=[
            Source(id="F1", kind="livestock_yard", geometry=box(20, 60, 180, 160))
        ],
        watercourses=[
            stream(),
        ],
        water_supplies=[WaterSupply(id="B1", kind="well", geometry=Point(150, 155))],
    )
    pathways = trace(farm)
    assert any(one.id == "B1" for p in pathways for one in p.passes_near)


def test_past_a_gully_in_a_walled_yard_tells_where_it_overtops(plane, terrain):
    ring = LineString([(35, 35), (65, 35), (65, 65), (35, 65), (35, 35)])
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 55.5)],
        watercourses=[stream()],
        barriers=[Barrier(id="V1", kind="wall", height_m=0.3, geometry=ring)],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 45.5), drains_to="soakaway")],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


def test_drop_of_a_way_that_leaves_the_grid_is_a_number(plane, terrain):
    bad = []
    grid = plane(lambda e, n: 50 - 0.02 * n - 0.009 * e, cell_size_m=5.0)
    for east in np.arange(3.0, 97.0, 1.7):
        farm = terrain(grid, sources=[point(east, 93.3)], watercourses=[stream()])
        (pathway,) = trace(farm)
        if not np.isfinite(pathway.drop_m):
            bad.append((east, pathway.end))
    assert bad == []


def test_site_over_a_land_drain_flows_into_it(plane, terrain):
    from pathways.io.tables import read_assumed, read_materials
    from pathways.settings import Settings
    from pathways.siting.flow import flow_from
    from pathways.siting.site import Place
    from pathways.spill.spill import Circumstances

    farm = terrain(
        plane(falling_north),
        watercourses=[stream()],
        pipes=[
            Pipe(
                id="D1",
                kind="land_drain",
                geometry=LineString([(50.5, 80), (50.5, 5.5)]),
            )
        ],
    )
    shape = box(45, 45, 55, 55)
    place = Place(
        site_id="S1",
        name="",
        existing=False,
        uses=(),
        footprint=shape,
        ground=shape,
        is_nominal=False,
    )
    given = Circumstances(
        settings=Settings(), assumed=read_assumed(), soil=None, fall_error_m=0.1
    )
    flow = flow_from(farm, place, read_materials(), given)
    assert flow.outcome == "reaches_water"
    assert flow.critical[0].low_l == 0.0


def test_gully_of_a_site_by_dye_adds_no_ground(plane, terrain):
    farm = terrain(
        plane(falling_south),
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 59.5), drains_to="unknown")],
        observations=[
            Observation(
                id="O1", kind="dye_arrived", from_id="G1", geometry=Point(50.5, 6)
            )
        ],
    )
    way = follow(farm, Point(50.5, 60.5))
    assert way.over_ground_m < 2


def test_first_vertex_drawn_twice_is_harmless(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.5, 60.5)],
        watercourses=[stream()],
        barriers=[
            Barrier(
                id="K1",
                kind="kerb",
                height_m=0.1,
                geometry=LineString([(20, 50), (20, 50), (50, 50), (50, 50)]),
            ),
            Barrier(
                id="K2",
                kind="kerb",
                height_m=0.1,
                geometry=LineString([(50.5, 50), (80, 50)]),
            ),
        ],
    )
    (pathway,) = trace(farm)
    assert pathway.outcome == "reaches_water"


def test_any_dye_that_arrived_in_water_counts(plane, terrain):
    """Two arrivals are drawn of one gully; the first one hides the second."""
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 50.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 60.5), drains_to="soakaway")],
        observations=[
            Observation(
                id="O1", kind="dye_arrived", from_id="G1", geometry=Point(50, 90)
            ),
            Observation(
                id="O2", kind="dye_arrived", from_id="G1", geometry=Point(50, 6)
            ),
        ],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway)


def test_dye_that_arrived_from_nowhere_is_not_left_out_in_silence(plane, terrain):
    farm = terrain(
        plane(falling_north),
        sources=[point(50.5, 50.5)],
        watercourses=[stream()],
        inlets=[Inlet(id="G1", geometry=Point(50.5, 60.5), drains_to="soakaway")],
        observations=[Observation(id="O1", kind="dye_arrived", geometry=Point(50, 6))],
    )
    (pathway,) = trace(farm)
    assert "reaches_water" in outcomes(pathway) or pathway.cautions


def test_level_yard_is_too_flat_to_tell(plane, terrain):
    farm = terrain(
        plane(lambda e, n: 50.0 + 0.0 * e + 0.0 * n),
        sources=[point(70.2, 60.5)],
        watercourses=[stream()],
    )
    (pathway,) = trace(farm)
    assert pathway.why == "ground_too_flat" or pathway.cautions


def test_observed_line_that_leaves_the_grid_has_no_drop_of_nan(plane, terrain):
    farm = terrain(
        plane(falling_south),
        sources=[point(50.2, 50.5)],
        watercourses=[stream()],
        observations=[
            Observation(
                id="O1", kind="flow_seen", geometry=LineString([(50, 45), (120, 45)])
            )
        ],
    )
    (pathway,) = trace(farm)
    assert np.isfinite(pathway.drop_m)
