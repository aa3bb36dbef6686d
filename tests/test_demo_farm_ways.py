"""The demo farm's liquids go where its story says, by an independent routing.

pyflwdir routes them (Wang and Liu 2006, doi:10.1080/13658810500433453) over the
committed ground and over the same ground under other draws of the survey's noise, with
all water, gullies and the survey's edge as outlets. Kerbs, wall and closed buildings
are raised.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import geopandas
import numpy as np
import pyflwdir
import pytest
import rasterio
from numpy.typing import NDArray
from rasterio.features import rasterize
from shapely import Geometry, LineString, Point

SAMPLES = Path(__file__).parents[1] / "data-samples"
FARM = SAMPLES / "demo-farm"

#: Other draws of the survey's noise, for which the story must be the same.
OTHER_SEEDS = (1, 2)

#: Assumed half width of a ditch [m]: the data contract's.
DITCH_HALF_WIDTH_M = 0.75


def layer_of(name: str) -> geopandas.GeoDataFrame:
    return geopandas.read_file(FARM / "features.gpkg", layer=name)


def place(layer: str, key: str) -> Geometry:
    return layer_of(layer).set_index("id").geometry[key]


def committed_heights() -> NDArray[np.float64]:
    with rasterio.open(FARM / "ground.tif") as file:
        return file.read(1, masked=True).astype(float).filled(np.nan)


@pytest.fixture(scope="module")
def ground_script() -> Iterator[ModuleType]:
    """The script imports its neighbours as when it is run by hand."""
    sys.path.insert(0, str(SAMPLES))
    try:
        yield importlib.import_module("demo_ground")
    finally:
        sys.path.remove(str(SAMPLES))


def cells_of(places: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    with rasterio.open(FARM / "ground.tif") as file:
        west_m, north_m, size_m = file.bounds.left, file.bounds.top, file.res[0]
    rows = np.floor((north_m - places[:, 1]) / size_m)
    columns = np.floor((places[:, 0] - west_m) / size_m)
    return rows.astype(np.intp), columns.astype(np.intp)


NO_DATA = -9999.0

#: Steps of pyflwdir's D8 codes, rows down and columns right.
STEPS = {
    1: (0, 1), 2: (1, 1), 4: (1, 0), 8: (1, -1),
    16: (0, -1), 32: (-1, -1), 64: (-1, 0), 128: (-1, 1),
}  # fmt: skip


def burnt(*shapes: Geometry) -> NDArray[np.bool_]:
    with rasterio.open(FARM / "ground.tif") as file:
        marks = rasterize(
            [(shape, 1) for shape in shapes],
            out_shape=file.shape,
            transform=file.transform,
            all_touched=True,
        )
    return marks.astype(bool)


def outlets(heights: NDArray[np.float64]) -> dict[str, NDArray[np.bool_]]:
    """Cells in which a path ends, by what takes it."""
    water = layer_of("watercourses")
    open_water = water[~water["culverted"]]
    half_m = open_water["half_width_m"].fillna(DITCH_HALF_WIDTH_M)
    found = {
        key: burnt(shape)
        for shapes in (
            layer_of("inlets"),
            open_water.set_geometry(open_water.buffer(half_m)),
        )
        for key, shape in zip(shapes["id"], shapes.geometry, strict=True)
    }
    edge = np.pad(np.isnan(heights), 1, constant_values=True)
    beside = [
        np.roll(edge, step, axis=(0, 1))[1:-1, 1:-1] for step in (*STEPS.values(),)
    ]
    return {**found, "edge": np.any(beside, axis=0) & ~np.isnan(heights)}


def walled(heights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Raise the ground by kerbs and the wall, and far more by closed buildings."""
    gate = place("access", "A1").buffer(2.0)
    raised = heights.copy()
    for barrier in layer_of("barriers").itertuples():
        line = barrier.geometry
        closed = line.difference(gate) if barrier.kind == "wall" else line
        raised[burnt(closed)] += barrier.height_m
    buildings = layer_of("buildings")
    raised[burnt(*buildings.geometry[buildings["kind"] == "closed"])] += 20.0
    return raised


class Witness:
    """Ways over the ground by pyflwdir's flow directions."""

    def __init__(self, heights: NDArray[np.float64]) -> None:
        self.ends = outlets(heights)
        self.d8 = pyflwdir.dem.fill_depressions(
            np.nan_to_num(walled(heights), nan=NO_DATA).astype(np.float32),
            nodata=NO_DATA,
            idxs_pit=np.flatnonzero(np.any(list(self.ends.values()), axis=0)),
        )[1]

    def way(self, start: Point) -> tuple[str, LineString]:
        """Return what takes the liquid, and its way from cell to cell."""
        rows, columns = cells_of(np.array(start.coords))
        row, column = int(rows[0]), int(columns[0])
        places = [(start.x, start.y)]
        with rasterio.open(FARM / "ground.tif") as file:
            for _ in range(self.d8.size):
                places.append(file.xy(row, column))
                for key, cells in self.ends.items():
                    if cells[row, column]:
                        return key, LineString(places)
                down, right = STEPS[int(self.d8[row, column])]
                row, column = row + down, column + right
        pytest.fail("the witness's flow directions run in a circle")


@pytest.fixture(scope="module")
def true_ground(ground_script: ModuleType) -> NDArray[np.float64]:
    return ground_script.true_ground()


@pytest.fixture(scope="module", params=["committed", *OTHER_SEEDS])
def witness(request: pytest.FixtureRequest) -> Witness:
    if request.param == "committed":
        return Witness(committed_heights())
    script = request.getfixturevalue("ground_script")
    ground = request.getfixturevalue("true_ground")
    return Witness(script.surveyed(ground, request.param).astype(float))


def test_the_filling_point_that_looks_safe_runs_into_the_gully(
    witness: Witness,
) -> None:
    taken_by, _ = witness.way(place("sources", "F1"))
    assert taken_by == "G1"


def test_the_filling_place_that_looks_dangerous_runs_into_the_apron_drain(
    witness: Witness,
) -> None:
    taken_by, _ = witness.way(place("sources", "F2"))
    assert taken_by == "CD1"


def test_the_store_runs_from_its_door_into_the_gully_of_unknown_outlet(
    witness: Witness,
) -> None:
    door, gully = place("access", "AD1"), place("inlets", "G2")
    outside = LineString([door, gully]).interpolate(1.0)
    taken_by, _ = witness.way(outside)
    assert taken_by == "G2"


def test_the_washdown_misses_the_gully_beside_it(witness: Witness) -> None:
    _, way = witness.way(place("sources", "W1"))
    assert 2.0 < way.distance(place("inlets", "G2")) < 4.0


def test_the_washdown_runs_over_the_kerb_drop_to_the_stream(witness: Witness) -> None:
    taken_by, way = witness.way(place("sources", "W1"))
    assert taken_by == "ST1"
    assert way.distance(place("spot_levels", "L2")) < 1.5


def test_the_diesel_tank_drains_to_the_stream(witness: Witness) -> None:
    corners = place("sources", "D1").exterior.coords[:-1]
    taken_by = {witness.way(Point(corner))[0] for corner in corners}
    assert taken_by == {"ST1"}


def test_the_good_site_drains_long_over_grass(witness: Witness) -> None:
    taken_by, way = witness.way(place("candidates", "C1").centroid)
    surfaces = layer_of("surfaces")
    grass = surfaces[surfaces["kind"].str.endswith("grass")].union_all()
    assert taken_by == "ST1"
    assert way.intersection(grass).length > 100.0
