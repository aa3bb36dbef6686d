"""An invented farm, assessed by hand, and a real browser without a network.

The farm lies in the open sea south-west of England, where nobody's land is.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from drawer import NORTH, WEST, Drawer
from drawer import SIDE as DRAWN_SIDE
from pyproj import CRS
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from shapely import LineString, Point, Polygon, box

from pathways.assessment import CAUTIONS, Assessment
from pathways.assumptions import Assumption
from pathways.drawing import write_drawing_page
from pathways.errors import Notice
from pathways.farm import Farm
from pathways.features import (
    Access,
    Barrier,
    Building,
    Candidate,
    Exclusion,
    Features,
    Inlet,
    Observation,
    Pipe,
    Source,
    SpotLevel,
    Surface,
    Tank,
    Watercourse,
    WaterSupply,
)
from pathways.grid import Grid
from pathways.io._geometries import move_to
from pathways.io.tables import read_assumed
from pathways.pages.draw import Sheet, draw_page
from pathways.settings import FarmSettings, Settings
from pathways.siting.setback_areas import SetbackArea
from pathways.siting.site import Criterion, Judgement, Site
from pathways.terrain.landscape import Terrain
from pathways.terrain.network import network_of
from pathways.terrain.pathway import Alternative, Hollow, Leg, Nearby, Pathway

WEST_M, SOUTH_M, SIDE = 80_000.0, 10_000.0, 200
CRS_WKT = CRS.from_epsg(27700).to_wkt("WKT2_2019")


def at(east_m: float, north_m: float) -> tuple[float, float]:
    """Return a place by its distance from the farm's south-west corner."""
    return (WEST_M + east_m, SOUTH_M + north_m)


def line(*places: tuple[float, float]) -> LineString:
    return LineString([at(*place) for place in places])


def rectangle(west: float, south: float, east: float, north: float) -> Polygon:
    return box(*at(west, south), *at(east, north))


def valley_heights_m() -> np.ndarray:
    """Return a valley that falls to a stream in the south-east, with rough ground."""
    north, east = np.meshgrid(
        np.arange(SIDE, 0, -1.0) - 0.5, np.arange(SIDE) + 0.5, indexing="ij"
    )
    to_stream = np.abs(east - (150 + 12 * np.sin(north / 30)))
    heights = 20 + north * 0.02 + 0.06 * to_stream + 0.8 * np.sin(east / 23)
    heights += 0.4 * np.cos(north / 17 + east / 40)
    heights -= 1.6 * np.exp(-((to_stream / 3) ** 2))
    heights[:12, :20] = np.nan
    return heights.astype(np.float32)


def stream() -> LineString:
    north = np.arange(0, SIDE + 1, 5.0)
    return line(*zip(150 + 12 * np.sin(north / 30), north, strict=True))


def features(say: Callable[[str], str]) -> Features:
    return Features(
        sources=(
            Source(
                geometry=Point(at(70, 120)),
                id=say("F1"),
                name=say("Sprayer filling point"),
                kind="filling_point",
            ),
            Source(geometry=Point(at(45, 132)), id="D1", kind="fuel_store"),
            Source(
                geometry=rectangle(30, 88, 44, 98),
                id="M1",
                name=say("Midden"),
                kind="midden",
            ),
        ),
        watercourses=(
            Watercourse(geometry=stream(), id="W1", name=say("Holt Brook")),
            Watercourse(
                geometry=line((20, 60), (80, 50), (152.9, 40)), id="W2", kind="ditch"
            ),
        ),
        water_supplies=(
            WaterSupply(geometry=Point(at(25, 165)), id="B1", kind="borehole"),
        ),
        buildings=(
            Building(
                geometry=rectangle(38, 118, 62, 128), id="H1", name=say("Long barn")
            ),
            Building(geometry=rectangle(72, 132, 86, 144), id="H2", kind="open_sided"),
        ),
        barriers=(
            Barrier(
                geometry=line((64, 106), (90, 106)), id="K1", kind="kerb", height_m=0.1
            ),
        ),
        inlets=(
            Inlet(geometry=Point(at(82, 117)), id=say("G2"), drains_to="P1"),
            Inlet(geometry=Point(at(52, 114)), id="G3", drains_to="T1"),
        ),
        pipes=(
            Pipe(geometry=line((82, 117), (112, 109)), id=say("P1"), diameter_mm=150),
        ),
        tanks=(
            Tank(
                geometry=Point(at(48, 110)), id="T1", capacity_l=2000, maintained=True
            ),
        ),
        surfaces=(
            Surface(geometry=rectangle(36, 104, 92, 132), kind="concrete"),
            Surface(geometry=rectangle(92, 100, 140, 140), kind="short_grass"),
            Surface(geometry=rectangle(0, 132, 36, 200), kind="arable"),
        ),
        exclusions=(
            Exclusion(
                geometry=rectangle(120, 0, 185, 90),
                kind="flood_zone",
                label=say("Zone 3"),
            ),
        ),
        candidates=(Candidate(geometry=Point(at(20, 150)), id="C1"),),
        access=(Access(geometry=Point(at(64, 142)), kind="water"),),
        spot_levels=(SpotLevel(geometry=Point(at(60, 116)), level_m=24.31),),
        observations=(
            Observation(
                geometry=line((92, 102), (98, 96)),
                id="O1",
                kind="flow_seen",
                by="owner",
            ),
        ),
        drawn=frozenset(),
    )


def to_water(say: Callable[[str], str]) -> Pathway:
    legs = (
        Leg(kind="surface", line=line((70, 120), (75, 118.5), (82, 117))),
        Leg(kind="pipe", line=line((82, 117), (112, 109)), through=say("P1")),
        Leg(kind="surface", line=line((112, 109), (124, 106), (137, 102), (145, 100))),
    )
    return Pathway(
        source_id=say("F1"),
        source_kind="filling_point",
        source_name=say("Sprayer filling point"),
        start_kind="point",
        outcome="reaches_water",
        why="",
        receptor_id="W1",
        receptor_kind="stream",
        length_m=sum(leg.line.length for leg in legs),
        straight_line_m=71.25,
        drop_m=2.3,
        mean_slope=0.03,
        surfaces=(("concrete", 12.0), ("short_grass", 34.0)),
        via=(say("G2"), say("P1")),
        hollows=(
            Hollow(
                easting_m=at(124, 106)[0],
                northing_m=at(124, 106)[1],
                depth_m=0.06,
                capacity_l=243.0,
                level_m=22.1,
                area_m2=8.0,
            ),
        ),
        start=at(70, 120),
        end=at(145, 100),
        passes_near=(Nearby(id="G3", kind="gully", distance_m=19.0),),
        alternatives=(
            Alternative(
                why="the gully is blocked or its grate passed by",
                outcome="reaches_water",
                receptor_id="W2",
                receptor_kind="ditch",
                length_m=88.0,
                via=(),
                legs=(
                    Leg(
                        kind="surface",
                        line=line((82, 117), (92, 102), (98, 80), (104, 47)),
                    ),
                ),
            ),
        ),
        cautions=(say("The ground hardly decides between the gully and the kerb."),),
        legs=legs,
    )


def held(say: Callable[[str], str]) -> Pathway:
    way = line((45, 132), (37, 131), (36.5, 116), (52, 114))
    pipe = line((52, 114), (48, 110))
    return Pathway(
        source_id="D1",
        source_kind="fuel_store",
        source_name="",
        start_kind="point",
        outcome="contained",
        why="",
        receptor_id="T1",
        receptor_kind="tank",
        length_m=way.length + pipe.length,
        straight_line_m=90.0,
        drop_m=0.6,
        mean_slope=0.02,
        surfaces=(("concrete", way.length),),
        via=("G3", "T1"),
        hollows=(),
        start=at(45, 132),
        end=at(48, 110),
        passes_near=(),
        alternatives=(),
        cautions=(),
        legs=(Leg(kind="surface", line=way), Leg(kind="joined", line=pipe)),
    )


def unknown(say: Callable[[str], str]) -> Pathway:
    way = line((33, 88), (22, 80), (10, 76), (0, 74))
    return Pathway(
        source_id="M1",
        source_kind="midden",
        source_name=say("Midden"),
        start_kind="lowest_edge",
        outcome="not_known",
        why="leaves_grid",
        receptor_id="",
        receptor_kind="",
        length_m=way.length,
        straight_line_m=28.5,
        drop_m=0.9,
        mean_slope=0.025,
        surfaces=(("unknown", way.length),),
        via=(),
        hollows=(),
        start=at(33, 88),
        end=at(0, 74),
        passes_near=(),
        alternatives=(),
        cautions=(),
        legs=(Leg(kind="surface", line=way),),
    )


def site(rank: int, name: str, place: tuple[float, float], have_m: float) -> Site:
    verdict = "true" if have_m > 12 else "marginal" if have_m >= 10 else "false"
    easting_m, northing_m = at(*place)
    return Site(
        site_id=f"S{rank}",
        name=name,
        existing=rank == 3,
        rank=rank,
        meets_rules=verdict,
        judgements=(
            Judgement(
                rule="watercourse",
                says="Keep the pad 10 m from a watercourse.",
                verdict=verdict,
                need_m=10.0,
                have_m=have_m,
                margin_m=have_m - 10,
                receptor_id="W1",
                citation="invented rulebook, clause 1",
                standing="assumed",
                binds=True,
            ),
        ),
        score=0.9 - rank / 10,
        criteria=(
            Criterion(
                name="slope",
                value=2.1,
                unit="%",
                worth=0.8,
                weight=1.0,
                standing="computed",
            ),
        ),
        reasons=(f"The nearest water is {have_m:g} m away.",),
        easting_m=easting_m,
        northing_m=northing_m,
        footprint=box(easting_m - 6, northing_m - 4, easting_m + 6, northing_m + 4),
    )


def assess_by_hand(
    say: Callable[[str], str] = str, heights_m: np.ndarray | None = None
) -> Assessment:
    """Return the assessment; `say` may change every text that a user could write."""
    grid = Grid(
        valley_heights_m() if heights_m is None else heights_m,
        WEST_M,
        SOUTH_M + SIDE,
        1.0,
        CRS_WKT,
        "EPSG:27700",
    )
    drawn = features(say)
    settings = Settings(farm=FarmSettings(id="invented", name=say("Sea Valley Farm")))
    notice = Notice(
        code="no_drains_drawn",
        text=say("No land drains were drawn: look for outfalls in the ditch."),
        where=say("features.gpkg, pipes"),
    )
    return Assessment(
        farm=Farm(grid=grid, features=drawn, settings=settings, notices=(notice,)),
        pathways=(held(say), unknown(say), to_water(say)),
        sites=(
            site(1, say("Behind the long barn"), (30, 142), 61.0),
            site(2, say("North gate"), (104, 150), 11.96),
            site(3, say("Beside the brook"), (128, 118), 8.0),
        ),
        assumptions=(
            Assumption(
                what=say("half width of the stream"),
                value=1.0,
                unit="m",
                standing="assumed",
                source=say("common practice, no source"),
            ),
        ),
        notices=(),
        setbacks=(
            SetbackArea(
                rule="water (bed)",
                applies_to=("bed",),
                says=say("a bed keeps 10 m from a watercourse"),
                citation=say("invented rulebook, clause 1"),
                distance_m=10.0,
                area=stream().buffer(10.0),
            ),
        ),
        network=network_of(Terrain(grid, drawn, read_assumed())),
        cautions=(*CAUTIONS, *([say("x")] if say is not str else [])),
    )


def page_to_draw(assessment: Assessment) -> str:
    """Return the page on which the farm of an assessment is drawn on."""
    farm = assessment.farm
    move = move_to(farm.grid, CRS.from_epsg(4326))
    return draw_page(
        Sheet(
            grid=farm.grid,
            farm=farm.settings.farm.name,
            features=farm.features,
            none_here=(),
            placed_by=move.operation,
            to_degrees=move.back,
        )
    )


@pytest.fixture
def by_hand() -> Callable[..., Assessment]:
    return assess_by_hand


@pytest.fixture
def assessment() -> Assessment:
    return assess_by_hand()


class Browser:
    """A real browser, cut off from the network, and what it asked for."""

    def __init__(self, driver: webdriver.Chrome, folder: Path) -> None:
        self.driver = driver
        self._folder = folder
        self.console: list[str] = []
        self.requests: list[str] = []

    def open(self, page: str, *, width: int = 1280, height: int = 900) -> None:
        """Open a page from a file, in a window of a given size."""
        file = self._folder / "map.html"
        file.write_text(page, encoding="utf-8")
        self._emulate(width, height)
        self.driver.get(file.as_uri())

    def _emulate(self, width: int, height: int) -> None:
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {
                "width": width,
                "height": height,
                "deviceScaleFactor": 1,
                "mobile": width < 600,
            },
        )

    def listen(self) -> None:
        """Collect what the console said and what was asked of the network."""
        self.console += [entry["message"] for entry in self.driver.get_log("browser")]
        for entry in self.driver.get_log("performance"):
            message: dict[str, Any] = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                self.requests.append(message["params"]["request"]["url"])


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[webdriver.Chrome]:
    found = shutil.which("chromium"), shutil.which("chromedriver")
    if None in found:
        reason = "Chromium and its driver are not installed, so no page was opened"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    options = Options()
    options.binary_location = str(found[0])
    profile = tmp_path_factory.mktemp("chromium")
    for argument in (
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--force-prefers-reduced-motion",  # the map then moves at once
        "--disable-quic",
        "--disable-dev-shm-usage",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--host-resolver-rules=MAP * ~NOTFOUND",
        f"--user-data-dir={profile}",
    ):
        options.add_argument(argument)
    options.set_capability(
        "goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"}
    )
    driver = webdriver.Chrome(options=options, service=Service(str(found[1])))
    yield driver
    driver.quit()


@pytest.fixture
def browser(chromium: webdriver.Chrome, tmp_path: Path) -> Browser:
    chromium.get("about:blank")
    for kind in ("browser", "performance"):
        chromium.get_log(kind)  # what its first page and earlier tests left
    return Browser(chromium, tmp_path)


@pytest.fixture(scope="session")
def drawn_ground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ground that falls 3 in 100 to the south-east, of an invented place."""
    row, column = np.mgrid[0:DRAWN_SIDE, 0:DRAWN_SIDE]
    heights = (60 - 0.02 * row - 0.02 * column).astype("f4")[np.newaxis]
    path = tmp_path_factory.mktemp("ground") / "heights.tif"
    size = {"width": DRAWN_SIDE, "height": DRAWN_SIDE, "count": 1, "dtype": "float32"}
    place = Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH)
    with rasterio.open(
        path, "w", "GTiff", **size, crs="EPSG:27700", transform=place, nodata=-9999.0
    ) as file:
        file.write(heights)
    return path


@pytest.fixture(scope="session")
def drawing_page(drawn_ground: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page on which nothing was drawn."""
    folder = tmp_path_factory.mktemp("page")
    return write_drawing_page(drawn_ground, folder / "draw.html")[0].read_text("utf-8")


@pytest.fixture
def drawer(browser: Browser, drawing_page: str, tmp_path: Path) -> Iterator[Drawer]:
    """A fresh page on which nothing was drawn before."""
    person = Drawer(browser, tmp_path / "downloads")
    browser.open(drawing_page)
    person.run("try { localStorage.clear() } catch (error) {}")
    browser.open(drawing_page)
    yield person
    person.driver.execute_cdp_cmd(
        "Emulation.setTouchEmulationEnabled", {"enabled": False}
    )
