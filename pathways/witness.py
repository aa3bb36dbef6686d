"""An independent program routes a farm's ground, as a witness of our engine.

richdem (the maintained fork richdem2) is GPL-3 and an extra that users install
themselves: nothing else in the package imports it.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module, metadata
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pathways.errors import InputError
from pathways.io.farms import read_farm
from pathways.io.tables import read_assumed
from pathways.terrain.drainage import END, GROUND, HOLE, route
from pathways.terrain.landscape import Terrain

#: How far above all ground buildings and gaps stand for the comparison [m].
_HIGH_M = 1000.0

Fill = Callable[[NDArray[np.float32]], NDArray[np.float32]]


@dataclass(frozen=True)
class WitnessReport:
    """Whether an independent program fills a farm's ground as ours does.

    Parameters
    ----------
    witness : str
        Name and version of the program.
    cells : int
        Cells that were compared.
    differing : int
        Cells in which the two differ at all.
    furthest_m : float
        Greatest difference [m].
    """

    witness: str
    cells: int
    differing: int
    furthest_m: float

    @property
    def agrees(self) -> bool:
        """Whether every cell is equal."""
        return self.differing == 0

    @property
    def says(self) -> str:
        """The comparison in one sentence."""
        equal = self.cells - self.differing
        told = (
            f"{self.witness} fills the ground of this farm, with buildings and gaps as "
            "high walls and water and gullies as plain ground, to the same level in "
            f"{equal:,} of {self.cells:,} cells"
        )
        if self.agrees:
            return f"{told}."
        return f"{told}; they differ by up to {self.furthest_m:.3f} m: report this."


def ask_witness(farm_folder: Path) -> WitnessReport:
    """Fill a farm's ground with richdem and with our engine, and compare every cell.

    Parameters
    ----------
    farm_folder : Path
        Folder of the farm, or its farm.toml.

    Returns
    -------
    WitnessReport
        The two filled surfaces compared.

    Raises
    ------
    RefusedError
        If the farm cannot be read.
    InputError
        If richdem is not installed.
    """
    try:
        richdem = import_module("richdem")
    except ImportError:
        msg = (
            "the witness richdem is not installed; install it with: pip install "
            "'farm-pathways[witness]'"
        )
        raise InputError(msg) from None
    farm = read_farm(farm_folder).farm
    ground = Terrain(farm.grid, farm.features, read_assumed()).flow.ground
    version = metadata.version("richdem2")
    return compare(
        ground.heights_m,
        ground.kinds,
        f"richdem2 {version}",
        lambda heights_m: _filled_by(richdem, heights_m),
    )


def compare(
    heights_m: NDArray[np.float32], kinds: NDArray[np.uint8], name: str, fill: Fill
) -> WitnessReport:
    """Compare our filled surface with that of another program.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (rows, columns)
        Conditioned ground [m].
    kinds : ndarray of uint8, shape (rows, columns)
        `GROUND`, `END` or `HOLE`; what is no ground is raised high above all else.
    name : str
        What the other program is called.
    fill : callable
        Returns the filled surface of a ground that drains at its rim only.

    Returns
    -------
    WitnessReport
        Every cell that is ground.
    """
    hole = (kinds == HOLE) | np.isnan(heights_m)
    ground = np.where(hole, np.nanmax(heights_m) + _HIGH_M, heights_m)
    ground = np.ascontiguousarray(ground, np.float32)
    rim = np.full(kinds.shape, GROUND, np.uint8)
    rim[[0, -1], :] = END
    rim[:, [0, -1]] = END
    ours = route(ground, rim).filled_m
    theirs = fill(ground.copy())
    difference_m = np.abs(ours - theirs)[~hole]
    return WitnessReport(
        name,
        int(difference_m.size),
        int((difference_m > 0).sum()),
        float(difference_m.max(initial=0.0)),
    )


def _filled_by(richdem: Any, heights_m: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return richdem's filled surface, without what it prints."""
    with silence():
        array = richdem.rdarray(heights_m, no_data=-9999.0)
        array.geotransform = [0, 1, 0, 0, 0, -1]  # else it prints that there is none
        return np.array(richdem.FillDepressions(array), np.float32)


@contextlib.contextmanager
def silence() -> Iterator[None]:
    """Keep off the terminal what C code writes."""
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
