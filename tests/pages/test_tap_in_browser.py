"""A tap on the map: the page walks where Python's drainage leads."""

from __future__ import annotations

import base64
import dataclasses
import json
import zlib
from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import CRS, Transformer
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait
from shapely import LineString, Point, box

from pathways.features import (
    Barrier,
    Building,
    Features,
    Inlet,
    Observation,
    Pipe,
    Source,
    Surface,
    Tank,
    Watercourse,
    WaterSupply,
)
from pathways.grid import Grid
from pathways.io.tables import read_assumed
from pathways.pages import tap_words, words
from pathways.pages.anywhere import as_alternative
from pathways.pages.map import map_page
from pathways.pages.naming import verdict_of
from pathways.pages.placing import placing
from pathways.terrain.landscape import Terrain
from pathways.terrain.network import CLOSED, network_of
from pathways.terrain.pathway import OUTCOMES
from pathways.terrain.tracing import trace_source
from pathways.terrain.way import follow

#: Projected systems all over, some far from their middle meridian.
SYSTEMS = [
    ("EPSG:27700", 80_000.0, 10_000.0),
    ("EPSG:27700", 430_000.0, 1_200_000.0),
    ("EPSG:25832", 250_000.0, 5_300_000.0),
    ("EPSG:2154", 1_200_000.0, 6_100_000.0),
    ("EPSG:3006", 250_000.0, 7_500_000.0),
    ("EPSG:32719", 700_000.0, 4_000_000.0),
]

SLOVENIA = (
    Path(__file__).parents[1] / "external/data/slovenia_north_1m/slovenia_north_1m.tif"
)

READY = "return document.documentElement.dataset.ground === 'ready'"

#: Every way from some cells, as the page follows them.
FOLLOW_ALL = """
const [cells, done] = arguments;
const given = JSON.parse(document.getElementById('data').textContent).ground;
groundOf(given).then((ground) => done(cells.map((cell) => {
  const way = wayFrom(ground, centreOf(ground, cell));
  const end = endFrom(ground, cell);
  const parted = way.cautions.includes(ground.says.parted);
  return { steps: networkCells(ground, cell), outcome: way.outcome, parted,
    verdict: way.verdict, receptor: way.receptor, taken: [...way.openings],
    quick: [end.outcome, end.verdict, end.receptor],
    length: way.legs.reduce((sum, leg) => sum + lengthOf(leg.line), 0) };
})));
"""


def wait_for_the_ground(browser):
    WebDriverWait(browser.driver, 20).until(lambda driver: driver.execute_script(READY))


def rough_farm(seed: int) -> tuple[Grid, Features]:
    """Return a random yard with a ditch, gullies, a pipe that comes out, and a barn."""
    chance = np.random.default_rng(seed)
    side = 60
    south, east = np.mgrid[0:side, 0:side]
    heights_m = 20 - 0.03 * south + 0.01 * east + chance.normal(0, 0.08, (side, side))
    grid = Grid(
        heights_m.astype(np.float32),
        80_000.0,
        10_060.0,
        1.0,
        CRS.from_epsg(27700).to_wkt("WKT2_2019"),
        "EPSG:27700",
    )

    def at(x: float, y: float) -> tuple[float, float]:
        return 80_000.0 + x, 10_060.0 - y

    gullies = [at(*chance.uniform(10, 40, 2)) for _ in range(4)]
    out = at(*chance.uniform(15, 45, 2))
    features = Features(
        watercourses=(
            Watercourse(
                geometry=LineString([at(0, 55), at(60, 52)]), id="W1", kind="ditch"
            ),
        ),
        inlets=(
            Inlet(geometry=Point(gullies[0]), id="G1", drains_to="P1"),
            Inlet(geometry=Point(gullies[1]), id="G2", drains_to="unknown"),
            Inlet(geometry=Point(gullies[2]), id="G3", drains_to="W1"),
            Inlet(
                geometry=LineString([gullies[3], (gullies[3][0] + 4, gullies[3][1])]),
                id="C1",
                kind="channel_drain",
                drains_to="soakaway",
            ),
        ),
        pipes=(Pipe(geometry=LineString([gullies[0], out]), id="P1", kind="culvert"),),
        barriers=(
            Barrier(
                geometry=LineString([at(5, 30), at(25, 31)]),
                id="K1",
                kind="kerb",
                height_m=0.1,
            ),
            Barrier(
                geometry=box(*at(44, 22), *at(52, 14)).exterior,
                id="B1",
                kind="wall",
                height_m=2.0,
            ),
        ),
        buildings=(Building(geometry=box(*at(28, 20), *at(36, 12)), id="H1"),),
        surfaces=(Surface(geometry=box(*at(5, 40), *at(40, 5)), kind="concrete"),),
    )
    return grid, features


def of_ground(assessment, grid, features):
    terrain = Terrain(grid, features, read_assumed())
    farm = dataclasses.replace(assessment.farm, grid=grid, features=features)
    return terrain, dataclasses.replace(
        assessment, farm=farm, pathways=(), sites=(), network=network_of(terrain)
    )


@pytest.mark.parametrize("seed", range(4))
def test_page_walks_cell_for_cell_where_the_drainage_leads(browser, assessment, seed):
    """On random ground with gullies, a culvert, a channel drain, walls and a barn."""
    grid, features = rough_farm(seed)
    terrain, assessed = of_ground(assessment, grid, features)
    open_cells = np.flatnonzero(assessed.network.covers.ravel() != CLOSED)
    cells = np.random.default_rng(seed).choice(open_cells, 300, replace=False)
    browser.open(map_page(assessed))
    browser.driver.set_script_timeout(60)
    told = browser.driver.execute_async_script(FOLLOW_ALL, [int(one) for one in cells])
    drainage = terrain.flow.drainage
    through_pipes = 0
    for cell, page in zip(cells, told, strict=True):
        assert page["steps"] == drainage.way_from(int(cell)).tolist()
        way = follow(terrain, Point(terrain.flow.ground.place(int(cell))))
        through_pipes += bool(way.taken)
        assert page["outcome"] == way.outcome
        assert page["verdict"] == verdict_of(as_alternative(way), features)
        if way.why != "ground_too_flat":  # which is said of the tapped place only
            assert page["quick"] == [page["outcome"], page["verdict"], page["receptor"]]
        # Beyond an opening whose drains come back to it the way is Python's as a whole.
        assert page["taken"] == list(way.taken)[: len(page["taken"])]
        assert page["parted"] == any("part on the way" in one for one in way.cautions)
        # The page's line ends in the cell of the water or drain, Python's at its edge.
        # Python redraws a line that parts from the steps where it cuts over a wall.
        apart_m = 0.1 * way.length_m if page["parted"] else 2.0
        assert page["length"] == pytest.approx(way.length_m, abs=max(2.0, apart_m))
    assert through_pipes > 3


@pytest.mark.parametrize(("system", "west_m", "north_m"), SYSTEMS)
@pytest.mark.parametrize("cell_size_m", [0.5, 2.0])
def test_cells_lie_on_the_map_within_a_centimetre(system, west_m, north_m, cell_size_m):
    """By the polynomials of the page, against PROJ itself, at random places.

    The requirement is ours: a centimetre in the grid, both ways.
    """
    crs = CRS(system)
    grid = Grid(
        np.zeros((1500, 900), np.float32),
        west_m,
        north_m,
        cell_size_m,
        crs.to_wkt(),
        system,
    )
    given = placing(grid)
    chance = np.random.default_rng(1)
    x = chance.uniform(0, 900 * cell_size_m, 500)
    y = chance.uniform(0, 1500 * cell_size_m, 500)
    to_map = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    longitude, latitude = to_map.transform(west_m + x, north_m - y)

    def sums(name, u, v):
        powers = [
            u**i * v**j
            for i in range(given["order"] + 1)
            for j in range(given["order"] + 1 - i)
        ]
        return np.tensordot(given[name], powers, axes=1)

    u, v = x / given["half_m"] - 1, y / given["half_m"] - 1
    back = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    placed = back.transform(
        given["middle"][1] + sums("longitude", u, v),
        given["middle"][0] + sums("latitude", u, v),
    )
    assert np.hypot(placed[0] - west_m - x, north_m - y - placed[1]).max() < 0.01
    u = (latitude - given["middle"][0]) / given["span"]
    v = (longitude - given["middle"][1]) / given["span"]
    assert np.hypot(sums("x", u, v) - x, sums("y", u, v) - y).max() < 0.01


@pytest.fixture
def opened(browser, assessment):
    browser.open(map_page(assessment), width=1400)
    wait_for_the_ground(browser)
    return browser


def latitude_and_longitude(east_m, north_m):
    to_map = Transformer.from_crs("EPSG:27700", "EPSG:4326", always_xy=True)
    return to_map.transform(80_000.0 + east_m, 10_000.0 + north_m)[::-1]


def go_to(browser, east_m, north_m):
    """Follow a link to a place of the farm."""
    place = latitude_and_longitude(east_m, north_m)
    browser.driver.execute_script(
        "window.location.hash = arguments[0]", f"#at={place[0]:.9f},{place[1]:.9f}"
    )


def tap(browser, east_m, north_m):
    """Go to a place of the farm, and wait until it is told."""
    go_to(browser, east_m, north_m)
    WebDriverWait(browser.driver, 5).until(
        lambda _: story(browser, "h2").startswith("✛")
    )


def says(browser, name):
    return browser.driver.find_element(By.ID, name).get_property("textContent")


def story(browser, selector):
    found = browser.driver.find_elements(By.CSS_SELECTOR, f"#story {selector}")
    return found[0].get_property("textContent") if found else ""


def test_click_on_open_ground_tells_its_way(opened):
    opened.driver.execute_script("document.querySelector('#tap button').click()")
    assert tap_words.ANYWHERE["title"] in story(opened, "h2")
    assert opened.driver.find_elements(By.CSS_SELECTOR, "#story .posts li .strip")
    assert opened.driver.execute_script("return location.hash").startswith("#at=")
    opened.listen()
    assert opened.console == []


def test_tap_beside_the_gully_goes_through_its_pipe(opened):
    tap(opened, 82.5, 116.5)
    told = story(opened, ".posts")
    assert "Enters gully G2." in told
    assert "through pipe P1" in told


def test_tap_on_a_roof_says_so_and_keeps_what_was_told(opened):
    before = story(opened, "h2")
    go_to(opened, 50.0, 123.0)
    WebDriverWait(opened.driver, 5).until(
        lambda _: "A roof" in says(opened, "tap-says")
    )
    assert says(opened, "tap-says") == tap_words.ANYWHERE["closed"]
    assert story(opened, "h2") == before


def test_link_to_a_roof_does_not_open_with_the_story_of_another_place(
    browser, assessment
):
    browser.open(map_page(assessment))
    place = latitude_and_longitude(50.0, 123.0)
    address = browser.driver.current_url.split("#")[0]
    browser.driver.get("about:blank")
    browser.driver.get(f"{address}#at={place[0]:.9f},{place[1]:.9f}")
    wait_for_the_ground(browser)
    assert says(browser, "tap-says") == tap_words.ANYWHERE["closed"]
    assert story(browser, "h2") == ""


def test_tap_where_nothing_is_known_of_times_tells_none(opened):
    tap(opened, 60.5, 116.5)
    assert tap_words.ANYWHERE["no_amounts"] in story(opened, "")
    assert "minute" not in story(opened, ".posts")


def test_tap_tells_how_places_round_it_end(opened):
    tap(opened, 60.5, 116.5)
    told = story(opened, "")
    assert tap_words.ANYWHERE["no_versions"] in told
    assert "places within" in told


def test_water_that_was_seen_to_run_is_followed(browser, assessment):
    """What somebody saw outweighs the ground, for a tap as for a drawn source."""
    grid, features = rough_farm(7)
    seen = Observation(
        geometry=LineString([(80_010, 10_040), (80_020, 10_030), (80_030, 10_006.5)]),
        id="O1",
        kind="flow_seen",
        date="2026-01-05",
    )
    features = dataclasses.replace(
        features, inlets=(), pipes=(), barriers=(), observations=(seen,)
    )
    _, assessed = of_ground(assessment, grid, features)
    browser.open(map_page(assessed))
    wait_for_the_ground(browser)
    tap(browser, 10.5, 42.5)
    told = story(browser, ".posts")
    assert "what was seen on the ground (2026-01-05)" in told
    assert "Reaches water" in story(browser, ".verdict")


@pytest.mark.parametrize(
    "text",
    [
        "</script><script>window.ran = 1</script>",
        "${window.ran = 1}{{7*7}}",
        "\\u0022\\'`",
        "Ŵyr Tŷ'n-y-Coed",
        "<img src=x onerror=window.ran=1>",
        "one\u2028two",
    ],
)
def test_hostile_names_are_told_and_never_run(browser, by_hand, text):
    browser.open(map_page(by_hand(lambda _: text)), width=1400)
    wait_for_the_ground(browser)
    tap(browser, 82.5, 116.5)
    assert words.shown(text) in story(browser, "")
    assert browser.driver.execute_script("return window.ran") is None
    browser.listen()
    assert browser.console == []


def test_way_over_level_ground_is_not_called_decided(browser, assessment):
    grid, features = rough_farm(3)
    level = dataclasses.replace(grid, heights_m=np.full((60, 60), 5, np.float32))
    bare = Features(watercourses=features.watercourses)
    _, assessed = of_ground(assessment, level, bare)
    browser.open(map_page(assessed))
    wait_for_the_ground(browser)
    tap(browser, 30.5, 55.5)
    told = story(browser, "")
    assert "Not known: the ground is too flat" in told or "cannot decide" in told


def test_old_browser_is_told_that_a_tap_shows_nothing(browser, assessment):
    page = map_page(assessment)
    browser.driver.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument",
        {"source": "delete window.DecompressionStream"},
    )
    identifier = browser.driver.execute_cdp_cmd(
        "Page.addScriptToEvaluateOnNewDocument", {"source": ""}
    )["identifier"]
    try:
        browser.open(page)
        assert (
            tap_words.ANYWHERE["too_old"]
            in browser.driver.find_element(By.ID, "tap").text
        )
        assert browser.driver.find_elements(By.CSS_SELECTOR, "#story h2")
    finally:
        for number in range(1, int(identifier) + 1):
            browser.driver.execute_cdp_cmd(
                "Page.removeScriptToEvaluateOnNewDocument", {"identifier": str(number)}
            )


def test_arrays_come_back_as_they_were(assessment):
    """Deflate and base64 by Python's own readers (RFC 1950, RFC 4648)."""
    page = map_page(assessment)
    data = json.loads(page.split('id="data">')[1].split("</script>")[0])
    steps = zlib.decompress(base64.b64decode(data["ground"]["arrays"]["steps"]))
    assert (
        np.frombuffer(steps, np.uint8).tolist()
        == assessment.network.steps.ravel().tolist()
    )
    heights = np.frombuffer(
        zlib.decompress(base64.b64decode(data["ground"]["arrays"]["height_at"])), "<u2"
    ).reshape(assessment.network.steps.shape)
    added = np.cumsum(heights.astype(np.int64), axis=1) % 0x10000
    known = added != data["ground"]["no_height"]
    told_m = data["ground"]["lowest_m"] + added * data["ground"]["height_step_m"]
    measured_m = assessment.farm.grid.heights_m
    assert (known == np.isfinite(measured_m)).all()
    assert np.abs(told_m - measured_m)[known].max() <= 0.0101


def test_way_along_a_kerb_says_so(browser, assessment):
    """The ground falls south-east to a kerb that runs south: it follows it."""
    grid, _ = rough_farm(0)
    south, east = np.mgrid[0:60, 0:60]
    tilted = (20 - 0.02 * south - 0.02 * east).astype(np.float32)
    kerb = Barrier(
        geometry=LineString([(80_030, 10_055), (80_030, 10_012)]),
        id="K1",
        kind="kerb",
        height_m=0.3,
    )
    water = Watercourse(
        geometry=LineString([(80_000, 10_005), (80_060, 10_005)]), id="W1", kind="ditch"
    )
    features = Features(watercourses=(water,), barriers=(kerb,))
    ground = dataclasses.replace(grid, heights_m=tilted)
    _, assessed = of_ground(assessment, ground, features)
    browser.open(map_page(assessed))
    wait_for_the_ground(browser)
    tap(browser, 20.5, 50.5)
    assert ", along kerb K1" in story(browser, ".posts .stretch")
    tap(browser, 5.5, 20.5)
    assert "along kerb" not in story(browser, ".posts")


def test_page_of_a_square_kilometre_stays_below_five_megabytes(assessment):
    """LiDAR of the Slovenian clip, mirrored to 1,000 x 1,000 cells of 1 m."""
    with rasterio.open(SLOVENIA) as clip:
        heights_m = clip.read(1).astype(np.float32)
    heights_m = np.vstack([heights_m, heights_m[::-1], heights_m])[:1000, :1000]
    assert heights_m.shape == (1000, 1000)
    grid = Grid(
        heights_m, 564_000.0, 147_000.0, 1.0, CRS.from_epsg(3794).to_wkt(), "EPSG:3794"
    )
    brook = Watercourse(
        geometry=LineString([(564_000, 146_400), (565_000, 146_300)]),
        id="W1",
        kind="stream",
    )
    _, assessed = of_ground(assessment, grid, Features(watercourses=(brook,)))
    assert len(map_page(assessed).encode()) < 5_000_000


# The same place drawn and tapped --------------------------------------------------

TELL_ALL = """
const [places, done] = arguments;
const given = JSON.parse(document.getElementById('data').textContent).ground;
groundOf(given).then((ground) => done(places.map((place) => {
  const cell = cellAt(ground, place);
  if (cell < 0 || ground.cover_at[cell] === ground.closed) return null;
  const told = tapTold(ground, wayFrom(ground, place));
  const outcome = Object.keys(ground.outcomes).find(
    (one) => ground.outcomes[one].says === told.outcome);
  return { outcome, unsure: told.unsure, text: JSON.stringify(told) };
})));
"""


def busy_farm(seed: int) -> tuple[Grid, Features]:
    """Return a random yard with everything that can take a spill elsewhere."""
    chance = np.random.default_rng(seed)
    south, east = np.mgrid[0:60, 0:60]
    heights_m = 20 - 0.03 * south + 0.01 * east + chance.normal(0, 0.04, (60, 60))
    grid, _ = rough_farm(0)

    def at(x: float, y: float) -> tuple[float, float]:
        return 80_000.0 + x, 10_060.0 - y

    def within(low: float, high: float) -> tuple[float, float]:
        return at(*chance.uniform(low, high, 2))

    gullies = [within(8, 45) for _ in range(4)]
    tank = (gullies[2][0] + 1.5, gullies[2][1] + 1.5)
    wall = box(*at(40, 26), *at(54, 12)).exterior
    features = Features(
        watercourses=(
            Watercourse(
                geometry=LineString([at(0, 56), at(60, 56)]), id="W1", kind="ditch"
            ),
            Watercourse(
                geometry=LineString([at(2, 2), at(3, 50)]), id="W2", kind="stream"
            ),
        ),
        inlets=tuple(
            Inlet(geometry=Point(place), id=f"G{number}", **more)
            for number, (place, more) in enumerate(
                zip(
                    gullies,
                    (
                        {"drains_to": "P1"},
                        {"drains_to": "unknown", "covered": True},
                        {"drains_to": "T1"},
                        {"drains_to": "soakaway"},
                    ),
                    strict=True,
                ),
                start=1,
            )
        ),
        tanks=(
            Tank(
                geometry=Point(tank),
                id="T1",
                capacity_l=500,
                free_l=500,
                maintained=True,
            ),
        ),
        pipes=(
            Pipe(
                geometry=LineString([gullies[0], within(15, 45)]),
                id="P1",
                kind="culvert",
            ),
            Pipe(
                geometry=LineString([within(10, 40), within(30, 50)]),
                id="LD1",
                kind="land_drain",
            ),
        ),
        barriers=(
            Barrier(
                geometry=LineString([at(5, 30), at(25, 31)]),
                id="K1",
                kind="kerb",
                height_m=0.1,
            ),
            Barrier(geometry=wall, id="B1", kind="wall", height_m=0.3),
        ),
        buildings=(Building(geometry=box(*at(28, 20), *at(36, 12)), id="H1"),),
        water_supplies=(
            WaterSupply(geometry=Point(within(10, 50)), id="B9", kind="borehole"),
        ),
        observations=(
            Observation(
                geometry=LineString([within(10, 30), within(20, 40), within(30, 50)]),
                id="O1",
                kind="flow_seen",
            ),
        ),
    )
    return dataclasses.replace(grid, heights_m=heights_m.astype(np.float32)), features


@pytest.mark.parametrize("seed", range(8))
def test_nothing_told_of_a_tap_is_milder_than_of_the_same_place_drawn(
    browser, assessment, seed
):
    """Against the program's own tracing of a source there, with all its other ways.

    A drawn source whose volume is not known, for nobody says how much is spilt at a
    tap.
    """
    grid, features = busy_farm(seed)
    terrain, assessed = of_ground(assessment, grid, features)
    places = np.random.default_rng(seed).integers(1, 59, (50, 2)) + 0.5
    browser.open(map_page(assessed))
    browser.driver.set_script_timeout(60)
    told = browser.driver.execute_async_script(TELL_ALL, places.tolist())
    compared = 0
    for (x, y), page in zip(places, told, strict=True):
        if page is None:
            continue
        compared += 1
        place = Point(80_000 + x, 10_060 - y)
        source = Source(geometry=place, id="S", kind="other")
        drawn = trace_source(terrain, source)[0]
        rank = OUTCOMES.index
        own, others = rank(page["outcome"]), drawn.alternatives
        assert own <= rank(drawn.outcome) or page["unsure"]
        if any(rank(one.outcome) < own for one in others):
            assert page["unsure"]
        for one in others:
            if one.outcome == "enters_ground" and one.why.startswith("borehole"):
                assert "borehole B9" in page["text"].lower().replace("b9", "B9")
    assert compared > 30


def test_tank_that_runs_over_to_its_gully_is_followed_past_it(browser, assessment):
    """A tap has no volume, so no tank is counted on: it runs over, and on to water."""
    grid, _ = rough_farm(0)
    south, _ = np.mgrid[0:60, 0:60]
    ground = dataclasses.replace(grid, heights_m=(20 - 0.03 * south).astype(np.float32))
    features = Features(
        watercourses=(
            Watercourse(
                geometry=LineString([(80_000, 10_005), (80_060, 10_005)]),
                id="W1",
                kind="ditch",
            ),
        ),
        inlets=(Inlet(geometry=Point(80_030.5, 10_029.5), id="G1", drains_to="T1"),),
        tanks=(Tank(geometry=Point(80_030.5, 10_033.5), id="T1", capacity_l=500),),
    )
    _, assessed = of_ground(assessment, ground, features)
    browser.open(map_page(assessed))
    wait_for_the_ground(browser)
    tap(browser, 30.5, 40.5)
    assert "Reaches water" in story(browser, ".verdict")
    assert "is not counted on" in story(browser, "")


def test_pipe_that_joins_another_is_not_told_to_come_out(browser, assessment):
    grid, _ = rough_farm(0)
    south, _ = np.mgrid[0:60, 0:60]
    ground = dataclasses.replace(grid, heights_m=(20 - 0.03 * south).astype(np.float32))
    places = [(80_030.5, 10_040.5), (80_030.5, 10_025), (80_030.5, 10_005)]
    features = Features(
        watercourses=(
            Watercourse(
                geometry=LineString([(80_000, 10_005), (80_060, 10_005)]),
                id="W1",
                kind="ditch",
            ),
        ),
        inlets=(Inlet(geometry=Point(places[0]), id="G1", drains_to="P1"),),
        pipes=(
            Pipe(geometry=LineString(places[:2]), id="P1"),
            Pipe(geometry=LineString(places[1:]), id="P2"),
        ),
    )
    _, assessed = of_ground(assessment, ground, features)
    browser.open(map_page(assessed))
    wait_for_the_ground(browser)
    tap(browser, 30.5, 45.5)
    told = story(browser, ".posts")
    assert "Goes into pipe P2." in told
    assert "Comes out" not in told


def test_many_gullies_beside_each_other_make_no_fault():
    """Two hundred within reach of each other: their groups were too many once."""
    grid, features = rough_farm(0)
    chance = np.random.default_rng(0)
    inlets = tuple(
        Inlet(
            geometry=Point(80_005 + x, 10_055 - y), id=f"G{number}", drains_to="unknown"
        )
        for number, (x, y) in enumerate(chance.uniform(0, 50, (200, 2)))
    )
    bare = Features(watercourses=features.watercourses, inlets=inlets)
    terrain = Terrain(grid, bare, read_assumed())
    network = network_of(terrain)
    reach_m = terrain.assumed["drains", "inlet_reach_m"]
    for cell in chance.choice(3600, 40, replace=False):
        place = Point(terrain.flow.ground.place(int(cell)))
        near = {
            number
            for number, one in enumerate(inlets)
            if one.geometry.distance(place) <= reach_m
        }
        group = network.groups[network.beside_at.ravel()[cell]]
        told = {
            network.beside[one].index
            for one in group
            if network.beside[one].kind == "opening"
        }
        assert near <= told
    assert terrain.flows_kept == frozenset({frozenset()})


def test_ground_too_large_to_carry_is_said_where_a_tap_would_be(
    browser, assessment, monkeypatch
):
    monkeypatch.setattr("pathways.pages.anywhere.MOST_CELLS", 100)
    browser.open(map_page(dataclasses.replace(assessment, network=None)))
    browser.listen()
    assert says(browser, "tap") == tap_words.ANYWHERE["too_large"]
    assert browser.driver.find_element(By.ID, "tap-part").is_displayed()
    assert browser.console == []


def test_farm_without_ways_of_all_cells_has_no_heading_for_taps(browser, assessment):
    browser.open(map_page(dataclasses.replace(assessment, network=None)))
    assert not browser.driver.find_element(By.ID, "tap-part").is_displayed()
