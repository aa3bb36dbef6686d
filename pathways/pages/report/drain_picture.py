"""A plan of the drains: openings, pipes with their flow, tanks, outfalls, labelled."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from markupsafe import Markup, escape
from shapely import Point

from pathways.assessment import Assessment
from pathways.features import Inlet
from pathways.pages.labels import (
    LETTERS,
    TALL,
    Box,
    label_places,
    lead_line,
)
from pathways.pages.plan import ground_shapes
from pathways.pages.report.drain_labels import DrainMark
from pathways.pages.report.report_words import SAYS
from pathways.pages.sheet import INK, WIDE, Sheet

_TALLEST = 0.62
#: Half of the side of a sign.
_HALF = 6.0


def drain_picture(assessment: Assessment, marks: Sequence[DrainMark]) -> Markup:
    """Draw the drains as drawn.

    Parameters
    ----------
    assessment : Assessment
        For buildings and water round them.
    marks : sequence of DrainMark
        From `drain_marks`; at least one.

    Returns
    -------
    Markup
        What a user wrote is escaped in it.
    """
    sheet = Sheet.over([one.geometry for one in marks], tallest=_TALLEST)
    anchors = [sheet.at(_anchor(one)) for one in marks]
    texts = [f"{one.label} ?" if one.is_unknown else one.label for one in marks]
    room = _HALF + 3
    signs = [Box(x - room, y - room, 2 * room, 2 * room) for x, y in anchors]
    bar = Box(0, sheet.high - 40, WIDE / 3 + 90, 40)
    boxes = label_places(anchors, texts, [*signs, bar], (WIDE, sheet.high))
    inside = "".join(
        [
            *(sheet.shapes(one, style) for one, style in ground_shapes(assessment)),
            *(_pipe(one, sheet) for one in marks if one.layer == "pipes"),
            *(lead_line(box, at) for box, at in zip(boxes, anchors, strict=True)),
            *(_sign(one, at) for one, at in zip(marks, anchors, strict=True)),
            *(_label(box, text) for box, text in zip(boxes, texts, strict=True)),
            sheet.scale_bar(),
        ]
    )
    return sheet.drawn(SAYS["drains_picture"], inside, below=boxes)


def _anchor(mark: DrainMark) -> Point:
    """Return what a label belongs to: the middle of a pipe, else the thing itself."""
    if mark.layer == "pipes":
        return mark.geometry.interpolate(0.5, normalized=True)
    return mark.geometry.centroid


def _pipe(mark: DrainMark, sheet: Sheet) -> str:
    dashes = "2 4" if getattr(mark.feature, "kind", "") == "land_drain" else "8 4"
    style = f'fill="none" stroke="{INK}" stroke-width="2" stroke-dasharray="{dashes}"'
    return sheet.shapes(mark.geometry, style)


def _sign(mark: DrainMark, at: tuple[float, float]) -> str:
    if mark.layer == "pipes":
        return _flow(mark, at)
    if mark.layer == "outfalls":
        x, y = at
        points = f"{x:.1f},{y + 8:.1f} {x - 8:.1f},{y - 6:.1f} {x + 8:.1f},{y - 6:.1f}"
        return f'<polygon points="{points}" fill="#0072b2" stroke="{INK}"/>'
    return "".join(_box(mark, at))


def _box(mark: DrainMark, at: tuple[float, float]) -> Iterator[str]:
    """Yield the square of an opening, crossed if it is shut, or that of a tank."""
    x, y = at[0] - _HALF, at[1] - _HALF
    rounded = ' rx="5"' if mark.layer == "tanks" else ""
    yield (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{2 * _HALF:g}" '
        f'height="{2 * _HALF:g}"{rounded} fill="#ffffff" stroke="{INK}" '
        'stroke-width="2"/>'
    )
    inlet = mark.feature
    if isinstance(inlet, Inlet) and (inlet.covered or inlet.drains_to == "capped"):
        yield (
            f'<path d="M{x:.1f} {y:.1f}l{2 * _HALF:g} {2 * _HALF:g}M{x:.1f} '
            f'{y + 2 * _HALF:.1f}l{2 * _HALF:g} -{2 * _HALF:g}" stroke="{INK}"/>'
        )


def _flow(mark: DrainMark, at: tuple[float, float]) -> str:
    """Draw an arrow head in the middle of a pipe, the way it flows."""
    line = mark.geometry
    before = line.interpolate(max(0.0, line.length / 2 - 0.5))
    after = line.interpolate(min(line.length, line.length / 2 + 0.5))
    turn = math.atan2(before.y - after.y, after.x - before.x)  # down is more on paper
    tips = [
        (at[0] + 9 * math.cos(turn + by), at[1] + 9 * math.sin(turn + by))
        for by in (0.0, 2.5, -2.5)
    ]
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in tips)
    return f'<polygon points="{points}" fill="{INK}"/>'


def _label(box: Box, text: str) -> str:
    return (
        f'<rect class="label" x="{box.left:.1f}" y="{box.top:.1f}" '
        f'width="{box.wide:.1f}" height="{TALL:g}" fill="#ffffff" stroke="{INK}" '
        f'stroke-width="0.8"/><text class="label" x="{box.left + box.wide / 2:.1f}" '
        f'y="{box.top + 15:.1f}" text-anchor="middle" font-size="{LETTERS:g}" '
        f'fill="{INK}">{escape(text)}</text>'
    )
