"""What moving from a place in use to the best site would gain and lose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from pathways.siting.site import Criterion, Site, Verdict

#: What is compared, and what it is called in a sentence.
_COMPARED: Final = {
    "distance_to_water": ("water", "m"),
    "distance_to_drains": ("the nearest drain opening", "m"),
    "distance_to_wells": ("the nearest well or spring", "m"),
    "distance_along_flow": ("the way of a spill", "m"),
    "critical_volume": ("the least loss that gets there on wet ground", "l"),
}
_RULES: Final[dict[Verdict, str]] = {
    "true": "keeps the rules",
    "false": "breaks a binding rule",
    "marginal": "lies on the limit of a rule",
    "no_rule_read": "is not settled by the rules that were read",
}


def with_gains(sites: Sequence[Site]) -> tuple[Site, ...]:
    """Return sites; those in use are told what moving to the best other would gain.

    Parameters
    ----------
    sites : sequence of Site
        In their order.

    Returns
    -------
    tuple of Site
        In the same order.
    """
    best = next((one for one in sites if not one.existing), None)
    if best is None:
        return tuple(sites)
    return tuple(
        replace(one, reasons=(*one.reasons, *gains(one, best))) if one.existing else one
        for one in sites
    )


def gains(here: Site, there: Site) -> tuple[str, ...]:
    """Return the sentences on what moving would gain and lose.

    Parameters
    ----------
    here, there : Site
        A place in use, and the site that it might move to.

    Returns
    -------
    tuple of str
        What is not known of either is left out.
    """
    more: list[str] = []
    less: list[str] = []
    for name, (what, unit) in _COMPARED.items():
        now, then = _value(here, name), _value(there, name)
        if now is None or then is None:
            continue
        said = f"{what} {then:,.0f} instead of {now:,.0f} {unit}"
        if f"{then:,.0f}" == f"{now:,.0f}":
            continue
        (more if then > now else less).append(said)
    name = there.name or there.site_id
    told = [f"For a pad and a bed, {name} {_RULES[there.meets_rules]}."]
    if there.meets_rules == "false":
        name += ", which breaks a binding rule,"
    if more:
        told.append(f"Moving to {name} would gain: {'; '.join(more)}.")
    if less:
        told.append(f"Moving to {name} would lose: {'; '.join(less)}.")
    return tuple(told)


def _value(site: Site, name: str) -> float | None:
    found: Criterion = next(one for one in site.criteria if one.name == name)
    return found.value
