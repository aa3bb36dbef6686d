"""The map page as text: what it says, carries and refuses."""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import html.parser
import io
import json
import re

import numpy as np
import pytest
from branca.element import JavascriptLink
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from pyproj import CRS, Transformer
from shapely import LineString, Point, box

from pathways.errors import OutputError
from pathways.features import Features, Source, Tank
from pathways.grid import Grid
from pathways.pages import palette, words
from pathways.pages.map import map_page
from pathways.pages.offline import OfflineFigure, json_inside, script_tag
from pathways.pages.places import Places
from pathways.pages.posts import covers_along, staging_posts
from pathways.pages.relief import MOST_PIXELS, relief, shade, warped
from pathways.pages.site_story import site_story
from pathways.pages.story import way_story
from pathways.terrain.pathway import OUTCOMES

CRS_WKT = CRS.from_epsg(27700).to_wkt("WKT2_2019")


class Reader(html.parser.HTMLParser):
    """Collects what a browser would load, run or treat as data."""

    def __init__(self) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.handlers: list[str] = []
        self.policy = ""
        self.first_in_head = ""
        self.inline: dict[str, list[str]] = {"script": [], "style": [], "data": []}
        self._inside = ""

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if not self.first_in_head and tag not in ("html", "head"):
            self.first_in_head = values.get("http-equiv") or tag
        if values.get("http-equiv") == "Content-Security-Policy":
            self.policy = values["content"]
        self.handlers += [name for name in values if name.startswith("on")]
        self.addresses += [values[one] for one in ("src", "href") if one in values]
        kind = "data" if values.get("type") == "application/json" else tag
        self._inside = kind if kind in self.inline else ""

    def handle_endtag(self, _tag):
        self._inside = ""

    def handle_data(self, data):
        if self._inside:
            self.inline[self._inside].append(data)


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    return reader


def data_of(page: str) -> dict:
    return json.loads(read(page).inline["data"][0])


@pytest.fixture
def page(assessment):
    return map_page(assessment)


def test_equal_farms_give_equal_pages(by_hand):
    assert map_page(by_hand()) == map_page(by_hand())


def test_page_loads_nothing(page):
    assert read(page).addresses == []


def test_style_sheets_load_only_what_they_carry(page):
    sheets = "".join(read(page).inline["style"])
    addresses = re.findall(r"url\(\s*[\"']?([^)\"']+)", sheets)
    assert {one.split(":")[0] for one in addresses} == {"data", "#default#VML"}


def test_page_has_no_handlers_in_its_markup(page):
    assert read(page).handlers == []


def test_policy_comes_before_everything_that_could_run(page):
    assert read(page).first_in_head == "Content-Security-Policy"


def test_encoding_is_named_where_browsers_look_for_it(page):
    # HTML Living Standard, "Specifying the document's character encoding": within the
    # first 1024 bytes.
    assert b'<meta charset="utf-8">' in page.encode()[:1024]


def test_policy_allows_exactly_the_scripts_of_the_page(page):
    # The hash as the Content Security Policy Level 3 (W3C), section 6.7.2.3, has it.
    found = read(page)
    hashes = {
        base64.b64encode(hashlib.sha256(one.encode()).digest()).decode()
        for one in found.inline["script"]
    }
    allowed = re.search(r"script-src ([^;]*)", found.policy)[1]
    assert set(re.findall(r"sha256-([^']+)'", allowed)) == hashes
    assert "unsafe" not in found.policy
    assert found.policy.startswith("default-src 'none'; ")


def test_page_carries_leaflet_and_no_other_library(page):
    scripts = "".join(read(page).inline["script"])
    assert "Leaflet 1.9" in scripts
    assert "jQuery" not in scripts
    assert "bootstrap" not in scripts.lower()


def test_link_that_is_not_carried_is_refused():
    figure = OfflineFigure("map.html", {})
    figure.header.add_child(JavascriptLink("https://example.org/x.js"), name="x")
    with pytest.raises(OutputError, match=r"would need https://example\.org/x\.js"):
        figure.render()


def test_script_that_closes_its_own_tag_is_refused():
    with pytest.raises(OutputError, match="</script"):
        script_tag("x = '</SCRIPT>'")


@given(st.text())
def test_any_text_survives_inside_the_page(text):
    inside = json_inside({"text": text.encode("utf-8", "replace").decode()})
    assert not set("<>&\u2028\u2029") & set(inside)
    assert json.loads(inside)["text"] == text.encode("utf-8", "replace").decode()


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(name=st.text(max_size=80))
def test_any_name_leaves_the_markup_as_it_was(by_hand, name):
    plain, hostile = (read(map_page(by_hand(say))) for say in (str, lambda _: name))
    assert len(hostile.inline["script"]) == len(plain.inline["script"])
    assert hostile.policy == plain.policy
    assert hostile.addresses == hostile.handlers == []


@pytest.mark.parametrize("hidden", ["\u202e", "\u0000", "\u0085", "\u2066"])
def test_hidden_marks_in_names_are_made_visible(hidden):
    shown = words.shown(f"Top{hidden}Yard")
    assert hidden not in shown
    assert len(shown) > len("TopYard")


def test_long_names_are_cut():
    assert len(words.shown("a" * 5000)) == words.LONGEST_SHOWN + 1


# ---- the relief lies where the ground is --------------------------------------------

PLACES = {
    # EPSG code: west and north edge [m]; each in open water or, for the Arctic one,
    # far from any farm; convergence and scale differ.
    27700: (80_000.0, 10_200.0),
    32633: (380_000.0, 7_800_000.0),
    2193: (1_100_000.0, 4_800_000.0),
}


@pytest.mark.parametrize("code", PLACES)
@pytest.mark.parametrize("corner", [(0, 0), (0, -1), (-1, 0), (-1, -1)])
def test_corner_of_the_ground_lies_within_a_cell_of_its_true_place(code, corner):
    """The outside world: pyproj places the corner cell itself."""
    side, (west_m, north_m) = 400, PLACES[code]
    wkt = CRS.from_epsg(code).to_wkt("WKT2_2019")
    grid = Grid(np.zeros((side, side)), west_m, north_m, 1.0, wkt, f"EPSG:{code}")
    lit = np.zeros((2, side, side), np.uint8)
    lit[1] = 255
    lit[0][corner] = 255
    picture, transform = warped(lit, grid, 1.0)
    rows, columns = np.nonzero(picture[0])
    weight = picture[0][rows, columns].astype(float)
    seen = transform * (
        np.average(columns + 0.5, weights=weight),
        np.average(rows + 0.5, weights=weight),
    )
    cell = grid.centre_of(
        type(grid.cell_at(west_m + 1, north_m - 1))(*(np.array(corner) % side))
    )
    to_mercator = Transformer.from_crs(wkt, "EPSG:3857", always_xy=True)
    true = np.array(to_mercator.transform(*cell))
    beside = np.array(to_mercator.transform(cell[0] + 1.0, cell[1]))
    error_cells = np.hypot(*(true - seen)) / np.hypot(*(beside - true))
    assert error_cells < 1.0


def test_corners_of_the_picture_hold_the_whole_grid(assessment):
    grid = assessment.farm.grid
    ground = relief(grid)
    to_degrees = Transformer.from_crs(grid.crs, "EPSG:4326", always_xy=True)
    west, south, east, north = to_degrees.transform_bounds(*grid.extent)
    pixel = 0.00002  # two metres
    assert ground.south_west == pytest.approx((south, west), abs=pixel)
    assert ground.north_east == pytest.approx((north, east), abs=pixel)


def test_ground_without_heights_is_clear(assessment):
    picture = _picture(relief(assessment.farm.grid))
    known = np.asarray(picture)[..., 1]
    # The invented valley has no heights in its north-west corner.
    assert known[20, 6] == 0
    assert known[150, 100] == 255


def _picture(ground):
    kind, stored = ground.data_uri.split(",", 1)
    assert kind == "data:image/png;base64"
    return Image.open(io.BytesIO(base64.b64decode(stored)))


def test_flat_ground_is_one_grey():
    assert len(np.unique(shade(np.full((5, 7), 3.0), 1.0, 1.0))) == 1


def test_slopes_that_face_the_light_are_lighter():
    # Light from the north-west: a slope that falls to the north-west faces it.
    south, east = np.mgrid[0:9, 0:9].astype(float)
    falling_north_west, falling_south_east = south + east, -south - east
    lit = shade(falling_north_west, 1.0, 0.5)[4, 4]
    dark = shade(falling_south_east, 1.0, 0.5)[4, 4]
    assert lit > dark


def test_ground_beside_a_gap_is_shaded_from_the_known_side():
    plane = np.tile(np.arange(9.0), (9, 1))
    with_gap = plane.copy()
    with_gap[:, :4] = np.nan
    assert (shade(with_gap, 1.0, 1.0)[:, 4:] == shade(plane, 1.0, 1.0)[:, 4:]).all()


def test_a_square_kilometre_at_one_metre_gives_a_page_below_five_megabytes(by_hand):
    rough = np.random.default_rng(1).normal(0, 0.15, (1000, 1000)).cumsum(axis=0)
    assert len(map_page(by_hand(heights_m=rough)).encode()) < 5_000_000


def test_large_ground_is_thinned_and_stays_in_place():
    side = 2 * int(MOST_PIXELS**0.5) + 1
    grid = Grid(np.zeros((side, side)), 80_000, 20_000, 1.0, CRS_WKT, "EPSG:27700")
    ground = relief(grid)
    assert np.prod(_picture(ground).size) < 1.2 * MOST_PIXELS
    to_degrees = Transformer.from_crs(CRS_WKT, "EPSG:4326", always_xy=True)
    west, _, _, north = to_degrees.transform_bounds(*grid.extent)
    assert ground.north_east[0] == pytest.approx(north, abs=0.00003)
    assert ground.south_west[1] == pytest.approx(west, abs=0.00003)


def test_place_agrees_with_the_ordnance_surveys_own_example():
    """Lines lie where the grid's own authority puts them.

    Ordnance Survey, "A guide to coordinate systems in Great Britain", worked example of
    the transverse Mercator projection (Caister water tower): E 651409.903 N 313177.270
    is 52 39 27.2531 N, 1 43 4.5177 E on the Airy ellipsoid. From memory; WGS 84 lies
    about a hundred metres away from that, which is why 0.003 degrees are allowed.
    """
    grid = Grid(np.zeros((2, 2)), 651_000, 313_500, 1.0, CRS_WKT, "EPSG:27700")
    latitude, longitude = Places(grid).point(651_409.903, 313_177.270)
    assert latitude == pytest.approx(52 + 39 / 60 + 27.2531 / 3600, abs=0.003)
    assert longitude == pytest.approx(1 + 43 / 60 + 4.5177 / 3600, abs=0.003)


def plainly(told: str) -> str:
    """Return a sentence with plain spaces between numbers and units."""
    return told.replace("\u00a0", " ").replace("\u202f", " ")


# ---- what is told -------------------------------------------------------------------


def way(assessment, source_id: str):
    return next(one for one in assessment.pathways if one.source_id == source_id)


def test_way_is_told_from_start_to_water(assessment):
    story = way_story(way(assessment, "F1"), assessment.farm.features)
    assert plainly(story.summary) == (
        "Sprayer filling point: liquid runs 12 m over concrete, then enters gully G2, "
        "then runs 31 m through pipe P1, then runs 34 m over short grass and ground "
        "with no cover drawn, and reaches the stream Holt Brook after 78 m. In a "
        "straight line the nearest water is 71 m away."
    )


def test_staging_posts_stand_in_order_and_end_at_the_end(assessment):
    pathway = way(assessment, "F1")
    posts = staging_posts(pathway, assessment.farm.features)
    assert [one.at_m for one in posts] == sorted(one.at_m for one in posts)
    assert posts[-1].at_m == pathway.length_m
    assert (posts[-1].easting_m, posts[-1].northing_m) == pathway.end


def test_hollow_stands_on_the_way_with_what_it_holds(assessment):
    posts = staging_posts(way(assessment, "F1"), assessment.farm.features)
    hollow = next(one for one in posts if "hollow" in one.says)
    assert plainly(hollow.says) == (
        "A hollow holds up to 240 l, 6 cm deep, before it goes on."
    )
    assert (hollow.easting_m, hollow.northing_m) == pytest.approx((80_124, 10_106))


def test_stretches_of_a_way_add_up_to_its_length(assessment):
    pathway = way(assessment, "F1")
    posts = staging_posts(pathway, assessment.farm.features)
    lengths = [float(plainly(one.then.says).split(" m ")[0]) for one in posts[:-1]]
    assert sum(lengths) == pytest.approx(pathway.length_m, abs=2)


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_no_outcome_is_called_safe_or_harmless(outcome, assessment):
    pathway = dataclasses.replace(
        way(assessment, "F1"), outcome=outcome, why="shut_in", overtops_at_m=23.5
    )
    story = way_story(pathway, assessment.farm.features)
    told = json.dumps(dataclasses.asdict(story)).lower()
    for word in ("safe", "harmless", "no risk", "clean", "protected"):
        assert word not in told


@pytest.mark.parametrize(
    "why",
    [
        "leaves_grid",
        "meets_no_data",
        "no_water_in_grid",
        "ground_too_flat",
        "shut_in",
        "off_grid",
    ],
)
def test_each_reason_for_not_knowing_is_explained(why, assessment):
    pathway = dataclasses.replace(way(assessment, "M1"), why=why)
    story = way_story(pathway, assessment.farm.features)
    assert story.verdict == f"Not known: {words.WHY[why]}"
    assert "can reach water until somebody shows otherwise" in story.summary


def test_shut_in_way_tells_the_level_at_which_it_runs_over(assessment):
    pathway = dataclasses.replace(
        way(assessment, "M1"), why="shut_in", overtops_at_m=23.456
    )
    story = way_story(pathway, assessment.farm.features)
    assert "run over at a level of 23.46 m" in story.summary


def test_way_without_a_leg_is_told(assessment):
    pathway = dataclasses.replace(way(assessment, "F1"), legs=(), length_m=0.0, via=())
    story = way_story(pathway, assessment.farm.features)
    assert story.summary.startswith(
        "Sprayer filling point: liquid reaches the stream Holt Brook where it is spilt."
    )


def test_held_way_names_what_holds_it(assessment):
    story = way_story(way(assessment, "D1"), assessment.farm.features)
    assert story.verdict == "Held by tank T1 while it is maintained"


def test_drain_in_which_the_drawn_way_ends_is_named(assessment):
    whole = way(assessment, "F1")
    pathway = dataclasses.replace(
        whole,
        outcome="enters_piped_drain",
        receptor_id="",
        receptor_kind="",
        legs=whole.legs[:1],
        length_m=whole.legs[0].line.length,
        via=("G2",),
        hollows=(),
    )
    story = way_story(pathway, assessment.farm.features)
    assert "then enters gully G2, and goes into a piped drain" in story.summary
    assert story.posts[-1].says == (
        "Enters gully G2. Enters a piped drain with unknown outlet: treat it as "
        "reaching water."
    )


def test_covers_are_told_in_the_order_of_the_way(assessment):
    features = assessment.farm.features
    eastward = LineString([(80_080, 10_110), (80_120, 10_110)])
    assert covers_along(eastward, features) == "concrete and short grass"
    assert covers_along(eastward.reverse(), features) == "short grass and concrete"


def test_distance_that_falls_short_is_never_rounded_up_to_enough(assessment):
    site = assessment.sites[1]
    short = dataclasses.replace(
        site.judgements[0], verdict="false", need_m=10.0, have_m=9.96
    )
    story = site_story(dataclasses.replace(site, judgements=(short,)))
    rules = next(one for one in story.parts if one.heading == words.PAGE["rules"])
    assert "It needs 10 m and has 9.9 m." in plainly(rules.lines[0])


def test_site_without_a_rule_does_not_claim_to_meet_rules(assessment):
    site = dataclasses.replace(
        assessment.sites[0], meets_rules="no_rule_read", judgements=()
    )
    story = site_story(site)
    assert (
        story.verdict == "Not decided: a rule or a layer is missing; ask your regulator"
    )
    assert story.summary == "No rule was checked here."


def test_ways_are_listed_worst_first(page):
    outcomes = [one["outcome"] for one in data_of(page)["ways"]]
    assert outcomes == [
        words.OUTCOMES[one] for one in ("reaches_water", "not_known", "contained")
    ]


def test_source_without_a_way_is_listed_as_not_known(assessment):
    untraced = dataclasses.replace(assessment, pathways=assessment.pathways[1:2])
    ways = data_of(map_page(untraced))["ways"]
    assert len(ways) == len(assessment.farm.features.sources)
    assert {one["verdict"] for one in ways[1:]} == {
        "Not known: this source was drawn but not traced"
    }


def test_all_cautions_and_what_is_not_assessed_are_on_the_page(assessment, page):
    data = data_of(page)
    assert data["cautions"] == list(assessment.cautions)
    assert data["not_yet"] == ""
    sized = dataclasses.replace(assessment, not_yet_assessed=("sizing",))
    told = data_of(map_page(sized))["not_yet"]
    assert told == "Not yet assessed: how big a pad, tank and bed must be."


def test_only_layers_that_hold_something_are_shown(assessment):
    bare = Features(sources=assessment.farm.features.sources)
    assessment = dataclasses.replace(assessment, network=None)
    farm = dataclasses.replace(assessment.farm, features=bare)
    data = data_of(map_page(dataclasses.replace(assessment, farm=farm)))
    assert [one["key"] for one in data["layers"]] == ["sources"]


def test_farm_without_sources_and_sites_has_a_page(assessment):
    assessment = dataclasses.replace(assessment, network=None)
    farm = dataclasses.replace(assessment.farm, features=Features())
    empty = dataclasses.replace(assessment, farm=farm, pathways=(), sites=())
    data = data_of(map_page(empty))
    assert data["ways"] == data["sites"] == data["layers"] == []


def test_every_layer_of_a_farm_has_a_style_and_a_name():
    layers = {one.name for one in dataclasses.fields(Features)} - {"drawn"}
    assert set(palette.ORDER) == layers
    assert layers <= set(palette.FEATURES)
    assert layers <= set(words.LAYERS)


def test_every_outcome_has_its_own_colour_and_pattern():
    assert set(palette.OUTCOMES) == set(OUTCOMES) == set(words.OUTCOMES)
    assert len({one["colour"] for one in palette.OUTCOMES.values()}) == len(OUTCOMES)
    assert len({one["pattern"] for one in palette.OUTCOMES.values()}) == len(OUTCOMES)


def test_way_colours_are_of_the_published_set():
    # M. Okabe, K. Ito, "Color Universal Design": red, green and blue of the eight.
    published = {
        (0, 0, 0),
        (230, 159, 0),
        (86, 180, 233),
        (0, 158, 115),
        (240, 228, 66),
        (0, 114, 178),
        (213, 94, 0),
        (204, 121, 167),
    }
    used = {
        tuple(bytes.fromhex(one["colour"][1:])) for one in palette.OUTCOMES.values()
    }
    assert used <= published


def test_things_with_height_and_without_names_are_drawn(assessment):
    features = Features(
        tanks=(
            Tank(geometry=box(80_010, 10_010, 80_012, 10_012), id="", capacity_l=1),
        ),
        sources=(Source(geometry=Point(80_020, 10_020, 5.0), id="z", kind="other"),),
    )
    assessment = dataclasses.replace(assessment, network=None)
    farm = dataclasses.replace(assessment.farm, features=features)
    data = data_of(map_page(dataclasses.replace(assessment, farm=farm)))
    tank, source = (layer["things"][0] for layer in data["layers"])
    assert tank["says"] == "Tank"
    assert len(source["geometry"]["coordinates"]) == 2
