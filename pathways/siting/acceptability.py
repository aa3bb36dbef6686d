"""How firmly an order of sites stands when weights and values are not certain.

Stochastic multicriteria acceptability analysis (Lahdelma, Hokkanen & Salminen 1998,
European Journal of Operational Research 106:137; Lahdelma & Salminen 2001, SMAA-2,
Operations Research 49:444).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

#: The same draws on every run.
SEED: Final = 20_261_125
#: Draws for a standard error of a share of at most 0.5 %.
DRAWS: Final = 10_000
#: Scores that agree to this many decimals are equal.
_EQUAL_TO: Final = 12


def uniform_weights(criteria: int, count: int = DRAWS) -> Values:
    """Draw weights of which nothing is known but that they add up to 1.

    Parameters
    ----------
    criteria : int
        How many.
    count : int
        How many draws.

    Returns
    -------
    ndarray of float64, shape (count, criteria)
        Uniform on the simplex.
    """
    return np.random.default_rng(SEED).dirichlet(np.ones(criteria), count)


def weights_about(weights: Values, firmness: float, count: int = DRAWS) -> Values:
    """Draw weights about stated ones.

    Parameters
    ----------
    weights : ndarray of float64, shape (criteria,)
        Stated weights, which add up to 1.
    firmness : float
        How firmly they are meant: draws scatter by sqrt(w (1 - w) / (firmness + 1)).
    count : int
        How many draws.

    Returns
    -------
    ndarray of float64, shape (count, criteria)
        Dirichlet with the stated weights as means; a weight of nought stays nought.
    """
    stated = np.asarray(weights, np.float64)
    found = np.zeros((count, stated.size))
    known = stated > 0
    draws = np.random.default_rng(SEED).dirichlet(firmness * stated[known], count)
    found[:, known] = draws
    return found


@dataclass(frozen=True)
class Acceptability:
    """How often each site takes each place.

    Parameters
    ----------
    by_rank : ndarray of float64, shape (sites, sites)
        Share of the draws in which a site (row) takes a place (column, best first);
        equals share their places evenly.
    central_weights : ndarray of float64, shape (sites, criteria)
        Mean of the weights under which a site is first; NaN where it never is.
    """

    by_rank: Values
    central_weights: Values


def acceptability(worths: Values, weights: Values) -> Acceptability:
    """Find in what share of draws each site takes each place.

    Parameters
    ----------
    worths : ndarray of float64, shape (sites, criteria) or (draws, sites, criteria)
        What each criterion of each site is worth, 0 to 1; one set for all draws, or one
        for each.
    weights : ndarray of float64, shape (draws, criteria)
        Weights of each draw.

    Returns
    -------
    Acceptability
        Rows add up to 1, and so do columns.
    """
    scores = (
        weights @ worths.T
        if worths.ndim == 2  # noqa: PLR2004 - sites and criteria
        else np.einsum("dc,dsc->ds", weights, worths)
    )
    scores = np.round(scores, _EQUAL_TO)
    draws, sites = scores.shape
    by_rank = np.zeros((sites, sites))
    for place in range(sites):
        above = (scores > scores[:, [place]]).sum(axis=1)
        equal = (scores == scores[:, [place]]).sum(axis=1)
        for first in range(sites):
            shares = (first >= above) & (first < above + equal)
            by_rank[place, first] = (shares / equal).sum() / draws
    first_of = scores == scores.max(axis=1, keepdims=True)
    wins = first_of.sum(axis=0)
    sums = first_of.T.astype(np.float64) @ weights
    central = np.full((sites, weights.shape[1]), np.nan)
    central[wins > 0] = sums[wins > 0] / wins[wins > 0, None]
    return Acceptability(by_rank, central)


@dataclass(frozen=True, kw_only=True)
class Turn:
    """The least change of one weight that lets a rival draw level.

    Parameters
    ----------
    criterion : int
        Which weight.
    weight_now, weight_then : float
        The weight as it is and as it would have to be; the others keep their
        proportions.
    """

    criterion: int
    weight_now: float
    weight_then: float


def turn_for(first: Values, rival: Values, weights: Values) -> Turn | None:
    """Find the least change of a single weight by which a rival draws level.

    Parameters
    ----------
    first, rival : ndarray of float64, shape (criteria,)
        What the criteria of two sites are worth.
    weights : ndarray of float64, shape (criteria,)
        Weights, which add up to 1.

    Returns
    -------
    Turn or None
        None where no weight from 0 to 1 lets it.
    """
    ahead = np.asarray(first, np.float64) - np.asarray(rival, np.float64)
    total = float(weights @ ahead)
    turns = []
    for number, weight in enumerate(weights):
        if weight >= 1:
            continue
        # With weight x the lead is x a + (1 - x) (total - w a) / (1 - w): a line in x.
        rest = (total - weight * ahead[number]) / (1 - weight)
        slope = ahead[number] - rest
        if slope == 0:
            continue
        then = -rest / slope
        if 0 <= then <= 1:
            turns.append(
                Turn(criterion=number, weight_now=float(weight), weight_then=then)
            )
    return min(
        turns, key=lambda one: abs(one.weight_then - one.weight_now), default=None
    )
