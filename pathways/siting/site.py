"""What is said of one site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely import Geometry

Verdict = Literal["true", "false", "marginal", "no_rule_read"]


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """One rule applied to one site.

    `margin_m` is how far the site lies beyond the distance that is needed; negative
    where it falls short. `need_m` is None for a rule without a distance.
    """

    rule: str
    says: str
    verdict: Verdict
    need_m: float | None
    have_m: float | None
    margin_m: float | None
    receptor_id: str
    citation: str
    standing: str
    binds: bool  # False: it warns, and asks for a local check


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """One measure of one site and what it is worth."""

    name: str
    value: float | None
    unit: str
    worth: float | None  # 0 worst to 1 best; None where the value is not known
    weight: float
    standing: str


@dataclass(frozen=True, kw_only=True)
class Site:
    """A site, its place in the order, and why it stands there."""

    site_id: str
    name: str
    existing: bool
    rank: int
    meets_rules: Verdict
    judgements: tuple[Judgement, ...]
    score: float | None
    criteria: tuple[Criterion, ...]
    reasons: tuple[str, ...]
    easting_m: float
    northing_m: float
    footprint: Geometry

    @property
    def unmet(self) -> tuple[Judgement, ...]:
        """Return the judgements that the site does not meet, or only just."""
        return tuple(
            one for one in self.judgements if one.verdict in ("false", "marginal")
        )
