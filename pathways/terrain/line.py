"""The drawn line of a way over the ground: true on planes, ending where water ends."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, LineString, Point
from shapely.ops import nearest_points, substring

from pathways.terrain.surface import Ground

#: Over how many cells on either side the direction of a way is taken.
_DIRECTION_CELLS = 3
#: Corners that stand out less than this are left out [cells].
_SMOOTH_GUIDED = 0.05
_SMOOTH_STEPS = 0.75


def drawn_line(
    ground: Ground,
    start: Point,
    cells: NDArray[np.int64],
    deviations: NDArray[np.float64] | None,
    *,
    smooth: bool = True,
) -> LineString:
    """Return the line of a way through cells.

    Parameters
    ----------
    ground : Ground
        Where the cells are.
    start : shapely.Point
        Where the way begins; the centre of its first cell is not drawn if the cell
        holds it.
    cells : ndarray of int64
        Cell numbers from the first to the last.
    deviations : ndarray of float64, optional
        How far each cell's centre lies to the right of the way [cells]; None where the
        way follows the drainage steps.
    smooth : bool
        Leave out corners that hardly stand out; else every cell's centre is a corner.

    Returns
    -------
    shapely.LineString
        From the start to the last cell's centre; at least two places.
    """
    size = ground.grid.cell_size_m
    rows, columns = np.divmod(cells, ground.grid.columns)
    places = np.column_stack(
        [
            ground.grid.west_m + (columns + 0.5) * size,
            ground.grid.north_m - (rows + 0.5) * size,
        ]
    )
    if deviations is not None and len(cells) > 1:
        places = places - deviations[:, None] * size * _to_the_right(places)
    own = ground.grid.cell_at(start.x, start.y)
    inside = own is not None and ground.number(own) == cells[0]
    rest = places[1:] if inside and len(places) > 1 else places
    line = LineString(np.vstack([[start.x, start.y], rest]))
    if not smooth:
        return line
    reach = _SMOOTH_STEPS if deviations is None else _SMOOTH_GUIDED
    return line.simplify(reach * size)


def _to_the_right(places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return unit vectors to the right of a way at each of its places."""
    last = len(places) - 1
    ahead = places[np.minimum(np.arange(last + 1) + _DIRECTION_CELLS, last)]
    behind = places[np.maximum(np.arange(last + 1) - _DIRECTION_CELLS, 0)]
    along = ahead - behind
    lengths = np.maximum(np.hypot(along[:, 0], along[:, 1]), np.finfo(float).tiny)
    right: NDArray[np.float64] = (
        np.column_stack([along[:, 1], -along[:, 0]]) / lengths[:, None]
    )
    return right


def ending_at(line: LineString, shape: Geometry) -> LineString:
    """Return a line cut, or led on, to where it meets a shape.

    Parameters
    ----------
    line : shapely.LineString
        Way over the ground.
    shape : shapely.Geometry
        Water's edge, gully or tank.

    Returns
    -------
    shapely.LineString
        The line to its first place on the shape.
    """
    first = Point(line.coords[0])
    if shape.distance(first) == 0:
        return LineString([first, first])
    met = line.intersection(shape)
    if not met.is_empty:
        at = min(line.project(Point(place)) for place in shapely.get_coordinates(met))
        return cut_at(line, at)
    foot = nearest_points(Point(line.coords[-1]), shape)[1]
    return LineString([*line.coords, foot])


def cut_at(line: LineString, distance_m: float) -> LineString:
    """Return the first part of a line, of a given length [m]."""
    part = substring(line, 0.0, distance_m)
    if isinstance(part, Point):
        return LineString([part, part])
    return part
