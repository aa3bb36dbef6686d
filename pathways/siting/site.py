"""What is said of one site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from shapely import Geometry, Polygon, union_all

from pathways.rules import Use
from pathways.siting.earthwork import Earthwork
from pathways.spill.spill import CriticalVolume
from pathways.terrain.pathway import Arrival, Outcome

Verdict = Literal["true", "false", "marginal", "no_rule_read"]


@dataclass(frozen=True, kw_only=True)
class Place:
    """A place to be judged: a candidate, or where things are done already.

    `footprint` is what distances are measured from; `ground` is the polygon whose
    slope counts. Where `is_nominal`, the ground was drawn as a point and its size is
    assumed. `pad` and `bed` are how they were laid out there, None where there is no
    room; `bed_fits` says whether both lie within what was drawn. `depth_to_water_m` is
    that of a trial pit there [m].
    """

    site_id: str
    name: str
    existing: bool
    uses: tuple[Use, ...]
    footprint: Geometry
    ground: Geometry
    is_nominal: bool
    pad: Polygon | None = None
    bed: Polygon | None = None
    bed_fits: bool = True
    depth_to_water_m: float | None = None

    @property
    def built(self) -> Geometry:
        """What was drawn, with pad and bed where they lie beyond it."""
        parts = [one for one in (self.pad, self.bed) if one is not None]
        if self.bed_fits or not parts:
            return self.footprint
        return union_all([self.footprint, *parts])


@dataclass(frozen=True, kw_only=True)
class SiteFlow:
    """Where liquid spilt at a site goes, and what ground drains onto the site.

    `length_m` is the way over the ground to `receptor_id` or to the drain that leads
    there [m]: a pipe holds nothing back, so its length does not count. None where the
    way has no end that is known. `upslope_area_m2` is None where it is not known [m²].
    `critical` has the smallest loss that gets there in each state of the ground, at the
    rate of an overfill, and `time_s` the fast bound of storm runoff for it, pipes
    included [s]. `hollow_depth_m` is the deepest standing water within the site [m].
    `arrivals` tell what is reached over the versions of the ground. `springs` names the
    springs whose water runs onto the site. Where part of its ground has no height,
    nothing is known (`is_known`).
    """

    outcome: Outcome
    receptor_id: str
    length_m: float | None
    upslope_area_m2: float | None
    critical: tuple[CriticalVolume, ...] = ()
    time_s: float | None = None
    hollow_depth_m: float | None = None
    arrivals: tuple[Arrival, ...] = ()
    springs: tuple[str, ...] = ()
    is_known: bool = True


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
    binds_if_built: bool = False  # of a place in use: it would bind a pad or bed there


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """One measure of one site and what it is worth.

    `told` says what the value means or is measured from, and stands for it where there
    is none. `spread` has its 5, 50 and 95 % quantiles where the ground or the drawing
    leaves it uncertain, and `worths` what those are worth.
    """

    name: str
    value: float | None
    unit: str
    worth: float | None  # 0 worst to 1 best; None where the value is not known
    weight: float
    standing: str
    told: str = ""
    spread: tuple[float, float, float] | None = None
    worths: tuple[float, float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Site:
    """A site, its place in the order, and why it stands there.

    Parameters
    ----------
    site_id, name : str
        As it was drawn.
    existing : bool
        Whether it is used for filling or washing today.
    rank : int
        Place in the order, from 1; those that tie share it.
    meets_rules : {"true", "false", "marginal", "no_rule_read"}
        Worst verdict of the rules that bind.
    judgements : tuple of Judgement
        Each rule applied to it.
    score : float or None
        Weighted sum of what its criteria are worth, from 0 to 1; None where nothing is
        known.
    criteria : tuple of Criterion
        What was measured of it.
    reasons : tuple of str
        Sentences, the weightiest first.
    easting_m, northing_m : float
        Middle of its ground [m].
    footprint : shapely.Geometry
        What distances are measured from.
    rank_acceptability : tuple of float
        Share of the draws of the weights in which it is first, second and so on among
        the sites that break no binding rule; empty where it breaks one or is alone.
    critical_volume_l : tuple of CriticalVolume
        Smallest loss here that gets to the end of its way, in each state of the ground;
        empty where the way is not known.
    earthwork : Earthwork or None
        What must be moved to lay the pad even with its fall; None where there is no
        room for one, or where the ground is not known.
    pad, bed : shapely.Polygon or None
        How they were laid out for that; None where there is no room.
    """

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
    rank_acceptability: tuple[float, ...] = ()
    critical_volume_l: tuple[CriticalVolume, ...] = ()
    earthwork: Earthwork | None = None
    pad: Polygon | None = None
    bed: Polygon | None = None

    @property
    def unmet(self) -> tuple[Judgement, ...]:
        """Return the judgements that the site does not meet, or only just."""
        return tuple(
            one for one in self.judgements if one.verdict in ("false", "marginal")
        )


def shared_reasons(sites: Sequence[Site]) -> tuple[str, ...]:
    """Return the reasons that hold of every site that could be built on.

    Parameters
    ----------
    sites : sequence of Site
        In their order.

    Returns
    -------
    tuple of str
        To be told once; none where there is only one such site.
    """
    new = [one for one in sites if not one.existing]
    if len(new) < 2:  # noqa: PLR2004 - of one site nothing is shared
        return ()
    common = set.intersection(*(set(one.reasons) for one in new))
    return tuple(one for one in new[0].reasons if one in common)
