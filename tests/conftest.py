"""What all tests share: small farms of a few lines, a hand-made assessment."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pyproj
import pytest
from hypothesis import settings
from shapely import LineString, Point, box

from pathways.assessment import Assessment
from pathways.assumptions import Assumption
from pathways.errors import Notice
from pathways.farm import Farm
from pathways.features import Barrier, Features, Source
from pathways.grid import Grid
from pathways.io.tables import read_assumed, read_materials
from pathways.settings import FarmSettings, Settings
from pathways.siting.site import Criterion, Judgement, Site
from pathways.spill.course import Conduit, Course, Mouth, Store, Stretch
from pathways.spill.spill import Circumstances, Spill, spill_of
from pathways.spill.yard_rain import RainEnd, YardRain
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Alternative, Hollow, Leg, Nearby, Pathway

# The first example of a test compiles kernels, so there is no deadline; examples are
# the same on every run, so that a failure can be repeated.
settings.register_profile("pathways", deadline=None, derandomize=True)
settings.load_profile("pathways")

#: A projected system in metres for farms that lie nowhere.
NOWHERE = (
    'ENGCRS["nowhere",EDATUM["nowhere"],CS[Cartesian,2],AXIS["east",east],'
    'AXIS["north",north],LENGTHUNIT["metre",1]]'
)


@pytest.fixture
def plane():
    """Return a maker of sloping ground: metres east and north give the height [m]."""

    def make(height_of, *, size_m=100.0, cell_size_m=1.0):
        count = round(size_m / cell_size_m)
        east = (np.arange(count) + 0.5) * cell_size_m
        north = size_m - east
        heights = height_of(*np.meshgrid(east, north)).astype(np.float32)
        return Grid(heights, 0.0, size_m, cell_size_m, NOWHERE, "nowhere")

    return make


@pytest.fixture
def terrain():
    """Return a maker of terrain from a grid and features by layer."""

    def make(grid, **layers):
        given = {name: tuple(features) for name, features in layers.items()}
        return Terrain(grid, Features(**given, drawn=frozenset(given)), read_assumed())

    return make


@pytest.fixture(scope="session")
def demo_run():
    """Return one run of the demo farm, made once for all tests."""
    from pathways.run import run

    return run(Path(__file__).parents[1] / "data-samples" / "demo-farm")


@pytest.fixture(scope="session")
def demo_results(demo_run, tmp_path_factory) -> Path:
    """Return the folder with all results of that run."""
    from pathways.run import write

    folder = tmp_path_factory.mktemp("demo") / "results"
    write(demo_run, folder)
    return folder


# An assessment made by hand, small enough to check each value by eye ------------------

#: What has meaning in HTML, scripts, SQL, shells, spreadsheets or XML, and must have
#: none in results.
HOSTILE_NAMES = (
    "</script><script>alert(1)</script>",
    "${7*7} `id` {{7*7}}",
    "\"double\" 'single' \\back\\ /slash/",
    "Robert'); DROP TABLE pathways;--",
    '=HYPERLINK("http://x.invalid")',
    "Fferm Tŷ-Nant \u202eright to left\u202c \U0001f69c",
    "<![CDATA[ ]]> &amp; <!-- -->",
    "tab\tline\nreturn\rbell\x07",
)


@pytest.fixture
def hostile_names() -> tuple[str, ...]:
    return HOSTILE_NAMES


@pytest.fixture
def grid() -> Grid:
    heights_m = np.arange(20, dtype=np.float32).reshape(4, 5)
    crs = pyproj.CRS("EPSG:27700")
    return Grid(heights_m, 350000.0, 280008.0, 2.0, crs.to_wkt(), "EPSG:27700")


def _to_water() -> Pathway:
    drain = Leg(
        kind="pipe",
        line=LineString([(350003, 280003), (350009, 280001)]),
        through=HOSTILE_NAMES[3],
    )
    return Pathway(
        source_id="tap",
        source_kind="filling_point",
        source_name=HOSTILE_NAMES[0],
        start_kind="point",
        outcome="reaches_water",
        why="",
        receptor_id=HOSTILE_NAMES[2],
        receptor_kind="ditch",
        length_m=9.153_3,
        straight_line_m=float("nan"),
        drop_m=-0.000_04,
        mean_slope=0.123_456_789,
        surfaces=(("concrete", 2.828_427), ("unknown", 6.3)),
        via=(HOSTILE_NAMES[4], "pipe 1"),
        hollows=(
            Hollow(
                easting_m=350003.0,
                northing_m=280003.0,
                depth_m=0.05,
                capacity_l=120.25,
                level_m=17.05,
                area_m2=4.0,
                held_by="kerb",
            ),
        ),
        start=(350001.0, 280005.0),
        end=(350009.0, 280001.0),
        passes_near=(Nearby(id="well", kind="well", distance_m=12.5),),
        alternatives=(
            Alternative(
                why="the gully may be blocked",
                outcome="not_known",
                receptor_id="",
                receptor_kind="",
                length_m=2.0,
                via=(),
                legs=(
                    Leg(
                        kind="surface",
                        line=LineString([(350003, 280003), (350005, 280003)]),
                    ),
                ),
            ),
            Alternative(
                why="no line",
                outcome="enters_ground",
                receptor_id="soakaway",
                receptor_kind="soakaway",
                length_m=0.0,
                via=("gully",),
            ),
        ),
        cautions=("The ground hardly decides here.",),
        legs=(
            Leg(
                kind="surface",
                line=LineString([(350001, 280005), (350002, 280004), (350003, 280003)]),
            ),
            drain,
        ),
    )


def _spill() -> Spill:
    """What losses do on the first way: over concrete along a kerb, into a gully."""
    materials, kerb = read_materials(), LineString([(350001, 280006), (350004, 280003)])
    concrete = materials.surface("concrete")
    course = Course(
        (
            Stretch(material=concrete, length_m=5.0, slope=0.02),
            Stretch(
                material=concrete,
                length_m=5.0,
                slope=0.02,
                kerb=Barrier(
                    id=HOSTILE_NAMES[6], kind="kerb", height_m=0.1, geometry=kerb
                ),
            ),
            Store(kind="hollow", id="kerb", capacity_m3=0.120_25),
            Mouth(id=HOSTILE_NAMES[4], width_m=0.2, into_tank=False),
            Conduit(id="pipe 1", length_m=6.0, slope=0.01, diameter_m=0.1),
        )
    )
    source = Source(
        geometry=Point(350001, 280005), kind="filling_point", volume_l=1000.0
    )
    given = Circumstances(
        settings=Settings(),
        assumed=read_assumed(),
        soil=materials.soils["clay_loam"],
        fall_error_m=0.1,
    )
    gully = Course((Stretch(material=concrete, length_m=2.0, slope=0.02),))
    spill = spill_of(course, source, given, [gully, Course(())])
    rain = YardRain(
        working_area_m2=78.0,
        dirty_area_m2=120.0,
        joining_area_m2=40.0,
        ends=(
            RainEnd(
                id=HOSTILE_NAMES[2],
                kind="ditch",
                outcome="reaches_water",
                area_m2=118.0,
                hard_area_m2=110.0,
                runoff_m3=1.25,
                peak_l_per_s=0.9,
            ),
        ),
    )
    return dataclasses.replace(spill, rain=rain)


def _off_the_grid() -> Pathway:
    return Pathway(
        source_id="store",
        source_kind="pesticide_store",
        source_name=HOSTILE_NAMES[5],
        start_kind="lowest_edge",
        outcome="not_known",
        why="off_grid",
        receptor_id="",
        receptor_kind="",
        length_m=0.0,
        straight_line_m=None,
        drop_m=float("inf"),
        mean_slope=None,
        surfaces=(),
        via=(),
        hollows=(),
        start=(350100.0, 280100.0),
        end=(350100.0, 280100.0),
        passes_near=(),
        alternatives=(),
        cautions=(),
        legs=(),
    )


def _site() -> Site:
    watercourse = Judgement(
        rule="watercourse",
        says=HOSTILE_NAMES[1],
        verdict="false",
        need_m=10.0,
        have_m=7.333_33,
        margin_m=-2.666_67,
        receptor_id="ditch",
        citation="a clause 'quoted' \"twice\"",
        standing="read",
        binds=True,
    )
    return Site(
        site_id="s1",
        name=HOSTILE_NAMES[6],
        existing=True,
        rank=1,
        meets_rules="false",
        judgements=(
            watercourse,
            dataclasses.replace(
                watercourse,
                rule="well",
                verdict="true",
                need_m=None,
                have_m=None,
                margin_m=None,
                binds=False,
            ),
        ),
        score=0.5,
        criteria=(
            Criterion(
                name="slope",
                value=0.02,
                unit="m/m",
                worth=float("nan"),
                weight=1.0,
                standing="assumed",
            ),
        ),
        reasons=("Flat enough.", HOSTILE_NAMES[7]),
        easting_m=350005.0,
        northing_m=280005.0,
        footprint=box(350004, 280004, 350006.000_4, 280006),
    )


@pytest.fixture
def assessment(grid: Grid) -> Assessment:
    features = Features(
        sources=(
            Source(
                geometry=Point(350001, 280005),
                id="tap",
                name=HOSTILE_NAMES[0],
                kind="filling_point",
            ),
            Source(
                geometry=box(350098, 280098, 350102, 280102),
                id="store",
                name=HOSTILE_NAMES[5],
                kind="pesticide_store",
            ),
            Source(geometry=Point(350007, 280007), id="untraced", kind="other"),
        ),
    )
    settings = Settings(farm=FarmSettings(id="ty-nant", name="Fferm Tŷ-Nant <&>"))
    notice = Notice("no_drains_drawn", "No drains were drawn.", HOSTILE_NAMES[0])
    return Assessment(
        farm=Farm(grid, features, settings, (notice,)),
        pathways=(_to_water(), _off_the_grid()),
        spills=(_spill(), None),
        sites=(_site(),),
        assumptions=(
            Assumption(
                what="half width of a ditch",
                value=0.75,
                unit="m",
                standing="assumed",
                source="no source",
            ),
            Assumption(
                what="use of the well",
                value="domestic",
                unit="",
                standing="assumed",
                source="unknown is treated as domestic",
            ),
        ),
        notices=(notice, Notice("second", "Another.")),
    )


@pytest.fixture
def empty_assessment(grid: Grid) -> Assessment:
    return Assessment(
        farm=Farm(grid, Features(), Settings()),
        pathways=(),
        sites=(),
        assumptions=(),
        notices=(),
    )
