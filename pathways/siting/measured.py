"""A value that was measured of a site, before it is worth anything."""

from __future__ import annotations

from dataclasses import dataclass

Spread = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Measured:
    """One value, or why there is none.

    Parameters
    ----------
    value : float or None
        In the unit of its criterion; None where there is none.
    told : str
        What it means or is measured from; stands for the value where there is none.
    spread : tuple of float, or None
        Its 5, 50 and 95 % quantiles, where it is uncertain.
    worth : float or None
        What a missing value is worth, where that is known, from 0 to 1.
    """

    value: float | None = None
    told: str = ""
    spread: Spread | None = None
    worth: float | None = None


#: Nothing is known of it.
NOT_KNOWN = Measured()


def give_or_take(value: float, error: float, *, least: float = 0.0) -> Spread:
    """Return the quantiles of a value that may be off by an error either way.

    Parameters
    ----------
    value : float
        As measured.
    error : float
        By how much 5 and 95 % quantiles lie off it, in its unit.
    least : float
        Smallest value that there can be.

    Returns
    -------
    tuple of float
        5, 50 and 95 % quantiles.

    Examples
    --------
    >>> give_or_take(0.5, 2.0)
    (0.0, 0.5, 2.5)
    """
    return max(least, value - error), value, value + error
