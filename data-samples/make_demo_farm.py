"""Write the invented demo farm: ground.tif, features.gpkg and farm.toml.

Run it from the repository, where the package `pathways` can be imported::

    python data-samples/make_demo_farm.py

It overwrites `data-samples/demo-farm`. The same seed gives the same heights and the
same drawing each time.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any, Final

import demo_plan as plan
import geopandas
import numpy as np
import pandas as pd
import pyogrio
import rasterio
from demo_drawing import drawing
from demo_ground import surveyed, true_ground
from numpy.typing import NDArray
from rasterio.transform import from_origin

from pathways.features import Feature, fields_of

FARM: Final = Path(__file__).parent / "demo-farm"
NO_DATA: Final = -9999.0

#: The GeoPackage bears this date, so that the same drawing gives the same bytes.
WRITTEN_ON: Final = "2025-02-14T00:00:00Z"

SETTINGS: Final = """\
# Gannet Hollow Farm is invented: its place is open sea, its ground and its people's
# doings are made by data-samples/make_demo_farm.py. So are its sprayer, its washings
# and its weather.

[farm]
id = "gannet-hollow"
name = "Gannet Hollow Farm"

[ground]
files = ["ground.tif"]
kind = "bare_earth"
survey_date = "2023-02-14"
vertical_datum = "invented"

[features]
path = "features.gpkg"
none_here = ["spz1", "spz2", "safeguard_zone", "habitat", "services", "other"]

[rules]
jurisdiction = "england"

[sprayer]
tank_l = 4000
length_m = 7.4
width_m = 2.9
axle_load_t = 8.5

[washings]
times = [0, 1, 4, 6, 6, 4, 2, 0, 4, 6, 3, 0]
each_l = 350

[soil]
texture = "clay_loam"

[climate]
design_storm_mm = 30
design_intensity_mm_per_h = 40
rain_mm = [78, 58, 56, 52, 55, 60, 58, 64, 66, 84, 88, 86]
evaporation_mm = [16, 22, 42, 62, 84, 92, 96, 82, 54, 32, 18, 13]
"""


def write_ground(path: Path, heights_m: NDArray[np.float32]) -> None:
    """Write heights as a GeoTIFF that names its 'no data' value."""
    rows, columns = heights_m.shape
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=columns,
        height=rows,
        count=1,
        dtype="float32",
        crs=plan.CRS,
        transform=from_origin(
            plan.WEST_M,
            plan.SOUTH_M + plan.HEIGHT_M,
            plan.CELL_SIZE_M,
            plan.CELL_SIZE_M,
        ),
        nodata=NO_DATA,
        tiled=True,
        blockxsize=512,
        blockysize=512,
        compress="deflate",
        predictor=3,
        zlevel=9,
    ) as file:
        file.write(np.where(np.isnan(heights_m), NO_DATA, heights_m), 1)
        file.set_band_unit(1, "metre")


def _column(features: tuple[Feature, ...], name: str, kind: str) -> pd.Series[Any]:
    values = [getattr(one, name) for one in features]
    if kind.startswith("float"):
        return pd.Series(values, dtype="float64")
    return pd.Series(values, dtype="bool" if kind == "bool" else "object")


def write_features(path: Path, layers: dict[str, tuple[Feature, ...]]) -> None:
    """Write each layer with all its fields into one GeoPackage."""
    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": WRITTEN_ON})
    for layer, features in layers.items():
        columns = {
            field.name: _column(features, field.name, str(field.type))
            for field in fields_of(layer)
        }
        frame = geopandas.GeoDataFrame(
            columns, geometry=[one.geometry for one in features], crs=plan.CRS
        )
        frame.to_file(path, layer=layer, driver="GPKG", SPATIAL_INDEX="NO")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def main(folder: Path = FARM) -> None:
    """Write the farm into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    ground = true_ground()
    write_ground(folder / "ground.tif", surveyed(ground))
    write_features(folder / "features.gpkg", drawing(ground))
    (folder / "farm.toml").write_text(SETTINGS, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FARM)
