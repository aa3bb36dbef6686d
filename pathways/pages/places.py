"""Places of a farm's grid in the latitude and longitude of web maps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from shapely import Geometry
from shapely.geometry import mapping

from pathways.grid import Grid

#: Digits of latitude and longitude: a seventh is a centimetre.
_DIGITS: Final = 7


class Places:
    """Turns places of the farm's grid into latitude and longitude."""

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        self._transformer = Transformer.from_crs(grid.crs, "EPSG:4326", always_xy=True)

    def geometry(self, geometry: Geometry) -> dict[str, Any]:
        """Return a geometry as GeoJSON (RFC 7946)."""
        flat = shapely.force_2d(geometry)
        moved = shapely.transform(flat, self._columns_moved)
        rounded: dict[str, Any] = _rounded(mapping(moved))
        return rounded

    def point(self, easting_m: float, northing_m: float) -> list[float]:
        """Return latitude and longitude, in the order that Leaflet wants."""
        longitude, latitude = self._moved(easting_m, northing_m)
        return [round(float(latitude), _DIGITS), round(float(longitude), _DIGITS)]

    def _columns_moved(self, places_m: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(self._moved(places_m[:, 0], places_m[:, 1]))

    def _moved(self, easting_m: Any, northing_m: Any) -> tuple[Any, Any]:
        longitude, latitude = self._transformer.transform(
            easting_m, northing_m, errcheck=True
        )
        return longitude, latitude


def _rounded(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _rounded(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(one) for one in value]
    return round(value, _DIGITS) if isinstance(value, float) else value
