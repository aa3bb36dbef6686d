"""Real LiDAR ground and its streams, for the tests beside this file.

Data: tests/external/data/slovenia_north_1m (origin and licence there).
"""

from __future__ import annotations

import json
from pathlib import Path

import geopandas
import numpy as np
import rasterio

from pathways.features import Watercourse
from pathways.grid import Grid

DATA = Path(__file__).parent / "data" / "slovenia_north_1m"
STARTS = json.loads((DATA / "slovenia_north_1m_reference.json").read_text())["starts"]


def ground():
    with rasterio.open(DATA / "slovenia_north_1m.tif") as source:
        heights = source.read(1, masked=True).filled(np.nan)
        return Grid(
            heights,
            source.transform.c,
            source.transform.f,
            source.transform.a,
            source.crs.to_wkt(),
            "EPSG:3794",
        )


def waters():
    drawn = geopandas.read_file(DATA / "watercourses.gpkg")
    return tuple(
        Watercourse(
            id=row.id, kind=row.kind, drawn_at=row.drawn_at, geometry=row.geometry
        )
        for row in drawn.itertuples()
    )
