"""Rulebooks: each number of law or guidance, and where it stands.

A rulebook is a .toml file (`pathways/rulebooks/`, or the user's own) that
`pathways.io.rulebooks` reads and checks. Two things decide whether a row may fail a
site:

* its standing: only what was measured, read at the source or given by the user binds;
* its force: law, a condition of an exemption and the user's own distance bind; advice
  and grant specifications do not, however well they were read.

All other rows warn and ask for a local check.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated, Final, Literal, get_args

from pydantic import ConfigDict, Field

from pathways.features import fields_of
from pathways.settings import RuleSettings

#: How firmly a number is known, firmest first.
STANDINGS = (
    "measured",
    "read",
    "given",
    "computed",
    "second_hand",
    "from_memory",
    "common_practice",
    "assumed",
)

#: Standings that may decide. `computed` is not among them: no law is computed.
BINDING_STANDINGS: Final = ("measured", "read", "given")

#: Forces that may decide.
BINDING_FORCES: Final = ("law", "condition_of_exemption", "user")

Standing = Literal[
    "measured",
    "read",
    "given",
    "computed",
    "second_hand",
    "from_memory",
    "common_practice",
    "assumed",
]
Use = Literal["filling", "pad", "bed", "store"]
Force = Literal[
    "law", "condition_of_exemption", "grant_specification", "advice", "user"
]

#: What a site may be used for.
USES: Final[tuple[Use, ...]] = get_args(Use)


def _kinds(layer: str) -> tuple[str, ...]:
    kind = next(one for one in fields_of(layer) if one.name == "kind")
    return tuple(kind.metadata["choices"])


#: Each kind of receptor, and the layer without which nothing can be said of it. A
#: culvert may be drawn as a watercourse or as a pipe; the watercourses must be there.
RECEPTOR_LAYERS: Final[Mapping[str, str]] = {
    **dict.fromkeys(_kinds("watercourses"), "watercourses"),
    "culvert": "watercourses",
    **dict.fromkeys(_kinds("water_supplies"), "water_supplies"),
    "drain_opening": "inlets",
    "land_drain": "pipes",
    **dict.fromkeys(_kinds("exclusions"), "exclusions"),
}

_NO_UNKNOWN_KEYS = ConfigDict(extra="forbid")
_Text = Annotated[str, Field(min_length=1)]
_Amount = Annotated[float | None, Field(ge=0, strict=True, allow_inf_nan=False)]
_Uses = Annotated[tuple[Use, ...], Field(min_length=1)]


@dataclass(frozen=True, kw_only=True)
class Citation:
    """Where a number of law or guidance stands, and when it was looked up."""

    __pydantic_config__ = _NO_UNKNOWN_KEYS

    publisher: _Text
    document: _Text
    clause: str = ""
    url: str = ""
    checked_on: date | None = None

    @property
    def text(self) -> str:
        """The citation as one line."""
        parts = [self.publisher, self.document, self.clause]
        if self.checked_on:
            parts.append(f"checked {self.checked_on.isoformat()}")
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True, kw_only=True)
class Setback:
    """A distance to keep, or ground to keep off.

    `distance_m` of 0 from a boundary or a drain bars the ground there. With
    `distance_setting` the distance comes from that key of farm.toml `[rules]`; until
    it is given, `distance_m` is None. With `standing_from_zone` the standing of the
    zone that was drawn decides whether the row binds.
    """

    __pydantic_config__ = _NO_UNKNOWN_KEYS

    id: _Text
    says: _Text
    applies_to: _Uses
    receptors: Annotated[tuple[str, ...], Field(min_length=1)]
    measured_from: Literal[
        "water_edge", "bank_top", "opening", "well", "drain", "boundary"
    ]
    force: Force
    standing: Standing
    citation: Citation
    supply_use: Literal["any", "domestic_or_food_production", "other"] = "any"
    distance_m: _Amount = None
    distance_setting: Literal[
        "", "watercourse_m", "water_supply_m", "drain_opening_m"
    ] = ""
    standing_from_zone: Annotated[bool, Field(strict=True)] = False
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse a row that contradicts itself."""
        for kind in self.receptors:
            if kind not in RECEPTOR_LAYERS:
                hint = did_you_mean(kind, RECEPTOR_LAYERS)
                msg = f"receptor {kind!r} is not known{hint}"
                raise ValueError(msg)
        if self.distance_m is None and not self.distance_setting:
            msg = "distance_m is missing; give metres, or name a distance_setting"
            raise ValueError(msg)

    @property
    def binds(self) -> bool:
        """Whether the row may fail a site; otherwise it warns."""
        return self.standing in BINDING_STANDINGS and self.force in BINDING_FORCES

    @property
    def is_bar(self) -> bool:
        """Whether it bars ground instead of keeping a distance."""
        return self.measured_from in ("boundary", "drain") and self.distance_m == 0.0


@dataclass(frozen=True, kw_only=True)
class Requirement:
    """A rule that is no distance: a duty, a cap, a lining, a place."""

    __pydantic_config__ = _NO_UNKNOWN_KEYS

    id: _Text
    says: _Text
    applies_to: _Uses
    kind: Literal["duty", "bar", "cap", "lining", "place"]
    force: Force
    standing: Standing
    citation: Citation
    limit: _Amount = None
    unit: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse a cap without a limit, or a limit without a unit."""
        if (self.kind == "cap") != (self.limit is not None):
            msg = "a cap, and only a cap, has a limit; give limit and unit"
            raise ValueError(msg)
        if (self.limit is not None) != bool(self.unit):
            msg = "limit and unit belong together; give both or neither"
            raise ValueError(msg)

    def allows(self, quantity: float) -> bool:
        """Return whether a quantity in `unit` keeps to the cap; True without a cap."""
        return self.limit is None or quantity <= self.limit


@dataclass(frozen=True, kw_only=True)
class Held:
    """How much must be held: the greatest of several shares, up to a limit.

    Parameters
    ----------
    largest_share : float
        Of the largest container, tank or machine.
    total_share : float
        Of all of them together.
    storm_mm : float
        Rain on the area that is held [mm].
    at_least_l : float
        Never less than this [l].
    at_most_l : float or None
        Never more than this is asked for [l].
    """

    __pydantic_config__ = _NO_UNKNOWN_KEYS

    largest_share: Annotated[float, Field(ge=0, strict=True)] = 0.0
    total_share: Annotated[float, Field(ge=0, strict=True)] = 0.0
    storm_mm: Annotated[float, Field(ge=0, strict=True)] = 0.0
    at_least_l: Annotated[float, Field(ge=0, strict=True)] = 0.0
    at_most_l: _Amount = None

    def __post_init__(self) -> None:
        """Refuse a rule that asks for nothing."""
        if not (self.largest_share or self.total_share or self.storm_mm):
            msg = "it asks for nothing; give largest_share, total_share or storm_mm"
            raise ValueError(msg)

    def volume_l(
        self, largest_l: float, total_l: float, area_m2: float
    ) -> tuple[float, str]:
        """Return how much must be held, and which clause governs.

        Parameters
        ----------
        largest_l, total_l : float
            The largest, and all together [l].
        area_m2 : float
            Area on which rain falls [m²].

        Returns
        -------
        tuple of (float, str)
            Volume [l], and the clause in words.

        Examples
        --------
        >>> Held(largest_share=1.25, at_most_l=5678.1).volume_l(3785.4, 3785.4, 60.0)
        (4731.75, '125 % of the largest')
        """
        clauses = [
            (
                self.largest_share * largest_l,
                f"{self.largest_share:.0%} of the largest",
            ),
            (self.total_share * total_l, f"{self.total_share:.0%} of all together"),
            (self.storm_mm * area_m2, f"{self.storm_mm:g} mm of rain on it"),
            (self.at_least_l, f"at least {self.at_least_l:,.0f} l"),
        ]
        volume_l, clause = max(clauses)
        if self.at_most_l is not None and volume_l > self.at_most_l:
            return self.at_most_l, f"no more than {self.at_most_l:,.0f} l is asked for"
        return volume_l, clause.replace("%", " %")


@dataclass(frozen=True, kw_only=True)
class Containment:
    """How much a pad, a store or a bund must hold.

    `open` and `roofed` are the same thing in the rain and out of it; without `roofed`
    the one holds for both. With `adds_displacement`, what stands in the bund and takes
    its room comes on top.
    """

    __pydantic_config__ = _NO_UNKNOWN_KEYS

    id: _Text
    says: _Text
    of: Literal["pad", "pesticide_store", "sensitive_store", "fuel_store", "oil_store"]
    open: Held
    force: Force
    standing: Standing
    citation: Citation
    roofed: Held | None = None
    adds_displacement: Annotated[bool, Field(strict=True)] = False
    note: str = ""

    @property
    def binds(self) -> bool:
        """Whether the row may decide; otherwise it is a measure to design by."""
        return self.standing in BINDING_STANDINGS and self.force in BINDING_FORCES

    def held(self, *, has_roof: bool) -> Held:
        """Return what holds under a roof, or without one."""
        return self.roofed if has_roof and self.roofed is not None else self.open


@dataclass(frozen=True, kw_only=True)
class Gap:
    """A rule that was looked for and not found, and whom to ask.

    Where `own_distance_settles`, a distance from farm.toml closes the gap; else it can
    only bar a site, never pass it.
    """

    __pydantic_config__ = _NO_UNKNOWN_KEYS

    id: _Text
    looked_for: _Text
    applies_to: _Uses
    ask: _Text
    own_distance_settles: bool = False


@dataclass(frozen=True, kw_only=True)
class Rulebook:
    """The rules of one jurisdiction."""

    id: str
    title: str
    jurisdiction: str
    setbacks: tuple[Setback, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    containments: tuple[Containment, ...] = ()
    gaps: tuple[Gap, ...] = ()


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return what to add to a sentence about a word that is not known.

    Examples
    --------
    >>> did_you_mean("rivr", ["river", "well"])
    "; did you mean 'river'?"
    >>> did_you_mean("zebra", ["river", "well"])
    '; known are river, well'
    """
    known = tuple(known)
    nearest = difflib.get_close_matches(word, known, n=1)
    if nearest:
        return f"; did you mean {nearest[0]!r}?"
    return f"; known are {', '.join(known)}"


def with_given_distances(rulebook: Rulebook, given: RuleSettings) -> Rulebook:
    """Return a rulebook whose open distances are filled in from farm.toml.

    An open row that stays open is kept only for uses on which no other binding row of
    the rulebook speaks of the same receptors: there it says which setting to give.

    Parameters
    ----------
    rulebook : Rulebook
        As read.
    given : RuleSettings
        `[rules]` of farm.toml; its distances are in metres.

    Returns
    -------
    Rulebook
        The same without open rows that nobody needs.
    """
    setbacks = []
    for row in rulebook.setbacks:
        if row.distance_setting:
            distance_m = getattr(given, row.distance_setting)
            uses = row.applies_to if distance_m is not None else _open(row, rulebook)
            if uses:
                setbacks.append(replace(row, distance_m=distance_m, applies_to=uses))
        else:
            setbacks.append(row)
    return replace(rulebook, setbacks=tuple(setbacks))


def _open(row: Setback, rulebook: Rulebook) -> tuple[Use, ...]:
    settled = {
        use
        for other in rulebook.setbacks
        if other.binds and not other.distance_setting
        if set(other.receptors) & set(row.receptors)
        for use in other.applies_to
    }
    return tuple(use for use in row.applies_to if use not in settled)
