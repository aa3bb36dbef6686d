"""The second program agrees with what is right and catches what is wrong."""

from __future__ import annotations

import dataclasses
import json
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from pathways.errors import InputError, LimitError, WitnessMissingError
from pathways.grid import Grid
from pathways.io.farms import read_farm
from pathways.io.tables import read_assumed
from pathways.terrain.drainage import END, GROUND, HOLE, route
from pathways.terrain.landscape import Flow, Terrain
from pathways.terrain.surface import Ground, Role
from pathways.witness import silent_streams, witness, witness_flow

SAMPLE = Path(__file__).parent.parent / "data-samples" / "demo-farm"
ROLES = {GROUND: Role.GROUND, END: Role.WATER, HOLE: Role.BUILDING}


def flow_over(heights, kinds):
    grid = Grid(heights, 0.0, float(len(heights)), 1.0, "LOCAL", "nowhere")
    nobody = np.full(heights.shape, -1, np.int16)
    roles = np.vectorize(ROLES.get)(kinds).astype(np.uint8)
    ground = Ground(grid, heights, roles, nobody, nobody, nobody)
    return Flow(ground, route(heights, kinds))


def random_flow(seed, *, outlets=0.02, walls=0.15):
    rng = np.random.default_rng(seed)
    heights = rng.standard_normal(rng.integers(6, 40, 2)).cumsum(0).cumsum(1) / 10
    if seed % 2:
        heights = np.round(heights, 1)
    kinds = np.full(heights.shape, GROUND, np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    chance = rng.random(heights.shape)
    kinds[chance < outlets] = END
    kinds[chance > 1 - walls] = HOLE
    return flow_over(heights.astype(np.float32), kinds)


def with_filled(flow, change):
    """The flow with its filled surface altered."""
    filled = flow.drainage.filled_m.copy()
    change(filled)
    return dataclasses.replace(
        flow, drainage=dataclasses.replace(flow.drainage, filled_m=filled)
    )


@pytest.fixture(scope="module")
def demo():
    return read_farm(SAMPLE).farm


def test_the_demo_farm_is_filled_alike_in_every_cell(demo):
    report = witness(demo, read_assumed())
    assert report.agrees, report.sentence
    assert report.cells > 10_000
    assert report.walls > 0


def test_the_sentence_counts_the_cells_and_says_what_was_given(demo):
    report = witness(demo, read_assumed())
    assert report.sentence.startswith(
        f"{report.program} fills the same ground: {report.cells:,} of "
        f"{report.cells:,} cells equal ({report.outlets:,} of them, where water leaves"
    )
    assert f"{report.walls:,} more, buildings or without data" in report.sentence


@given(st.integers(0, 100_000), st.sampled_from([0.0, 0.03]), st.floats(0, 0.5))
def test_random_ground_with_outlets_and_walls_inside_is_filled_alike(
    seed, outlets, walls
):
    report = witness_flow(random_flow(seed, outlets=outlets, walls=walls))
    assert report.agrees, report.sentence


def test_a_yard_that_is_shut_in_counts_as_equal():
    kinds = np.full((9, 9), GROUND, np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    kinds[2:7, 2:7] = HOLE
    kinds[3:6, 3:6] = GROUND
    flow = flow_over(np.zeros((9, 9), np.float32), kinds)
    assert np.isinf(flow.drainage.filled_m[4, 4])
    assert witness_flow(flow).agrees


def test_the_flooded_hierarchy_equals_richdems_own_plain_fill():
    """On ground that drains at its rim only, which is all that the plain fill knows."""
    import richdem

    from pathways.witness import _filled_by_richdem

    flow = random_flow(12, outlets=0.0, walls=0.0)
    with silent_streams():
        array = richdem.rdarray(flow.drainage.heights_m.copy(), no_data=-9999.0)
        want = np.array(richdem.FillDepressions(array))
    got = _filled_by_richdem(richdem, flow.drainage)
    np.testing.assert_array_equal(got, want)


# A wrong surface is caught ------------------------------------------------------------


def hollow():
    """A bowl that drains through a gully at its bottom."""
    heights = np.full((9, 9), 5.0, np.float32)
    heights[2:7, 2:7] = 3.0
    kinds = np.full((9, 9), GROUND, np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    kinds[4, 4] = END
    return flow_over(heights, kinds)


@pytest.mark.parametrize("value", [3.001, 2.999, np.nextafter(np.float32(3), 4)])
def test_one_cell_at_a_wrong_level_is_caught(value):
    def change(filled):
        filled[3, 2] = value

    report = witness_flow(with_filled(hollow(), change))
    assert (report.cells - report.equal, report.first_difference) == (1, (2.5, 5.5))


@pytest.mark.parametrize("value", [np.inf, np.nan])
def test_a_level_that_is_not_known_where_richdem_knows_one_is_caught(value):
    def change(filled):
        filled[3, 2] = value

    report = witness_flow(with_filled(hollow(), change))
    assert not report.agrees


def test_a_gully_that_was_forgotten_is_caught():
    """The bowl filled to its rim, though a gully drains it."""

    def change(filled):
        filled[2:7, 2:7] = 5.0

    report = witness_flow(with_filled(hollow(), change))
    assert "25 of 81 cells differ, by up to 2.000 m" in report.sentence


def test_ground_without_a_cell_is_not_called_equal():
    flow = flow_over(np.zeros((4, 4), np.float32), np.full((4, 4), HOLE, np.uint8))
    report = witness_flow(flow)
    assert not report.agrees
    assert "nothing is checked" in report.sentence


@pytest.mark.parametrize("module", [None, sys])
def test_a_missing_program_is_one_sentence(monkeypatch, module):
    """Not installed, or another module of that name."""
    monkeypatch.setitem(sys.modules, "richdem", module)
    with pytest.raises(WitnessMissingError, match=r"pip install 'farm-pathways\[wit"):
        witness_flow(hollow())


def test_a_farm_too_large_for_the_second_program_is_refused(demo, monkeypatch):
    monkeypatch.setattr("pathways.witness.MEMORY_LIMIT_BYTES", 1_000_000)
    with pytest.raises(LimitError, match=r"needs about 0\.1 GB for 633,600 cells"):
        witness(demo, read_assumed())


# The command --------------------------------------------------------------------------


def check(*options):
    from pathways_cli.check import command

    return CliRunner().invoke(command, [str(SAMPLE), "--witness", *options])


def test_check_prints_the_sentence():
    done = check()
    assert done.exit_code == 0
    assert "fills the same ground: " in done.output.splitlines()[-1]


def test_check_tells_machines_too():
    found = json.loads(check("--json").output)["witness"]
    assert found["agrees"]
    assert found["cells"] == found["equal"]


def assess(out):
    from pathways_cli.assess import command

    words = [str(SAMPLE), "--witness", "--out", str(out)]
    return CliRunner().invoke(command, words)


def test_assess_keeps_the_finding_in_the_record_of_the_run(tmp_path):
    done = assess(tmp_path / "out")
    assert done.exit_code == 0, done.output
    assert "fills the same ground: " in done.output
    record = json.loads((tmp_path / "out" / "run.json").read_text(encoding="utf-8"))
    assert record["witness"]["agrees"]
    assert record["witness"]["cells"] == record["witness"]["equal"] > 10_000


def test_assess_writes_nothing_where_the_second_program_disagrees(
    tmp_path, monkeypatch
):
    def other(richdem, drainage):
        return drainage.filled_m + np.float32(1)

    monkeypatch.setattr("pathways.witness._filled_by_richdem", other)
    done = assess(tmp_path / "out")
    assert isinstance(done.exception, InputError)
    assert "fills the ground otherwise" in str(done.exception)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("options", [(), ("--json",)])
def test_check_ends_with_3_where_the_second_program_disagrees(monkeypatch, options):
    right = Terrain.flow.fget

    def wrong(terrain):
        def change(filled):
            filled[np.isfinite(filled)] += np.float32(0.01)

        return with_filled(right(terrain), change)

    monkeypatch.setattr(Terrain, "flow", property(wrong))
    done = check(*options)
    assert done.exit_code == 3
    assert "fills the ground otherwise" in done.output


def test_check_does_not_ask_about_a_farm_with_errors(tmp_path):
    from pathways_cli.check import command

    done = CliRunner().invoke(command, [str(tmp_path), "--witness", "--json"])
    assert done.exit_code == 3
    assert json.loads(done.output)["witness"] is None
