"""Compiled code where its result cannot be kept."""

from __future__ import annotations

import numba
import pytest

from pathways.terrain import _jit


def test_unwritable_cache_is_told_and_compilation_goes_on(monkeypatch):
    real = numba.njit

    def njit(*args, **options):
        if options.get("cache"):
            msg = "cannot cache function: no locator available"
            raise RuntimeError(msg)
        return real(*args, **options)

    monkeypatch.setattr(_jit.numba, "njit", njit)
    with pytest.warns(UserWarning, match="NUMBA_CACHE_DIR"):
        doubled = _jit.kernel(lambda number: 2 * number)
    assert doubled(21) == 42
