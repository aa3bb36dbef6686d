"""Places for the labels of a drawing, such that none lies on another."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

#: Height of a label, and of its letters.
TALL: Final = 20.0
LETTERS: Final = 13.0
#: Width of letters as a share of their height, on the wide side for every face of type.
_NARROW, _BROAD, _OTHER = 0.72, 1.05, 1.5
_BROAD_ONES: Final = frozenset("MWmw@%&")
#: Room round a label's text, and kept free between labels.
_PADDING, _APART = 5.0, 2.0


@dataclass(frozen=True)
class Box:
    """A rectangle on a drawing."""

    left: float
    top: float
    wide: float
    high: float

    def meets(self, other: Box) -> bool:
        """Whether the two share any ground, or nearly."""
        return (
            self.left < other.left + other.wide + _APART
            and other.left < self.left + self.wide + _APART
            and self.top < other.top + other.high + _APART
            and other.top < self.top + self.high + _APART
        )


def text_width(text: str) -> float:
    """Return how much room a text needs, rather too much than too little.

    Examples
    --------
    >>> round(text_width("G2"), 1)
    18.7
    """
    return LETTERS * sum(
        _OTHER if ord(one) > 0x7E else _BROAD if one in _BROAD_ONES else _NARROW  # noqa: PLR2004 - the end of ASCII
        for one in text
    )


def label_places(
    anchors: Sequence[tuple[float, float]],
    texts: Sequence[str],
    symbols: Sequence[Box],
    size: tuple[float, float],
) -> tuple[Box, ...]:
    """Find a place for each label, near what it belongs to.

    Parameters
    ----------
    anchors : sequence of (float, float)
        What each label belongs to.
    texts : sequence of str
        The labels.
    symbols : sequence of Box
        What must stay to be seen.
    size : (float, float)
        Width and height of the drawing; labels for which it has no room stand in rows
        below it.

    Returns
    -------
    tuple of Box
        None of them meets another.
    """
    placed: list[Box] = []
    for anchor, text in zip(anchors, texts, strict=True):
        wide = text_width(text) + 2 * _PADDING
        taken = [*symbols, *placed]
        placed.append(
            next(
                one
                for one in _candidates(anchor, wide, size)
                if not any(one.meets(other) for other in taken)
            )
        )
    return tuple(placed)


def _candidates(
    anchor: tuple[float, float], wide: float, size: tuple[float, float]
) -> Iterator[Box]:
    """Yield places round an anchor, ever farther away, then rows below the drawing."""
    x, y = anchor
    for away in range(12, 160, 12):
        for turn in range(16):
            angle = turn * math.pi / 8
            middle = x + (away + wide / 2) * math.cos(angle), y + away * math.sin(angle)
            box = Box(middle[0] - wide / 2, middle[1] - TALL / 2, wide, TALL)
            inside = box.left >= 0 and box.left + box.wide <= size[0]
            if inside and box.top >= 0 and box.top + box.high <= size[1]:
                yield box
    top = size[1] + _APART
    while True:
        left = 0.0
        while left == 0.0 or left + wide <= size[0]:
            yield Box(left, top, wide, TALL)
            left += 10.0
        top += TALL + 2 * _APART


def lead_line(box: Box, at: tuple[float, float]) -> str:
    """Draw a line from a label to what it belongs to."""
    x = min(max(at[0], box.left), box.left + box.wide)
    y = min(max(at[1], box.top), box.top + box.high)
    return (
        f'<path d="M{at[0]:.1f} {at[1]:.1f}L{x:.1f} {y:.1f}" stroke="#111111" '
        'stroke-width="1"/>'
    )
