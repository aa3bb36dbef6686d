"""Accumulation of water that spreads over several neighbours."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.terrain import _kernels_multiple as kernels
from pathways.terrain.drainage import HOLE, Drainage

#: Power of the slope by which Freeman 1991 shares water out [-].
FREEMAN_EXPONENT: Final = 1.1


def accumulate_multiple(
    drainage: Drainage,
    amounts: NDArray[np.float64] | None = None,
    *,
    exponent: float = FREEMAN_EXPONENT,
) -> NDArray[np.float64]:
    """Return what flows through each cell when water spreads over all lower neighbours.

    After T. G. Freeman, Calculating catchment area with divergent flow based on a
    regular grid, Computers & Geosciences 17 (1991) 413-422, doi
    10.1016/0098-3004(91)90048-I, eq. 1, on the filled surface. In hollows and on level
    ground water takes the single step of the drainage instead.

    Parameters
    ----------
    drainage : Drainage
        Ways of water.
    amounts : ndarray of float64, shape (rows, columns), optional
        What each cell gives; 1 for each cell of ground by default. Not altered.
    exponent : float
        Power of the slope [-], from 0 up; larger values spread water less.

    Returns
    -------
    ndarray of float64, shape (rows, columns)
        Sums; those of all ends add up to all that was given.

    Raises
    ------
    ValueError
        If the exponent is negative or no number.

    Examples
    --------
    >>> import numpy as np
    >>> from pathways.terrain.drainage import route
    >>> slope = np.repeat(np.arange(5, dtype=np.float32)[:, None], 5, axis=1)
    >>> kinds = np.ones((5, 5), np.uint8)
    >>> kinds[1:-1, 1:-1] = 0
    >>> sums = accumulate_multiple(route(slope, kinds))
    >>> float(sums[kinds == 1].sum())
    25.0
    """
    if not 0 <= exponent < math.inf:
        msg = f"exponent {exponent}: the power of the slope is a number from 0 up"
        raise ValueError(msg)
    if amounts is None:
        sums: NDArray[np.float64] = (drainage.kinds != HOLE).astype(np.float64)
    else:
        sums = np.array(amounts, np.float64, order="C")
    ways = np.empty_like(drainage.steps)
    kernels.find_ways(drainage.heights_m, drainage.filled_m, drainage.steps, ways)
    inflows = np.empty_like(ways)
    kernels.count_ways_in(drainage.filled_m, ways, inflows)
    kernels.accumulate_multiple(
        drainage.filled_m.ravel(),
        ways.ravel(),
        inflows.ravel(),
        drainage.columns,
        drainage.offsets,
        exponent,
        sums.ravel(),
    )
    return sums
