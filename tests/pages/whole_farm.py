"""A small farm with everything that a report tells of, assessed for real."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path

import numpy as np
from pyproj import CRS
from shapely import LineString, Point, box

from pathways.assessment import Assessment, assess_farm
from pathways.farm import Farm
from pathways.features import (
    Candidate,
    Features,
    Inlet,
    Pipe,
    Source,
    Surface,
    Tank,
    Watercourse,
    WaterSupply,
)
from pathways.grid import Grid
from pathways.run import read_tables
from pathways.settings import (
    ClimateSettings,
    FarmSettings,
    RuleSettings,
    Settings,
    SprayerSettings,
    WashingsSettings,
)
from pathways.sizing.weather import of_normals

#: The corner of a national grid, in the open sea.
CRS_WKT = CRS.from_epsg(27700).to_wkt("WKT2_2019")

#: What users write to break a page, a table or a list.
HOSTILE = (
    "</script><script>window.ran=1</script>",
    "<img src=x onerror=window.ran=1>",
    "${7*7} {{7*7}} \\back\\ 'quoted' \"twice\"",
    "# heading",
    "1. counted",
    "2) counted",
    "- dash",
    "+ plus",
    "=== under",
    "*star* _under_ **strong** ~~struck~~",
    "`code` ``more`` ```fence",
    "a | pipe || two",
    "[text](https://invented.invalid) ![picture](x) [^note] @cited",
    "<https://invented.invalid> www.invented.invalid",
    "&amp; &#60;b&#62; &nbsp;",
    "line\u2028break\u2029twice",
    "back\\",
    "$x^2$ ^up^ :::div",
    "> quoted",
    "Fferm Tŷ-Nant \u202eright to left",
    "\N{HUNDRED POINTS SYMBOL} \u00a0 wide",
    "W" * 200,
)

Say = Callable[[str], str]


def hostile_names(start: int) -> Say:
    """Return a way to say names such that each is another hostile text, and known."""
    said: dict[str, str] = {}
    texts = itertools.cycle([*HOSTILE[start:], *HOSTILE[:start]])

    def say(name: str) -> str:
        return said.setdefault(name, f"{next(texts)} {name}")

    return say


def _drains(say: Say) -> dict[str, tuple]:
    return {
        "inlets": (
            Inlet(geometry=Point(40, 60), id=say("G1"), drains_to=say("P1")),
            Inlet(geometry=Point(70, 66), id=say("G2"), drains_to="unknown"),
            Inlet(
                geometry=Point(44, 52), id=say("G3"), drains_to=say("P1"), covered=True
            ),
            Inlet(geometry=Point(82, 60), id=say("G4"), drains_to="soakaway"),
            Inlet(geometry=Point(88, 60), id=say("G5"), drains_to="capped"),
            Inlet(
                geometry=LineString([(18, 58), (24, 58)]),
                id=say("CD1"),
                name=say("Apron drain"),
                kind="channel_drain",
                drains_to=say("T1"),
            ),
        ),
        "pipes": (
            Pipe(
                geometry=LineString([(40, 60), (44, 30), (50, 5)]),
                id=say("P1"),
                name=say("Yard drain"),
                diameter_mm=150,
            ),
            Pipe(geometry=LineString([(88, 50), (88, 30)]), id=say("P2")),
        ),
        "tanks": (
            Tank(geometry=Point(20, 54), id=say("T1"), capacity_l=5000, free_l=3000),
        ),
    }


def features(say: Say) -> Features:
    return Features(
        sources=(
            Source(geometry=Point(40, 80), id=say("F1"), name=say("Filling place"),
                   kind="filling_point", volume_l=3000.0, release_l_per_min=400.0),
            Source(geometry=box(68, 80, 74, 84), id=say("S1"), name=say("Spray store"),
                   kind="pesticide_store", volume_l=200.0),
        ),
        watercourses=(
            Watercourse(geometry=LineString([(0, 5), (100, 5)]), id=say("W1"),
                        name=say("Holt Brook"), half_width_m=1.0),
        ),
        water_supplies=(
            WaterSupply(geometry=Point(60, 95), id=say("B1"), kind="borehole",
                        name=say("Yard borehole")),
        ),
        surfaces=(Surface(geometry=box(10, 40, 95, 95), kind="concrete"),),
        candidates=(
            Candidate(geometry=box(5, 62, 35, 95), id=say("C1"),
                      name=say("Behind the barn")),
        ),
        **_drains(say),
        drawn=frozenset({"watercourses", "water_supplies", "inlets", "pipes"}),
    )  # fmt: skip


def whole_farm(say: Say = str) -> Assessment:
    """Return the assessment; `say` makes each name and id."""
    count = 100
    east, north = np.meshgrid(
        np.arange(count) + 0.5, np.arange(count, 0, -1) - 0.5, indexing="xy"
    )
    heights_m = (40 + 0.03 * north + 0.0 * east).astype(np.float32)
    settings = Settings(
        farm=FarmSettings(id="farm", name=say("Sea Valley Farm")),
        rules=RuleSettings(jurisdiction="england"),
        sprayer=SprayerSettings(tank_l=3000.0, length_m=6.0, width_m=3.0),
        washings=WashingsSettings(times=[2.0] * 12, each_l=300.0),
        climate=ClimateSettings(design_storm_mm=30.0),
    )
    evaporation_mm = [20.0, 20.0, *[60.0] * 8, 20.0, 20.0]
    farm = Farm(
        Grid(heights_m, 0.0, float(count), 1.0, CRS_WKT, "EPSG:27700"),
        features(say),
        settings,
        weather=of_normals([60.0] * 12, evaporation_mm, evaporation_says="given"),
    )
    return assess_farm(farm, read_tables(Path(), settings.rules))
