"""Covers and soils: every number has a standing and a source; farms give their own."""

from __future__ import annotations

import pytest

from pathways.assumed import AssumedValue
from pathways.features import fields_of
from pathways.io.tables import read_materials
from pathways.materials import (
    GROUPS,
    NOT_DRAWN,
    KnownRange,
    with_given_materials,
)
from pathways.rules import STANDINGS

MATERIALS = read_materials()
KINDS = next(one for one in fields_of("surfaces") if one.name == "kind").metadata[
    "choices"
]


def numbers_of(surface):
    return [
        surface.manning_n,
        surface.retention_mm,
        surface.velocity_m_per_s,
        surface.runoff_coefficient,
        *surface.curve_numbers.values(),
    ]


def test_every_kind_that_can_be_drawn_has_its_numbers():
    assert {*KINDS, NOT_DRAWN} <= set(MATERIALS.surfaces)


@pytest.mark.parametrize("kind", MATERIALS.surfaces)
def test_every_number_has_a_standing_and_a_source(kind):
    for one in numbers_of(MATERIALS.surfaces[kind]):
        assert one.standing in STANDINGS
        assert one.source


@pytest.mark.parametrize("kind", MATERIALS.surfaces)
def test_retention_rises_from_low_to_high(kind):
    held = MATERIALS.surfaces[kind].retention_mm
    assert 0 < held.low <= held.mid <= held.high


@pytest.mark.parametrize("kind", MATERIALS.surfaces)
def test_curve_numbers_rise_with_the_soil_group(kind):
    numbers = [MATERIALS.surfaces[kind].curve_numbers[one].value for one in GROUPS]
    assert numbers == sorted(numbers)
    assert 30 <= numbers[0] <= numbers[-1] <= 98


def test_ground_without_a_cover_holds_no_more_than_any_and_soaks_nothing():
    """What is not known must not make a spill look smaller, slower or cleaner."""
    unknown = MATERIALS.surface(NOT_DRAWN)
    covers = MATERIALS.surfaces.values()
    assert unknown.infiltration == "none"
    assert unknown.retention_mm.high <= min(one.retention_mm.low for one in covers)
    assert unknown.velocity_m_per_s == max(
        (one.velocity_m_per_s for one in [unknown]), key=lambda one: one.value
    )
    fastest = max(one.velocity_m_per_s.value for one in covers)
    assert unknown.velocity_m_per_s.value == fastest


def test_worn_concrete_is_another_cover_and_worn_grass_is_not():
    assert MATERIALS.surface("concrete", "worn").kind == "concrete_worn"
    assert MATERIALS.surface("dense_grass", "worn").kind == "dense_grass"


@pytest.mark.parametrize(
    ("texture", "group"),
    [
        ("sand", "A"),
        ("loamy_sand", "A"),
        ("sandy_loam", "B"),
        ("loam", "C"),
        ("clay", "D"),
    ],
)
def test_hydrologic_group_of_a_texture(texture, group):
    """NEH 630 chapter 7 (2009), by the saturated conductivity."""
    assert MATERIALS.soils[texture].group == group


def test_a_farms_own_numbers_are_given():
    given = {"manning_n": {"concrete": 0.02}, "retention_mm": {"concrete": [1, 2, 3]}}
    own = with_given_materials(MATERIALS, given).surface("concrete")
    assert own.manning_n == AssumedValue(
        0.02, "given", "farm.toml, [materials] manning_n"
    )
    assert own.retention_mm == KnownRange(
        1, 2, 3, "given", "farm.toml, [materials] retention_mm"
    )
    assert own.velocity_m_per_s == MATERIALS.surface("concrete").velocity_m_per_s


def test_a_farms_own_curve_number_holds_for_every_soil():
    given = {"curve_number": {"hardcore": 92.0}}
    own = with_given_materials(MATERIALS, given).surface("hardcore")
    assert {one.value for one in own.curve_numbers.values()} == {92.0}
