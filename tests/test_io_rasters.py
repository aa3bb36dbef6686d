"""The ground is read right or refused with one sentence.

Expected values are worked out by hand in the tests unless a source is named. Files are
written with rasterio, that is by GDAL and not by our own code.
"""

import http.server
import json
import os
import subprocess
import sys
import threading
import warnings
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import Transformer

from pathways.errors import RefusedError
from pathways.io._gdal import RASTER_DRIVERS, VECTOR_DRIVERS, pyogrio
from pathways.io._gdal import SETTINGS as GDAL_SETTINGS
from pathways.io.rasters import read_ground
from pathways.settings import GroundSettings

SETTINGS = GroundSettings(height_unit="metre", survey_date="2024-03-01")
#: Cells of 2 m whose north-west corner is in Shropshire.
PLACE = Affine(2.0, 0.0, 350_000.0, 0.0, -2.0, 300_000.0)


def slope(rows=12, columns=10):
    """Heights that differ in every cell, so that a swap shows."""
    return (100.0 + np.arange(rows * columns).reshape(rows, columns) / 8).astype("f4")


def write(path, heights, *, place=PLACE, crs="EPSG:27700", nodata=-9999.0, **more):
    bands = heights if heights.ndim == 3 else heights[np.newaxis]
    tags = {key: more.pop(key) for key in ("scale", "offset", "unit") if key in more}
    profile = {
        "driver": "GTiff",
        "count": len(bands),
        "height": bands.shape[1],
        "width": bands.shape[2],
        "dtype": bands.dtype.name,
        "crs": crs,
        "transform": place,
        "nodata": nodata,
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.open(path, "w", **profile | more) as file:
            file.write(bands)
            if "scale" in tags:
                file.scales, file.offsets = (tags["scale"],), (tags["offset"],)
            if "unit" in tags:
                file.units = (tags["unit"],)
    return path


def codes(read):
    return {notice.code for notice in read.notices}


def refused(path, settings=SETTINGS):
    """Return the one sentence by which a file is refused."""
    with pytest.raises(RefusedError, match=r"\S") as caught:
        read_ground([path] if isinstance(path, Path) else path, settings)
    assert len(caught.value.notices) == 1
    assert "\n" not in str(caught.value)
    return str(caught.value)


# What is read


def test_a_plain_raster_is_read_without_a_notice(tmp_path):
    read = read_ground([write(tmp_path / "ground.tif", slope())], SETTINGS)
    assert read.notices == ()
    assert read.grid.extent == (350_000.0, 299_976.0, 350_020.0, 300_000.0)
    assert read.grid.crs_name == "EPSG:27700"
    np.testing.assert_array_equal(read.grid.heights_m, slope())


def test_declared_no_data_and_nan_become_unknown(tmp_path):
    heights = slope()
    heights[0, 0], heights[5, 5] = -9999.0, np.nan
    read = read_ground([write(tmp_path / "ground.tif", heights)], SETTINGS)
    assert np.argwhere(np.isnan(read.grid.heights_m)).tolist() == [[0, 0], [5, 5]]


def test_a_mask_in_the_file_makes_cells_unknown(tmp_path):
    path = tmp_path / "ground.tif"
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True):
        write(path, slope(), nodata=None)
        with rasterio.open(path, "r+") as file:
            mask = np.ones((12, 10), bool)
            mask[2, 3] = False
            file.write_mask(mask)
    read = read_ground([path], SETTINGS)
    assert np.argwhere(np.isnan(read.grid.heights_m)).tolist() == [[2, 3]]


def test_whole_numbers_are_read_and_told(tmp_path):
    whole = slope().astype("i2")
    read = read_ground([write(tmp_path / "ground.tif", whole)], SETTINGS)
    assert codes(read) == {"heights_whole_numbers"}
    np.testing.assert_array_equal(read.grid.heights_m, whole)


def test_scale_and_offset_are_applied(tmp_path):
    stored = np.round((slope() - 50.0) * 100.0).astype("i4")
    path = write(tmp_path / "ground.tif", stored, scale=0.01, offset=50.0)
    read = read_ground([path], SETTINGS)
    np.testing.assert_allclose(read.grid.heights_m, slope(), atol=0.006)
    assert codes(read) == {"scale_applied"}


def test_a_south_up_raster_is_turned_round(tmp_path):
    place = Affine(2.0, 0.0, 350_000.0, 0.0, 2.0, 299_976.0)
    path = write(tmp_path / "ground.tif", slope()[::-1], place=place)
    read = read_ground([path], SETTINGS)
    assert read.grid.extent == (350_000.0, 299_976.0, 350_020.0, 300_000.0)
    np.testing.assert_array_equal(read.grid.heights_m, slope())


def test_an_ascii_grid_is_read_with_its_projection_file(tmp_path):
    path = tmp_path / "ground.asc"
    rows = [" ".join(f"{one:.3f}" for one in row) for row in slope()]
    head = "ncols 10\nnrows 12\nxllcorner 350000\nyllcorner 299976\ncellsize 2\n"
    path.write_text(head + "NODATA_value -9999\n" + "\n".join(rows))
    wkt = rasterio.crs.CRS.from_epsg(27700).to_wkt(version="WKT1_ESRI")
    path.with_suffix(".prj").write_text(wkt)
    read = read_ground([path], SETTINGS)
    np.testing.assert_allclose(read.grid.heights_m, slope(), atol=0.001)
    assert read.grid.extent == (350_000.0, 299_976.0, 350_020.0, 300_000.0)


def test_cells_that_are_not_square_are_resampled_to_the_finer_side(tmp_path):
    # A plane that rises by 1 m in each metre eastwards: bilinear keeps it exactly.
    east_m = (np.arange(40) + 0.5) * 2.0
    place = Affine(2.0, 0.0, 350_000.0, 0.0, -1.0, 300_000.0)
    path = write(tmp_path / "g.tif", np.tile(east_m, (30, 1)).astype("f4"), place=place)
    read = read_ground([path], SETTINGS)
    assert codes(read) == {"cells_not_square"}
    assert (read.grid.cell_size_m, read.grid.heights_m.shape) == (1.0, (30, 80))
    inner = read.grid.heights_m[:, 1:-1]
    np.testing.assert_allclose(inner, np.tile(np.arange(1, 79) + 0.5, (30, 1)))


def test_resampling_never_makes_a_number_of_an_unknown_cell(tmp_path):
    heights = slope(12, 12)
    heights[6, 6] = -9999.0
    place = Affine(2.1, 0.0, 350_000.0, 0.0, -2.0, 300_000.0)
    read = read_ground([write(tmp_path / "g.tif", heights, place=place)], SETTINGS)
    grid = read.grid
    row, column = grid.cell_at(350_000.0 + 6.5 * 2.1, 300_000.0 - 6.5 * 2.0)
    assert np.isnan(grid.heights_m[row, column])
    assert np.nanmin(grid.heights_m) >= 100.0


def test_a_raster_in_feet_is_turned_into_metres_in_plan_and_height(tmp_path):
    # EPSG:2225 is in US survey feet: 1200/3937 m (NIST SP 811, appendix B.6).
    foot_m = 1200 / 3937
    place = Affine(6.0, 0.0, 6_500_000.0, 0.0, -6.0, 2_100_000.0)
    path = write(tmp_path / "g.tif", slope(), place=place, crs="EPSG:2225", unit="ft")
    read = read_ground([path], GroundSettings(survey_date="2024"))
    assert codes(read) == {"plan_converted", "heights_converted"}
    assert read.grid.cell_size_m == pytest.approx(6.0 * foot_m, rel=1e-9)
    np.testing.assert_allclose(read.grid.heights_m, slope() * 0.3048, rtol=1e-6)
    # The metre system puts the corner where PROJ puts it in feet.
    in_feet = Transformer.from_crs(2225, 4269, always_xy=True)
    in_metres = Transformer.from_crs(read.grid.crs, 4269, always_xy=True)
    corner = in_metres.transform(read.grid.west_m, read.grid.north_m)
    assert corner == pytest.approx(in_feet.transform(6_500_000, 2_100_000), abs=1e-9)


def test_a_vertical_system_tells_the_unit_of_heights(tmp_path):
    # EPSG:6360 is NAVD88 height in US survey feet; EPSG:26915 is UTM in metres.
    path = write(
        tmp_path / "g.tif",
        slope(),
        place=Affine(2.0, 0.0, 429_000.0, 0.0, -2.0, 5_150_000.0),
        crs="EPSG:26915+6360",
    )
    read = read_ground([path], GroundSettings(survey_date="2024"))
    np.testing.assert_allclose(read.grid.heights_m, slope() * 1200 / 3937, rtol=1e-6)
    assert read.grid.crs_name == "EPSG:26915"


def test_the_setting_tells_the_unit_where_the_file_does_not(tmp_path):
    path = write(tmp_path / "ground.tif", slope())
    read = read_ground([path], GroundSettings(height_unit="foot", survey_date="2024"))
    np.testing.assert_allclose(read.grid.heights_m, slope() * 0.3048, rtol=1e-6)


def test_metres_are_assumed_aloud_where_the_plan_is_in_metres(tmp_path):
    read = read_ground([write(tmp_path / "g.tif", slope())], GroundSettings())
    assert codes(read) == {"height_unit_assumed", "no_survey_date"}


def test_no_declared_no_data_is_accepted_with_a_warning(tmp_path):
    path = write(tmp_path / "ground.tif", slope(), nodata=None)
    assert codes(read_ground([path], SETTINGS)) == {"no_data_undeclared"}


def test_zeros_far_below_all_else_are_suspected(tmp_path):
    heights = slope()
    heights[:3, :3] = 0.0
    path = write(tmp_path / "ground.tif", heights)
    assert codes(read_ground([path], SETTINGS)) == {"suspected_no_data"}


@pytest.mark.parametrize(
    "name", ["ground.tif.aux.xml", "ground.tfw", "ground.tif.ovr", "ground.tif.msk"]
)
def test_a_file_beside_the_raster_is_told_and_changes_nothing(tmp_path, name):
    path = write(tmp_path / "ground.tif", slope())
    metadata = (
        "<PAMDataset><GeoTransform>355000, 2, 0, 300000, 0, -2</GeoTransform>"
        "<PAMRasterBand band='1'><Scale>9</Scale></PAMRasterBand></PAMDataset>"
    )
    world = "2\n0\n0\n-2\n355001\n299999\n"
    (tmp_path / name).write_text(metadata if name.endswith("xml") else world)
    read = read_ground([path], SETTINGS)
    assert codes(read) == {"side_car_ignored"}
    assert read.grid.west_m == 350_000.0
    np.testing.assert_array_equal(read.grid.heights_m, slope())


def test_settings_of_the_ground_give_warnings(tmp_path):
    settings = GroundSettings(
        kind="surface", rebuilt_since_survey=True, height_unit="metre"
    )
    read = read_ground([write(tmp_path / "ground.tif", slope())], settings)
    assert codes(read) == {"surface_model", "rebuilt_since_survey", "no_survey_date"}


# What is refused


def test_a_missing_file_is_refused(tmp_path):
    assert "there is no file 'ground.tif'" in refused(tmp_path / "ground.tif")


def test_a_folder_is_refused(tmp_path):
    (tmp_path / "ground.tif").mkdir()
    assert "is a folder" in refused(tmp_path / "ground.tif")


@pytest.mark.parametrize(
    "name",
    ["/vsicurl/http://127.0.0.1:9/g.tif", "http://127.0.0.1:9/g.tif", "/vsizip/a.tif"],
)
def test_an_address_is_refused(name):
    assert "is no file on this machine" in refused(Path(name))


def test_an_empty_file_is_refused(tmp_path):
    (tmp_path / "ground.tif").touch()
    assert "is empty" in refused(tmp_path / "ground.tif")


def test_a_file_of_another_kind_is_refused(tmp_path):
    (tmp_path / "ground.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    assert "is of a kind that is not read" in refused(tmp_path / "ground.png")


def test_a_vrt_that_calls_itself_tif_is_refused(tmp_path):
    path = tmp_path / "ground.tif"
    path.write_text("<VRTDataset rasterXSize='1' rasterYSize='1'></VRTDataset>")
    assert "does not begin as a GeoTIFF" in refused(path)


@pytest.mark.parametrize("kept", [0.3, 0.6, 0.95])
@pytest.mark.parametrize("compress", ["deflate", "none"])
def test_a_truncated_raster_is_refused(tmp_path, kept, compress):
    path = write(tmp_path / "ground.tif", slope(200, 200), compress=compress)
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * kept)])
    sentence = refused(path)
    assert "damaged or cut short" in sentence
    assert str(tmp_path) not in sentence


def test_a_raster_without_any_height_is_refused(tmp_path):
    path = write(tmp_path / "ground.tif", np.full((5, 5), -9999.0, "f4"))
    assert "no height at all" in refused(path)


def test_degrees_are_refused_with_the_zone_to_use(tmp_path):
    # 3 degrees west, 52.5 north: UTM zone 30 reaches from 6 degrees west to 0.
    place = Affine(1e-5, 0.0, -3.0, 0.0, -1e-5, 52.5)
    path = write(tmp_path / "ground.tif", slope(), place=place, crs="EPSG:4326")
    assert "unit is the degree" in refused(path)
    assert "EPSG:32630" in refused(path)


def test_web_mercator_is_refused_because_its_metres_are_none(tmp_path):
    # Its scale is 1 / cos(latitude) on a sphere: about 1.64 at 52.5 degrees.
    place = Affine(2.0, 0.0, -334_000.0, 0.0, -2.0, 6_891_000.0)
    path = write(tmp_path / "ground.tif", slope(), place=place, crs="EPSG:3857")
    assert "are 64% off" in refused(path)


def test_a_raster_without_a_system_is_refused(tmp_path):
    path = write(tmp_path / "ground.tif", slope(), crs=None)
    assert "no coordinate reference system" in refused(path)


def test_a_raster_without_a_place_is_refused_although_a_world_file_has_one(tmp_path):
    path = write(tmp_path / "ground.tif", slope(), place=Affine.identity())
    (tmp_path / "ground.tfw").write_text("2\n0\n0\n-2\n350001\n299999\n")
    assert "says where it lies ('ground.tfw' beside it is not read)" in refused(path)


def test_an_undeclared_no_data_value_is_refused(tmp_path):
    heights = slope()
    heights[0, :2] = -9999.0
    path = write(tmp_path / "ground.tif", heights, nodata=None)
    assert "2 cells hold -9999" in refused(path)
    assert "none is declared" in refused(path)


@pytest.mark.parametrize("value", [32767.0, -32768.0, 3.4e38, np.inf])
def test_another_filler_than_the_declared_one_is_refused(tmp_path, value):
    heights = slope()
    heights[3, 3] = value
    assert "no height on Earth" in refused(write(tmp_path / "ground.tif", heights))


def test_two_bands_are_refused(tmp_path):
    path = write(tmp_path / "ground.tif", np.stack([slope(), slope()]))
    assert "2 bands" in refused(path)


def test_a_rotated_raster_is_refused(tmp_path):
    turned = Affine(1.97, 0.35, 350_000.0, 0.35, -1.97, 300_000.0)  # by 10 degrees
    path = write(tmp_path / "ground.tif", slope(), place=turned)
    assert "rotated" in refused(path)


def test_complex_numbers_are_refused(tmp_path):
    path = write(tmp_path / "ground.tif", slope().astype("c8"))
    assert "not heights" in refused(path)


def test_a_picture_is_refused(tmp_path):
    path = write(tmp_path / "ground.tif", slope().astype("u1"), nodata=None)
    with rasterio.open(path, "r+") as file:
        file.write_colormap(1, {1: (255, 0, 0, 255)})
    assert "it is a picture" in refused(path)


def test_heights_without_a_unit_on_a_plan_in_feet_are_refused(tmp_path):
    place = Affine(6.0, 0.0, 6_500_000.0, 0.0, -6.0, 2_100_000.0)
    path = write(tmp_path / "ground.tif", slope(), place=place, crs="EPSG:2225")
    assert "set [ground] height_unit" in refused(path, GroundSettings())


def test_file_and_setting_that_contradict_each_other_are_refused(tmp_path):
    path = write(tmp_path / "ground.tif", slope(), unit="ft")
    assert "told twice and differently" in refused(path)


def test_an_unknown_unit_of_heights_is_refused(tmp_path):
    path = write(tmp_path / "ground.tif", slope(), unit="fathom")
    assert "'fathom', which is not known" in refused(path)


def test_a_place_that_its_system_cannot_have_is_told(tmp_path):
    # A northing of a UTM zone said to be one of the British National Grid.
    place = Affine(2.0, 0.0, 530_000.0, 0.0, -2.0, 2_950_000.0)
    path = write(tmp_path / "ground.tif", slope(), place=place)
    assert codes(read_ground([path], SETTINGS)) == {"outside_area_of_use"}


def test_a_place_that_is_none_is_refused(tmp_path):
    place = Affine(2.0, 0.0, 5e9, 0.0, -2.0, 3e5)
    path = write(tmp_path / "ground.tif", slope(), place=place)
    assert "is no place in" in refused(path)


def test_too_many_cells_are_refused_before_they_are_read(tmp_path):
    path = tmp_path / "ground.tif"
    size = {"width": 30_000, "height": 30_000, "count": 1, "dtype": "float32"}
    more = {"crs": "EPSG:27700", "transform": PLACE, "nodata": -9999.0}
    rasterio.open(path, "w", driver="GTiff", sparse_ok=True, **size, **more).close()
    assert "900,000,000 cells" in refused(path)


def test_every_file_that_is_wrong_is_named(tmp_path):
    paths = [
        write(tmp_path / "a.tif", slope(), crs=None),
        write(tmp_path / "b.tif", np.stack([slope(), slope()])),
    ]
    with pytest.raises(RefusedError, match=r"a\.tif: .*\nb\.tif: ") as caught:
        read_ground(paths, SETTINGS)
    assert [one.code for one in caught.value.notices] == [
        "crs_refused",
        "ground_refused",
    ]


# Tiles


def rough_ground(rows, columns):
    """A slope with 1 cm of noise, as lidar of a yard has."""
    noise = np.random.default_rng(7).normal(0.0, 0.01, (rows, columns))
    north, east = np.mgrid[:rows, :columns]
    return (80.0 + 0.03 * east - 0.02 * north + noise).astype("f4")


def write_tiles(folder, ground, *, step_m=0.0, overlap=0, shift_m=0.0):
    """Cut the ground at column 40, the east part raised by a step."""
    east = Affine(2.0, 0.0, 350_000.0 + 2.0 * (40 - overlap) + shift_m, 0, -2.0, 3e5)
    return [
        write(folder / "west.tif", ground[:, :40]),
        write(
            folder / "east.tif",
            ground[:, 40 - overlap :] + np.float32(step_m),
            place=east,
        ),
    ]


@pytest.mark.parametrize("order", [1, -1])
def test_adjoining_tiles_are_one_ground(tmp_path, order):
    ground = rough_ground(60, 80)
    read = read_ground(write_tiles(tmp_path, ground)[::order], SETTINGS)
    assert read.notices == ()
    np.testing.assert_array_equal(read.grid.heights_m, ground)


@pytest.mark.parametrize("step_m", [0.03, -0.03, 0.2])
def test_a_step_at_a_seam_is_told_with_its_height(tmp_path, step_m):
    tiles = write_tiles(tmp_path, rough_ground(60, 80), step_m=step_m)
    (notice,) = read_ground(tiles, SETTINGS).notices
    assert notice.code == "seam_step"
    told_cm = float(notice.text.split("steps by ")[1].split(" cm")[0])
    assert told_cm == pytest.approx(100.0 * step_m, abs=0.7)
    assert notice.where == "west.tif, east.tif"


def test_a_step_at_a_seam_between_north_and_south_is_told(tmp_path):
    ground = rough_ground(80, 60)
    ground[40:] += 0.05
    south = Affine(2.0, 0.0, 350_000.0, 0.0, -2.0, 300_000.0 - 80.0)
    paths = [
        write(tmp_path / "north.tif", ground[:40]),
        write(tmp_path / "south.tif", ground[40:], place=south),
    ]
    assert codes(read_ground(paths, SETTINGS)) == {"seam_step"}


def test_a_real_bank_along_a_seam_and_elsewhere_is_no_step(tmp_path):
    ground = rough_ground(60, 80)
    ground += (np.arange(80) // 2 % 2 * 0.1).astype("f4")  # ridge and furrow
    tiles = write_tiles(tmp_path, ground)
    assert codes(read_ground(tiles, SETTINGS)) == set()


def test_a_gap_between_tiles_stays_unknown_and_is_told(tmp_path):
    paths = write_tiles(tmp_path, rough_ground(60, 80), shift_m=20.0)
    read = read_ground(paths, SETTINGS)
    assert codes(read) == {"gap_between_tiles"}
    assert np.isnan(read.grid.heights_m[:, 40:50]).all()
    assert np.isfinite(read.grid.heights_m[:, 50:]).all()


def test_overlaps_that_agree_are_silent_and_those_that_do_not_are_told(tmp_path):
    ground = rough_ground(60, 80)
    assert read_ground(write_tiles(tmp_path, ground, overlap=5), SETTINGS).notices == ()
    tiles = write_tiles(tmp_path, ground, overlap=5, step_m=0.1)
    assert "overlap_differs" in codes(read_ground(tiles, SETTINGS))


def test_overlaps_of_two_surveys_are_refused(tmp_path):
    tiles = write_tiles(tmp_path, rough_ground(60, 80), overlap=5, step_m=0.8)
    assert "0.80 m on average" in refused(tiles)


def test_tiles_whose_cells_miss_each_other_are_refused(tmp_path):
    tiles = write_tiles(tmp_path, rough_ground(60, 80), shift_m=0.5)
    assert "0.25 of a cell" in refused(tiles)


def test_tiles_in_two_systems_are_refused(tmp_path):
    west = write(tmp_path / "west.tif", slope())
    east = write(tmp_path / "east.tif", slope(), crs="EPSG:32630")
    assert "different systems" in refused([west, east])


def test_tiles_of_different_cells_are_refused(tmp_path):
    west = write(tmp_path / "west.tif", slope())
    place = Affine(1.0, 0.0, 350_020.0, 0.0, -1.0, 300_000.0)
    east = write(tmp_path / "east.tif", slope(), place=place)
    assert "different size" in refused([west, east])


# The door to GDAL


def test_gdal_keeps_our_drivers_only():
    with rasterio.Env() as environment:
        assert set(environment.drivers()) <= RASTER_DRIVERS
    assert set(pyogrio.list_drivers()) <= VECTOR_DRIVERS


def test_warping_arrays_still_works():
    from rasterio.warp import reproject

    target = np.zeros((12, 10), "f4")
    same = {"src_crs": "EPSG:27700", "dst_crs": "EPSG:27700"}
    reproject(slope(), target, src_transform=PLACE, dst_transform=PLACE, **same)
    np.testing.assert_allclose(target, slope())


OPEN_HOSTILE_FILES = """
import pyogrio, rasterio, sys
for path in sys.argv[1:]:
    try:
        if path.endswith(".tif"):
            with rasterio.open(path, driver="GTiff") as file:
                file.overviews(1)
        else:
            pyogrio.read_info(path)
    except (rasterio.errors.RasterioError, pyogrio.errors.DataSourceError):
        pass
"""


@pytest.fixture
def listener():
    """A web server that has nothing, and the list of what it was asked for."""
    asked = []

    class Nothing(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_error(404)

        do_HEAD = do_GET  # noqa: N815 - names that the standard library asks for

        def log_message(self, *words):
            pass

    with http.server.HTTPServer(("127.0.0.1", 0), Nothing) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}", asked
        server.shutdown()
        thread.join()


@pytest.mark.parametrize("before", ["import pathways.io._gdal", ""])
def test_files_that_name_an_address_call_it_only_without_our_door(
    tmp_path, listener, before
):
    address, asked = listener
    path = write(tmp_path / "ground.tif", slope())
    (tmp_path / "ground.tif.ovr").write_text(
        "<VRTDataset rasterXSize='5' rasterYSize='6'><VRTRasterBand band='1' "
        "dataType='Float32'><SimpleSource><SourceFilename>"
        f"/vsicurl/{address}/a.tif</SourceFilename></SimpleSource></VRTRasterBand>"
        "</VRTDataset>"
    )
    link = {"type": "link", "properties": {"href": f"{address}/b", "type": "ogcwkt"}}
    drawing = tmp_path / "sources.geojson"
    drawing.write_text(
        json.dumps({"type": "FeatureCollection", "crs": link, "features": []})
    )
    plain = {
        name: value
        for name, value in os.environ.items()
        if name not in GDAL_SETTINGS and not name.lower().endswith("_proxy")
    }
    script = before + OPEN_HOSTILE_FILES
    command = [sys.executable, "-c", script, path, drawing]
    subprocess.run(command, env=plain, check=True)
    # Plain GDAL calls both (and lists the folder), which shows that the listener hears.
    assert set(asked) == (set() if before else {"/", "/a.tif", "/b"})


def test_a_name_with_script_is_only_a_name(tmp_path):
    path = tmp_path / "${x}'\"<script>.tif"
    write(path, slope(), nodata=None)
    (notice,) = read_ground([path], SETTINGS).notices
    assert notice.where == path.name
    assert json.loads(json.dumps(notice.where)) == path.name


@pytest.mark.parametrize("seed", range(4))
def test_a_damaged_file_is_read_or_refused_and_nothing_else(tmp_path, seed):
    path = write(tmp_path / "ground.tif", slope(60, 60), compress="deflate")
    random = np.random.default_rng(seed)
    good = np.frombuffer(path.read_bytes(), "u1")
    refusals = []
    for most in [600, good.size] * 20:
        bad = good.copy()
        bad[random.integers(0, most, 5)] = random.integers(0, 256, 5)
        path.write_bytes(bad.tobytes())
        try:
            read_ground([path], SETTINGS)
        except RefusedError as error:
            refusals.append(str(error))
    assert refusals
    assert not any(str(tmp_path) in one for one in refusals)
