"""Values used where nothing was given, each with its standing and source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class AssumedValue:
    """One number and how firmly it is known."""

    value: float
    standing: str
    source: str


@dataclass(frozen=True)
class AssumedValues:
    r"""The table of assumed values, by group and name.

    Examples
    --------
    >>> text = '[drains]\nx_m = {value = 2.0, standing = "assumed", source = "s"}'
    >>> parse_assumed(text)["drains", "x_m"]
    2.0
    """

    table: Mapping[tuple[str, str], AssumedValue]

    def __getitem__(self, key: tuple[str, str]) -> float:
        return self.table[key].value

    @property
    def half_widths_m(self) -> Mapping[str, float]:
        """Half width that is assumed for each kind of watercourse [m]."""
        return {
            name: entry.value
            for (group, name), entry in self.table.items()
            if group == "half_width_m"
        }


def parse_assumed(text: str) -> AssumedValues:
    """Read the table of assumed values.

    Parameters
    ----------
    text : str
        Content of ``assumed.toml``.

    Returns
    -------
    AssumedValues
        Every value with its standing and source.
    """
    return AssumedValues(
        {
            (group, name): AssumedValue(**entry)
            for group, entries in tomllib.loads(text).items()
            for name, entry in entries.items()
        }
    )
