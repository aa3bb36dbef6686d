"""Pictures of a design as inline SVG, black, white and hatched: grey print reads.

Every text in them is made of numbers and of words of this file: nothing that a user
wrote gets into them.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from typing import Final

from markupsafe import Markup

from pathways.sizing.bed import Bed
from pathways.sizing.flotation import Flotation
from pathways.sizing.pad import Pad
from pathways.sizing.weather import MONTH_NAMES
from pathways.sizing.year import Year

Point = tuple[float, float]

#: Width of every picture; on a telephone its letters are still to be read.
_WIDE: Final = 480.0
_INK: Final = "#111111"
_PALE, _GREY, _WHITE = "#dddddd", "#bbbbbb", "#ffffff"
_HATCH: Final = (
    '<defs><pattern id="{name}" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate({turn})"><rect width="6" height="6" fill="#ffffff"/>'
    '<path d="M0 0V6" stroke="#111111" stroke-width="{weight}"/></pattern></defs>'
)


def _svg(height: float, title: str, parts: Iterable[str]) -> Markup:
    inside = "".join(parts)
    return Markup(  # noqa: S704 - made of numbers and of words of this file
        f'<svg viewBox="0 0 {_WIDE:g} {height:.0f}" role="img" aria-label="{title}" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{title}</title>{inside}</svg>'
    )


def _text(at: Point, says: str, *, anchor: str = "middle", turn: int = 0) -> str:
    x, y = at
    turned = f' transform="rotate({turn} {x:.1f} {y:.1f})"' if turn else ""
    placed = (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="15"{turned} '
    )
    # Twice, a white edge below the letters: not every printer knows paint-order.
    return (
        f'{placed}fill="#ffffff" stroke="#ffffff" stroke-width="4">{says}</text>'
        f'{placed}fill="{_INK}">{says}</text>'
    )


def _line(start: Point, end: Point, *, dash: str = "", weight: float = 1.5) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{start[0]:.1f}" y1="{start[1]:.1f}" x2="{end[0]:.1f}" '
        f'y2="{end[1]:.1f}" stroke="{_INK}" stroke-width="{weight:g}"{dashed}/>'
    )


def _arrow(start: Point, end: Point) -> str:
    turn = math.atan2(end[1] - start[1], end[0] - start[0])
    wings = [
        (end[0] - 14 * math.cos(turn + by), end[1] - 14 * math.sin(turn + by))
        for by in (0.4, -0.4)
    ]
    return _line(start, end, weight=2.5) + _shape([end, *wings], _INK)


def _box(x: float, y: float, size: Point, fill: str) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{size[0]:.1f}" height="{size[1]:.1f}" '
        f'fill="{fill}" stroke="{_INK}" stroke-width="1.2"/>'
    )


def _shape(points: Iterable[Point], fill: str) -> str:
    said = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return (
        f'<polygon points="{said}" fill="{fill}" stroke="{_INK}" stroke-width="1.2"/>'
    )


def balance_picture(year: Year) -> Markup:
    """Draw what comes month by month, and how high the tank stands.

    Parameters
    ----------
    year : Year
        Means of each month [l].

    Returns
    -------
    Markup
        Bars of rain and washings, a line for the tank.
    """
    rain, wash = year.by_month_l["pad_rain_l"], year.by_month_l["washings_l"]
    stored = year.by_month_l["stored_l"]
    top = max(float((rain + wash).max()), float(stored.max()), 1.0) * 1.1
    left, floor, high = 66.0, 240.0, 200.0
    step = (_WIDE - left - 4) / len(MONTH_NAMES)

    def y(litres: float) -> float:
        return floor - high * litres / top

    parts = [_HATCH.format(name="washed", turn=45, weight=3)]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        litres = share * top
        parts.append(_line((left, y(litres)), (_WIDE - 4, y(litres)), weight=0.4))
        parts.append(_text((left - 6, y(litres) + 5), f"{litres:,.0f}", anchor="end"))
    parts.append(_text((left - 6, y(top) - 16), "litres", anchor="end"))
    tops = []
    for month, name in enumerate(MONTH_NAMES):
        x, wide = left + month * step + 4, step - 8
        both = rain[month] + wash[month]
        parts.append(_box(x, y(rain[month]), (wide, floor - y(rain[month])), _PALE))
        parts.append(_box(x, y(both), (wide, y(rain[month]) - y(both)), "url(#washed)"))
        parts.append(_text((x + wide / 2, floor + 20), name[:3]))
        tops.append((x + wide / 2, y(stored[month])))
    parts += [
        _line(start, end, dash="7 4", weight=2.5)
        for start, end in itertools.pairwise(tops)
    ]
    parts += [
        _box(left, floor + 36, (18, 14), _PALE),
        _text((left + 26, floor + 48), "rain from the pad", anchor="start"),
        _box(left + 200, floor + 36, (18, 14), "url(#washed)"),
        _text((left + 226, floor + 48), "washings", anchor="start"),
        _line((left, floor + 68), (left + 36, floor + 68), dash="7 4", weight=2.5),
        _text((left + 44, floor + 73), "highest in the tank", anchor="start"),
    ]
    return _svg(floor + 84, "Water month by month", parts)


def pad_picture(pad: Pad) -> Markup:
    """Draw the pad from above, to scale, with its falls and the levels of its corners.

    Parameters
    ----------
    pad : Pad
        As sized.

    Returns
    -------
    Markup
        Levels are above the sump's corner.
    """
    scale = min((_WIDE - 140) / pad.length_m, 260 / pad.width_m)
    wide, high = scale * pad.length_m, scale * pad.width_m
    left, top = (_WIDE - wide) / 2 + 14, 44.0
    right, floor = left + wide, top + high
    low, second, third, fourth = (1000 * one for one in pad.corner_levels_m)
    middle = (left + 0.55 * wide, top + 0.45 * high)
    down = floor - 0.22 * high if pad.both_ways else middle[1]
    parts = [
        _box(left - 7, top - 7, (wide + 14, high + 14), _PALE),
        _box(left, top, (wide, high), _WHITE),
        f'<circle cx="{left + 12:.1f}" cy="{floor - 12:.1f}" r="8" fill="{_INK}"/>',
        _text((left + 26, floor - 7), "sump", anchor="start"),
        _text((left + 8, floor + 26), f"+{low:.0f} mm"),
        _text((right - 12, floor + 26), f"+{second:.0f} mm"),
        _text((right - 12, top - 14), f"+{third:.0f} mm"),
        _text((left + 8, top - 14), f"+{fourth:.0f} mm"),
        _text(((left + right) / 2, floor + 48), f"{pad.length_m:g} m within the kerbs"),
        _text((left - 16, (top + floor) / 2), f"{pad.width_m:g} m", turn=-90),
    ]
    if pad.fall > 0:
        both = " both ways" if pad.both_ways else ""
        falls = f"falls 1 in {1 / pad.fall:.0f}{both}"
        parts += [
            _arrow(middle, (left + 0.24 * wide, down)),
            _text((middle[0], middle[1] - 12), falls),
        ]
    return _svg(floor + 60, "Pad from above", parts)


def pad_section_picture(pad: Pad) -> Markup:
    """Draw a section along the pad: heights are drawn larger than lengths.

    Parameters
    ----------
    pad : Pad
        As sized.

    Returns
    -------
    Markup
        Slab, sand, hardcore, kerb, and the water up to the freeboard.
    """
    tall = 420.0  # drawn per metre of height
    left, right = 70.0, _WIDE - 40
    rise = tall * min(pad.fall * pad.length_m, 0.2)
    kerb, water = tall * pad.kerb_m, tall * max(0.0, pad.kerb_m - pad.freeboard_m)
    base = 34 + max(kerb, rise + 12)
    slab, sand, stone = 62.0, 12.0, 50.0
    reach = right if water >= rise else left + (right - left) * water / rise
    wet = [(left, base), (left, base - water), (reach, base - water)]
    if reach >= right:
        wet.append((right, base - rise))
    high_kerb = max(kerb, rise + 12)

    def layer(top: float, thick: float, fill: str) -> str:
        size = (right - left + 40, thick)
        return _box(left - 20, base + top, size, fill)

    slab_shape = [
        (left - 20, base),
        (left, base),
        (right, base - rise),
        (right + 20, base - rise),
        (right + 20, base + slab),
        (left - 20, base + slab),
    ]
    middle = _WIDE / 2
    parts = [
        _HATCH.format(name="stone", turn=45, weight=1),
        layer(slab + sand, stone, "url(#stone)"),
        layer(slab, sand, _WHITE),
        _shape(slab_shape, _GREY),
        _box(left - 20, base - kerb, (20, kerb), _GREY),
        _box(right, base - high_kerb, (20, high_kerb - rise), _GREY),
        _shape(wet, "#eeeeee"),
        _text((left + 20, base - water - 10), "water at freeboard", anchor="start"),
        _text((left - 30, base), f"kerb {1000 * pad.kerb_m:.0f} mm", turn=-90),
        _text((middle, base + slab / 2 + 5), "reinforced concrete"),
        _text((middle, base + slab + sand + stone / 2 + 5), "sand on hardcore"),
        _text((middle, base + slab + sand + stone + 24), "heights not to scale"),
    ]
    return _svg(base + slab + sand + stone + 36, "Section of the pad", parts)


def bed_picture(bed: Bed, flotation: Flotation | None) -> Markup:
    """Draw a section of the bed, with the ground water if it is known.

    Parameters
    ----------
    bed : Bed
        As sized.
    flotation : Flotation or None
        For the water's level.

    Returns
    -------
    Markup
        A square bed of its area.
    """
    wide, deep = _WIDE - 190, 150.0
    left, ground = 100.0, 62.0
    right, floor = left + wide, ground + deep
    size = f"{bed.side_m:.1f} m each way if square, {bed.area_m2:g} m²"
    lining = [
        (left - 36, ground - 6),
        (left, ground),
        (left, floor),
        (right, floor),
        (right, ground),
        (right + 36, ground - 6),
    ]
    parts = [
        _HATCH.format(name="mix", turn=60, weight=1),
        _line((6, ground), (left, ground), weight=2),
        _line((right, ground), (_WIDE - 6, ground), weight=2),
        _box(left, ground, (wide, deep), "url(#mix)"),
        *(_line(start, end, weight=3) for start, end in itertools.pairwise(lining)),
        _box(right - 34, ground - 16, (18, deep + 16), _WHITE),
        _box(right - 31, floor - 22, (12, 18), _INK),
        _text((right - 26, ground - 24), "access, pump"),
        _text((left + wide / 3, ground - 10), "turf"),
        _text((left + wide / 3, ground + deep / 2), "mix"),
        _text((left - 8, ground + 26), "liner,", anchor="end"),
        _text((left - 8, ground + 44), "fleece", anchor="end"),
        _text((left + wide / 2, floor + 24), size),
        _text((right + 10, ground + deep / 2), f"{bed.depth_m:g} m", anchor="start"),
    ]
    head_m = None if flotation is None else flotation.head_m
    if head_m is None:
        unknown = "ground water in winter: not known, measure it"
        parts.append(_text((_WIDE / 2, floor + 46), unknown))
    elif head_m > 0:
        level = floor - deep * min(1.0, head_m / bed.depth_m)
        parts += [
            _line((6, level), (left, level), dash="8 5", weight=2),
            _line((right, level), (_WIDE - 6, level), dash="8 5", weight=2),
            _text((_WIDE / 2, floor + 46), "dashed: ground water in winter"),
        ]
    return _svg(floor + 58, "Section of the bed", parts)
