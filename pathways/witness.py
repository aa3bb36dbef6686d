"""A second program's word on where water stands.

richdem (GPL-3) is an independent program that users install themselves. Its plain fill
lets water out at the rim of a grid only, and fills a cell without data like any hollow.
So it is asked through its hierarchy of depressions (Barnes, Callaghan & Wickert 2020,
2021), which takes outlets anywhere: all that ends a way here is an outlet there. Cells
that are no ground are given to it as walls that are higher than all ground, and so much
water falls on every cell that each hollow overflows. Where that water comes to stand is
the filled surface.

What is compared is one thing: the levels on the ground as this program conditioned it.
How the ground was conditioned, and where a way goes on it, richdem does not see.
"""

from __future__ import annotations

import contextlib
import importlib
import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from importlib import metadata
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pathways.assumed import AssumedValues
from pathways.errors import LimitError, WitnessMissingError
from pathways.farm import Farm
from pathways.terrain.drainage import END, HOLE, MEMORY_LIMIT_BYTES, Drainage
from pathways.terrain.landscape import Flow, Terrain

_WALL_ABOVE_ALL_M: Final = 1.0  # any height does: what stands so high is shut in
_NO_SUCH_HEIGHT_M: Final = -1e30
#: Peak of memory besides routing, measured as 67 on 1,500 x 1,500 rough cells.
_BYTES_PER_CELL: Final = 80


@dataclass(frozen=True)
class WitnessReport:
    """What the second program found.

    Parameters
    ----------
    program : str
        Name and version.
    cells : int
        Cells of ground that were compared.
    equal : int
        How many of them have the same level, to the last bit of float32.
    greatest_difference_m : float
        Among levels that both programs know [m].
    first_difference : tuple of float, optional
        Easting and northing of the first cell that differs [m].
    outlets, walls : int
        Cells given to the program as outlets, and as walls.
    """

    program: str
    cells: int
    equal: int
    greatest_difference_m: float
    first_difference: tuple[float, float] | None
    outlets: int
    walls: int

    @property
    def agrees(self) -> bool:
        """Whether every cell is equal, and there was one to compare."""
        return 0 < self.cells == self.equal

    @property
    def sentence(self) -> str:
        """The finding in one sentence."""
        if self.agrees:
            return (
                f"{self.program} fills the same ground: {self.equal:,} of "
                f"{self.cells:,} cells equal ({self.outlets:,} of them, where water "
                "leaves, were given to it as outlets; "
                f"{self.walls:,} more, buildings or without data, as walls)"
            )
        if self.first_difference is None:
            return f"{self.program} was given no cell of ground, so nothing is checked"
        east, north = self.first_difference
        return (
            f"{self.program} fills the ground otherwise: {self.cells - self.equal:,} "
            f"of {self.cells:,} cells differ, by up to "
            f"{self.greatest_difference_m:.3f} m where both know a level, the first at "
            f"{east:.1f} east, {north:.1f} north; do not rely on the ways before this "
            "is explained"
        )

    def for_machines(self) -> dict[str, Any]:
        """Return the finding as plain values.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return {"agrees": self.agrees, "sentence": self.sentence} | asdict(self)


def witness(farm: Farm, assumed: AssumedValues) -> WitnessReport:
    """Ask richdem for the filled surface of a farm and compare every cell.

    Parameters
    ----------
    farm : Farm
        The farm.
    assumed : AssumedValues
        Widths and reaches used where nothing was given.

    Returns
    -------
    WitnessReport
        How many cells are equal.

    Raises
    ------
    WitnessMissingError
        If richdem is not installed, or is a version without the hierarchy.
    LimitError
        If the grid is too large for the memory allowed.

    Notes
    -----
    With all drains working: openings end a way, as water does.
    """
    need = farm.grid.heights_m.size * _BYTES_PER_CELL
    if need > MEMORY_LIMIT_BYTES:
        msg = (
            f"the second program needs about {need / 1e9:.1f} GB for "
            f"{farm.grid.heights_m.size:,} cells, more than the "
            f"{MEMORY_LIMIT_BYTES / 1e9:.1f} GB allowed: cut out the ground about the "
            "farm, or use larger cells"
        )
        raise LimitError(msg)
    return witness_flow(Terrain(farm.grid, farm.features, assumed).flow)


def witness_flow(flow: Flow) -> WitnessReport:
    """Ask richdem for the filled surface of one conditioned ground.

    Parameters
    ----------
    flow : Flow
        Conditioned ground and its drainage.

    Returns
    -------
    WitnessReport
        How many cells are equal.

    Raises
    ------
    WitnessMissingError
        If richdem is not installed, or is a version without the hierarchy.
    """
    drainage = flow.drainage
    theirs = _filled_by_richdem(_richdem(), drainage)
    ours = drainage.filled_m
    ground = drainage.kinds != HOLE
    unequal = np.flatnonzero(ground & (ours != theirs))
    known = np.isfinite(ours.ravel()[unequal]) & np.isfinite(theirs.ravel()[unequal])
    apart = np.abs(
        ours.ravel()[unequal[known]].astype(np.float64) - theirs.ravel()[unequal[known]]
    )
    return WitnessReport(
        program=f"richdem {metadata.version('richdem2')}",
        cells=int(ground.sum()),
        equal=int(ground.sum()) - unequal.size,
        greatest_difference_m=float(apart.max(initial=0.0)),
        first_difference=flow.ground.place(int(unequal[0])) if unequal.size else None,
        outlets=int((drainage.kinds == END).sum()),
        walls=int((~ground).sum()),
    )


def _richdem() -> Any:
    """Return the module, or say how to get it."""
    try:
        with silent_streams():
            module = importlib.import_module("richdem")
    except ImportError:
        module = None
    if not hasattr(module, "get_depression_hierarchy"):
        msg = (
            "the second program, richdem 2, is not installed: run "
            "pip install 'farm-pathways[witness]' and ask again"
        )
        raise WitnessMissingError(msg)
    return module


def _filled_by_richdem(richdem: Any, drainage: Drainage) -> NDArray[np.float32]:
    """Return the surface to which richdem fills a ground; infinite where shut in."""
    hole, outlet = drainage.kinds == HOLE, drainage.kinds == END
    lowest_m = float(drainage.heights_m[~hole].min(initial=np.inf))
    highest_m = float(drainage.heights_m[~hole].max(initial=-np.inf))
    if hole.all():
        return np.full(hole.shape, np.inf, np.float32)
    wall_m = highest_m + _WALL_ABOVE_ALL_M
    ground = np.where(hole, wall_m, drainage.heights_m.astype(np.float64))
    enough_m = 2 * (wall_m - lowest_m)  # on each cell: fills any hollow to any wall
    with silent_streams():
        heights = _array(richdem, ground)
        labels = richdem.get_new_depression_hierarchy_labels(hole.shape)
        labels[outlet] = richdem.depression_hierarchy.OCEAN
        hollows, directions = richdem.get_depression_hierarchy(heights, labels)
        water = _array(richdem, np.where(outlet, 0.0, enough_m))
        richdem.fill_spill_merge(heights, labels, directions, hollows, water)
    # Heights are exact in float64, so rounding gives back the level as it was.
    level_m = ground + np.where(outlet, 0.0, np.asarray(water))
    shut_in = level_m > highest_m + _WALL_ABOVE_ALL_M / 2
    return np.where(shut_in, np.inf, level_m).astype(np.float32)


def _array(richdem: Any, values: NDArray[np.float64]) -> Any:
    """Return an array as richdem takes it."""
    array = richdem.rdarray(values, no_data=_NO_SUCH_HEIGHT_M)
    array.geotransform = [0, 1, 0, 0, 0, -1]
    return array


@contextlib.contextmanager
def silent_streams() -> Iterator[None]:
    """Keep what richdem prints from C off the terminal."""
    saved = [os.dup(1), os.dup(2)]
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(saved[0], 1)
        os.dup2(saved[1], 2)
        for handle in (*saved, nowhere):
            os.close(handle)
