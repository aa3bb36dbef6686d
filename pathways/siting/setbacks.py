"""Distances that rules ask for, applied to one site."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from typing import Final

from shapely import Geometry

from pathways.rules import (
    BINDING_STANDINGS,
    RECEPTOR_LAYERS,
    USES,
    Rulebook,
    Setback,
    Use,
)
from pathways.siting.receptors import Receptor, Surroundings
from pathways.siting.site import Judgement, Verdict

#: Nearer to a limit than this, on either side, nobody decides from a drawing [m]
#: (data contract: `marginal` is within position error of the limit, at least 2 m).
LEAST_POSITION_ERROR_M: Final = 2.0
#: Differences of coordinates are rounded to less than this [m].
_SAME_PLACE_M: Final = 1e-6

#: Worst first, for a site as a whole.
_WORST_FIRST: Final[tuple[Verdict, ...]] = ("false", "marginal", "no_rule_read")

#: Layers of which every kind drawn must be covered by a rule.
_MUST_BE_COVERED: Final = ("watercourses", "water_supplies")


def judge(
    uses: Collection[Use],
    footprint: Geometry,
    surroundings: Surroundings,
    rulebook: Rulebook,
    position_error_m: float,
) -> tuple[Judgement, ...]:
    """Return what each rule says of a site.

    A row gives one judgement for each receptor that is too near, or else one for the
    nearest. It is never met by silence: where its layer was not drawn, where its
    distance is not given, where no binding row speaks of a use or of a kind of water
    that was drawn, the verdict is ``no_rule_read`` and says why.

    Parameters
    ----------
    uses : collection of {"filling", "pad", "bed", "store"}
        What the site is for.
    footprint : shapely.Geometry
        Ground that it takes; distances are from its edge.
    surroundings : Surroundings
        What there is to keep away from.
    rulebook : Rulebook
        With the farm's own distances (`with_given_distances`).
    position_error_m : float
        How far grid and drawing may be off in plan [m]; a margin within this or within
        2 m, whichever is more, is ``marginal``.

    Returns
    -------
    tuple of Judgement
        In the order of the rulebook.
    """
    band_m = max(LEAST_POSITION_ERROR_M, position_error_m)
    judgements: list[Judgement] = []
    for row in rulebook.setbacks:
        if set(row.applies_to) & set(uses):
            judgements.extend(_apply(row, footprint, surroundings, band_m))
    for use in (one for one in USES if one in uses):
        judgements.extend(_silences(use, footprint, surroundings, rulebook))
    return tuple(judgements)


def meets_rules(judgements: Iterable[Judgement]) -> Verdict:
    """Return the verdict on a site as a whole, from its binding judgements.

    False if any is false; else marginal if any is marginal; else no_rule_read if any
    rule could not be applied or nothing binds at all; else true.

    Parameters
    ----------
    judgements : iterable of Judgement
        From `judge`; those that do not bind warn and count for nothing here.

    Returns
    -------
    {"true", "false", "marginal", "no_rule_read"}

    Examples
    --------
    >>> meets_rules([])
    'no_rule_read'
    """
    found = {one.verdict for one in judgements if one.binds}
    for verdict in _WORST_FIRST:
        if verdict in found:
            return verdict
    return "true" if found else "no_rule_read"


def _apply(
    row: Setback, footprint: Geometry, surroundings: Surroundings, band_m: float
) -> Iterator[Judgement]:
    concerned = sorted(
        (one for one in surroundings.receptors if concerns(row, one)),
        key=lambda one: (footprint.distance(one.geometry), one.id),
    )
    if row.distance_m is None:
        yield _without_distance(row)
        return
    judged = [_measure(row, footprint, receptor, band_m) for receptor in concerned]
    unmet = [one for one in judged if one.verdict != "true"]
    yield from unmet or judged[:1]
    missing = {
        kind if RECEPTOR_LAYERS[kind] == "exclusions" else RECEPTOR_LAYERS[kind]
        for kind in row.receptors
        if not surroundings.looked_for(kind)
    }
    if missing:
        names = " or ".join(sorted(one.replace("_", " ") for one in missing))
        yield _says(
            row,
            "no_rule_read",
            f"no {names} were drawn, which does not show that there are none; draw "
            "them, or say under [features] none_here that you looked",
        )
    if not concerned and not missing:
        yield _says(row, "true", _none_there(row, surroundings))


def _none_there(row: Setback, surroundings: Surroundings) -> str:
    """Say on what ground nothing of a row's kinds counts as there."""
    layers = {RECEPTOR_LAYERS[kind] for kind in row.receptors}
    if any(RECEPTOR_LAYERS[one.kind] in layers for one in surroundings.receptors):
        return (
            "none of this kind is drawn, though others of its layer are: see that "
            "there is none"
        )
    return "somebody looked, and there is none"


def concerns(row: Setback, receptor: Receptor) -> bool:
    """Whether a row asks distance to a receptor.

    Parameters
    ----------
    row : Setback
        One row of a rulebook.
    receptor : Receptor
        What is drawn.

    Returns
    -------
    bool
        By its kind and, of a supply, its use.
    """
    if receptor.kind not in row.receptors:
        return False
    return row.supply_use in ("any", receptor.supply_use)


def binds(row: Setback, receptor: Receptor) -> bool:
    """Whether a row may fail a site for a receptor.

    Parameters
    ----------
    row : Setback
        One row of a rulebook.
    receptor : Receptor
        What is drawn; of a zone its own standing decides where the row says so.

    Returns
    -------
    bool
    """
    if row.standing_from_zone:
        return receptor.standing in BINDING_STANDINGS
    return row.binds


def _says(row: Setback, verdict: Verdict, words: str) -> Judgement:
    return Judgement(
        rule=row.id,
        says=f"{row.says}: {words}",
        verdict=verdict,
        need_m=None if row.is_bar else row.distance_m,
        have_m=None,
        margin_m=None,
        receptor_id="",
        citation=row.citation.text,
        standing=row.standing,
        binds=row.binds,
    )


def _without_distance(row: Setback) -> Judgement:
    words = (
        f"none is given; write {row.distance_setting} under [rules] in farm.toml, "
        "as your regulator tells you"
    )
    return _says(row, "no_rule_read", words)


def _measure(
    row: Setback, footprint: Geometry, receptor: Receptor, band_m: float
) -> Judgement:
    have_m = float(footprint.distance(receptor.geometry))
    need_m = row.distance_m or 0.0
    if row.is_bar:
        verdict = _verdict_on_bar(footprint, receptor.geometry, band_m)
    else:
        verdict = _verdict_on_distance(have_m - need_m, band_m, _bank_m(row, receptor))
    judgement = replace(
        _says(row, verdict, _words(row, receptor, have_m, verdict)),
        have_m=have_m,
        margin_m=None if row.is_bar else have_m - need_m,
        receptor_id=receptor.id,
    )
    if not row.standing_from_zone:
        return judgement
    return replace(
        judgement,
        standing=receptor.standing or "assumed",
        binds=binds(row, receptor),
    )


def _bank_m(row: Setback, receptor: Receptor) -> float:
    """Return how much nearer than drawn the bank top may be, where that counts [m]."""
    return receptor.bank_allowance_m if row.measured_from == "bank_top" else 0.0


def _verdict_on_distance(margin_m: float, band_m: float, bank_m: float) -> Verdict:
    if margin_m < -band_m - _SAME_PLACE_M:
        return "false"
    return "true" if margin_m > band_m + bank_m + _SAME_PLACE_M else "marginal"


def _verdict_on_bar(footprint: Geometry, zone: Geometry, band_m: float) -> Verdict:
    if footprint.distance(zone) > band_m:
        return "true"
    # Shrunk by the error, one still overlaps the other: no shift within the error
    # takes the site off the zone.
    core_in_zone = footprint.buffer(-band_m).intersects(zone)
    in_core_of_zone = footprint.intersects(zone.buffer(-band_m))
    return "false" if core_in_zone or in_core_of_zone else "marginal"


def _words(row: Setback, receptor: Receptor, have_m: float, verdict: Verdict) -> str:
    if row.is_bar:
        where = "takes in" if have_m == 0 else f"lies {have_m:.1f} m from"
        words = f"the site {where} {receptor.title}"
    else:
        words = f"{receptor.title} is {_floored(have_m):.1f} m away"
        margin_m = have_m - (row.distance_m or 0.0)
        if margin_m < 0:
            words += f", {-_floored(margin_m):.1f} m too near"
    remarks = [receptor.caution] if receptor.caution else []
    if verdict == "marginal":
        remarks.append("too close to the limit to tell from a drawing: measure it")
    if _bank_m(row, receptor) > 0:
        remarks.append(
            "drawn at the water's edge; the bank top is nearer, by "
            f"{receptor.bank_allowance_m:g} m as assumed"
        )
    if row.standing_from_zone and not receptor.standing:
        remarks.append("how the zone is known was not said")
    if row.note and verdict != "true":
        remarks.append(row.note)
    return f"{words} ({'; '.join(remarks)})" if remarks else words


def _floored(length_m: float) -> float:
    """Return a length rounded down to a decimetre: never more than there is [m]."""
    return math.floor(round(10 * length_m, 6)) / 10


def _silences(
    use: Use, footprint: Geometry, surroundings: Surroundings, rulebook: Rulebook
) -> Iterator[Judgement]:
    """Yield what no binding row of the rulebook speaks of, though it should."""
    rows = [row for row in rulebook.setbacks if use in row.applies_to and row.binds]
    gaps = [one for one in rulebook.gaps if use in one.applies_to]
    own_settles = all(one.own_distance_settles for one in gaps)
    if not any(
        row.distance_m is not None and (row.force != "user" or own_settles)
        for row in rows
    ):
        yield _no_rule(use, rulebook)
    told = set()
    for receptor in sorted(
        surroundings.receptors, key=lambda one: footprint.distance(one.geometry)
    ):
        if RECEPTOR_LAYERS[receptor.kind] not in _MUST_BE_COVERED:
            continue
        covered = any(concerns(row, receptor) for row in rows)
        if not covered and receptor.kind not in told:
            told.add(receptor.kind)
            have_m = float(footprint.distance(receptor.geometry))
            words = (
                f"no distance between {use} and {receptor.kind} was read, and "
                f"{receptor.title} is {have_m:.1f} m away; ask your regulator"
            )
            silence = replace(_no_rule(use, rulebook), says=words, have_m=have_m)
            yield replace(
                silence,
                rule=f"no rule for {use} and {receptor.kind}",
                receptor_id=receptor.id,
            )


def _no_rule(use: Use, rulebook: Rulebook) -> Judgement:
    gaps = [one for one in rulebook.gaps if use in one.applies_to]
    # What speaks of this use alone tells more than what speaks of all.
    gap = min(gaps, key=lambda one: len(one.applies_to), default=None)
    words = f"no distance for {use} was read"
    return Judgement(
        rule=gap.id if gap else f"no rule for {use}",
        says=f"{words}: looked for {gap.looked_for}; ask {gap.ask}" if gap else words,
        verdict="no_rule_read",
        need_m=None,
        have_m=None,
        margin_m=None,
        receptor_id="",
        citation=rulebook.title,
        standing="",
        binds=True,
    )
