"""Numbers of a spill that nobody knows, drawn from what is thought of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.assumed import AssumedValues
from pathways.materials import KnownRange
from pathways.settings import SpillSettings

Values = NDArray[np.float64]

#: The same draws for all sources, states and losses, so that these can be compared.
_SEED: Final = 20_260_213
#: How many draws: the 5 % and 95 % quantiles lie between the 20 outermost.
DRAWS: Final = 400


@dataclass(frozen=True)
class Draws:
    """Numbers of several possible spills; arrays of one length.

    Parameters
    ----------
    widths_m : mapping of str to ndarray
        Width of the wetted path by kind of ground, ``yard`` and ``field`` [m].
    films : ndarray of float64, or None
        Which quantile of its range the film of every cover takes, 0 to 1; None for the
        middle values.
    conductivity_factors : ndarray of float64
        How many times as fast as by the table soil soaks.
    volume_factors : ndarray of float64
        Volume spilt as a share of what is stated.
    """

    widths_m: Mapping[str, Values]
    films: Values | None
    conductivity_factors: Values
    volume_factors: Values

    @property
    def count(self) -> int:
        """How many spills."""
        return int(self.volume_factors.size)

    def film_mm(self, known: KnownRange) -> Values:
        """Return the film that a cover holds in each spill [mm]."""
        if self.films is None:
            return np.full(self.count, known.mid)
        return triangular_quantiles(self.films, known.low, known.mid, known.high)


def triangular_quantiles(
    shares: Values, low: float, mode: float, high: float
) -> Values:
    """Return quantiles of a triangular distribution.

    Parameters
    ----------
    shares : ndarray of float64
        Shares below, 0 to 1.
    low, mode, high : float
        Its corners; `low` where they are one.

    Returns
    -------
    ndarray of float64
        The inverse of its cumulative distribution.

    Examples
    --------
    >>> triangular_quantiles(np.array([0.0, 0.5, 1.0]), 0.0, 1.0, 2.0).tolist()
    [0.0, 1.0, 2.0]
    """
    span = high - low
    if span <= 0:
        return np.full(shares.shape, low)
    below = low + np.sqrt(shares * span * (mode - low))
    above = high - np.sqrt((1 - shares) * span * (high - mode))
    return np.where(shares * span < mode - low, below, above)


def widths_of(
    settings: SpillSettings, assumed: AssumedValues
) -> dict[str, tuple[float, float, float]]:
    """Return low, most likely and high width of the wetted path [m].

    Parameters
    ----------
    settings : SpillSettings
        The farm's own width for its yard.
    assumed : AssumedValues
        Widths where none is given.

    Returns
    -------
    dict of str to tuple of float
        For ``yard`` and ``field``.
    """
    found = {
        ground: (
            assumed["spill", f"{ground}_width_low_m"],
            assumed["spill", f"{ground}_width_mode_m"],
            assumed["spill", f"{ground}_width_high_m"],
        )
        for ground in ("yard", "field")
    }
    if settings.wetted_width_m:
        low, mode, high = settings.wetted_width_m
        found["yard"] = (low, mode, high)
    return found


def middle_draw(widths_m: Mapping[str, Sequence[float]]) -> Draws:
    """Return one spill with the middle value of everything.

    Parameters
    ----------
    widths_m : mapping of str to sequence of float
        From `widths_of`.

    Returns
    -------
    Draws
        Of one spill.
    """
    one = np.ones(1)
    middle = {ground: np.array([values[1]]) for ground, values in widths_m.items()}
    return Draws(middle, None, one, one)


def draw(
    widths_m: Mapping[str, Sequence[float]],
    assumed: AssumedValues,
    count: int = DRAWS,
) -> Draws:
    """Draw possible spills; the same ones each time.

    A spill that is wide on the yard is wide on the field too, and a film that is thick
    on one cover is thick on all: that gives the widest spread of results.

    Parameters
    ----------
    widths_m : mapping of str to sequence of float
        From `widths_of`.
    assumed : AssumedValues
        How far conductivity and volume may be off.
    count : int
        How many.

    Returns
    -------
    Draws
        Width and film triangular, the conductivity's factor log-uniform, the volume's
        uniform.
    """
    shares = np.random.default_rng(_SEED).random((4, count))
    most = assumed["spill", "conductivity_factor"]
    doubt = assumed["spill", "volume_doubt"]
    return Draws(
        {
            ground: triangular_quantiles(shares[0], *values)
            for ground, values in widths_m.items()
        },
        shares[1],
        most ** (2 * shares[2] - 1),
        1 + doubt * (2 * shares[3] - 1),
    )
