"""A plan of the yard as inline SVG: water, buildings, drains, ways, sites; prints grey.

No text in it is a user's: sources bear letters and sites numbers, as on the map.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final

import shapely
from markupsafe import Markup
from shapely import Geometry

from pathways.assessment import Assessment

_WIDE: Final = 640.0
#: Ground shown round all that is told [m].
_MARGIN_M: Final = 15.0
#: A plan is never taller than this times its width.
_TALLEST: Final = 1.2

Place = Callable[[float, float], tuple[float, float]]


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
    west, south, east, north = shapely.total_bounds(shown)
    west, south = west - _MARGIN_M, south - _MARGIN_M
    scale = _WIDE / max(east + _MARGIN_M - west, (north + _MARGIN_M - south) / _TALLEST)
    high = scale * (north + _MARGIN_M - south)

    def at(x: float, y: float) -> tuple[float, float]:
        return scale * (x - west), high - scale * (y - south)

    frame = shapely.box(west, south, west + _WIDE / scale, south + high / scale)
    inside = "".join(_drawn(assessment, list(letters), frame, at))
    return Markup(  # noqa: S704 - made of numbers, letters and words of this file
        f'<svg viewBox="0 0 {_WIDE:.0f} {high:.0f}" role="img" '
        'aria-label="Plan of the yard" xmlns="http://www.w3.org/2000/svg">'
        f"<title>Plan of the yard</title>{inside}{_scale_bar(scale, high)}</svg>"
    )


def _drawn(
    assessment: Assessment, letters: list[str], frame: Geometry, at: Place
) -> Iterator[str]:
    """Yield everything from the bottom of the plan to its top."""
    for geometry, style in _shapes(assessment):
        for part in shapely.get_parts(geometry & frame):
            yield _shape(part, style, at)
    for inlet in assessment.farm.features.inlets:
        x, y = at(*inlet.geometry.centroid.coords[0])
        yield (
            f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" '
            'fill="#ffffff" stroke="#111111" stroke-width="2"/>'
        )
    for number, site in enumerate(assessment.sites, start=1):
        if not site.existing:  # there a source bears its letter
            yield _flag(at(site.easting_m, site.northing_m), str(number), round_=False)
    for letter, way in zip(letters, assessment.pathways, strict=True):
        yield _flag(at(*way.start), letter, round_=True)


def _shapes(assessment: Assessment) -> Iterator[tuple[Geometry, str]]:
    """Yield lines and areas with their style."""
    features = assessment.farm.features
    for building in features.buildings:
        yield building.geometry, 'fill="#bbbbbb" stroke="#111111"'
    for water in features.watercourses:
        fill = "#9ecae1" if water.geometry.area > 0 else "none"
        yield water.geometry, f'fill="{fill}" stroke="#0072b2" stroke-width="5"'
    for site in assessment.sites:
        yield site.footprint, 'fill="none" stroke="#111111" stroke-width="1.5"'
    for way in assessment.pathways:
        for leg in way.legs:
            yield leg.line, 'fill="none" stroke="#d55e00" stroke-width="3.5"'
    dashed = 'fill="none" stroke="#111111" stroke-width="1.5" stroke-dasharray="7 4"'
    for pipe in features.pipes:
        yield pipe.geometry, dashed


def _shape(part: Geometry, style: str, at: Place) -> str:
    """Return a line or an area; a point is not drawn here."""
    if part.geom_type == "Polygon":
        rings = [part.exterior, *part.interiors]
        path = " ".join(f"M{_points(ring.coords, at)}Z" for ring in rings)
        return f'<path d="{path}" fill-rule="evenodd" {style}/>'
    if part.geom_type in ("LineString", "LinearRing"):
        return f'<path d="M{_points(part.coords, at)}" {style}/>'
    return ""


def _points(places: Iterable[tuple[float, ...]], at: Place) -> str:
    return "L".join(f"{x:.1f} {y:.1f}" for x, y in (at(*one[:2]) for one in places))


def _flag(place: tuple[float, float], text: str, *, round_: bool) -> str:
    x, y = place
    shape = (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="10" fill="#111111"/>'
        if round_
        else f'<rect x="{x - 10:.1f}" y="{y - 9:.1f}" width="20" height="18" '
        'fill="#ffffff" stroke="#111111" stroke-width="2"/>'
    )
    ink = "#ffffff" if round_ else "#111111"
    return (
        f'{shape}<text x="{x:.1f}" y="{y + 5:.1f}" text-anchor="middle" '
        f'font-size="14" font-weight="700" fill="{ink}">{text}</text>'
    )


def _scale_bar(scale: float, high: float) -> str:
    length_m = 50 if scale * 50 < _WIDE / 3 else 10
    end = 12 + scale * length_m
    return (
        f'<path d="M12 {high - 12:.1f}H{end:.1f}" stroke="#111111" stroke-width="4"/>'
        f'<text x="12" y="{high - 20:.1f}" font-size="14">{length_m} m, north up</text>'
    )
