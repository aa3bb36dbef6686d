"""What is found while reading: all of it, and not the same a thousand times."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final, Literal

from pathways.errors import Notice

#: Findings of one kind in one layer that are listed one by one.
_MOST_ALIKE: Final = 20
#: How alike two words must be for "did you mean" [-] (ratio of `difflib`).
_ALIKE: Final = 0.7


@dataclass
class Findings:
    """Errors and warnings, in the order in which they were found."""

    _listed: list[Notice] = field(default_factory=list)
    _counts: Counter[tuple[str, str, Literal["error", "warning"]]] = field(
        default_factory=Counter
    )

    def error(self, code: str, text: str, *where: str) -> None:
        """Add something that stops the run; `where` is file, layer and feature."""
        self._add(code, text, where, "error")

    def warning(self, code: str, text: str, *where: str) -> None:
        """Add something that a reader of the results must know."""
        self._add(code, text, where, "warning")

    def _add(
        self,
        code: str,
        text: str,
        where: tuple[str, ...],
        level: Literal["error", "warning"],
    ) -> None:
        alike = (code, ", ".join(where[:2]), level)
        self._counts[alike] += 1
        if self._counts[alike] <= _MOST_ALIKE:
            self._listed.append(
                Notice(code, one_line(text), one_line(", ".join(where)), level)
            )

    @property
    def notices(self) -> tuple[Notice, ...]:
        """Everything found; what was left out is counted."""
        left_out = [
            Notice(code, f"the same for {count - _MOST_ALIKE} more", where, level)
            for (code, where, level), count in self._counts.items()
            if count > _MOST_ALIKE
        ]
        return (*self._listed, *left_out)

    @property
    def refused(self) -> bool:
        """Whether any of it is an error."""
        return any(level == "error" for _, _, level in self._counts)


def one_line(text: str) -> str:
    """Return a text in which no character moves the cursor or turns the line round.

    Examples
    --------
    >>> len(one_line("two" + chr(10) + "lines").splitlines())
    1
    """
    return "".join(one if one.isprintable() else "\ufffd" for one in text)


def folded(word: str) -> str:
    """Return a word as names are compared: small letters, underscores.

    Examples
    --------
    >>> folded(" Land-drain ")
    'land_drain'
    """
    return "_".join(word.casefold().replace("-", " ").replace("_", " ").split())


def did_you_mean(word: str, listed: Iterable[str]) -> str:
    """Return the end of a sentence: the listed word that is most alike, or nothing.

    Examples
    --------
    >>> did_you_mean("watercorses", ["sources", "watercourses"])
    "; did you mean 'watercourses'?"
    """
    by_folded = {folded(one): one for one in listed}
    close = difflib.get_close_matches(folded(word), by_folded, n=1, cutoff=_ALIKE)
    return f"; did you mean '{by_folded[close[0]]}'?" if close else ""
