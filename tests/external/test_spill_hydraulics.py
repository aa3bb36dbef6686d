"""Flow over ground, along kerbs and in pipes, against published worked examples.

Each source is named beside its check. Most were read in restatements, not in the
original; those from memory say so, and every digit of theirs is reproduced.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathways.spill import gutters
from pathways.spill import hydraulics as flow

FOOT, CUBIC_FOOT = 0.3048, 0.3048**3


def test_sheet_flow_of_tr55_example_3_1():
    """Dense grass n 0.24, 100 ft at 1 %, 3.6 in: printed 0.30 h."""
    time_s = flow.sheet_flow_time_s(0.24, 100 * FOOT, 3.6 * 25.4, 0.01)
    assert time_s / 3600 == pytest.approx(0.2959, abs=5e-5)


def test_travel_time_of_tr55_example_3_1_as_a_whole():
    """Printed: 0.30, 0.24 and 0.99 h, together 1.53 h; 1.5275 unrounded."""
    sheet_s = flow.sheet_flow_time_s(0.24, 100 * FOOT, 3.6 * 25.4, 0.01)
    shallow = flow.runoff_speed_m_per_s(16.1345 * FOOT, 0.01)
    channel = flow.channel_speed_m_per_s(0.05, 27 / 28.2 * FOOT, 0.005)
    shallow_s, channel_s = 1400 * FOOT / shallow, 7300 * FOOT / channel
    assert shallow / FOOT == pytest.approx(1.613, abs=0.001)
    assert shallow_s / 3600 == pytest.approx(0.2410, abs=1e-4)
    # TR-55 prints 1.49 for the 1.4859 of Manning's equation in feet: 0.3 %
    assert channel / FOOT == pytest.approx(2.047, rel=0.004)
    assert (sheet_s + shallow_s + channel_s) / 3600 == pytest.approx(1.53, abs=0.005)


@pytest.mark.parametrize(
    ("depth_ft", "manning_n", "feet_per_s"),
    [
        (0.2, 0.025, 20.328),
        (0.4, 0.050, 16.135),
        (0.2, 0.051, 9.965),
        (0.2, 0.058, 8.762),
        (0.2, 0.073, 6.962),
        (0.2, 0.101, 5.032),
        (0.2, 0.202, 2.516),
    ],
)
def test_constants_of_neh_630_table_15_3(depth_ft, manning_n, feet_per_s):
    """Each printed constant is Manning's equation at its printed depth."""
    speed = flow.channel_speed_m_per_s(manning_n, depth_ft * FOOT, 1.0)
    assert speed / FOOT == pytest.approx(feet_per_s, abs=0.002)


def test_gutter_of_hec_22():
    """N 0.016, cross fall 2 %, fall 1 %: 1.8 cfs spreads 9.0 ft; 8.2 ft carry 1.4."""
    spread_m = gutters.gutter_spread_m(1.8 * CUBIC_FOOT, 0.016, 0.02, 0.01)
    rate = gutters.gutter_rate_m3_per_s(8.2 * FOOT, 0.016, 0.02, 0.01)
    assert spread_m / FOOT == pytest.approx(9.0, abs=0.05)
    assert rate / CUBIC_FOOT == pytest.approx(1.4, abs=0.05)


@given(st.floats(0.01, 5.0), st.floats(0.005, 0.05), st.floats(0.002, 0.1))
def test_gutter_spread_and_rate_undo_each_other(spread_m, cross_slope, slope):
    rate = gutters.gutter_rate_m3_per_s(spread_m, 0.014, cross_slope, slope)
    back = gutters.gutter_spread_m(rate, 0.014, cross_slope, slope)
    assert back == pytest.approx(spread_m, rel=1e-9)


@pytest.mark.parametrize("width_m", [0.2, 0.45, 1.3])
def test_frontal_share_is_the_integral_over_a_triangular_section(width_m):
    """Flow at a place goes with its depth to the power of 5/3."""
    spread_m = 2.0
    across = np.linspace(0, spread_m, 200_001)
    unit = (spread_m - across) ** (5 / 3)
    within = across <= width_m
    want = np.trapezoid(unit[within], across[within]) / np.trapezoid(unit, across)
    assert gutters.frontal_share(spread_m, width_m) == pytest.approx(want, abs=1e-4)


def test_narrow_flow_runs_over_the_grating_as_a_whole():
    assert gutters.frontal_share(0.3, 0.45) == 1.0


def test_kinematic_sheet_flow_is_hec_22s_within_its_rounding():
    """HEC-22 equation 3-3 prints 6.92 min; exact theory gives 6.988."""
    time_s = flow.kinematic_sheet_time_s(0.1, 50.0, 40.0, 0.02)
    unit = (0.1 * 50 / np.sqrt(0.02)) ** 0.6 / 40**0.4
    assert time_s / 60 / unit == pytest.approx(6.988, abs=0.001)
    assert time_s / 60 == pytest.approx(6.92 * unit, rel=0.011)


def test_front_of_a_spill_by_manning():
    """0.01 m² on 2 %, n 0.013, 60 s: 15.175 m (closed form, worked beforehand)."""
    front_m = flow.turbulent_front_m(0.01, 0.013, 0.02, 60.0)
    assert front_m == pytest.approx(15.175, abs=0.001)


def test_front_of_a_film_is_where_its_volume_ends():
    """Huppert 1982: behind the front the film is (ν x / (g S t))^(1/2) deep."""
    slope, time_s, volume_m2 = 0.02, 60.0, 0.01
    front_m = float(flow.laminar_front_m(volume_m2, slope, time_s))
    x = np.linspace(0, front_m, 400_001)
    pull = flow.GRAVITY_M_PER_S2 * slope
    depth = np.sqrt(flow.VISCOSITY_M2_PER_S * x / (pull * time_s))
    assert np.trapezoid(depth, x) == pytest.approx(volume_m2, rel=1e-6)


def test_front_of_a_spill_by_manning_is_where_its_volume_ends():
    slope, manning_n, time_s, volume_m2 = 0.02, 0.013, 60.0, 0.01
    front_m = float(flow.turbulent_front_m(volume_m2, manning_n, slope, time_s))
    x = np.linspace(0, front_m, 400_001)
    depth = (3 * x * manning_n / (5 * np.sqrt(slope) * time_s)) ** 1.5
    assert np.trapezoid(depth, x) == pytest.approx(volume_m2, rel=1e-6)


def test_tank_of_one_cubic_metre_through_50_mm():
    """371 s (worked beforehand): coefficient 0.62, one metre high."""
    assert flow.emptying_time_s(1.0, 1.0, 0.05, 0.62) == pytest.approx(371, abs=0.5)


def test_spill_on_concrete_is_slower_than_storm_runoff():
    """2 % concrete: 0.88 m/s by the velocity method, 0.30 to 0.46 by normal depth."""
    runoff = flow.runoff_speed_m_per_s(6.196, 0.02)
    spills = flow.spill_speed_m_per_s(
        np.array([0.2 / 120, 3 / 371]), np.array([1.0, 2.0]), 0.013, 0.02
    )
    assert runoff == pytest.approx(0.88, abs=0.005)
    assert (spills > 0.28).all()
    assert (spills < 0.48).all()


@given(st.floats(1e-7, 0.05), st.floats(0.05, 5), st.floats(0.001, 0.2))
def test_thin_film_never_outruns_manning_or_the_film(rate, width_m, slope):
    unit = rate / width_m
    speed = float(flow.spill_speed_m_per_s(rate, width_m, 0.012, slope))
    manning = unit / float(flow.manning_depth_m(rate, width_m, 0.012, slope))
    assert speed <= manning * (1 + 1e-12)
    if unit / flow.VISCOSITY_M2_PER_S < flow.LAMINAR_REYNOLDS:
        assert speed <= float(flow.film_speed_m_per_s(unit, slope)) * (1 + 1e-12)


def test_nothing_flows_nowhere():
    assert flow.spill_speed_m_per_s(0.0, 1.0, 0.012, 0.02) == 0.0
