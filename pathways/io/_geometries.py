"""Geometries settled: placed on the grid, of the right kind, valid, flat."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.enums import TransformDirection
from pyproj.exceptions import ProjError
from pyproj.transformer import TransformerGroup
from shapely import Geometry

from pathways.errors import CrsError, FeatureError
from pathways.grid import Grid

#: A repair may change the area of a polygon by this part [-]: enough for a doubled
#: point or a spike, too little for a bow-tie, whose two halves nobody can tell apart.
_REPAIRED_AREA: Final = 0.01
_SINGLE: Final = {
    "MultiPoint": "Point",
    "MultiLineString": "LineString",
    "MultiPolygon": "Polygon",
}
_MOST_LONGITUDE: Final = 180.0
_MOST_LATITUDE: Final = 90.0


@dataclass(frozen=True)
class Move:
    """How one layer's coordinates become the grid's."""

    source: CRS
    operation: str
    accuracy_m: float | None  # None where PROJ does not know it
    best_available: bool
    transformer: Transformer | None = None  # None: both are one

    def apply(self, geometry: Geometry) -> Geometry:
        """Return a geometry in the grid's coordinates.

        Raises
        ------
        FeatureError
            If it lies where no such place exists.
        """
        coordinates = shapely.get_coordinates(geometry)
        if not np.isfinite(coordinates).all():
            msg = "its geometry holds a coordinate that is no number; draw it again"
            raise FeatureError(msg)
        if self.source.is_geographic:
            _check_degrees(coordinates)
        if self.transformer is None:
            return geometry
        east_m, north_m = self.transformer.transform(*coordinates.T)
        moved = np.column_stack((east_m, north_m))
        if not np.isfinite(moved).all():
            msg = (
                f"it lies where {self.source.name} and the ground's system do not "
                "meet; check which system the layer is in"
            )
            raise FeatureError(msg)
        return shapely.set_coordinates(shapely.force_2d(geometry), moved)

    def back(self, geometry: Geometry) -> Geometry:
        """Return a geometry of the grid in the layer's own coordinates."""
        if self.transformer is None:
            return geometry
        east_m, north_m = shapely.get_coordinates(geometry).T
        moved = self.transformer.transform(
            east_m,
            north_m,
            direction=TransformDirection.INVERSE,
            errcheck=True,
        )
        return shapely.set_coordinates(
            shapely.force_2d(geometry), np.column_stack(moved)
        )


def _check_degrees(coordinates: NDArray[np.float64]) -> None:
    """Refuse numbers that are no longitude and latitude."""
    longitudes, latitudes = np.abs(coordinates).T
    if (longitudes > _MOST_LONGITUDE).any() or (latitudes > _MOST_LATITUDE).any():
        at = coordinates[(longitudes > _MOST_LONGITUDE) | (latitudes > _MOST_LATITUDE)]
        msg = (
            f"its coordinates ({at[0][0]:.7g}, {at[0][1]:.7g}) are no degrees, "
            "although its layer says so; set the system that it was drawn in"
        )
        raise FeatureError(msg)


def move_to(grid: Grid, source: CRS) -> Move:
    """Return how coordinates of a system become those of the grid.

    PROJ is asked for every operation between the two systems around the grid, and the
    best of those that work without downloads is taken.

    Raises
    ------
    CrsError
        If there is none.
    """
    target = CRS.from_wkt(grid.crs)
    if source.equals(target, ignore_axis_order=True):
        return Move(
            source, "none: drawn in the ground's system", 0.0, best_available=True
        )
    msg = f"nothing leads from {source.name} to {target.name}; draw it in the latter"
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # told by `best_available`
            group = TransformerGroup(
                source,
                target,
                always_xy=True,
                area_of_interest=_around(grid, target),  # type: ignore[arg-type]
            )
    except (ProjError, IndexError) as error:  # the latter where PROJ finds none at all
        raise CrsError(msg) from error
    if not group.transformers:
        raise CrsError(msg)
    best = group.transformers[0]
    # Conversions move places within one datum and are exact; PROJ 9.8 gives them no
    # accuracy, earlier ones nought.
    steps = best.operations or ()
    exact = bool(steps) and all(one.type_name == "Conversion" for one in steps)
    known = exact or (best.accuracy >= 0.0 and "Ballpark" not in best.description)
    return Move(
        source,
        best.description,
        max(0.0, best.accuracy) if known else None,
        group.best_available,
        best,
    )


def _around(grid: Grid, crs: CRS) -> AreaOfInterest | None:
    """Return the grid's surroundings in degrees, for the choice of operation."""
    if crs.geodetic_crs is None:
        return None
    to_degrees = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    west, south, east, north = to_degrees.transform_bounds(*grid.extent)
    if not all(math.isfinite(one) for one in (west, south, east, north)):
        return None
    return AreaOfInterest(west, south, east, north)


def settle_geometry(
    geometry: Geometry | None, allowed: tuple[str, ...]
) -> tuple[list[Geometry], str]:
    """Return the single parts of a drawn geometry, and what was repaired, if anything.

    Parameters
    ----------
    geometry : Geometry or None
        As it was drawn, in the grid's coordinates.
    allowed : tuple of str
        Kinds that the layer holds, such as ``("Point", "Polygon")``.

    Raises
    ------
    FeatureError
        If there is none, it is of another kind, or cannot be repaired without a guess.
    """
    if geometry is None or geometry.is_empty:
        msg = "it has no geometry; draw it or delete its row"
        raise FeatureError(msg)
    geometry = shapely.force_2d(geometry)
    kind = geometry.geom_type
    if _SINGLE.get(kind, kind) not in allowed:
        msg = f"it is a {kind} and the layer holds {' or '.join(allowed)}; draw it anew"
        raise FeatureError(msg)
    parts = list(shapely.get_parts(geometry))
    told = ""
    for number, part in enumerate(parts):
        if part.geom_type == "LineString" and part.length == 0.0:
            msg = "its line has no length; draw it again"
            raise FeatureError(msg)
        if part.geom_type == "Polygon" and (not part.is_valid or part.area == 0.0):
            parts[number], told = _repaired(part)
    return parts, told


def _repaired(polygon: Geometry) -> tuple[Geometry, str]:
    """Return the polygon that a faulty one must mean, or refuse."""
    fault = shapely.is_valid_reason(polygon)
    pieces = [
        one
        for one in shapely.get_parts(shapely.make_valid(polygon))
        if one.geom_type in ("Polygon", "MultiPolygon") and one.area > 0.0
    ]
    if len(pieces) == 1 and pieces[0].geom_type == "Polygon":
        change = abs(pieces[0].area / polygon.area - 1.0) if polygon.area else math.inf
        if change <= _REPAIRED_AREA:
            return pieces[0], f"its outline was faulty and was repaired ({fault})"
    msg = f"its outline crosses itself or encloses nothing ({fault}); draw it again"
    raise FeatureError(msg)
