"""The page on sizes: one file, no script, no link, and nothing that is written runs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By
from shapely import LineString, Point, box

from pathways.assessment import assess_farm
from pathways.farm import Farm
from pathways.features import Candidate, Features, Source, Watercourse
from pathways.pages.sizes import sizes_page
from pathways.run import read_tables
from pathways.settings import (
    ClimateSettings,
    FarmSettings,
    Settings,
    SoilSettings,
    SprayerSettings,
    WashingsSettings,
)
from pathways.sizing.weather import of_normals

HOSTILE = (
    "</script><script>window.ran=1</script>",
    "<img src=x onerror=window.ran=1>",
    "${7*7} {{7*7}} \\back\\ 'quoted' \"twice\"",
    "Fferm Tŷ-Nant \u202eright to left",
)
RAIN, AIR = [60.0] * 12, [20.0, 20.0, *[60.0] * 8, 20.0, 20.0]


def assessed(grid, name, **more):
    settings = Settings(
        farm=FarmSettings(id="farm", name=name),
        sprayer=SprayerSettings(tank_l=3000.0, length_m=6.0, width_m=3.0),
        **more,
    )
    features = Features(
        sources=(
            Source(id="S", name=name, kind="pesticide_store", volume_l=200.0,
                   geometry=Point(50, 80)),
        ),
        watercourses=(
            Watercourse(id="W", geometry=LineString([(0, 5), (100, 5)]),
                        half_width_m=1.0),
        ),
        candidates=(Candidate(id="C", name=name, geometry=box(30, 40, 70, 75)),),
        drawn=frozenset({"watercourses"}),
    )  # fmt: skip
    weather = of_normals(RAIN, AIR, evaporation_says="given")
    farm = Farm(grid, features, settings, weather=weather)
    return assess_farm(farm, read_tables(Path(), settings.rules))


WASHINGS = WashingsSettings(times=[2.0] * 12, each_l=300.0)


@pytest.fixture
def ground(plane):
    return plane(lambda east, north: 50.0 + 0.02 * north + 0.0 * east)


@pytest.mark.parametrize("text", HOSTILE)
def test_what_a_user_wrote_is_shown_and_never_run(browser, ground, text):
    browser.open(sizes_page(assessed(ground, text, washings=WASHINGS)))
    assert browser.driver.execute_script("return window.ran") is None
    assert browser.driver.find_elements(By.CSS_SELECTOR, "script, img, iframe") == []
    browser.listen()
    assert browser.console == []


def test_page_is_one_file_without_script_or_link(ground):
    page = sizes_page(assessed(ground, "Farm", washings=WASHINGS))
    assert "<script" not in page
    assert re.findall(r"(?:src|href)=", page) == []
    assert set(re.findall(r"https?://[^\"' <]+", page)) <= {
        "http://www.w3.org/2000/svg"
    }
    assert "default-src 'none'" in page


@pytest.mark.parametrize("width", [390, 1400])
def test_page_is_never_wider_than_its_window(browser, ground, width):
    page = sizes_page(assessed(ground, "Farm", washings=WASHINGS))
    browser.open(page, width=width, height=844)
    across = browser.driver.execute_script(
        "return document.documentElement.scrollWidth - window.innerWidth"
    )
    assert across <= 0


def test_each_picture_is_drawn_and_named(ground):
    page = sizes_page(assessed(ground, "Farm", washings=WASHINGS))
    names = re.findall(r'<svg [^>]*aria-label="([^"]+)"', page)
    assert names == [
        "Pad from above",
        "Section of the pad",
        "Section of the bed",
        "Water month by month",
    ]
    assert "nan" not in page.lower().replace("nant", "")


def test_page_is_stamped_and_has_the_records_to_keep(ground):
    page = sizes_page(assessed(ground, "Farm", washings=WASHINGS))
    assert "Not for construction" in page
    for words in ("Washings log", "Inspection, monthly when in use", "topped up"):
        assert words in page
    assert "cleaner, not clean" in page


def test_what_is_missing_stands_on_top(ground):
    page = sizes_page(assessed(ground, "Farm"))
    assert page.index("Not resolved") < page.index("<h2>Pad</h2>")
    assert "washings are not given" in page
    assert "Section of the bed" not in page


def test_floating_bed_is_told_in_capitals(ground):
    wet = SoilSettings(depth_to_water_m=0.2)
    page = sizes_page(assessed(ground, "Farm", washings=WASHINGS, soil=wet))
    assert "THE BED FLOATS" in page
    assert "dashed: ground water in winter" in page


def test_daily_weather_is_asked_for_where_only_months_are_given(ground):
    page = sizes_page(
        assessed(ground, "Farm", washings=WASHINGS, climate=ClimateSettings())
    )
    assert "neither wet years nor storms" in page
