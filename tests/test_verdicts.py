"""The verdict on a site as a whole: what is never said by silence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from pathways.features import (
    Exclusion,
    Features,
    Watercourse,
)
from pathways.io.rulebooks import parse_rulebook, read_rulebook, rulebook_names
from pathways.io.tables import read_assumed
from pathways.rules import with_given_distances
from pathways.settings import RuleSettings
from pathways.siting.receptors import surroundings_of
from pathways.siting.setbacks import judge, meets_rules

UNITED_STATES = ("illinois", "michigan", "missouri", "washington")
ALL_LAYERS = frozenset(
    {"watercourses", "water_supplies", "inlets", "pipes", "exclusions"}
)
HALF_WIDTHS_M = read_assumed().half_widths_m
GIVEN = RuleSettings(watercourse_m=10.0, water_supply_m=50.0, drain_opening_m=10.0)
PLACE = box(-4.0, -3.0, 0.0, 3.0)  # its eastern side is at 0: distances are eastings


def water(kind, easting_m, **more):
    line = LineString([(easting_m, -500.0), (easting_m, 500.0)])
    fields = {"drawn_at": "bank_top", "geometry": line} | more
    return Watercourse(id=f"{kind} 1", kind=kind, **fields)


def judged(uses, rulebook, *, given=GIVEN, error_m=1.0, drawn=ALL_LAYERS, **layers):
    features = Features(drawn=drawn, **layers)
    surroundings = surroundings_of(features, HALF_WIDTHS_M)
    rules = read_rulebook(rulebook) if isinstance(rulebook, str) else rulebook
    return judge(uses, PLACE, surroundings, with_given_distances(rules, given), error_m)


@pytest.mark.parametrize("absent", ["watercourses", "water_supplies", "inlets"])
@pytest.mark.parametrize("name", rulebook_names())
def test_a_layer_that_was_not_drawn_never_ends_in_true(name, absent):
    judgements = judged(("filling", "pad"), name, drawn=ALL_LAYERS - {absent})
    assert meets_rules(judgements) == "no_rule_read"
    words = absent.replace("_", " ")
    assert any(
        f"no {words} were drawn, which does not" in one.says for one in judgements
    )


def test_one_zone_that_is_drawn_says_nothing_of_another():
    """A flood zone shows that somebody thought of floods, and of nothing else."""
    flood = Exclusion(id="f", kind="flood_zone", geometry=box(500, 500, 600, 600))
    looked = ALL_LAYERS - {"exclusions"}
    for drawn, verdict in (
        (looked, "no_rule_read"),
        (looked | {"spz1"}, "true"),
    ):
        judgements = judged(("bed",), "england", drawn=drawn, exclusions=(flood,))
        told = [one.verdict for one in judgements if one.rule == "EN-T32-SPZ1"]
        assert told == [verdict]


def test_spz1_that_was_not_drawn_never_ends_in_true():
    judgements = judged(("bed",), "england", drawn=ALL_LAYERS - {"exclusions"})
    assert meets_rules(judgements) == "no_rule_read"


def test_what_is_too_near_still_fails_where_another_layer_is_absent():
    judgements = judged(
        ("filling",),
        "scotland",
        drawn=frozenset(),
        watercourses=(water("stream", 3.0),),
    )
    assert meets_rules(judgements) == "false"


@pytest.mark.parametrize(
    ("name", "uses"),
    [
        ("generic", ("filling", "pad", "bed")),
        ("england", ("bed",)),
        ("scotland", ("filling", "pad")),
    ],
)
def test_all_drawn_and_all_given_and_nothing_near_is_true(name, uses):
    assert meets_rules(judged(uses, name)) == "true"


@pytest.mark.parametrize(
    ("name", "uses"),
    [
        ("england", ("filling", "pad")),
        ("scotland", ("bed",)),
        ("ireland", ("filling",)),
        ("ireland", ("pad",)),
        ("ireland", ("bed",)),
        *(
            (name, (use,))
            for name in UNITED_STATES
            for use in ("filling", "pad", "bed")
        ),
    ],
)
def test_own_distance_passes_no_place_where_no_rule_was_read(name, uses):
    """Adviser's review: no statutory English filling distance was read."""
    assert meets_rules(judged(uses, name)) == "no_rule_read"


@pytest.mark.parametrize(
    "setting", ["watercourse_m", "water_supply_m", "drain_opening_m"]
)
def test_generic_rules_without_a_distance_say_which_setting_to_give(setting):
    judgements = judged(("filling", "pad", "bed"), "generic", given=RuleSettings())
    assert meets_rules(judgements) == "no_rule_read"
    assert any(setting in one.says for one in judgements)
    assert {one.verdict for one in judgements if one.binds} == {"no_rule_read"}


def test_england_says_that_no_filling_distance_was_read():
    judgements = judged(
        ("filling",),
        "england",
        given=RuleSettings(),
        watercourses=(water("river", 1.0),),
    )
    assert meets_rules(judgements) == "no_rule_read"
    assert any("statutory English distance" in one.says for one in judgements)


def test_a_rulebook_without_any_row_for_a_use_is_no_rule_read():
    assert meets_rules(judged(("store",), "scotland")) == "no_rule_read"


LOWER = """
id = "own"
title = "Own"
jurisdiction = "here"
[citation.heard]
publisher = "a neighbour"
document = "told over the gate"
[[setback]]
id = "HEARD"
says = "one keeps 100 m from a river"
applies_to = ["filling"]
receptors = ["river"]
distance_m = 100.0
measured_from = "water_edge"
force = "law"
standing = "{standing}"
citation = "heard"
"""


@pytest.mark.parametrize(
    "standing",
    ["second_hand", "from_memory", "common_practice", "assumed", "computed"],
)
def test_a_rule_of_lower_standing_warns_and_never_decides(standing):
    rulebook = parse_rulebook(LOWER.format(standing=standing), "own.toml")
    judgements = judged(("filling",), rulebook, watercourses=(water("river", 5.0),))
    heard = next(one for one in judgements if one.rule == "HEARD")
    assert (heard.verdict, heard.binds) == ("false", False)
    assert meets_rules(judgements) == "no_rule_read"


@pytest.mark.parametrize("standing", ["measured", "read", "given"])
def test_a_rule_of_firm_standing_decides(standing):
    rulebook = parse_rulebook(LOWER.format(standing=standing), "own.toml")
    judgements = judged(("filling",), rulebook, watercourses=(water("river", 5.0),))
    assert meets_rules(judgements) == "false"


@given(
    near_m=st.floats(0.0, 300.0),
    farther_m=st.floats(0.0, 300.0),
    error_m=st.floats(0.1, 20.0),
    name=st.sampled_from(rulebook_names()),
    use=st.sampled_from(["filling", "pad", "bed"]),
    kind=st.sampled_from(["river", "ditch", "pond", "coast"]),
)
def test_moving_away_from_the_only_water_never_worsens_a_verdict(
    near_m, farther_m, error_m, name, use, kind
):
    rank = {"false": 0, "marginal": 1, "no_rule_read": 1, "true": 2}
    verdicts = [
        meets_rules(
            judged(
                (use,), name, error_m=error_m, watercourses=(water(kind, distance_m),)
            )
        )
        for distance_m in (near_m, near_m + farther_m)
    ]
    assert rank[verdicts[0]] <= rank[verdicts[1]]
