"""How firmly the order of sites stands: told of each site in words and shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.siting.acceptability import (
    SEED,
    acceptability,
    turn_for,
    weights_about,
)
from pathways.siting.site import Site
from pathways.siting.weights import Weights

Values = NDArray[np.float64]

#: An order is firm where the first is first in more of the draws than this.
_FIRM: Final = 0.5
#: Shares of the draws at which the quantiles of an uncertain value lie.
_SHARES: Final = (0.0, 0.05, 0.5, 0.95, 1.0)


def with_robustness(sites: Sequence[Site], weights: Weights) -> tuple[Site, ...]:
    """Return sites with how often each takes each place, and what would change that.

    Only sites that break no binding rule compete: a broken rule is no low score.

    Parameters
    ----------
    sites : sequence of Site
        In their order.
    weights : Weights
        With the farm's own weights; `firmness` says how firmly they are meant.

    Returns
    -------
    tuple of Site
        In the same order.
    """
    competing = [one for one in sites if one.meets_rules != "false"]
    if len(competing) < 2:  # noqa: PLR2004 - alone there is no order
        return tuple(sites)
    worths = np.array(
        [[one.worth or 0.0 for one in site.criteria] for site in competing]
    )
    stated = np.array([one.weight for one in weights.criteria])
    drawn = weights_about(stated, weights.firmness)
    found = acceptability(worths_drawn(competing, len(drawn)), drawn)
    told = {
        site.site_id: (
            tuple(float(share) for share in found.by_rank[number]),
            _firmly(competing, number, found.by_rank, worths, stated),
        )
        for number, site in enumerate(competing)
    }
    return tuple(
        site
        if site.site_id not in told
        else replace(
            site,
            rank_acceptability=told[site.site_id][0],
            reasons=(*site.reasons, *told[site.site_id][1]),
        )
        for site in sites
    )


def worths_drawn(sites: Sequence[Site], draws: int) -> Values:
    """Return what each criterion of each site may be worth, draw by draw.

    Parameters
    ----------
    sites : sequence of Site
        With the quantiles of what is uncertain of them.
    draws : int
        How many.

    Returns
    -------
    ndarray of float64, shape (draws, sites, criteria)
        Each criterion by itself: straight between its quantiles, level beyond.
    """
    chances = np.random.default_rng(SEED)
    found = np.empty((draws, len(sites), len(sites[0].criteria)))
    for number, site in enumerate(sites):
        for place, one in enumerate(site.criteria):
            found[:, number, place] = one.worth or 0.0
            if one.worths is not None:
                low, middle, high = one.worths
                found[:, number, place] = np.interp(
                    chances.random(draws), _SHARES, (low, low, middle, high, high)
                )
    return found


def _firmly(
    competing: Sequence[Site],
    number: int,
    by_rank: Values,
    worths: Values,
    stated: Values,
) -> tuple[str, ...]:
    """Return the sentences on how firmly a site stands in its place."""
    first = int(np.argmax(worths @ stated))
    share = f"{100 * by_rank[number, 0]:.0f} of 100"
    says = f"With weights and ground varied it is first in {share} draws."
    if number == first:
        return (says, *_doubts(competing, by_rank, first))
    if competing[number].rank == competing[first].rank:
        return (says,)  # of a tie nothing decides
    names = [one.name for one in competing[number].criteria]
    ahead = stated * (worths[first] - worths[number])
    most = int(np.argmax(ahead))
    leader = competing[first].name or competing[first].site_id
    decides = (
        f"What sets {leader} before it most is {_words(names[most])}."
        if ahead[most] > 0
        else ""
    )
    turn = turn_for(worths[first], worths[number], stated)
    turns = (
        f"No weight of a single criterion would bring it level with {leader}."
        if turn is None
        else f"It would draw level with {leader} if {_words(names[turn.criterion])} "
        f"weighed {100 * turn.weight_then:.0f} % instead of "
        f"{100 * turn.weight_now:.0f} %."
    )
    return tuple(filter(None, (says, decides, turns)))


def _doubts(competing: Sequence[Site], by_rank: Values, first: int) -> tuple[str, ...]:
    """Return why the first may not be the best."""
    firsts = by_rank[:, 0]
    oftener = int(np.argmax(firsts))
    if oftener != first and firsts[oftener] > firsts[first]:
        name = competing[oftener].name or competing[oftener].site_id
        return (
            f"{name} is first in more of them, {100 * firsts[oftener]:.0f} of 100: "
            "which of the two is better is not settled.",
        )
    if firsts[first] < _FIRM:
        return ("It is first in fewer than half of them: the order is not firm.",)
    return ()


def _words(name: str) -> str:
    return name.replace("_", " ")
