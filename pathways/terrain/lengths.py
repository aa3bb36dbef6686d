"""How far every place of a farm is from where its liquid ends, at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Point

from pathways.terrain import _kernels_lengths
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Outcome
from pathways.terrain.surface import NOBODY, Role
from pathways.terrain.way import follow


@dataclass(frozen=True)
class Lengths:
    """The way of every cell, by the network of steps.

    Parameters
    ----------
    length_m : ndarray of float32, flat
        Over the ground to the end of the way [m]: at most 8 % more than a drawn line on
        a plane; -1 where there is no ground.
    ends : ndarray of int32, flat
        Cell in which it ends; -1 where there is no ground.
    outcomes : ndarray of str, flat
        What it ends in: one of `pathways.terrain.pathway.OUTCOMES`.
    """

    length_m: NDArray[np.float32]
    ends: NDArray[np.int32]
    outcomes: NDArray[np.str_]


def lengths_of(terrain: Terrain) -> Lengths:
    """Find length and end of the way of every cell.

    Parameters
    ----------
    terrain : Terrain
        Ground, water and drains as drawn.

    Returns
    -------
    Lengths
        A drain's end is where it leads; what it is not known of is not known here.
    """
    flow = terrain.flow
    steps = flow.drainage.steps.ravel()
    length_m, ends = _kernels_lengths.lengths_to_end(
        steps, flow.drainage.offsets, float(terrain.grid.cell_size_m)
    )
    outcome_of = np.full(steps.size, "not_known", dtype="<U18")
    ground = flow.ground
    is_water = ground.roles.ravel() == Role.WATER
    outcome_of[is_water] = "reaches_water"
    openings = ground.opening_at.ravel()
    for opening in np.unique(openings[openings != NOBODY]):
        cells = np.flatnonzero(openings == opening)
        outcome: Outcome = follow(terrain, Point(ground.place(int(cells[0])))).outcome
        outcome_of[cells] = outcome
    outcomes = np.where(ends >= 0, outcome_of[np.maximum(ends, 0)], "not_known")
    return Lengths(length_m, ends, outcomes)
