"""Rulebooks: what is built in, how a user's own is checked, what binds."""

from datetime import date

import pytest

from pathways.errors import RulebookError
from pathways.io.rulebooks import (
    parse_rulebook,
    read_rulebook,
    read_rulebook_file,
    read_weights,
    rulebook_names,
)
from pathways.io.tables import read_assumed
from pathways.rules import (
    BINDING_STANDINGS,
    STANDINGS,
    with_given_distances,
)
from pathways.settings import RuleSettings

OWN = """
id = "own"
title = "Our own"
jurisdiction = "here"

[citation.farm]
publisher = "the farm"
document = "house rules"

[[setback]]
id = "HOUSE-WATER"
says = "we keep 12 m from the river"
applies_to = ["filling"]
receptors = ["river"]
distance_m = 12
measured_from = "water_edge"
force = "user"
standing = "given"
citation = "farm"
"""


def row(name, rulebook_name):
    rulebook = read_rulebook(rulebook_name)
    rows = (*rulebook.setbacks, *rulebook.requirements)
    return next(one for one in rows if one.id == name)


@pytest.mark.parametrize("name", rulebook_names())
def test_every_figure_of_law_says_where_it_stands_and_when_it_was_checked(name):
    rulebook = read_rulebook(name)
    for one in (*rulebook.setbacks, *rulebook.requirements):
        if one.force != "user" and one.citation.document not in (
            "no source",
            "layer exclusions",
        ):
            assert one.citation.checked_on == date(2026, 11, 25), one.id


def test_generic_rulebook_has_no_distance_of_its_own():
    distances_m = {one.distance_m for one in read_rulebook("generic").setbacks}
    assert distances_m == {None, 0.0}


# The Environment Agency's page on exemption T32, key conditions, as read on
# 2026-11-25.
@pytest.mark.parametrize(
    ("rule", "distance_m"),
    [("EN-T32-WATER", 10.0), ("EN-T32-WELL", 50.0), ("EN-T32-BORE", 250.0)],
)
def test_t32_distances_are_those_of_the_published_page(rule, distance_m):
    assert row(rule, "england").distance_m == distance_m


def test_t32_binds_the_bed_and_not_the_filling():
    for one in read_rulebook("england").setbacks:
        if one.id.startswith("EN-T32"):
            assert one.applies_to == ("bed",), one.id


# T14 of the worked cases: 15,001 l fails, 15,000 l passes.
@pytest.mark.parametrize(("litres", "allowed"), [(15_000.0, True), (15_001.0, False)])
def test_yearly_cap_of_t32_lies_at_15000_litres(litres, allowed):
    assert row("EN-T32-VOL", "england").allows(litres) is allowed


def test_england_names_the_filling_distance_as_a_gap():
    gaps = [one for one in read_rulebook("england").gaps if "filling" in one.applies_to]
    assert gaps[0].id == "EN-GAP-FILLING"


# SEPA's page on the storage and application of pesticides (EASR 2018, in force since
# 2025-11-01), as read on 2026-11-25: one distance for all that it names.
def test_scottish_filling_rule_keeps_ten_metres_from_all_that_it_names():
    rows = [
        one
        for one in read_rulebook("scotland").setbacks
        if one.id.startswith("SC-FILL-10")
    ]
    named = {kind for one in rows for kind in one.receptors}
    assert {one.distance_m for one in rows} == {10.0}
    assert named >= {"river", "stream", "ditch", "lake", "wetland", "coast"}
    assert "drain_opening" in named


def test_ireland_has_no_distance_of_its_own_and_says_what_was_not_found():
    """No numeric schedule of S.I. 155/2012 was read; the bands of zones were not."""
    book = read_rulebook("ireland")
    assert {one.distance_m for one in book.setbacks} == {None, 0.0}
    assert {use for gap in book.gaps for use in gap.applies_to} == {
        "filling",
        "pad",
        "bed",
        "store",
    }
    assert not any(gap.own_distance_settles for gap in book.gaps)


# Distances in feet as printed: WAC 16-202-250; 77 IAC 830.1100; R 325.10812; slides on
# Michigan's practice 702; University of Missouri Extension EQ676. 1 ft = 0.3048 m.
@pytest.mark.parametrize(
    ("name", "rule", "distance_ft"),
    [
        ("washington", "WA-MIX-20FT-WATER", 20),
        ("washington", "WA-MIX-20FT-WELL", 20),
        ("illinois", "IL-STORE-200FT-WELL", 200),
        ("michigan", "MI-702-200FT-WATER", 200),
        ("michigan", "MI-702-150FT-WELL", 150),
        ("michigan", "MI-PUBLIC-2000FT-WELL", 2000),
        ("missouri", "MO-STORE-300FT-WELL", 300),
    ],
)
def test_distance_of_a_state_is_the_printed_one_and_only_warns(name, rule, distance_ft):
    """Written for other trades or read in a copy: a wrong number must not decide."""
    setback = row(rule, name)
    assert setback.distance_m == pytest.approx(0.3048 * distance_ft)
    assert not setback.binds


def test_rulebook_that_builds_on_another_has_its_rows_and_not_its_gaps():
    own = parse_rulebook('builds_on = "generic"\n' + OWN, "own.toml")
    generic = read_rulebook("generic")
    assert own.setbacks[1:] == generic.setbacks
    assert own.gaps == ()


def test_rulebook_that_builds_on_nothing_known_is_refused():
    with pytest.raises(RulebookError, match=r"'genric' names no .* mean 'generic'"):
        parse_rulebook('builds_on = "genric"\n' + OWN, "own.toml")


@pytest.mark.parametrize("name", rulebook_names())
def test_no_row_of_low_standing_binds(name):
    for one in read_rulebook(name).setbacks:
        assert not one.binds or one.standing in BINDING_STANDINGS, one.id


@pytest.mark.parametrize("standing", STANDINGS)
def test_standing_decides_whether_a_users_row_binds(standing):
    text = OWN.replace('standing = "given"', f'standing = "{standing}"')
    setback = parse_rulebook(text, "own.toml").setbacks[0]
    assert setback.binds is (standing in ("measured", "read", "given"))


@pytest.mark.parametrize("force", ["advice", "grant_specification"])
def test_advice_never_binds_however_well_it_was_read(force):
    text = OWN.replace('force = "user"', f'force = "{force}"')
    assert not parse_rulebook(text, "own.toml").setbacks[0].binds


def test_users_own_rulebook_is_read_from_its_file(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(OWN, encoding="utf-8")
    assert read_rulebook_file(path).setbacks[0].citation.document == "house rules"


@pytest.mark.parametrize(
    ("wrong", "right", "sentence"),
    [
        ("distence_m = 12", "distance_m = 12", r"\[\[setback\]\] 1 'HOUSE-WATER': "
         r"distence_m is not known here; did you mean 'distance_m'\?"),
        ("", "distance_m = 12", "distance_m is missing; give metres"),
        ('distance_m = "12"', "distance_m = 12", "distance_m is '12'; input should be"),
        ("distance_m = -1", "distance_m = 12", "distance_m is -1; input should be"),
        ("distance_m = nan", "distance_m = 12", "distance_m is nan; input should be"),
        ("distance_m = true", "distance_m = 12", "distance_m is True; input should be"),
        ('receptors = ["rivr"]', 'receptors = ["river"]',
         r"receptor 'rivr' is not known; did you mean 'river'\?"),
        ("receptors = []", 'receptors = ["river"]', "receptors is"),
        ('applies_to = ["fill"]', 'applies_to = ["filling"]', "applies_to is 'fill'"),
        ('standing = "heard"', 'standing = "given"', "standing is 'heard'"),
        ('citation = "frm"', 'citation = "farm"', r"'frm' names no .* mean 'farm'\?"),
        ("", 'citation = "farm"', "citation is missing; add it"),
        ("", 'says = "we keep 12 m from the river"', "says is missing; add it"),
        ("", 'title = "Our own"', "title is missing or no text"),
        ('titel = "x"', 'title = "Our own"', r"titel is no key .* mean 'title'\?"),
        ("[[setbak]]", "[[setback]]", r"setbak is no key .* did you mean 'setback'\?"),
        ("[setback]", "[[setback]]", "setback is no list of tables"),
        ("distance_m = ", "distance_m = 12", r"own\.toml is not TOML: .*line"),
        ('distance_m = 12\ndistance_setting = "watercourse_m"', "distance_m = 12",
         "give one of the two"),
        ('publisher = ""', 'publisher = "the farm"', r"\[citation\.farm\]: publisher"),
    ],
)  # fmt: skip
def test_a_mistake_in_a_rulebook_is_told_in_one_sentence(wrong, right, sentence):
    assert right in OWN
    with pytest.raises(RulebookError, match=sentence) as caught:
        parse_rulebook(OWN.replace(right, wrong), "own.toml")
    assert str(caught.value).startswith("own.toml")
    assert "\n" not in str(caught.value)


def test_two_rows_of_one_id_are_refused():
    _, _, again = OWN.partition("[[setback]]")
    with pytest.raises(RulebookError, match="'HOUSE-WATER' is used 2 times"):
        parse_rulebook(OWN + "[[setback]]" + again, "own.toml")


@pytest.mark.parametrize(
    ("limit", "sentence"),
    [("", "a cap, and only a cap, has a limit"), ("limit = 5", "limit and unit")],
)
def test_a_cap_without_limit_or_unit_is_refused(limit, sentence):
    requirement = f"""
[[requirement]]
id = "HOUSE-CAP"
says = "not too much"
applies_to = ["bed"]
kind = "cap"
{limit}
force = "user"
standing = "given"
citation = "farm"
"""
    with pytest.raises(RulebookError, match=sentence):
        parse_rulebook(OWN + requirement, "own.toml")


def test_unknown_rulebook_is_refused_with_its_likely_name():
    with pytest.raises(RulebookError, match="did you mean 'england'"):
        read_rulebook("englnd")


def test_absent_rulebook_file_is_told_with_its_setting(tmp_path):
    with pytest.raises(RulebookError, match=r"cannot be read: .*\[rules\] file"):
        read_rulebook_file(tmp_path / "none.toml")


def test_rulebook_file_that_is_no_text_is_refused(tmp_path):
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(RulebookError, match="is not UTF-8 text"):
        read_rulebook_file(path)


def test_given_distance_is_put_into_its_row():
    rulebook = with_given_distances(
        read_rulebook("generic"), RuleSettings(watercourse_m=15.0)
    )
    assert rulebook.setbacks[0].distance_m == 15.0


def test_open_row_says_nothing_where_another_row_speaks():
    rulebook = with_given_distances(read_rulebook("england"), RuleSettings())
    own = {one.id: one.applies_to for one in rulebook.setbacks if "OWN" in one.id}
    assert own["EN-OWN-WATER"] == ("filling", "pad")


def test_given_distance_counts_beside_the_law():
    rulebook = with_given_distances(
        read_rulebook("england"), RuleSettings(watercourse_m=30.0)
    )
    own = next(one for one in rulebook.setbacks if one.id == "EN-OWN-WATER")
    assert own.applies_to == ("filling", "pad", "bed")


# Common practice, no source: all that is only convenient weighs at most 30 %.
def test_convenience_weighs_at_most_thirty_percent():
    assert read_weights().for_convenience <= 0.30 + 1e-12


# The data contract: half widths where a centre line has none.
def test_assumed_half_widths_are_those_of_the_data_contract():
    expected_m = {"river": 5.0, "canal": 5.0, "stream": 1.0, "ditch": 0.75}
    assert expected_m.items() <= read_assumed().half_widths_m.items()
