"""How numbers leave the program: rounded in one place."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

#: Digits behind the point: lengths to the millimetre, volumes to the millilitre.
DIGITS: Final = 3
#: Ratios, such as slopes and scores.
RATIO_DIGITS: Final = 6


def number(value: float | None, digits: int = DIGITS) -> float | None:
    """Round a number; what JSON cannot say, such as NaN, is not known.

    Examples
    --------
    >>> number(1.23456), number(float("nan")), number(-0.0001)
    (1.235, None, 0.0)
    """
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0  # -0.0 becomes 0.0


def quantiles(values: Iterable[float | None] | None) -> dict[str, float | None]:
    """Return a low, a middle and a high value; None of each where there are none.

    Examples
    --------
    >>> quantiles((1, 2, 3.00004)), quantiles(None)["low"]
    ({'low': 1.0, 'median': 2.0, 'high': 3.0}, None)
    """
    low, median, high = values or (None, None, None)
    return {"low": number(low), "median": number(median), "high": number(high)}
