"""How much ground drains onto a place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely import Geometry

from pathways.terrain import _kernels
from pathways.terrain.cells import cells_of
from pathways.terrain.landscape import Flow


def upslope_area_m2(flow: Flow, footprint: Geometry) -> float | None:
    """Return the area whose water runs onto a place, the place itself left out.

    Parameters
    ----------
    flow : Flow
        Conditioned ground and its drainage.
    footprint : shapely.Geometry
        The place; a point takes the cell that holds it.

    Returns
    -------
    float or None
        Area [m²]; None where the place lies off the ground.
    """
    grid = flow.ground.grid
    cells = cells_of(footprint, grid)
    on_ground = flow.drainage.steps.ravel()[cells] != _kernels.NOT_GROUND
    cells = np.unique(cells[on_ground])
    if not cells.size:
        return None
    through = cells_above(flow, cells).size - cells.size
    return float(through * grid.cell_size_m**2)


def cells_above(flow: Flow, cells: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the cells whose water runs through any of some cells, those included.

    Parameters
    ----------
    flow : Flow
        Conditioned ground and its drainage.
    cells : ndarray of int64
        Cell numbers; those that are no ground are left out.

    Returns
    -------
    ndarray of int64
        Cell numbers in order.
    """
    steps = flow.drainage.steps.ravel()
    state = np.zeros(steps.size, np.uint8)
    state[cells[steps[cells] != _kernels.NOT_GROUND]] = _kernels.PASSES
    _kernels.mark_ways_through(steps, state, flow.drainage.offsets)
    return np.flatnonzero(state == _kernels.PASSES)
