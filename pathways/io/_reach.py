"""Where liquid goes in how many versions of the ground, as polygons."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from affine import Affine
from shapely import Geometry, MultiPolygon
from shapely.geometry import shape

from pathways.assessment import Assessment
from pathways.grid import Grid
from pathways.io._gdal import rasterio
from pathways.legend import REACH_BANDS
from pathways.terrain.pathway import Arrival


def reach_rows(
    assessment: Assessment,
) -> Iterator[tuple[dict[str, object], Geometry]]:
    """Yield the fields and the ground of each band, way and scenario.

    Parameters
    ----------
    assessment : Assessment
        Ways with their arrivals.

    Yields
    ------
    tuple of dict and shapely.MultiPolygon
        Ground that at least that share of the versions passes; bands that no cell
        reaches are left out.
    """
    for number, pathway in enumerate(assessment.pathways, start=1):
        for arrival in pathway.arrivals:
            for band in REACH_BANDS:
                ground = _ground(assessment.farm.grid, arrival, band)
                if ground is not None:
                    yield (
                        {
                            "pathway": number,
                            "source_id": pathway.source_id,
                            "scenario": arrival.scenario,
                            "band": band,
                        },
                        ground,
                    )


def _ground(grid: Grid, arrival: Arrival, band: float) -> MultiPolygon | None:
    """Return the cells that at least a share of the versions passes."""
    from rasterio.features import shapes

    rows, columns, _ = arrival.reach.squares(grid.columns, band)
    if not rows.size:
        return None
    top, left = int(rows.min()), int(columns.min())
    passed = np.zeros((rows.max() - top + 1, columns.max() - left + 1), np.uint8)
    passed[rows - top, columns - left] = 1
    size = arrival.reach.side * grid.cell_size_m
    west_m, north_m = grid.west_m + left * size, grid.north_m - top * size
    transform = Affine(size, 0.0, west_m, 0.0, -size, north_m)
    with rasterio.Env():
        found = shapes(passed, mask=passed == 1, connectivity=4, transform=transform)
        parts = [shape(one) for one, _ in found]
    return MultiPolygon(shapely.get_parts(shapely.union_all(parts)).tolist())
