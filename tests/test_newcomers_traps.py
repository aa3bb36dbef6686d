"""What a person who is new to it gets wrong, and must be told."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest
from shapely import LineString

from pathways.io.vectors import read_features
from pathways.pages.enough import less_by_another_way
from pathways.pages.report.emergency import _may_get_there
from pathways.run import check_farm
from pathways.siting.moving import gains
from pathways.spill.spill import CriticalVolume
from tests.test_io_farms import farm, write_layer  # noqa: F401 - a fixture


@pytest.mark.parametrize(
    ("kind", "height_m", "is_told"),
    [("kerb", 10.0, True), ("kerb", 0.1, False), ("wall", 2.0, False)],
)
def test_kerb_as_high_as_a_house_is_told_in_metres(farm, kind, height_m, is_told):  # noqa: F811
    line = LineString([(350_030, 300_050), (350_060, 300_050)])
    columns = {"id": ["K1"], "kind": [kind], "height_m": [height_m]}
    write_layer(farm / "features.gpkg", "barriers", line, columns)
    told = [
        one.text
        for one in read_features(farm / "features.gpkg", None).notices
        if one.code == "barrier_high"
    ]
    assert bool(told) == is_told
    assert all("which is 10 metres" in one for one in told)


def test_rulebook_that_is_not_there_is_told_by_check(farm):  # noqa: F811
    settings = farm / "farm.toml"
    text = settings.read_text("utf-8") + '\n[rules]\njurisdiction = "walse"\n'
    settings.write_text(text, "utf-8")
    (error,) = [one for one in check_farm(farm) if one.level == "error"]
    assert "'walse'" in error.text


def test_pipe_that_ends_nowhere_is_told_by_check(farm):  # noqa: F811
    line = LineString([(350_030, 300_050), (350_060, 300_050)])
    columns = {"id": ["P1"], "kind": ["pipe"]}
    write_layer(farm / "features.gpkg", "pipes", line, columns)
    codes = {one.code for one in check_farm(farm)}
    assert {"pipe_end_loose", "pipe_without_inlet"} <= codes


def critical(state, low_l):
    return CriticalVolume(state=state, low_l=low_l, median_l=low_l, high_l=low_l)


def way_with(own_l, other_l, outcome="reaches_water"):
    pathway = SimpleNamespace(alternatives=[SimpleNamespace(outcome=outcome)])
    spill = SimpleNamespace(
        critical=[critical("wet", own_l)], others=[[critical("wet", other_l)]]
    )
    return pathway, spill


@pytest.mark.parametrize(
    ("own_l", "other_l", "outcome", "told"),
    [
        (20.0, 3.2, "reaches_water", "3.2"),
        (None, 100.0, "enters_piped_drain", "100"),
        (20.0, 19.0, "reaches_water", ""),
        (20.0, None, "reaches_water", ""),
        (20.0, 1.0, "contained", ""),
    ],
)
def test_less_by_another_way_is_told_with_its_amount(own_l, other_l, outcome, told):
    said = less_by_another_way(*way_with(own_l, other_l, outcome))
    assert bool(said) == bool(told)
    assert told in said


def test_loss_that_gets_there_by_another_way_is_not_held_until_rain():
    """10 l do not get there by the way itself; 3 l are enough by the gully beside."""
    pathway, spill = way_with(20.0, 3.0)
    spill.fates = []
    way = SimpleNamespace(pathway=pathway, spill=spill)
    release = SimpleNamespace(name="container", volume_l=10.0)
    assert _may_get_there(way, release)
    assert not _may_get_there(way, SimpleNamespace(name="dregs", volume_l=0.05))


def test_move_to_a_site_that_breaks_a_rule_is_told_with_that(assessment):
    here = replace(assessment.sites[0], existing=True)
    criteria = tuple(
        replace(here.criteria[0], name=name, value=value)
        for name, value in (
            ("distance_to_water", 10.0),
            ("distance_to_drains", 10.0),
            ("distance_to_wells", 10.0),
            ("distance_along_flow", 10.0),
            ("critical_volume", 10.0),
        )
    )
    here = replace(here, criteria=criteria)
    farther = tuple(replace(one, value=90.0) for one in criteria)
    there = replace(here, name="Top", meets_rules="false", criteria=farther)
    told = gains(here, there)
    assert any("which breaks a binding rule, would gain" in one for one in told)
    kept = gains(here, replace(there, meets_rules="true"))
    assert not any("breaks" in one for one in kept)
