"""How much ground drains onto a place."""

from __future__ import annotations

import numpy as np
from shapely import Geometry

from pathways.terrain import _kernels
from pathways.terrain.cells import cells_along, cells_inside
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
    cells = cells_inside(footprint, grid) if footprint.area else np.empty(0, np.int64)
    if not cells.size:
        cells = cells_along(footprint, grid)
    on_ground = flow.drainage.steps.ravel()[cells] != _kernels.NOT_GROUND
    cells = np.unique(cells[on_ground])
    if not cells.size:
        return None
    state = np.zeros(flow.drainage.steps.size, np.uint8)
    state[cells] = _kernels.PASSES
    _kernels.mark_ways_through(
        flow.drainage.steps.ravel(), state, flow.drainage.offsets
    )
    through = int((state == _kernels.PASSES).sum()) - cells.size
    return float(through * grid.cell_size_m**2)
