"""Tracing from a source gives the way that routing the whole grid gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pathways.terrain import _kernels_lazy as kernels
from pathways.terrain.drainage import END, HOLE, route
from pathways.terrain.lazy import CREST, LOW, ErrorModel, LazyTracer

MODEL = ErrorModel(
    np.array([[0.02, 0.05, 0.1, 4.0, 30.0], [0.01, 0.02, 0.1, 4.0, 30.0]]),
    np.empty((0, 4)),
)


@st.composite
def grounds(draw):
    rows = draw(st.integers(3, 22))
    columns = draw(st.integers(3, 22))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    style = draw(st.sampled_from(["floats", "integers", "quantised"]))
    if style == "floats":
        heights = rng.random((rows, columns))
    elif style == "integers":
        heights = rng.integers(0, draw(st.integers(2, 7)), (rows, columns))
    else:
        heights = np.round(rng.standard_normal((rows, columns)).cumsum(0).cumsum(1), 1)
    kinds = np.zeros((rows, columns), np.uint8)
    kinds[rng.random((rows, columns)) < draw(st.sampled_from([0, 0.03]))] = END
    kinds[rng.random((rows, columns)) < draw(st.sampled_from([0, 0, 0.15]))] = HOLE
    rim = np.zeros((rows, columns), bool)
    rim[[0, -1], :] = True
    rim[:, [0, -1]] = True
    kinds[rim & (kinds != HOLE)] = END
    roles = np.zeros((rows, columns), np.uint8)
    roles[rng.random((rows, columns)) < 0.1] = CREST
    roles[kinds == END] = LOW
    classes = (rng.random((rows, columns)) < 0.5).astype(np.uint8)
    return heights.astype(np.float32) + np.float32(0.0), kinds, roles, classes


def assert_same_ways(tracer, heights, kinds, rng, **options):
    drainage = route(heights, kinds, level_by_number=True)
    ground = np.flatnonzero(kinds.ravel() != HOLE)
    for cell in rng.choice(ground, min(6, ground.size), replace=False):
        lazy = tracer.trace(int(cell), **options)
        if np.isinf(drainage.filled_m.ravel()[cell]):
            assert lazy.status == kernels.SHUT_IN
            continue
        assert lazy.status == kernels.REACHED_END
        np.testing.assert_array_equal(lazy.cells, drainage.way_from(int(cell)))


@pytest.mark.large
@settings(max_examples=500)
@given(grounds(), st.integers(0, 2**32 - 1))
def test_lazy_way_is_the_routed_way(ground, seed):
    heights, kinds, roles, classes = ground
    tracer = LazyTracer(heights, kinds, hard=roles, classes=classes)
    assert_same_ways(tracer, heights, kinds, np.random.default_rng(seed))


@pytest.mark.large
@settings(max_examples=500)
@given(grounds(), st.integers(0, 2**32 - 1))
def test_lazy_way_is_the_routed_way_in_every_realisation(ground, seed):
    heights, kinds, roles, classes = ground
    tracer = LazyTracer(heights, kinds, hard=roles, classes=classes)
    rng = np.random.default_rng(seed)
    for realisation in range(3):
        noisy = tracer.realise(realisation, MODEL)
        assert_same_ways(tracer, noisy, kinds, rng, seed=realisation, errors=MODEL)


def test_budget_ends_a_trace_that_touches_too_much():
    heights = np.full((50, 50), 5.0, np.float32)
    heights[1:-1, 1:-1] = np.random.default_rng(0).random((48, 48))
    kinds = np.zeros((50, 50), np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    tracer = LazyTracer(heights, kinds)
    assert tracer.trace(1275, budget=100).status == kernels.OVER_BUDGET
    assert tracer.trace(1275).status == kernels.REACHED_END


def test_crest_keeps_its_height_above_all_beside_it_in_every_realisation():
    heights = np.zeros((20, 20), np.float32)
    heights[:, 10] = 0.1
    kinds = np.zeros((20, 20), np.uint8)
    roles = np.zeros((20, 20), np.uint8)
    roles[:, 10] = CREST
    tracer = LazyTracer(heights, kinds, hard=roles)
    for seed in range(20):
        noisy = tracer.realise(seed, MODEL)
        for side in (9, 11):
            for shift in (-1, 0, 1):
                beside = np.roll(noisy[:, side], shift)[1:-1]
                assert (noisy[1:-1, 10] - beside >= 0.1 - 1e-6).all()


def test_same_seed_gives_the_same_error_and_another_seed_another():
    heights = np.zeros((30, 30), np.float32)
    tracer = LazyTracer(heights, np.zeros((30, 30), np.uint8))
    one, again, other = (tracer.realise(seed, MODEL) for seed in (1, 1, 2))
    np.testing.assert_array_equal(one, again)
    assert np.abs(one - other).max() > 0.01


# Volumes: water level in two bowls, worked by hand


def two_bowls():
    """One row of cells: five at 6, a sill at 8, five at 5, an outlet at 9."""
    row = [20.0, 6, 6, 6, 6, 6, 8, 5, 5, 5, 5, 5, 9, 0.0]
    heights = np.full((3, len(row)), 30.0, np.float32)
    heights[1] = row
    kinds = np.full(heights.shape, HOLE, np.uint8)
    kinds[1, 1:-1] = 0
    kinds[1, -1] = END
    return LazyTracer(heights, kinds), 14 + 3


@pytest.mark.parametrize(
    ("volume", "levels"),
    [
        (7, {7.4}),
        (10, {8.0}),
        (16, {8.0, 6.2}),
        (25, {8.0}),
        (30, {8 + 5 / 11}),
        (36, {9.0}),
    ],
)
def test_two_bowls_fill_spill_and_merge(volume, levels):
    tracer, source = two_bowls()
    found = tracer.trace(source, volume_m=float(volume))
    assert found.held_m == pytest.approx(volume, abs=1e-6)
    heights = np.array([20.0, 6, 6, 6, 6, 6, 8, 5, 5, 5, 5, 5, 9, 0.0])
    got = sorted(
        {
            round(level, 4)
            for cell, level in found.pools
            if level > heights[int(cell) - 14]
        }
    )
    assert got == pytest.approx(sorted(levels), abs=1e-3)


def test_what_two_bowls_cannot_hold_runs_out():
    tracer, source = two_bowls()
    found = tracer.trace(source, volume_m=40.0)
    assert found.status == kernels.REACHED_END
    assert found.held_m == pytest.approx(36.0, abs=1e-6)


def test_whole_realisation_has_each_height_that_tracing_sees():
    rng = np.random.default_rng(5)
    shape = (40, 60)
    kinds = np.zeros(shape, np.uint8)
    kinds[rng.random(shape) < 0.1] = HOLE
    hard = rng.choice([0, 0, 0, CREST, LOW], shape).astype(np.uint8)
    classes = rng.integers(0, 2, shape).astype(np.uint8)
    ties = np.array([[3.0, 4.0, 0.0, 0.7], [30.0, 41.0, 1.0, -0.4]])
    tracer = LazyTracer(
        rng.random(shape, np.float32), kinds, hard=hard, classes=classes
    )
    errors = ErrorModel(
        np.array([[0.02, 0.05, 0.1, 4.0, 30.0], [0.01, 0.02, 0.1, 3.0, 20.0]]), ties
    )
    seen = [
        kernels.realised(
            cell, tracer.heights, tracer.covers, 60, np.uint64(9), errors.packed
        )
        for cell in range(kinds.size)
    ]
    np.testing.assert_array_equal(tracer.realise(9, errors).ravel(), seen)
