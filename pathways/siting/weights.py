"""What a criterion is worth, and how much it weighs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Final, Literal, get_args

import numpy as np
from pydantic import ConfigDict, Field

from pathways.errors import SettingsError
from pathways.rules import Standing, did_you_mean
from pathways.terrain.pathway import Outcome

#: What all convenience together may weigh (common practice, no source).
MOST_FOR_CONVENIENCE: Final = 0.30

CriterionName = Literal[
    "distance_to_water",
    "distance_to_drains",
    "distance_along_flow",
    "time_along_flow",
    "critical_volume",
    "chance_of_water",
    "distance_to_wells",
    "distance_to_pipes",
    "upslope_area",
    "hollow_depth",
    "depth_to_water",
    "ways_crossed",
    "slope",
    "cross_slope",
    "earth_moved",
    "fall_to_bed",
    "distance_to_supplies",
    "distance_to_dwellings",
]
CRITERIA: Final[tuple[CriterionName, ...]] = get_args(CriterionName)

_Share = Annotated[float, Field(ge=0, le=1, strict=True)]
_Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
_NO_UNKNOWN_KEYS = ConfigDict(extra="forbid")


@dataclass(frozen=True, kw_only=True)
class Yardstick:
    """One criterion: its unit, its weight, and what a value of it is worth."""

    __pydantic_config__ = _NO_UNKNOWN_KEYS

    name: CriterionName
    says: str
    unit: str
    concerns: Literal["water", "convenience"]
    weight: _Share
    points: Annotated[tuple[tuple[_Number, _Share], ...], Field(min_length=2)]

    def __post_init__(self) -> None:
        """Refuse points that do not rise in value or go to and fro in worth."""
        values, worths = np.array(self.points).T
        steps = np.diff(worths)
        if (np.diff(values) <= 0).any() or ((steps > 0).any() and (steps < 0).any()):
            msg = "points must rise in value, and in worth only rise or only fall"
            raise ValueError(msg)

    def worth(self, value: float) -> float:
        """Return what a value is worth, from 0 worst to 1 best."""
        values, worths = np.array(self.points).T
        return float(np.interp(value, values, worths))


@dataclass(frozen=True, kw_only=True)
class Weights:
    """How sites are compared, and what is assumed of what was not drawn.

    Parameters
    ----------
    standing, source : str
        How these numbers are known: judgement, unless the farm gave its own.
    footprint_radius_m : float
        Radius of the ground taken for a candidate that was drawn as a point [m].
    firmness : float
        How firmly the weights are meant: the greater, the less they are varied.
    worth_by_outcome : mapping of str to float
        Worth of a way that ends before water.
    criteria : tuple of Yardstick
        Their weights add up to 1.
    assumed_half_widths_m : mapping of str to float
        Half width of waters drawn at the centre, by kind [m].
    most_inconsistency : float
        Largest consistency ratio of comparisons that is accepted.
    random_index : tuple of float
        Consistency index of chance answers, by number of criteria from 1.
    """

    __pydantic_config__ = _NO_UNKNOWN_KEYS

    standing: Standing
    source: str
    footprint_radius_m: Annotated[float, Field(gt=0, strict=True)]
    firmness: Annotated[float, Field(gt=0, strict=True)]
    worth_by_outcome: Mapping[Outcome, _Share]
    criteria: tuple[Yardstick, ...]
    assumed_half_widths_m: Mapping[str, float]
    most_inconsistency: Annotated[float, Field(gt=0, strict=True)]
    random_index: Annotated[tuple[_Number, ...], Field(min_length=3)]

    def __post_init__(self) -> None:
        """Refuse weights that leave out a criterion or do not add up to 1."""
        if tuple(sorted(one.name for one in self.criteria)) != tuple(sorted(CRITERIA)):
            msg = f"each of {', '.join(CRITERIA)} must be there once"
            raise ValueError(msg)
        total = sum(one.weight for one in self.criteria)
        if not math.isclose(total, 1.0, abs_tol=1e-9):
            msg = f"the weights add up to {total:g}; they must add up to 1"
            raise ValueError(msg)

    @property
    def for_convenience(self) -> float:
        """Share of the whole that convenience weighs."""
        return sum(one.weight for one in self.criteria if one.concerns != "water")


def with_given_weights(weights: Weights, given: Mapping[str, float]) -> Weights:
    """Return the weights with the farm's own in place of some or all of them.

    Parameters
    ----------
    weights : Weights
        The defaults.
    given : mapping of str to float
        `[siting] weights` of farm.toml; afterwards all are scaled to add up to 1.

    Returns
    -------
    Weights
        Of standing ``given`` if any was given.

    Raises
    ------
    SettingsError
        If a name is not known, a weight is no number of 0 or more, or all are 0.
    """
    if not given:
        return weights
    for name, weight in given.items():
        if name not in CRITERIA:
            msg = (
                f"farm.toml, [siting] weights: {name} is no criterion"
                f"{did_you_mean(name, CRITERIA)}"
            )
            raise SettingsError(msg)
        if not 0 <= weight < math.inf:
            msg = (
                f"farm.toml, [siting] weights: {name} is {weight}; "
                "a weight is a number of 0 or more"
            )
            raise SettingsError(msg)
    chosen = {one.name: given.get(one.name, one.weight) for one in weights.criteria}
    total = sum(chosen.values())
    if total == 0:
        msg = (
            "farm.toml, [siting] weights: all are 0; give at least one criterion weight"
        )
        raise SettingsError(msg)
    criteria = tuple(
        replace(one, weight=chosen[one.name] / total) for one in weights.criteria
    )
    return replace(
        weights,
        criteria=criteria,
        standing="given",
        source="farm.toml, [siting] weights; what is not given there is judgement",
    )
