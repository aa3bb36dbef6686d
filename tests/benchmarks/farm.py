"""A farm from its folder to its assessment: cold, warm, and on one thread or two."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import rasterio
from ground import lidar_like, river_columns
from measure import alone
from rasterio.transform import from_origin
from shapely import LineString, Point

DEMO = Path(__file__).parents[2] / "data-samples" / "demo-farm"
#: In open sea, as the demo farm is.
CRS, WEST_M, NORTH_M = "EPSG:27700", 30_000.0, 26_000.0
SETTINGS = """\
[farm]
id = "large-farm"

[ground]
kind = "bare_earth"
vertical_datum = "invented"

[features]
path = "features.gpkg"

[rules]
jurisdiction = "england"
"""

_ASSESS = """
import json, sys, time
from functools import partial
from measure import peak_kib
import pathways.assessment as assessment
import pathways.terrain.chance as chance
from pathways.run import run
most = int(sys.argv[2])
if most:  # so many versions in each of the two scenarios, known well enough or not
    chance.WANTED_HALF_WIDTH = 0.0
    assessment.arrivals = partial(assessment.arrivals, most=most)
from pathlib import Path
spent = []
for _ in range(3):
    cpu, wall = time.process_time(), time.perf_counter()
    found = run(Path(sys.argv[1])).assessment
    spent.append((time.process_time() - cpu, time.perf_counter() - wall))
versions = sum(
    arrival.reaches_water.runs for way in found.pathways for arrival in way.arrivals
)
print(json.dumps(dict(
    first=spent[0], again=min(spent[1:], key=lambda one: one[1]), traced=versions,
    sources=len(found.pathways), peak_mb=peak_kib() / 1024)))
"""
_COMMAND = """
import json, resource, subprocess, sys, time
wall = time.perf_counter()
subprocess.run(
    [sys.executable, "-m", "pathways_cli", *sys.argv[1:]], check=True,
    stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
wall = time.perf_counter() - wall
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps(dict(wall=wall, cpu=used.ru_utime + used.ru_stime)))
"""
_THREADS = """
import json, sys, time
from pathlib import Path
import numpy as np
from pathways.farm import Tables
from pathways.io.farms import read_farm
from pathways.io.tables import read_assumed, read_elevation_errors
from pathways.terrain.chance import arrivals
from pathways.terrain.landscape import Terrain
from pathways.terrain.versions import Versions
from measure import spin_gain
farm = read_farm(Path(sys.argv[1])).farm
assumed = read_assumed()
terrain = Terrain(farm.grid, farm.features, assumed)
scenario = read_elevation_errors()[farm.settings.ground.survey][-1]
places = [one.geometry for one in farm.features.sources]
def spent(threads):
    versions = Versions(terrain, scenario, "large-farm", 0.05)
    began = time.perf_counter()
    arrivals(versions, places, [None] * len(places), threads=threads, most=400)
    return time.perf_counter() - began
spent(1)
times = {1: [], 2: []}
spins = []
for _ in range(5):
    for threads in times:
        times[threads].append(spent(threads))
    spins.append(spin_gain())
print(json.dumps(dict(one=float(np.median(times[1])), two=float(np.median(times[2])),
    spin=float(np.median(spins)))))
"""


def write_large_farm(folder: Path, size: int = 1000) -> None:
    """Write a farm of 1 km2 at 1 m with five sources and a river."""
    heights = lidar_like(size)
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        width=size,
        height=size,
        count=1,
        dtype="float32",
        crs=CRS,
        transform=from_origin(WEST_M, NORTH_M, 1.0, 1.0),
        nodata=-9999.0,
    ) as file:
        file.write(heights, 1)
        file.set_band_unit(1, "metre")
    rows = np.arange(0, size, 5)
    river = [
        (WEST_M + column + 0.5, NORTH_M - row - 0.5)
        for row, column in zip(rows, river_columns(size)[rows], strict=True)
    ]
    rng = np.random.default_rng(5)
    places = []
    for row in np.linspace(200, size - 200, 5).astype(int):
        away = rng.choice([-1, 1]) * rng.uniform(60, 250)
        places.append(
            Point(WEST_M + river_columns(size)[row] + away, NORTH_M - row - 0.5)
        )
    layers = {
        "sources": {
            "id": [f"S{one + 1}" for one in range(5)],
            "kind": "filling_point",
            "geometry": places,
        },
        "watercourses": {
            "id": ["W1"],
            "kind": "stream",
            "drawn_at": "centre",
            "half_width_m": 2.0,
            "geometry": [LineString(river)],
        },
    }
    for layer, columns in layers.items():
        geopandas.GeoDataFrame(columns, crs=CRS).to_file(
            folder / "features.gpkg", layer=layer, driver="GPKG"
        )
    (folder / "farm.toml").write_text(SETTINGS, encoding="utf-8")


def measured() -> dict[str, dict[str, Any]]:
    """Return what assessing takes, on the demo farm and on the large one."""
    found: dict[str, dict[str, Any]] = {}
    with tempfile.TemporaryDirectory() as name:
        large = Path(name)
        write_large_farm(large)
        with tempfile.TemporaryDirectory() as cache:
            found["demo, cold"] = alone(_ASSESS, str(DEMO), "0", cache=cache)
            found["demo, warm"] = alone(_ASSESS, str(DEMO), "0", cache=cache)
        found["large"] = alone(_ASSESS, str(large), "0")
        found["large, 2 x 400 versions"] = alone(_ASSESS, str(large), "400")
        for verb in (("--help",), ("trace", str(DEMO))):
            alone(_COMMAND, *verb)
            runs = [alone(_COMMAND, *verb) for _ in range(3)]
            found[f"pathways {verb[0]}"] = sorted(runs, key=lambda one: one["wall"])[1]
        found["threads"] = alone(_THREADS, str(large))
    return found
