"""A farm to be drawn: its folder, its page, its picture and its valley lines."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
import sys
import warnings
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from pyproj import CRS, Transformer
from rasterio.warp import transform_bounds
from shapely import Point

from pathways.drawing import new_farm_to_draw, write_drawing_page
from pathways.errors import CrsError, GridError, InputError, OutputError
from pathways.features import LAYERS
from pathways.grid import Grid
from pathways.io.drawings import read_drawing_ground
from pathways.io.farms import read_farm
from pathways.io.pictures import MOST_PIXELS, read_picture
from pathways.io.tables import read_assumed
from pathways.pages import draw_words
from pathways.pages.words import shown
from pathways.run import check_farm
from pathways.terrain.valleys import valley_lines

DEMO = Path(__file__).parent.parent / "data-samples" / "demo-farm"
HOSTILE = (
    "</script><script>window.ran = 1</script>",
    "{farm}${7*7}{{7*7}}{% raw %}",
    "\"'`;window.ran=1;//\\",
    "</title><img src=x onerror=window.ran=1>",
    "Tŷ'n-y-Coed\u2028",
)
SIDE, WEST, NORTH = 100, 350_000.0, 300_100.0
PLACE = Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH)


@contextmanager
def unplaced():
    """Write rasters without a place in peace."""
    with warnings.catch_warnings():
        kind = rasterio.errors.NotGeoreferencedWarning
        warnings.simplefilter("ignore", kind)
        yield


def write_ground(path, *, driver="GTiff", **changes):
    row, column = np.mgrid[0:SIDE, 0:SIDE]
    heights = (60 - 0.03 * row - 0.01 * column).astype("f4")[np.newaxis]
    given = {"crs": "EPSG:27700", "transform": PLACE, "nodata": -9999.0} | changes
    size = {"width": SIDE, "height": SIDE, "count": 1, "dtype": "float32"}
    with unplaced(), rasterio.open(path, "w", driver, **size, **given) as file:
        file.write(heights)
    return path


@pytest.fixture
def raster(tmp_path):
    return write_ground(tmp_path / "heights.tif")


def data_in(page):
    text = page.read_text("utf-8")
    return json.loads(re.search(r'id="data">(.*?)</script>', text, re.S)[1])


# A new farm on a raster


def test_new_farm_holds_settings_ground_and_page_and_no_drawing(tmp_path, raster):
    new_farm_to_draw(tmp_path / "farm", raster)
    names = {one.name for one in (tmp_path / "farm").iterdir()}
    assert {one for one in names if not one.startswith(".")} == {
        "draw.html",
        "farm.toml",
        "ground.tif",
    }
    copied = (tmp_path / "farm" / "ground.tif").read_bytes()
    assert copied == raster.read_bytes()
    codes = {one.code for one in check_farm(tmp_path / "farm") if one.level == "error"}
    assert codes == {"input_refused"}  # there is no drawing yet, and nothing else


def test_ascii_grid_keeps_its_ending_and_its_projection(tmp_path):
    raster = write_ground(tmp_path / "heights.asc", driver="AAIGrid")
    assert raster.with_suffix(".prj").is_file()
    new_farm_to_draw(tmp_path / "farm", raster)
    assert (tmp_path / "farm" / "ground.asc").read_bytes() == raster.read_bytes()
    text = (tmp_path / "farm" / "farm.toml").read_text("utf-8")
    assert '\nfiles = ["ground.asc"]\n' in text
    errors = [one for one in check_farm(tmp_path / "farm") if one.level == "error"]
    assert [one.where for one in errors] == ["features"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"crs": None}, "no coordinate reference system"),
        ({"crs": "EPSG:4326"}, "whose unit is the degree"),
        ({"transform": Affine.identity()}, "where it lies"),
    ],
)
def test_ground_that_cannot_be_used_is_refused_before_anything_is_written(
    tmp_path, changes, words
):
    raster = write_ground(tmp_path / "bad.tif", **changes)
    with pytest.raises(InputError, match=words):
        new_farm_to_draw(tmp_path / "farm", raster)
    assert not (tmp_path / "farm").exists()


def test_farm_that_is_there_is_not_touched(tmp_path, raster):
    farm = tmp_path / "farm"
    new_farm_to_draw(farm, raster)
    (farm / "farm.toml").write_text("mine")
    with pytest.raises(OutputError, match="--overwrite"):
        new_farm_to_draw(farm, raster)
    assert (farm / "farm.toml").read_text() == "mine"
    new_farm_to_draw(farm, raster, overwrite=True)
    assert "mine" not in (farm / "farm.toml").read_text()


def test_drawing_that_is_there_is_never_overwritten(tmp_path, raster):
    farm = tmp_path / "farm"
    farm.mkdir()
    (farm / "features.geojson").write_text("mine")
    with pytest.raises(OutputError, match=r"holds features\.geojson already"):
        new_farm_to_draw(farm, raster)
    new_farm_to_draw(farm, raster, overwrite=True)
    assert (farm / "features.geojson").read_text() == "mine"


def test_ground_that_lies_in_its_place_stays_there(tmp_path):
    farm = tmp_path / "farm"
    farm.mkdir()
    raster = write_ground(farm / "ground.tif")
    before = raster.read_bytes()
    new_farm_to_draw(farm, raster)
    assert raster.read_bytes() == before
    assert (farm / "draw.html").exists()


# The page


def test_page_is_the_same_byte_for_byte(tmp_path, raster):
    pages = [write_drawing_page(raster, tmp_path / f"{n}.html")[0] for n in (1, 2)]
    assert pages[0].read_bytes() == pages[1].read_bytes()


def test_page_that_is_there_is_not_touched(tmp_path, raster):
    page = tmp_path / "draw.html"
    page.write_text("mine")
    with pytest.raises(OutputError, match="--overwrite"):
        write_drawing_page(raster)
    assert page.read_text() == "mine"
    assert write_drawing_page(raster, overwrite=True)[0] == page
    assert page.read_text("utf-8").startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(
    ("of", "words"),
    [("nothing.tif", "no raster and no farm folder"), (".", "no farm.toml")],
)
def test_what_is_neither_ground_nor_farm_is_refused(tmp_path, of, words):
    with pytest.raises(InputError, match=words):
        write_drawing_page(tmp_path / of)
    assert list(tmp_path.iterdir()) == []


def test_page_is_not_written_under_the_name_of_something_else(tmp_path, raster):
    with pytest.raises(InputError, match=r"end in \.html"):
        write_drawing_page(raster, tmp_path / "farm.toml", overwrite=True)


def test_drawing_that_cannot_be_read_is_refused_and_no_page_is_written(tmp_path):
    farm = tmp_path / "farm"
    shutil.copytree(DEMO, farm)
    (farm / "features.gpkg").write_text("no drawing")
    with pytest.raises(InputError, match=r"features\.gpkg"):
        write_drawing_page(farm)
    assert not (farm / "draw.html").exists()


def test_page_of_a_farm_carries_its_drawing_and_what_is_not_there(tmp_path):
    farm = tmp_path / "farm"
    shutil.copytree(DEMO, farm)
    data = data_in(write_drawing_page(farm)[0])
    drawn = read_farm(farm).farm.features
    count = sum(len(getattr(drawn, layer)) for layer in LAYERS)
    assert len(data["start"]) == count
    assert data["valleys"] == []  # water is drawn


def test_none_here_of_a_drawing_is_read_by_check_and_carried_on(tmp_path, raster):
    farm = tmp_path / "farm"
    new_farm_to_draw(farm, raster)
    start = data_in(farm / "draw.html")
    place = {"type": "Point", "coordinates": [-2.738, 52.597]}
    said = {"layer": "sources", "id": "S1", "kind": "other"}
    drawing = {
        "type": "FeatureCollection",
        "farm_pathways": {"placed_by": start["placed_by"], "none_here": ["inlets"]},
        "features": [{"type": "Feature", "properties": said, "geometry": place}],
    }
    (farm / "features.geojson").write_text(json.dumps(drawing))
    told = " ".join(one.text for one in check_farm(farm))
    assert "no drains were drawn" not in told
    assert "no watercourses were drawn" in told
    assert "inlets" in read_farm(farm).farm.features.drawn
    assert data_in(write_drawing_page(farm, overwrite=True)[0])["none_here"] == [
        "inlets"
    ]


def test_what_is_drawn_and_said_to_be_not_there_is_refused(tmp_path, raster):
    farm = tmp_path / "farm"
    new_farm_to_draw(farm, raster)
    place = {"type": "Point", "coordinates": [-2.738, 52.597]}
    said = {"layer": "sources", "id": "S1", "kind": "other"}
    gully = {"layer": "inlets", "id": "G1", "drains_to": "unknown"}
    drawing = {
        "type": "FeatureCollection",
        "farm_pathways": {"none_here": ["inlets"]},
        "features": [
            {"type": "Feature", "properties": one, "geometry": place}
            for one in (said, gully)
        ],
    }
    (farm / "features.geojson").write_text(json.dumps(drawing))
    codes = [one.code for one in check_farm(farm) if one.level == "error"]
    assert codes == ["drawn_and_not_there"]


def test_two_drawings_in_one_farm_are_refused(tmp_path):
    farm = tmp_path / "farm"
    shutil.copytree(DEMO, farm)
    settings = (farm / "farm.toml").read_text("utf-8")
    settings = settings.replace('path = "features.gpkg"', "")
    (farm / "farm.toml").write_text(settings, "utf-8")
    (farm / "features.geojson").write_text("{}")
    (error,) = [one for one in check_farm(farm) if one.level == "error"]
    assert "both features.gpkg and features.geojson" in error.text


def test_drawing_that_came_in_coarsely_stays_coarse_on_the_page(tmp_path, raster):
    """Degrees of other means are 2 m off here, and carrying them on mends nothing."""
    farm = tmp_path / "farm"
    new_farm_to_draw(farm, raster)
    assert data_in(farm / "draw.html")["placed_by"]
    place = {"type": "Point", "coordinates": [-2.738, 52.597]}
    said = {"layer": "sources", "id": "S1", "kind": "other"}
    drawing = {
        "type": "FeatureCollection",
        "features": [{"type": "Feature", "properties": said, "geometry": place}],
    }
    (farm / "features.geojson").write_text(json.dumps(drawing))
    data = data_in(write_drawing_page(farm, overwrite=True)[0])
    assert data["placed_by"] == ""
    saved = {"farm_pathways": {"placed_by": ""}, "features": data["start"]}
    (farm / "features.geojson").write_text(json.dumps(drawing | saved))
    assert "moved_coarsely" in {one.code for one in check_farm(farm)}


def test_drawing_beside_the_one_that_is_named_is_told(tmp_path):
    """Or a drawing that was just saved would be left aside in silence."""
    farm = tmp_path / "farm"
    shutil.copytree(DEMO, farm)  # its settings name features.gpkg
    assert "drawing_not_read" not in {one.code for one in check_farm(farm)}
    (farm / "features.geojson").write_text("{}")
    (notice,) = [one for one in check_farm(farm) if one.code == "drawing_not_read"]
    assert "'features.geojson' is a drawing too and was not read" in notice.text


def test_ground_in_feet_takes_what_is_drawn_on_its_page(tmp_path):
    """A system in feet has no code once it is turned to metres: degrees need none."""
    feet = Affine(3.0, 0.0, 6_100_000.0, 0.0, -3.0, 2_100_300.0)
    raster = write_ground(tmp_path / "feet.tif", crs="EPSG:2225", transform=feet)
    farm = tmp_path / "farm"
    with pytest.raises(InputError, match="height_unit"):
        new_farm_to_draw(farm, raster)
    new_farm_to_draw(farm, raster, height_unit="us_survey_foot")
    grid = read_drawing_ground(farm).grid
    middle = Point((grid.west_m + grid.east_m) / 2, (grid.south_m + grid.north_m) / 2)
    placed = read_drawing_ground(farm).to_degrees(middle)
    drawing = {
        "type": "FeatureCollection",
        "farm_pathways": {"placed_by": data_in(farm / "draw.html")["placed_by"]},
        "features": [
            {
                "type": "Feature",
                "properties": {"layer": "sources", "id": "S1", "kind": "other"},
                "geometry": json.loads(shapely.to_geojson(placed)),
            }
        ],
    }
    (farm / "features.geojson").write_text(json.dumps(drawing))
    (source,) = read_farm(farm).farm.features.sources
    assert source.geometry.distance(middle) < 0.01
    codes = {one.code for one in check_farm(farm)}
    assert not codes & {"moved_coarsely", "placed_otherwise"}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_name_of_a_farm_stays_text(tmp_path, raster, name):
    farm = tmp_path / "farm"
    new_farm_to_draw(farm, raster)
    usual = (farm / "draw.html").read_text("utf-8")
    (farm / "farm.toml").write_text(f"[farm]\nname = {json.dumps(name)}\n")
    text = write_drawing_page(farm, overwrite=True)[0].read_text("utf-8")
    assert re.search(r"<title>(.*?)</title>", text, re.S)[1] == (
        html.escape(f"Draw the yard: {shown(name)}")
        .replace("&#x27;", "&#39;")
        .replace("&quot;", "&#34;")
    )
    assert text.count("<script") == usual.count("<script")


def test_every_layer_stands_under_a_heading_with_words_and_letters_of_its_own():
    listed = [layer for _, layers in draw_words.GROUPS for layer in layers]
    assert sorted(listed) == sorted(LAYERS)
    assert set(draw_words.THINGS) == set(LAYERS)
    letters = [draw_words.PREFIXES[layer] for layer in LAYERS]
    assert len(set(letters)) == len(letters)


# The picture


def grid():
    return Grid(
        np.linspace(0, 1, SIDE * SIDE, dtype="f4").reshape(SIDE, SIDE),
        WEST,
        NORTH,
        1.0,
        CRS.from_epsg(27700).to_wkt("WKT2_2019"),
        "EPSG:27700",
    )


def write_picture(path, place, shape, crs="EPSG:27700", **more):
    """A picture whose red tells the column and whose green tells the row."""
    rows, columns = np.mgrid[0 : shape[0], 0 : shape[1]]
    bands = np.stack([columns * 250 // shape[1], rows * 250 // shape[0], 0 * rows + 9])
    bands = bands.astype(more.pop("dtype", "uint8"))
    size = {"width": shape[1], "height": shape[0], "count": 3, "dtype": bands.dtype}
    given = {"photometric": "RGB"} | more
    given |= {"crs": crs, "transform": place}
    with unplaced(), rasterio.open(path, "w", "GTiff", **size, **given) as file:
        file.write(bands)
    return path


def test_picture_lies_in_its_place(tmp_path):
    """Cells of the picture are those of the ground: what was written is read."""
    path = write_picture(tmp_path / "air.tif", PLACE, (SIDE, SIDE))
    read = read_picture(path, grid())
    assert (read.west_m, read.north_m, read.cell_size_m) == (WEST, NORTH, 1.0)
    expected = np.mgrid[0:SIDE, 0:SIDE] * 250 // SIDE
    assert np.abs(read.bands[0].astype(int) - expected[1]).max() <= 1
    assert np.abs(read.bands[1].astype(int) - expected[0]).max() <= 1
    assert (read.bands[3] == 255).all()


def test_picture_in_another_system_is_moved_as_the_drawing_is(tmp_path):
    """Against pyproj: colours tell the column of the picture at known places."""
    bounds = transform_bounds(
        "EPSG:27700", "EPSG:32630", WEST - 30, NORTH - 130, WEST + 130, NORTH + 30
    )
    place = Affine(0.5, 0, bounds[0], 0, -0.5, bounds[3])
    shape = (
        round((bounds[3] - bounds[1]) * 2),
        round((bounds[2] - bounds[0]) * 2),
    )
    path = write_picture(tmp_path / "air.tif", place, shape, crs="EPSG:32630")
    read = read_picture(path, grid())
    to_picture = Transformer.from_crs(27700, 32630, always_xy=True)
    for east, north in [(WEST + 10, NORTH - 10), (WEST + 80, NORTH - 60)]:
        x, y = to_picture.transform(east, north)
        column, row = ~place * (x, y)
        at = (
            int((read.north_m - north) / read.cell_size_m),
            int((east - read.west_m) / read.cell_size_m),
        )
        assert read.bands[0][at] == pytest.approx(column * 250 / shape[1], abs=2)
        assert read.bands[1][at] == pytest.approx(row * 250 / shape[0], abs=2)


def test_picture_that_covers_a_part_is_not_stretched(tmp_path):
    part = Affine(0.5, 0, WEST + 20, 0, -0.5, NORTH - 20)
    read = read_picture(write_picture(tmp_path / "air.tif", part, (40, 60)), grid())
    assert (read.west_m, read.north_m) == (WEST + 20, NORTH - 20)
    assert read.bands.shape == (4, 40, 60)


def test_fine_picture_is_thinned_to_what_a_page_carries(tmp_path):
    fine = Affine(0.04, 0, WEST, 0, -0.04, NORTH)
    path = write_picture(tmp_path / "air.tif", fine, (2500, 2500))
    assert read_picture(path, grid()).bands[0].size <= MOST_PIXELS * 1.01


@pytest.mark.parametrize(
    ("changes", "error", "words"),
    [
        ({"crs": None}, CrsError, "where on Earth"),
        ({"place": Affine.identity()}, CrsError, "where on Earth"),
        ({"place": Affine(1, 0, WEST + 500, 0, -1, NORTH)}, GridError, "not lie on"),
        ({"photometric": "MINISBLACK"}, GridError, "red, green and blue"),
        ({"dtype": "uint16"}, GridError, "8 bits"),
    ],
)
def test_picture_that_cannot_be_used_is_refused(tmp_path, changes, error, words):
    given = {"place": PLACE, "shape": (SIDE, SIDE)} | changes
    path = write_picture(tmp_path / "air.tif", given.pop("place"), **given)
    with pytest.raises(error, match=words):
        read_picture(path, grid())


def test_page_with_a_picture_offers_both(tmp_path, raster):
    path = write_picture(tmp_path / "air.tif", PLACE, (SIDE, SIDE))
    page, _ = write_drawing_page(raster, picture=path)
    names = [one["name"] for one in data_in(page)["grounds"]]
    assert names == [draw_words.PAGE["picture"], draw_words.PAGE["relief"]]


# Valley lines


def test_valley_line_follows_the_bottom_of_a_valley():
    """A trough along the middle column, whose bottom is known exactly."""
    side, middle = 301, 150
    row, column = np.mgrid[0:side, 0:side]
    heights = (0.05 * np.abs(column - middle) - 0.01 * row + 50).astype("f4")
    ground = Grid(heights, 0.0, float(side), 1.0, grid().crs, "EPSG:27700")
    (line,) = valley_lines(ground, read_assumed())
    places = shapely.get_coordinates(line)
    assert np.abs(places[:, 0] - (middle + 0.5)).max() <= 1.0
    assert places[0][1] > places[-1][1]  # drawn downhill, to the south
    # It begins where the stated area lies above it: side * rows = area.
    least_m2 = read_assumed()["valley_lines", "least_area_m2"]
    assert side - places[0][1] == pytest.approx(least_m2 / side, rel=0.1, abs=3)


def test_small_ground_has_no_valley_line():
    assert valley_lines(grid(), read_assumed()) == ()


# The command


def pathways(*words, cwd):
    return subprocess.run(
        [sys.executable, "-m", "pathways_cli", *map(str, words)],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
    )


@pytest.mark.parametrize(
    "words", [[], ["--ground", "heights.tif", "--crs", "EPSG:27700"]], ids=str
)
def test_new_takes_exactly_one_of_ground_and_crs(tmp_path, words):
    write_ground(tmp_path / "heights.tif")
    done = pathways("new", "farm", *words, cwd=tmp_path)
    assert done.returncode == 2
    assert "either --ground" in done.stderr
    assert not (tmp_path / "farm").exists()


def test_command_tells_which_page_to_open_and_refuses_in_one_sentence(tmp_path):
    write_ground(tmp_path / "heights.tif")
    done = pathways("new", "farm", "--ground", "heights.tif", cwd=tmp_path)
    assert done.returncode == 0
    assert "farm/draw.html" in done.stdout
    again = pathways("draw", "farm", cwd=tmp_path)
    assert again.returncode == 5
    assert "--overwrite" in again.stderr
    elsewhere = pathways("draw", "farm", "--out", "page.html", cwd=tmp_path)
    assert elsewhere.returncode == 0
    assert (tmp_path / "page.html").exists()
    bad = pathways("draw", "farm", "--picture", "none.tif", "--overwrite", cwd=tmp_path)
    assert bad.returncode == 3
    assert len(bad.stderr.splitlines()) == 1
    assert "none.tif" in bad.stderr
