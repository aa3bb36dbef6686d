"""The demo farm is what its script makes; its drawing and its ground agree."""

from __future__ import annotations

import importlib
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import geopandas
import numpy as np
import pyflwdir
import pytest
import rasterio
import shapely
from numpy.typing import NDArray
from pyproj import Geod, Transformer
from shapely import Geometry, Point

from pathways.features import LAYERS, fields_of
from pathways.settings import Settings

SAMPLES = Path(__file__).parents[1] / "data-samples"
FARM = SAMPLES / "demo-farm"

#: Assumed half width of a ditch [m]: the data contract's.
DITCH_HALF_WIDTH_M = 0.75


def layer_of(name: str, folder: Path = FARM) -> geopandas.GeoDataFrame:
    return geopandas.read_file(folder / "features.gpkg", layer=name)


def place(layer: str, key: str) -> Geometry:
    return layer_of(layer).set_index("id").geometry[key]


def heights_in(folder: Path) -> NDArray[np.float64]:
    with rasterio.open(folder / "ground.tif") as file:
        return file.read(1, masked=True).astype(float).filled(np.nan)


@pytest.fixture(scope="module")
def script() -> Iterator[ModuleType]:
    """The script imports its neighbours, as when it is run by hand."""
    sys.path.insert(0, str(SAMPLES))
    try:
        yield importlib.import_module("make_demo_farm")
    finally:
        sys.path.remove(str(SAMPLES))


@pytest.fixture(scope="module")
def remade(script: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo-farm")
    script.main(folder)
    return folder


# The committed files


def test_committed_heights_are_those_the_script_makes(remade: Path) -> None:
    np.testing.assert_array_equal(heights_in(FARM), heights_in(remade))


def test_committed_ground_lies_where_the_script_puts_it(remade: Path) -> None:
    with (
        rasterio.open(FARM / "ground.tif") as committed,
        rasterio.open(remade / "ground.tif") as made,
    ):
        assert committed.profile == made.profile


@pytest.mark.parametrize("name", LAYERS)
def test_committed_layer_is_the_one_the_script_makes(name: str, remade: Path) -> None:
    committed, made = layer_of(name), layer_of(name, remade)
    # Versions of GEOS may begin a ring elsewhere: compare the shapes, to 2 cm.
    apart_m = committed.hausdorff_distance(made, align=False)
    assert committed.drop(columns="geometry").equals(made.drop(columns="geometry"))
    assert apart_m.max() < 0.02


def test_committed_settings_are_those_the_script_writes(remade: Path) -> None:
    committed, made = ((at / "farm.toml").read_bytes() for at in (FARM, remade))
    assert committed == made


def test_settings_are_accepted() -> None:
    read = tomllib.loads((FARM / "farm.toml").read_text(encoding="utf-8"))
    assert Settings.model_validate(read).rules.jurisdiction == "england"


def test_the_farm_is_small_enough_to_ship() -> None:
    assert sum(file.stat().st_size for file in FARM.iterdir()) < 2_000_000


def test_no_data_is_declared_and_present() -> None:
    with rasterio.open(FARM / "ground.tif") as file:
        unknown = file.read(1) == file.nodata
    assert 0 < unknown.sum() < 0.01 * unknown.size


def test_the_farm_lies_in_open_sea() -> None:
    # Bishop Rock, the westernmost of the Isles of Scilly: from memory.
    rock = (-6.4456, 49.8729)
    with rasterio.open(FARM / "ground.tif") as file:
        east, north = file.bounds.right, file.bounds.bottom
    to_degrees = Transformer.from_crs("EPSG:27700", "EPSG:4326", always_xy=True)
    away_m = Geod(ellps="WGS84").inv(*rock, *to_degrees.transform(east, north))[2]
    assert away_m > 40_000


# The drawing


@pytest.mark.parametrize("name", LAYERS)
def test_layer_has_all_its_fields(name: str) -> None:
    assert {field.name for field in fields_of(name)} < set(layer_of(name).columns)


@pytest.mark.parametrize("name", LAYERS)
def test_layer_uses_only_listed_words(name: str) -> None:
    drawn = layer_of(name)
    strange = [
        (field.name, word)
        for field in fields_of(name)
        if field.metadata["choices"]
        for word in drawn[field.name]
        if word not in field.metadata["choices"]
    ]
    assert strange == []


@pytest.mark.parametrize("name", LAYERS)
def test_ids_are_given_and_used_once(name: str) -> None:
    ids = layer_of(name)["id"]
    assert ids.is_unique
    assert all(ids)


@pytest.mark.parametrize("name", LAYERS)
def test_geometries_are_valid_and_of_the_layers_kind(name: str) -> None:
    drawn = layer_of(name)
    assert drawn.is_valid.all()
    assert set(drawn.geom_type) <= set(LAYERS[name].geometries)


@pytest.mark.parametrize("name", LAYERS)
def test_everything_lies_on_the_grid(name: str) -> None:
    with rasterio.open(FARM / "ground.tif") as file:
        grid = shapely.box(*file.bounds)
    assert layer_of(name).within(grid.buffer(0.01)).all()


def test_every_inlet_drains_to_something_drawn_or_unknown() -> None:
    drawn = {*layer_of("pipes")["id"], *layer_of("tanks")["id"], "unknown"}
    assert set(layer_of("inlets")["drains_to"]) <= drawn


def test_the_stores_door_is_drawn_on_the_stores_wall() -> None:
    door = place("access", layer_of("sources").set_index("id")["door"]["S1"])
    store = layer_of("buildings")
    wall = store[store.contains(place("sources", "S1"))].geometry.iloc[0].boundary
    assert door.distance(wall) < 0.05


def test_surfaces_do_not_overlap() -> None:
    covers = layer_of("surfaces").geometry
    assert covers.area.sum() == pytest.approx(covers.union_all().area, abs=5.0)


@pytest.mark.parametrize(
    ("pipe", "water"), [("P1", "DT3"), ("CU1", "DT3"), ("LD1", "ST1")]
)
def test_pipe_ends_in_water(pipe: str, water: str) -> None:
    end = Point(place("pipes", pipe).coords[-1])
    assert end.distance(place("watercourses", water)) < 0.05


# The ground


@pytest.fixture(scope="module")
def heights() -> NDArray[np.float64]:
    return heights_in(FARM)


def cells_of(places: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    with rasterio.open(FARM / "ground.tif") as file:
        west_m, north_m, size_m = file.bounds.left, file.bounds.top, file.res[0]
    rows = np.floor((north_m - places[:, 1]) / size_m)
    columns = np.floor((places[:, 0] - west_m) / size_m)
    return rows.astype(np.intp), columns.astype(np.intp)


def test_spot_levels_agree_with_the_ground(heights: NDArray[np.float64]) -> None:
    levels = layer_of("spot_levels")
    on_grid = heights[cells_of(levels.geometry.get_coordinates().to_numpy())]
    np.testing.assert_allclose(on_grid, levels["level_m"], atol=0.08)


def test_the_flow_that_was_seen_runs_downhill(heights: NDArray[np.float64]) -> None:
    seen = np.array(place("observations", "O1").coords)
    assert (np.diff(heights[cells_of(seen)]) < 0).all()


def test_the_yard_drain_falls_to_the_ditch(heights: NDArray[np.float64]) -> None:
    ends = np.array(place("pipes", "P1").coords)[[0, -1]]
    gully, outfall = heights[cells_of(ends)]
    assert outfall < gully - 1.0


def test_ground_at_the_old_filling_place_rises_to_the_ditch(
    heights: NDArray[np.float64],
) -> None:
    here = place("sources", "F2")
    ditch = place("watercourses", "DT1")
    towards = shapely.shortest_line(here, ditch)
    crest = shapely.get_coordinates(towards.interpolate(np.arange(0.0, 8.0, 0.5)))
    profile = heights[cells_of(crest)]
    assert profile.max() > profile[0] + 0.08


def test_water_stands_where_it_was_seen(heights: NDArray[np.float64]) -> None:
    filled, _ = pyflwdir.dem.fill_depressions(
        np.nan_to_num(heights, nan=-9999.0).astype(np.float32), nodata=-9999.0
    )
    pond = np.array(place("observations", "O2").coords)
    depth_m = filled[cells_of(pond)] - heights[cells_of(pond)]
    assert depth_m > 0.15


def to_water_m(at: Geometry) -> float:
    water = layer_of("watercourses")
    half_m = water["half_width_m"].fillna(DITCH_HALF_WIDTH_M)
    return float((water.distance(at) - half_m).min())


@pytest.mark.parametrize(
    ("layer", "key", "least_m", "most_m"),
    [
        ("sources", "F1", 70.0, 150.0),  # looks safe
        ("sources", "F2", 5.0, 12.0),  # looks dangerous
        ("candidates", "C1", 60.0, 150.0),
        ("candidates", "C2", 7.9, 8.1),
    ],
)
def test_straight_line_to_water(
    layer: str, key: str, least_m: float, most_m: float
) -> None:
    assert least_m < to_water_m(place(layer, key)) < most_m


def test_the_third_site_is_near_the_borehole() -> None:
    assert place("candidates", "C3").distance(place("water_supplies", "BH1")) < 20.0


def test_the_sites_in_mind_lie_in_the_search_area() -> None:
    area = layer_of("search_area").union_all()
    assert layer_of("candidates").within(area).all()


def test_the_washdown_is_four_metres_from_the_gully() -> None:
    away_m = place("sources", "W1").distance(place("inlets", "G2"))
    assert away_m == pytest.approx(4.0, abs=0.1)
