"""The ground as water meets it: walls and kerbs up, water and drains down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, Point

from pathways.features import Features
from pathways.grid import Cell, Grid
from pathways.terrain.barriers import OpenBarriers
from pathways.terrain.cells import building_cells, cells_along, cells_inside
from pathways.terrain.drainage import END, GROUND, HOLE, step_offsets
from pathways.terrain.drains import Opening

NOBODY = -1  # no barrier, water or opening in a cell


class Role(IntEnum):
    """What a cell is to water."""

    GROUND = 0
    EDGE = 1  # rim of the grid
    BESIDE_NO_DATA = 2
    WATER = 3
    OPENING = 4  # gully, channel drain, upper end of a culvert
    NO_DATA = 5
    BUILDING = 6


#: Kind of cell that routing tells apart, by role.
_KINDS = np.array([GROUND, END, END, END, END, HOLE, HOLE], np.uint8)


@dataclass(frozen=True)
class Ground:
    """The conditioned ground.

    Parameters
    ----------
    grid : Grid
        The ground as measured.
    heights_m : ndarray of float32, shape (rows, columns)
        With barriers raised, and water and openings no higher than the cells beside.
    roles : ndarray of uint8, shape (rows, columns)
        `Role` of each cell.
    barrier_at, water_at, opening_at : ndarray of int16, shape (rows, columns)
        Which barrier, watercourse or opening a cell belongs to, as a place in
        `Features.barriers`, `Features.watercourses` and the list of openings; -1 none.
    """

    grid: Grid
    heights_m: NDArray[np.float32]
    roles: NDArray[np.uint8]
    barrier_at: NDArray[np.int16]
    water_at: NDArray[np.int16]
    opening_at: NDArray[np.int16]

    @property
    def kinds(self) -> NDArray[np.uint8]:
        """Kinds of cell that routing tells apart."""
        kinds: NDArray[np.uint8] = _KINDS[self.roles]
        return kinds

    def number(self, cell: Cell) -> int:
        """Return a cell's number, counted by rows."""
        return cell.row * self.grid.columns + cell.column

    def place(self, number: int) -> tuple[float, float]:
        """Return easting and northing of a numbered cell's centre [m]."""
        return self.grid.centre_of(Cell(*divmod(int(number), self.grid.columns)))


def condition(
    grid: Grid,
    features: Features,
    waters: Sequence[Geometry],
    barriers: OpenBarriers,
) -> Ground:
    """Make the ground as water meets it, but for what drains it from below.

    Parameters
    ----------
    grid : Grid
        The ground as measured.
    features : Features
        What is drawn.
    waters : sequence of shapely.Geometry
        Outline of each watercourse, in the order of `Features.watercourses`.
    barriers : OpenBarriers
        Walls and kerbs with their gates and gaps cut.

    Returns
    -------
    Ground
        Heights and roles of all cells; no cell belongs to an opening yet.
    """
    shape = grid.heights_m.shape
    heights_m = grid.heights_m.copy()
    water_at = _water_cells(grid, features, waters, barriers)
    roles = _roles_of_measured_ground(grid, water_at != NOBODY)
    flat_heights, flat_roles = heights_m.ravel(), roles.ravel()

    barrier_at = np.full(shape, NOBODY, np.int16)
    for index, cells in barriers.cells(grid):
        raised = grid.heights_m.ravel()[cells] + features.barriers[index].height_m
        higher = (barrier_at.ravel()[cells] == NOBODY) | (raised > flat_heights[cells])
        flat_heights[cells[higher]] = raised[higher]
        barrier_at.ravel()[cells[higher]] = index

    flat_roles[water_at.ravel() != NOBODY] = Role.WATER
    wet_barrier = (water_at.ravel() != NOBODY) & (barrier_at.ravel() != NOBODY)
    barrier_at.ravel()[wet_barrier] = NOBODY

    buildings = _building_cells(features, grid)
    flat_roles[buildings] = Role.BUILDING
    water_at.ravel()[buildings] = NOBODY

    return Ground(
        grid, heights_m, roles, barrier_at, water_at, np.full(shape, NOBODY, np.int16)
    )


def with_openings(
    ground: Ground, openings: Sequence[Opening], barriers: OpenBarriers
) -> Ground:
    """Return a ground with gullies and other openings, and water no higher than banks.

    Parameters
    ----------
    ground : Ground
        From `condition`; left as it is.
    openings : sequence of Opening
        What takes surface water; those that do not capture are left out of the ground.
    barriers : OpenBarriers
        Walls and kerbs with their gates and gaps cut.

    Returns
    -------
    Ground
        Heights and roles of all cells.
    """
    opened = replace(
        ground,
        heights_m=ground.heights_m.copy(),
        roles=ground.roles.copy(),
        opening_at=ground.opening_at.copy(),
    )
    by_rank = sorted(enumerate(openings), key=lambda one: one[1].comes_first)
    for index, opening in by_rank:  # the worse of two in one cell is put in last
        if opening.captures:
            _open(opened, index, opening, barriers)
    low = (opened.roles == Role.WATER) | (opened.roles == Role.OPENING)
    _lower_to_neighbours(opened, np.flatnonzero(low))
    return opened


def _water_cells(
    grid: Grid,
    features: Features,
    waters: Sequence[Geometry],
    barriers: OpenBarriers,
) -> NDArray[np.int16]:
    """Return which open water lies in each cell.

    Cells whose centre lies in the water, and all that its centre line touches, so that
    no way leaks across a narrow ditch. A cell that only the edge of an area touches is
    water too, unless a barrier lies in it: then the barrier comes first.
    """
    water_at = np.full(grid.heights_m.size, NOBODY, np.int16)
    walled = np.zeros(grid.heights_m.size, bool)
    for _, cells in barriers.cells(grid):
        walled[cells] = True
    for index, (water, outline) in enumerate(
        zip(features.watercourses, waters, strict=True)
    ):
        if water.culverted:
            continue
        touched = cells_along(water.geometry, grid)
        if water.geometry.area > 0:
            touched = touched[~walled[touched]]
        water_at[cells_inside(outline, grid)] = index
        water_at[touched] = index
    return water_at.reshape(grid.heights_m.shape)


def _roles_of_measured_ground(
    grid: Grid, water: NDArray[np.bool_]
) -> NDArray[np.uint8]:
    """Return the roles that follow from the grid; water needs no height of its own."""
    absent = np.isnan(grid.heights_m) & ~_beside_heights(grid, water)
    roles = np.zeros(absent.shape, np.uint8)
    roles[[0, -1], :] = Role.EDGE
    roles[:, [0, -1]] = Role.EDGE
    beside = np.zeros_like(absent)
    padded = np.pad(absent, 1)
    for row in range(3):
        for column in range(3):
            beside |= padded[row : row + grid.rows, column : column + grid.columns]
    roles[beside] = Role.BESIDE_NO_DATA
    roles[absent] = Role.NO_DATA
    return roles


def _beside_heights(grid: Grid, water: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the water cells that lie beside a known height: a way can reach them."""
    known = np.pad(~np.isnan(grid.heights_m), 1)
    beside = np.zeros_like(water)
    for row in range(3):
        for column in range(3):
            beside |= known[row : row + grid.rows, column : column + grid.columns]
    return water & beside


def _building_cells(features: Features, grid: Grid) -> NDArray[np.int64]:
    """Return the cells of closed buildings, so that no diagonal step leads through one.

    A cell belongs to a building when its centre does: an alley is not closed by the
    walls beside it. Where a building is so thin that two of its cells touch at a corner
    only, a third cell joins them.
    """
    taken = [
        building_cells(part, grid)
        for part in shapely.get_parts(features.closed_buildings)
    ]
    return np.concatenate(taken) if taken else np.empty(0, np.int64)


def _open(ground: Ground, index: int, opening: Opening, barriers: OpenBarriers) -> None:
    """Give an opening its cells; in place."""
    roles, opening_at = ground.roles.ravel(), ground.opening_at.ravel()
    if isinstance(opening.geometry, Point):
        cell = open_cell_near(ground, opening.geometry, barriers)
        cells = np.array([] if cell is None else [cell], np.int64)
    else:
        line = shapely.segmentize(opening.geometry, ground.grid.cell_size_m / 2)
        near = [
            open_cell_near(ground, Point(place), barriers)
            for place in shapely.get_coordinates(line)
        ]
        found = [one for one in near if one is not None]
        cells = np.union1d(found, cells_along(opening.geometry, ground.grid))
        cells = cells.astype(np.int64)
        cells = cells[ground.barrier_at.ravel()[cells] == NOBODY]
    cells = cells[np.isin(roles[cells], (Role.GROUND, Role.OPENING))]
    roles[cells] = Role.OPENING
    opening_at[cells] = index


def _lower_to_neighbours(ground: Ground, cells: NDArray[np.int64]) -> None:
    """Lower cells to the lowest cell beside them; in place.

    Water does not stand above its banks, nor a gully above the yard: a grid that shows
    it so has missed them.
    """
    measured = ground.grid.heights_m.ravel()
    lowest = measured[cells].copy()
    row, column = np.divmod(cells, ground.grid.columns)
    for down in (-1, 0, 1):
        for right in (-1, 0, 1):
            r = np.clip(row + down, 0, ground.grid.rows - 1)
            c = np.clip(column + right, 0, ground.grid.columns - 1)
            lowest = np.fmin(lowest, measured[r * ground.grid.columns + c])
    ground.heights_m.ravel()[cells] = lowest


def open_cell_near(ground: Ground, point: Point, barriers: OpenBarriers) -> int | None:
    """Return the cell by which liquid at a place leaves over the ground.

    It is the cell that holds the place, unless that cell is a barrier or a building: a
    gully beside a kerb lies in the yard, though the kerb takes up its whole cell. Then
    it is the nearest open cell that no barrier or wall parts from the place.

    Parameters
    ----------
    ground : Ground
        Roles and barriers.
    point : shapely.Point
        The place.
    barriers : OpenBarriers
        Lines that part one side from the other.

    Returns
    -------
    int or None
        Cell number; None off the grid, or where nothing is open within three cells.
    """
    cell = ground.grid.cell_at(point.x, point.y)
    if cell is None:
        return None
    number = ground.number(cell)
    roles, barrier_at = ground.roles.ravel(), ground.barrier_at.ravel()
    closed = (Role.BUILDING, Role.NO_DATA)
    if roles[number] not in closed and barrier_at[number] == NOBODY:
        return number
    reach = 3
    best: tuple[bool, float, int] | None = None
    for row in range(cell.row - reach, cell.row + reach + 1):
        for column in range(cell.column - reach, cell.column + reach + 1):
            if not (0 <= row < ground.grid.rows and 0 <= column < ground.grid.columns):
                continue
            other = row * ground.grid.columns + column
            if roles[other] in closed or barrier_at[other] != NOBODY:
                continue
            centre = Point(ground.place(other))
            key = (barriers.part(point, centre), point.distance(centre), other)
            best = key if best is None or key < best else best
    return None if best is None else best[2]


def offsets_of(ground: Ground) -> NDArray[np.int64]:
    """Return by how much a cell's number changes with each step."""
    return step_offsets(ground.grid.columns)
