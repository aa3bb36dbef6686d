"""A plan of the yard as inline SVG: water, buildings, drains, ways, sites; prints grey.

No text in it is a user's: sources bear letters and sites numbers, as on the map.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup
from shapely import Geometry, Point

from pathways.assessment import Assessment
from pathways.pages.labels import Box, label_places, lead_line
from pathways.pages.sheet import INK, WIDE, Sheet

#: A plan is never taller than this times its width.
_TALLEST: Final = 0.55


def plan_picture(assessment: Assessment, letters: Iterable[str]) -> Markup:
    """Draw the yard with the ways of spills, drains and sites.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    letters : iterable of str
        One for each pathway, as on the map.

    Returns
    -------
    Markup
        North is up.
    """
    features = assessment.farm.features
    shown: list[Geometry] = [
        leg.line for way in assessment.pathways for leg in way.legs
    ]
    shown += [one.footprint for one in assessment.sites]
    shown += [one.geometry for one in features.sources]
    shown += [one.geometry for one in features.inlets]
    if not shown:
        return Markup("")
    sheet = Sheet.over(shown, tallest=_TALLEST)
    flags = _flags(assessment, list(letters))
    anchors = [sheet.at(one.place) for one in flags]
    signs = [
        Box(x - 6, y - 6, 12, 12)
        for x, y in [
            *anchors,
            *(sheet.at(one.geometry.centroid) for one in features.inlets),
        ]
    ]
    bar = Box(0, sheet.high - 40, WIDE / 3 + 90, 40)
    boxes = label_places(
        anchors, [one.text for one in flags], [*signs, bar], (WIDE, sheet.high)
    )
    inside = "".join(
        [
            *_drawn(assessment, sheet),
            *(lead_line(box, at) for box, at in zip(boxes, anchors, strict=True)),
            *(_flag(one, box) for one, box in zip(flags, boxes, strict=True)),
            sheet.scale_bar(),
        ]
    )
    return sheet.drawn("Plan of the yard", inside, below=boxes)


@dataclass(frozen=True, kw_only=True)
class _Flag:
    """A letter of a way or the number of a site, and where it belongs."""

    text: str
    place: Point
    is_way: bool


def _flags(assessment: Assessment, letters: list[str]) -> list[_Flag]:
    """Return the letters of the ways and the numbers of the sites.

    A place in use today has no number: there a source bears its letter.
    """
    ways = [
        _Flag(text=letter, place=Point(way.start), is_way=True)
        for letter, way in zip(letters, assessment.pathways, strict=True)
    ]
    return ways + [
        _Flag(
            text=str(number),
            place=Point(site.easting_m, site.northing_m),
            is_way=False,
        )
        for number, site in enumerate(assessment.sites, start=1)
        if not site.existing
    ]


def _drawn(assessment: Assessment, sheet: Sheet) -> Iterator[str]:
    """Yield everything from the bottom of the plan up to the flags."""
    for geometry, style in _shapes(assessment):
        yield sheet.shapes(geometry, style)
    for inlet in assessment.farm.features.inlets:
        x, y = sheet.at(inlet.geometry.centroid)
        yield (
            f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" '
            f'fill="{INK}"/>'
        )


def _shapes(assessment: Assessment) -> Iterator[tuple[Geometry, str]]:
    """Yield lines and areas with their style."""
    features = assessment.farm.features
    yield from ground_shapes(assessment)
    for site in assessment.sites:
        yield site.footprint, f'fill="none" stroke="{INK}" stroke-width="1.5"'
    for way in assessment.pathways:
        for leg in way.legs:
            yield leg.line, 'fill="none" stroke="#d55e00" stroke-width="3.5"'
    dashed = f'fill="none" stroke="{INK}" stroke-width="1.5" stroke-dasharray="7 4"'
    for pipe in features.pipes:
        yield pipe.geometry, dashed


def ground_shapes(assessment: Assessment) -> Iterator[tuple[Geometry, str]]:
    """Yield buildings and water with their style."""
    features = assessment.farm.features
    for building in features.buildings:
        yield building.geometry, f'fill="#bbbbbb" stroke="{INK}"'
    for water in features.watercourses:
        fill = "#9ecae1" if water.geometry.area > 0 else "none"
        yield water.geometry, f'fill="{fill}" stroke="#0072b2" stroke-width="5"'


def _flag(flag: _Flag, box: Box) -> str:
    fill, ink = (INK, "#ffffff") if flag.is_way else ("#ffffff", INK)
    rounded = ' rx="9"' if flag.is_way else ""
    return (
        f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.wide:.1f}" '
        f'height="{box.high:.1f}"{rounded} fill="{fill}" stroke="{INK}" '
        f'stroke-width="2"/><text x="{box.left + box.wide / 2:.1f}" '
        f'y="{box.top + 15:.1f}" text-anchor="middle" font-size="14" '
        f'font-weight="700" fill="{ink}">{flag.text}</text>'
    )
