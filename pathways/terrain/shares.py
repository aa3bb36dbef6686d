"""Shares of versions of the ground, with their intervals, and the seed of each."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

#: Two-sided 95 % of a normal distribution.
_Z: Final = 1.959963984540054


@dataclass(frozen=True, kw_only=True)
class Share:
    """In how many versions of the ground something happens.

    `low` and `high` bound the share that infinitely many versions would give (Wilson
    score interval, 95 %).
    """

    hits: int
    runs: int
    low: float
    high: float

    @property
    def probability(self) -> float:
        """Share of the versions that were run."""
        return self.hits / self.runs

    @property
    def entropy_bits(self) -> float:
        """How undecided it is [bits]: 1 at a half, 0 at none or all.

        Shannon's entropy of happening or not, as Hengl, Heuvelink & van Loon 2010
        (Hydrology and Earth System Sciences 14:1153) map it for streams.
        """
        return float(entropy_bits(np.array([self.probability]))[0])

    @property
    def says(self) -> str:
        """The share in words; none of many is no nought, nearly all is not all."""
        of_hundred = round(100 * self.probability)
        if of_hundred <= 0:
            return f"< {_percent(self.high)}"
        if round(100 * (1 - self.probability)) <= 0:
            return f"> {_percent(self.low)}"
        return (
            f"{of_hundred} of 100 ({round(100 * self.low)} to {round(100 * self.high)})"
        )


def _percent(share: float) -> str:
    percent = 100 * share
    return f"{percent:.1f} %" if min(percent, 100 - percent) < 1 else f"{percent:.0f} %"


def share_of(hits: int, runs: int) -> Share:
    """Return a share with its Wilson score interval.

    Wilson 1927, as given by Newcombe 1998, Statistics in Medicine 17:857, method 3.

    Parameters
    ----------
    hits, runs : int
        How often it happened, of how many.

    Returns
    -------
    Share
        With the 95 % interval.

    Examples
    --------
    >>> one = share_of(81, 263)
    >>> round(one.low, 4), round(one.high, 4)
    (0.2553, 0.3662)
    """
    share = hits / runs
    middle = share + _Z**2 / (2 * runs)
    spread = _Z * math.sqrt(share * (1 - share) / runs + (_Z / (2 * runs)) ** 2)
    whole = 1 + _Z**2 / runs
    return Share(
        hits=hits,
        runs=runs,
        low=max(0.0, (middle - spread) / whole) if hits else 0.0,
        high=min(1.0, (middle + spread) / whole) if hits < runs else 1.0,
    )


def entropy_bits(
    shares: NDArray[np.float32] | NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return how undecided shares are, H = -p log2 p - (1 - p) log2 (1 - p) [bits].

    Parameters
    ----------
    shares : ndarray of float
        Shares p of the versions in which something happens, 0 to 1.

    Returns
    -------
    ndarray of float64
        In the same shape.

    Examples
    --------
    >>> entropy_bits(np.array([0.0, 0.5, 1.0])).tolist()
    [0.0, 1.0, 0.0]
    """
    total = np.zeros(shares.shape)
    for part in (shares.astype(np.float64), 1.0 - shares.astype(np.float64)):
        some = part > 0
        total[some] -= part[some] * np.log2(part[some])
    return total


def seed_of(farm_id: str, realisation: int) -> int:
    """Return the seed of one version of a farm's ground.

    It depends on nothing else, so that any version can be run again by itself and all
    alternatives are compared on the same ones.

    Examples
    --------
    >>> seed_of("a", 1) == seed_of("a", 1) != seed_of("a", 2)
    True
    """
    digest = hashlib.sha256(f"{farm_id}:{realisation}".encode()).digest()
    return int.from_bytes(digest[:8], "little")
