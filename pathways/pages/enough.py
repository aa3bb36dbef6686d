"""The smallest loss that gets there, told: by a way, and by its others."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from pathways.pages import amounts, words
from pathways.spill.ground_states import StateName
from pathways.spill.spill import CriticalVolume, Spill
from pathways.terrain.pathway import Pathway


def enough_by_other_ways(pathway: Pathway, spill: Spill | None) -> Iterator[str]:
    """Yield for each other way the smallest loss that gets there, or nothing."""
    others = () if spill is None else spill.others
    for number in range(len(pathway.alternatives)):
        told = number < len(others)
        yield f" Enough to get there: {enough(others[number])}." if told else ""


def enough(critical: Iterable[CriticalVolume]) -> str:
    """Say the smallest loss that gets there in each state of the ground."""
    return alike((_least(one), one.state) for one in critical)


def where_less_is_enough(
    critical: Iterable[CriticalVolume], others: Iterable[CriticalVolume]
) -> Iterator[StateName]:
    """Yield the states in which a smaller loss gets there by another way."""
    for one, other in zip(critical, others, strict=True):
        least_l = math.inf if one.low_l is None else one.low_l
        if other.low_l is not None and other.low_l < least_l:
            yield one.state


#: Less by so much is told as less [-].
_CLEARLY_LESS = 0.8


def less_by_another_way(pathway: Pathway, spill: Spill) -> str:
    """Say how much less is enough by another way, in the state where that differs most.

    Parameters
    ----------
    pathway : Pathway
        The way, with its others.
    spill : Spill
        What losses do on them.

    Returns
    -------
    str
        A sentence; empty where none is clearly less.
    """
    found = []
    for other, critical in zip(pathway.alternatives, spill.others, strict=True):
        if other.outcome in ("contained", "stops_on_surface"):
            continue
        for own, one in zip(spill.critical, critical, strict=True):
            own_l = math.inf if own.low_l is None else own.low_l
            if one.low_l is not None and one.low_l < _CLEARLY_LESS * own_l:
                found.append((one.low_l / own_l, own, one))
    if not found:
        return ""
    _, own, one = min(found, key=lambda each: each[0])
    return words.LESS.format(
        least=_least(one), state=words.GROUND_STATES[one.state], own=_least(own)
    )


def _least(critical: CriticalVolume) -> str:
    """Return the smallest loss that gets there, never overstated."""
    if critical.low_l is None:
        return "no loss that was tried, up to 100 million litres,"
    if critical.low_l > 0:
        return amounts.volume_at_most(critical.low_l, down=True)
    return "any amount"


def alike(told: Iterable[tuple[str, StateName]]) -> str:
    """Say an amount for each state of the ground, equal ones together."""
    by_amount: dict[str, list[str]] = {}
    for amount, state in told:
        by_amount.setdefault(amount, []).append(words.GROUND_STATES[state])
    return "; ".join(
        f"{amount} {words.listed(states)}" for amount, states in by_amount.items()
    )
