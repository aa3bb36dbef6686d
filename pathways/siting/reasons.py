"""Why a site stands where it stands, in plain words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from pathways.features import Features
from pathways.rules import RECEPTOR_LAYERS
from pathways.siting.criteria import worst_of
from pathways.siting.site import Criterion, Judgement, Place, Site, SiteFlow, Verdict
from pathways.siting.situation import Situation
from pathways.siting.weights import MOST_FOR_CONVENIENCE
from pathways.terrain.pathway import Outcome

#: Soils by what they let through; the textures between are not spoken of.
_LETS_THROUGH: Final = ("sand", "loamy_sand", "sandy_loam")
_HOLDS_UP: Final = ("clay_loam", "silty_clay_loam", "sandy_clay", "silty_clay", "clay")

#: Ends that fewer versions reach than this are not told.
_WORTH_TELLING: Final = 0.05

#: Decimals of values below ten, by unit.
_DIGITS: Final = {"m/m": 2, "share": 2, "m": 1}
_FINE: Final = 10.0

_ON_RULES: Final[dict[Verdict, str]] = {
    "true": "it keeps every distance that was read or given",
    "false": "it breaks a rule that binds, so it stands below every site that does "
    "not, whatever its score",
    "marginal": "it lies too close to a limit to tell from a drawing whether it keeps "
    "the rules",
    "no_rule_read": "whether it keeps the rules is not known, because a rule or a "
    "layer is missing",
}

_ON_FLOW: Final[dict[Outcome, str]] = {
    "reaches_water": "A spill here reaches water {receptor}{length}.",
    "enters_piped_drain": "A spill here enters a drain {receptor}{length}; until "
    "somebody shows where it leads, it counts as connected to water.",
    "enters_ground": "A spill here goes into the ground {receptor}{length}.",
    "not_known": "Where a spill here goes is not known; that counts as the worst.",
    "stops_on_surface": "A spill here stays on the surface until the next rain.",
    "contained": "A spill here is held by what is there.",
}


def reasons_of(
    site: Site,
    place: Place,
    flow: SiteFlow | None,
    situation: Situation,
) -> tuple[str, ...]:
    """Return why a site stands where it stands and what would have to change.

    Parameters
    ----------
    site : Site
        With its rank, judgements and criteria.
    place : Place
        How it was drawn.
    flow : SiteFlow or None
        Where a spill goes.
    situation : Situation
        What it was measured in.

    Returns
    -------
    tuple of str
        Sentences, the weightiest first.
    """
    told = [
        _opening(site),
        *(_unmet(one) for one in site.unmet if one.binds),
        *(_check(one) for one in site.unmet if not one.binds),
        *_silences(site),
        _flow(flow, situation.features),
        *_versions(flow, situation.features),
        *_run_on(flow),
        *_marks(site.criteria),
        *_ground(site, situation),
        *_cautions(site, place, situation),
    ]
    return tuple(dict.fromkeys(told))


def _opening(site: Site) -> str:
    score = "without a score" if site.score is None else f"score {site.score:.2f} of 1"
    return f"Rank {site.rank}, {score}: {_ON_RULES[site.meets_rules]}."


def _source(judgement: Judgement) -> str:
    standing = judgement.standing.replace("_", " ")
    return f"[{judgement.citation}; {standing}]"


def _unmet(judgement: Judgement) -> str:
    verb = "Not met" if judgement.verdict == "false" else "Perhaps not met"
    if judgement.verdict == "marginal":
        change = "have the distance measured on the ground"
    elif judgement.margin_m is None:
        change = "it would have to lie outside"
    else:
        change = (
            f"it would have to lie {-judgement.margin_m:.1f} m farther off, and more "
            "by what grid and drawing may be off"
        )
    rule = f"{verb}: {judgement.says}"
    return f"{rule} {_source(judgement)}. To mend it, {change}."


def _check(judgement: Judgement) -> str:
    if judgement.binds_if_built:
        return f"It would bind a pad or bed: {judgement.says} {_source(judgement)}."
    return f"Ask locally, this does not bind: {judgement.says} {_source(judgement)}."


def _silences(site: Site) -> Iterator[str]:
    for one in site.judgements:
        if one.verdict == "no_rule_read" and one.binds:
            yield f"Not decided: {one.says}."


def _flow(flow: SiteFlow | None, features: Features) -> str:
    if flow is not None and not flow.is_known:
        return (
            "Part of its ground has no height, so where a spill here goes is not "
            "known; that counts as the worst."
        )
    if flow is None:
        return "Where a spill here goes was not traced; that counts as the worst."
    length = (
        ""
        if flow.length_m is None
        else f" after {flow.length_m:.0f} m over the ground, pipes not counted"
    )
    words = _ON_FLOW[flow.outcome].format(
        receptor=f"({features.title_of(flow.receptor_id)})" if flow.receptor_id else "",
        length=length,
    )
    return words.replace(" .", ".").replace("  ", " ").replace(" ;", ";")


def _versions(flow: SiteFlow | None, features: Features) -> Iterator[str]:
    """Yield what is reached over the versions of the ground, where it is not one."""
    if flow is None or not flow.arrivals:
        return
    worst = worst_of(flow.arrivals)
    told = [
        one
        for one in (() if worst is None else worst.ends)
        if one.share.probability >= _WORTH_TELLING
    ]
    if not told or {one.id for one in told} == {flow.receptor_id}:
        return  # one end, which is told already
    ends = ", ".join(
        (features.title_of(one.id) or one.kind.replace("_", " "))
        + f" in {100 * one.share.probability:.0f}"
        for one in told
    )
    yield (
        "By the versions of the ground a spill here may end elsewhere: it ends in "
        f"{ends} of 100."
    )


def _run_on(flow: SiteFlow | None) -> Iterator[str]:
    for one in () if flow is None else flow.springs:
        yield f"Water of spring {one} runs onto it and must be led round it."


def _marks(criteria: tuple[Criterion, ...]) -> Iterator[str]:
    known = [(one.weight, one.worth, one) for one in criteria if one.worth is not None]
    gains = {one.name: weight * worth for weight, worth, one in known}
    losses = {one.name: weight * (1.0 - worth) for weight, worth, one in known}
    for words, shares in (("for", gains), ("against", losses)):
        name = max(shares, key=lambda one: shares[one], default="")
        if name and shares[name] > 0:
            one = next(criterion for criterion in criteria if criterion.name == name)
            yield f"Most speaks {words} it: {_plain(one)}."
    unknown = [one.name.replace("_", " ") for one in criteria if one.worth is None]
    if unknown:
        yield f"Not known, and counted as the worst: {', '.join(unknown)}."


def _plain(criterion: Criterion) -> str:
    name = criterion.name.replace("_", " ")
    told = f" ({criterion.told})" if criterion.told else ""
    if criterion.value is None:
        return f"{name}{told}"
    digits = _DIGITS.get(criterion.unit, 0) if abs(criterion.value) < _FINE else 0
    unit = "" if criterion.unit == "share" else f" {criterion.unit}"
    return f"{name} {criterion.value:,.{digits}f}{unit}{told}"


def _ground(site: Site, situation: Situation) -> Iterator[str]:
    """Yield what the ground under a bed means: water in it, its soil."""
    depth = next(one for one in site.criteria if one.name == "depth_to_water")
    bed_m = situation.assumed["siting", "bed_depth_m"]
    if depth.value is None:
        yield (
            "How deep the water stands in winter is not given, so whether a lined bed "
            "would float here is not resolved: measure it in a trial pit in winter."
        )
    elif depth.value < bed_m:
        yield (
            f"In winter the water stands {depth.value:g} m down, above the bottom of a "
            f"bed {bed_m:g} m deep: it lifts the liner of a bed and an empty tank, "
            "while it is built and ever after. Drain under the liner, raise the bed, "
            "or take another place."
        )
    texture = situation.settings.soil.texture
    if texture in _LETS_THROUGH:
        yield (
            f"The soil ({texture.replace('_', ' ')}) lets a leak through to the ground "
            "water: the liner is all that holds it."
        )
    elif texture in _HOLDS_UP:
        yield (
            f"The soil ({texture.replace('_', ' ')}) holds rain up in winter, so a "
            "hole dug for a bed can fill by itself whatever the ground water does."
        )


def _cautions(site: Site, place: Place, situation: Situation) -> Iterator[str]:
    surroundings, weights = situation.surroundings, situation.weights
    absent = sorted(
        {
            f"zones of kind {kind}" if layer == "exclusions" else layer
            for kind, layer in RECEPTOR_LAYERS.items()
            if not surroundings.looked_for(kind)
        }
    )
    if absent:
        yield f"Not drawn, and so not looked at: {', '.join(absent)}."
    if place.is_nominal and not site.existing:
        yield (
            "Drawn as a point: distances are from a disc of "
            f"{weights.footprint_radius_m:g} m around it, which is assumed, and rules "
            "are applied to the pad and bed laid out there too; draw the outline to be "
            "exact."
        )
    if place.is_nominal and site.existing:
        yield (
            "Drawn as a point: distances are from that point, and a sprayer that "
            "stands there reaches farther."
        )
    if place.pad is None:
        yield (
            "There is no room for a pad and a bed of the sizes looked for: buildings, "
            "water or a track take it, or its ground is not known. A new site without "
            "room stands below every one with room."
        )
    elif not place.is_nominal and not place.bed_fits:
        yield (
            "A pad and a bed of the sizes looked for do not fit into it as drawn: they "
            "are laid out about its middle, and rules are applied to both."
        )
    if any(one.told.startswith("from the grid") for one in site.criteria):
        yield (
            "The slope is that of the grid, which cannot show a fall of 1:100; have "
            "the levels surveyed."
        )
    if weights.for_convenience > MOST_FOR_CONVENIENCE:
        yield (
            f"Your weights give convenience {weights.for_convenience:.0%} of the "
            f"whole; common practice is at most {MOST_FOR_CONVENIENCE:.0%}."
        )
