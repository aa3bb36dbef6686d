"""Weights from answers to "how much more does this count than that?".

Analytic hierarchy process: Saaty, T. L., 1980, The Analytic Hierarchy Process; 2008,
Decision making with the analytic hierarchy process, International Journal of Services
Sciences 1(1), 83-98.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.errors import SettingsError
from pathways.rules import did_you_mean
from pathways.siting.weights import CRITERIA, Weights

Values = NDArray[np.float64]

#: Two answers that are each other's inverse to within this share are (1/3 as 0.333).
_SAME: Final = 0.01
_WHERE: Final = "farm.toml, [siting] comparisons"
#: Fewest criteria of which answers can contradict each other.
_FEWEST_TO_CONTRADICT: Final = 3


@dataclass(frozen=True)
class Pairwise:
    """What comparisons of pairs come to.

    Parameters
    ----------
    weights : ndarray of float64, shape (criteria,)
        Principal eigenvector, which adds up to 1.
    largest_eigenvalue : float
        As many as there are criteria where no answers contradict each other.
    """

    weights: Values
    largest_eigenvalue: float

    def consistency_ratio(self, random_index: Sequence[float]) -> float:
        """Return how much answers contradict each other, as a share of chance answers.

        Parameters
        ----------
        random_index : sequence of float
            Consistency index of chance answers, by number of criteria from 1.

        Returns
        -------
        float
            (λ - n) / (n - 1) over the random index; nought of one or two criteria.
        """
        count = self.weights.size
        if count < _FEWEST_TO_CONTRADICT:
            return 0.0
        index = (self.largest_eigenvalue - count) / (count - 1)
        return index / random_index[count - 1]


def pairwise(comparisons: Values) -> Pairwise:
    """Return weights from a matrix of comparisons.

    Parameters
    ----------
    comparisons : ndarray of float64, shape (criteria, criteria)
        How many times more the row's criterion counts than the column's; reciprocal.

    Returns
    -------
    Pairwise
        By the principal eigenvector, not by geometric means.
    """
    values, vectors = np.linalg.eig(comparisons)
    largest = int(np.argmax(values.real))
    weights = np.abs(vectors[:, largest].real)
    return Pairwise(weights / weights.sum(), float(values[largest].real))


def with_comparisons(
    weights: Weights, compared: Sequence[str], comparisons: Sequence[Sequence[float]]
) -> Weights:
    """Return weights in which some criteria share their weight by comparisons.

    Parameters
    ----------
    weights : Weights
        With the farm's own weights; together the compared criteria keep theirs.
    compared : sequence of str
        Names of criteria, in the order of rows and columns.
    comparisons : sequence of sequence of float
        ``[siting] comparisons`` of farm.toml.

    Returns
    -------
    Weights
        Of standing ``given`` if anything was compared.

    Raises
    ------
    SettingsError
        If a criterion is not known, the matrix is not square or not reciprocal, or the
        answers contradict each other more than is accepted.
    """
    if not compared and not comparisons:
        return weights
    _check_names(compared, len(weights.random_index))
    found = pairwise(_matrix(compared, comparisons))
    ratio = found.consistency_ratio(weights.random_index)
    if ratio > weights.most_inconsistency:
        msg = (
            f"{_WHERE}: the answers contradict each other (consistency ratio "
            f"{ratio:.2f}, up to {weights.most_inconsistency:g} is accepted); compare "
            "the criteria once more"
        )
        raise SettingsError(msg)
    together = sum(one.weight for one in weights.criteria if one.name in compared)
    shares = dict(zip(compared, together * found.weights, strict=True))
    return replace(
        weights,
        criteria=tuple(
            replace(one, weight=float(shares.get(one.name, one.weight)))
            for one in weights.criteria
        ),
        standing="given",
        source=f"farm.toml, [siting] comparisons, consistency ratio {ratio:.3f}; what "
        "is not given there is judgement",
    )


def _check_names(compared: Sequence[str], most: int) -> None:
    for name in compared:
        if name not in CRITERIA:
            hint = did_you_mean(name, CRITERIA)
            msg = f"farm.toml, [siting] compared: {name} is no criterion{hint}"
            raise SettingsError(msg)
    if len(set(compared)) < len(compared):
        msg = "farm.toml, [siting] compared: a criterion is named twice; name each once"
        raise SettingsError(msg)
    if len(compared) > most:
        msg = (
            f"farm.toml, [siting] compared: {len(compared)} criteria; compare at most "
            f"{most} at once"
        )
        raise SettingsError(msg)


def _matrix(compared: Sequence[str], comparisons: Sequence[Sequence[float]]) -> Values:
    """Return comparisons as a matrix that is exactly reciprocal."""
    count = len(compared)
    if len(comparisons) != count or any(len(row) != count for row in comparisons):
        msg = (
            f"{_WHERE}: it must have {count} rows of {count} numbers, one for each "
            "criterion in compared"
        )
        raise SettingsError(msg)
    given = np.array(comparisons, np.float64).reshape(count, count)
    for row in range(count):
        for column in range(row, count):
            product = given[row, column] * given[column, row]
            if not abs(product - 1) <= _SAME:
                msg = (
                    f"{_WHERE}: {compared[row]} against {compared[column]} is "
                    f"{given[row, column]:g} and the other way round "
                    f"{given[column, row]:g}; one must be 1 through the other"
                )
                raise SettingsError(msg)
    upper = np.triu(given, 1)
    lower = np.divide(1.0, upper.T, out=np.zeros_like(upper), where=upper.T > 0)
    return upper + lower + np.eye(count)
