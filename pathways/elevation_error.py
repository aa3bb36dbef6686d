"""How wrong heights can be: scenarios of relative error by kind of survey."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass

#: Classes of ground, as rows of an error model.
OPEN, HARD = 0, 1


@dataclass(frozen=True, kw_only=True)
class ClassError:
    """Standard deviations of the error on one class of ground [m]."""

    nugget_m: float
    short_m: float
    long_m: float


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
