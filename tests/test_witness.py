"""The witness agrees on a real farm, and would tell if it did not."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from pathways.errors import InputError
from pathways.terrain.drainage import END, GROUND, route
from pathways.witness import ask_witness, compare

DEMO = Path(__file__).parent.parent / "data-samples" / "demo-farm"


def test_richdem_fills_the_demo_farm_as_we_do(capfd):
    report = ask_witness(DEMO)
    assert report.agrees
    assert report.cells > 500_000
    assert "to the same level in" in report.says
    assert capfd.readouterr().out == ""


def test_difference_is_told():
    heights = np.random.default_rng(1).random((30, 30)).astype(np.float32)
    kinds = np.full(heights.shape, GROUND, np.uint8)
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END

    def wrong(ground):
        filled = route(ground, kinds).filled_m.copy()
        filled[10, 10] += 0.25
        return filled

    report = compare(heights, kinds, "another program", wrong)
    assert not report.agrees
    assert "899 of 900 cells; they differ by up to 0.250 m" in report.says


def test_missing_witness_says_how_to_install_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "richdem", None)
    with pytest.raises(InputError, match=r"farm-pathways\[witness\]"):
        ask_witness(DEMO)
