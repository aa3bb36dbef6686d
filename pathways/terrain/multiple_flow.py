"""Accumulation of water that spreads over several neighbours."""

from __future__ import annotations

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
        Power of the slope [-]; larger values spread water less.

    Returns
    -------
    ndarray of float64, shape (rows, columns)
        Sums; those of all ends add up to all that was given.

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
    if amounts is None:
        sums: NDArray[np.float64] = (drainage.kinds != HOLE).astype(np.float64)
    else:
        sums = np.array(amounts, np.float64, order="C")
    kernels.accumulate_multiple(
        drainage.heights_m.ravel(),
        drainage.filled_m.ravel(),
        drainage.kinds.ravel(),
        drainage.steps.ravel(),
        drainage.offsets,
        exponent,
        sums.ravel(),
    )
    return sums
