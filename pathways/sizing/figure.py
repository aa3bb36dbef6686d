"""A number of a design, and where it comes from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pathways.assumed import AssumedValue, AssumedValues
from pathways.rules import STANDINGS


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One number of a design.

    Parameters
    ----------
    what : str
        What it is.
    value : float or None
        None where it is not resolved; `how` says why.
    unit : str
        As people write it.
    how : str
        How it was found, with the numbers that went in.
    standing : str
        The weakest standing of these.
    source : str
        Where they come from.
    """

    what: str
    value: float | None
    unit: str
    how: str = ""
    standing: str = "computed"
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class Chapter:
    """One part of a design: its numbers, and what must be said with them."""

    title: str
    figures: tuple[Figure, ...]
    says: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def weakest(standings: Iterable[str]) -> str:
    """Return the weakest of some standings.

    Parameters
    ----------
    standings : iterable of str
        Words of `pathways.rules.STANDINGS`.

    Returns
    -------
    str
        ``computed`` of none.

    Examples
    --------
    >>> weakest(["read", "from_memory", "given"])
    'from_memory'
    """
    return max(standings, key=STANDINGS.index, default="computed")


def given_or_assumed(
    given: float | None, key: str, assumed: AssumedValues, group: str, name: str
) -> AssumedValue:
    """Return what farm.toml gives, or the assumed value.

    Parameters
    ----------
    given : float or None
        Value of farm.toml.
    key : str
        What to call it there.
    assumed : AssumedValues
        Used where it is None.
    group, name : str
        Which of them.

    Returns
    -------
    AssumedValue
        Of standing ``given`` if it was given.
    """
    if given is not None:
        return AssumedValue(given, "given", f"farm.toml {key}")
    return assumed.table[group, name]
