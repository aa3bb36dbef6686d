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
    Surface,
    Watercourse,
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
    verdict: way.verdict, receptor: way.receptor, taken: [...way.taken],
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
        if len(set(way.taken)) < len(way.taken) or way.why == "drains_in_a_circle":
            continue  # comes back to an opening: the page says that it does not know
        if page["verdict"].startswith("Not known: the drains"):
            continue
        through_pipes += bool(way.taken)
        assert page["outcome"] == way.outcome
        assert page["verdict"] == verdict_of(as_alternative(way), features)
        if way.why != "ground_too_flat":  # which is said of the tapped place only
            assert page["quick"] == [page["outcome"], page["verdict"], page["receptor"]]
        assert page["taken"] == list(way.taken)
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


def tap(browser, east_m, north_m):
    """Tap a place of the farm by the address of the page, as a link would."""
    place = Transformer.from_crs("EPSG:27700", "EPSG:4326", always_xy=True).transform(
        80_000.0 + east_m, 10_000.0 + north_m
    )
    browser.driver.execute_script(
        "window.location.hash = arguments[0]", f"#at={place[1]:.9f},{place[0]:.9f}"
    )
    WebDriverWait(browser.driver, 5).until(
        lambda _: story(browser, "h2").startswith("✛")
    )


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
    place = Transformer.from_crs("EPSG:27700", "EPSG:4326", always_xy=True).transform(
        80_050.0, 10_123.0
    )
    opened.driver.execute_script(
        "window.location.hash = arguments[0]", f"#at={place[1]:.9f},{place[0]:.9f}"
    )
    WebDriverWait(opened.driver, 5).until(
        lambda _: "A roof" in opened.driver.find_element(By.ID, "tap").text
    )
    assert story(opened, "h2") == before


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
