"""Sites in order: rules first, then water, then convenience."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from pathways.rules import Rulebook, Use
from pathways.siting.criteria import measure, score_of
from pathways.siting.earthwork import Earthwork, earthwork
from pathways.siting.reasons import reasons_of
from pathways.siting.receptors import Surroundings
from pathways.siting.robustness import with_robustness
from pathways.siting.setbacks import judge, meets_rules
from pathways.siting.site import Criterion, Judgement, Place, Site, SiteFlow
from pathways.siting.situation import Situation

#: Scores that agree to this many decimals are a tie: weights and end-points are
#: judgement, and a third decimal of them decides nothing.
_DECIMALS_THAT_COUNT: Final = 2

#: What an existing place is told for information.
_FOR_INFORMATION: Final[tuple[Use, ...]] = ("pad", "bed")


def rank_sites(
    situation: Situation,
    rulebook: Rulebook,
    traced: Sequence[tuple[Place, SiteFlow | None]],
) -> tuple[Site, ...]:
    """Return candidates and existing places, best first, with reasons.

    A site that breaks a binding rule stands below every site that does not, and a new
    one without room for pad and bed below those with room; neither is a low score.
    Among equals in that the weighted sum of the criteria decides. Sites that agree to
    two decimals share their rank.

    Parameters
    ----------
    situation : Situation
        Ground, drawing, weights and settings.
    rulebook : Rulebook
        With the farm's own distances (`with_given_distances`).
    traced : sequence of (Place, SiteFlow or None)
        Places to be judged (`places_of`, `pathways.siting.search`), and where a spill
        goes from each; None where that is not known.

    Returns
    -------
    tuple of Site
    """
    by_id = {place.site_id: (place, flow) for place, flow in traced}
    position_error_m = situation.settings.ground.position_error_m
    judged = []
    for place, flow in traced:
        judgements = _judge_place(
            place, situation.surroundings, rulebook, position_error_m
        )
        site = _unranked(place, judgements, measure(place, situation, flow))
        judged.append(
            replace(
                site,
                critical_volume_l=() if flow is None else flow.critical,
                earthwork=_earthwork(place, situation),
                pad=place.pad,
                bed=place.bed,
            )
        )
    ranked = _in_order(judged)
    told = []
    for site in ranked:
        reasons = reasons_of(site, *by_id[site.site_id], situation)
        told.append(replace(site, reasons=reasons + _tie(site, ranked)))
    return with_robustness(told, situation.weights)


def _earthwork(place: Place, situation: Situation) -> Earthwork | None:
    """Return what must be moved for a pad; nothing where none was laid out."""
    if place.pad is None:
        return None
    return earthwork(situation.grid, place.pad, situation.settings.siting.pad_fall)


def _judge_place(
    place: Place,
    surroundings: Surroundings,
    rulebook: Rulebook,
    position_error_m: float,
) -> tuple[Judgement, ...]:
    drawn = place.footprint if place.existing else place.built
    judgements = judge(place.uses, drawn, surroundings, rulebook, position_error_m)
    if not place.existing:
        return judgements
    judged = {one.rule for one in judgements}
    others = judge(
        _FOR_INFORMATION, place.built, surroundings, rulebook, position_error_m
    )
    return judgements + tuple(
        replace(
            one,
            binds=False,
            binds_if_built=one.binds,
            says=f"if a pad and bed were built here, {one.says}",
        )
        for one in others
        if one.rule not in judged and one.verdict != "no_rule_read"
    )


def _unranked(
    place: Place, judgements: tuple[Judgement, ...], criteria: tuple[Criterion, ...]
) -> Site:
    centre = place.ground.centroid
    return Site(
        site_id=place.site_id,
        name=place.name,
        existing=place.existing,
        rank=0,
        meets_rules=meets_rules(judgements),
        judgements=judgements,
        score=score_of(criteria),
        criteria=criteria,
        reasons=(),
        easting_m=float(centre.x),
        northing_m=float(centre.y),
        footprint=place.footprint,
    )


def _standing_of(site: Site) -> tuple[bool, bool, float]:
    """Return what decides the order: a broken rule, no room, then the score."""
    score = -1.0 if site.score is None else round(site.score, _DECIMALS_THAT_COUNT)
    no_room = site.pad is None and not site.existing
    return (site.meets_rules == "false", no_room, -score)


def _in_order(sites: list[Site]) -> tuple[Site, ...]:
    ordered = sorted(
        sites,
        key=lambda site: (*_standing_of(site), -(site.score or 0.0), site.site_id),
    )
    standings = [_standing_of(site) for site in ordered]
    return tuple(
        replace(site, rank=standings.index(_standing_of(site)) + 1) for site in ordered
    )


def _tie(site: Site, ranked: tuple[Site, ...]) -> tuple[str, ...]:
    equals = [
        one.name or one.site_id
        for one in ranked
        if one.rank == site.rank and one.site_id != site.site_id
    ]
    if not equals:
        return ()
    return (
        f"A tie with {', '.join(equals)}: to two decimals their scores are equal, and "
        "the order in which they are told means nothing.",
    )
