"""How wrong heights can be: scenarios of relative error by kind of survey."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

#: Classes of ground, as rows of an error model.
OPEN, HARD = 0, 1

#: 95 % quantile of the normal distribution.
_NINETY_FIVE: Final = 1.645


@dataclass(frozen=True, kw_only=True)
class ClassError:
    """Standard deviations of the error on one class of ground [m]."""

    nugget_m: float
    short_m: float
    long_m: float

    @property
    def total_m(self) -> float:
        """Standard deviation of the error of one height [m]."""
        return math.hypot(self.nugget_m, self.short_m, self.long_m)


@dataclass(frozen=True, kw_only=True)
class ErrorScenario:
    """One scenario of the error of a survey.

    Ranges are distances along a row at which the correlation has fallen to 0.05 [m].
    """

    name: str
    says: str
    standing: str
    source: str
    short_range_m: float
    long_range_m: float
    hard: ClassError
    open: ClassError


def parse_elevation_errors(text: str) -> Mapping[str, tuple[ErrorScenario, ...]]:
    """Read the table of error scenarios.

    Parameters
    ----------
    text : str
        Content of ``elevation_errors.toml``.

    Returns
    -------
    mapping of str to tuple of ErrorScenario
        Scenarios by kind of survey, the smaller error first.
    """
    found = {}
    for survey, table in tomllib.loads(text)["survey"].items():
        shared = {
            key: table[key]
            for key in ("standing", "source", "short_range_m", "long_range_m")
        }
        found[survey] = tuple(
            ErrorScenario(
                name=name,
                says=entry["says"],
                hard=ClassError(**entry["hard"]),
                open=ClassError(**entry["open"]),
                **shared,
            )
            for name, entry in table.items()
            if isinstance(entry, dict)
        )
    return found


def fall_error_m(scenarios: Iterable[ErrorScenario]) -> float:
    """Return by how much a fall may be greater than measured [m].

    Parameters
    ----------
    scenarios : iterable of ErrorScenario
        Of one survey.

    Returns
    -------
    float
        95 % quantile of the difference of two heights that know nothing of each other,
        on the ground and in the scenario that are known worst: an upper bound.

    Examples
    --------
    >>> exact = ClassError(nugget_m=0.0, short_m=0.0, long_m=0.0)
    >>> poor = ClassError(nugget_m=0.0, short_m=0.03, long_m=0.04)
    >>> one = ErrorScenario(name="", says="", standing="", source="",
    ...     short_range_m=8.0, long_range_m=100.0, hard=exact, open=poor)
    >>> round(fall_error_m([one]), 4)
    0.1163
    """
    worst_m = max(part.total_m for one in scenarios for part in (one.hard, one.open))
    return _NINETY_FIVE * math.sqrt(2) * worst_m
