"""Nested hollows: a printed grid, an independent program, and the filled surface."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathways.terrain.drainage import END, GROUND, HOLE, route
from pathways.terrain.hollow_tree import hollow_tree
from pathways.witness import silent_streams

#: Interior of a test grid of richdem (tests/fsm_tests.cpp), in a rim of 9.
PRINTED = """
8 8 8 8 7 6
8 7 8 7 6 5
8 7 8 6 5 4
8 8 8 5 4 3
7 6 5 4 3 2
7 6 5 4 3 1
"""


def printed_grid():
    inside = [[int(one) for one in row.split()] for row in PRINTED.split("\n") if row]
    heights = np.pad(np.array(inside, np.float32), 1, constant_values=9)
    return np.pad(heights, 1, constant_values=-9)


def on_the_rim(heights):
    kinds = np.full(heights.shape, GROUND, np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    return kinds


def random_ground(seed, *, outlets=0.0, walls=0.0, style="floats"):
    rng = np.random.default_rng(seed)
    heights = rng.standard_normal(rng.integers(3, 30, 2))
    if seed % 3:
        heights = heights.cumsum(0).cumsum(1) / 10 + rng.random(heights.shape) / 3
    if style == "quantised":
        heights = np.round(heights, 1)
    kinds = on_the_rim(heights)
    chance = rng.random(heights.shape)
    kinds[chance < outlets] = END
    kinds[chance > 1 - walls] = HOLE
    return heights.astype(np.float32), kinds


def test_volumes_of_the_printed_grid():
    heights = printed_grid()
    tree = hollow_tree(heights, on_the_rim(heights), 1.0)
    assert sorted(tree.volume_m3[tree.parent >= 0]) == [2, 73]
    assert tree.volume_m3[tree.outermost].tolist() == [111]
    assert sorted(tree.children[tree.outermost[0]]) == [0, 1]


def test_pits_and_levels_of_the_printed_grid():
    heights = printed_grid()
    tree = hollow_tree(heights, on_the_rim(heights), 1.0)
    assert sorted(heights.ravel()[tree.pit_cell[:2]]) == [1, 7]
    assert heights.ravel()[tree.pit_cell[2]] == 1
    assert tree.spill_level_m.tolist() == [8, 8, 9]
    np.testing.assert_array_equal(heights.ravel()[tree.pass_cell], tree.spill_level_m)


def test_two_bowls_hold_what_was_worked_out_by_hand():
    """5 cells at 6 and 5 at 5, sill 8, outlet 9: 10, 15, and 36 together."""
    heights = np.full((3, 14), 20, np.float32)
    heights[1, 1:13] = [6, 6, 6, 6, 6, 8, 5, 5, 5, 5, 5, 9]
    heights[1, 13] = 0
    kinds = on_the_rim(heights)
    tree = hollow_tree(heights, kinds, 2.0)
    assert tree.volume_m3.tolist() == [40, 60, 144]
    assert tree.cells.tolist() == [5, 5, 11]


def test_a_yard_that_is_shut_in_has_no_pass_and_no_end_of_room():
    heights = np.zeros((7, 7), np.float32)
    kinds = on_the_rim(heights)
    kinds[1:6, 1:6] = HOLE
    kinds[2:5, 2:5] = GROUND
    tree = hollow_tree(heights, kinds, 1.0)
    assert tree.pass_cell.tolist() == [-1]
    assert tree.cells.tolist() == [9]
    assert np.isinf(tree.volume_m3).all()


def test_ground_without_a_hollow_gives_an_empty_table():
    heights = np.add.outer(np.arange(6), np.arange(7)).astype(np.float32)
    assert len(hollow_tree(heights, on_the_rim(heights), 1.0)) == 0


GROUNDS = st.builds(
    random_ground,
    st.integers(0, 100_000),
    outlets=st.sampled_from([0.0, 0.03]),
    walls=st.sampled_from([0.0, 0.1, 0.5]),
    style=st.sampled_from(["floats", "quantised"]),
)


@given(GROUNDS)
def test_outermost_hollows_hold_what_the_filled_surface_holds(ground):
    heights, kinds = ground
    tree = hollow_tree(heights, kinds, 1.0)
    filled = route(heights, kinds).filled_m
    known = np.isfinite(filled)
    want = (filled[known].astype(np.float64) - heights[known]).sum()
    held = tree.volume_m3[tree.outermost]
    assert held[np.isfinite(held)].sum() == pytest.approx(want, rel=1e-9, abs=1e-9)


@given(GROUNDS)
def test_outermost_hollows_cover_the_cells_below_the_filled_surface(ground):
    heights, kinds = ground
    tree = hollow_tree(heights, kinds, 1.0)
    raised = route(heights, kinds).filled_m > heights
    assert tree.cells[tree.outermost].sum() == raised[kinds != HOLE].sum()


@given(GROUNDS)
def test_a_hollow_holds_its_children_and_spills_no_lower(ground):
    tree = hollow_tree(*ground, 1.0)
    of_two = np.flatnonzero(tree.children[:, 0] >= 0)
    children = tree.children[of_two]
    assert (tree.parent[children] == of_two[:, None]).all()
    assert (tree.spill_level_m[of_two, None] >= tree.spill_level_m[children]).all()
    held = tree.volume_m3[children].sum(axis=1)
    assert (tree.volume_m3[of_two] >= held - 1e-9).all()


# richdem's hierarchy of the same ground -----------------------------------------------


def richdems_hollows(heights, kinds):
    """Pit, level and volume of each hollow, and level of its parent."""
    import richdem

    with silent_streams():
        array = richdem.rdarray(heights.astype(np.float64), no_data=-9999.0)
        array.geotransform = [0, 1, 0, 0, 0, -1]
        labels = richdem.get_new_depression_hierarchy_labels(heights.shape)
        labels[kinds == END] = richdem.depression_hierarchy.OCEAN
        found, _ = richdem.get_depression_hierarchy(array, labels)
    none = 2**32 - 1
    pits = [one.pit_cell for one in found[1:] if one.lchild == none]
    rows = [
        (
            one.out_elev,
            one.dep_vol,
            np.inf
            if one.ocean_parent or one.parent == none
            else found[one.parent].out_elev,
        )
        for one in found[1:]
    ]
    return sorted(pits), rows


def volume_by_level(rows):
    """Volume held at each level by the largest hollows that spill there.

    Three hollows may meet at one cell. Which two join first is a matter of taste, and
    whether two that drain there are one hollow or two; their sum is not.
    """
    held = {}
    for level, volume, beyond in rows:
        if beyond > level:
            held[float(level)] = held.get(float(level), 0.0) + float(volume)
    return held


@given(st.integers(0, 100_000), st.sampled_from([0.0, 0.03]))
def test_pits_levels_and_volumes_equal_richdems(seed, outlets):
    heights, kinds = random_ground(seed, outlets=outlets)
    pits, rows = richdems_hollows(heights, kinds)
    tree = hollow_tree(heights, kinds, 1.0)
    beyond = np.where(tree.parent < 0, np.inf, tree.spill_level_m[tree.parent])
    ours = zip(tree.spill_level_m, tree.volume_m3, beyond, strict=True)
    assert sorted(tree.pit_cell[tree.children[:, 0] < 0]) == pits
    assert volume_by_level(ours) == pytest.approx(volume_by_level(rows), abs=1e-9)
