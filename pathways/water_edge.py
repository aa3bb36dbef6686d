"""Where water begins: the outline of a watercourse as it was drawn."""

from __future__ import annotations

from collections.abc import Mapping

from shapely import Geometry

from pathways.features import Watercourse


def water_outline(
    watercourse: Watercourse, assumed_half_widths_m: Mapping[str, float]
) -> Geometry:
    """Return the ground that a watercourse covers, bank top to bank top.

    A polygon and a line drawn at the edge or the bank top are taken as drawn. A line
    drawn at the centre is widened by its half width. A culverted stretch has an
    outline too: setbacks count from it.

    Parameters
    ----------
    watercourse : Watercourse
        As drawn.
    assumed_half_widths_m : mapping of str to float
        Half width by kind where none is given [m]; see `assumed_half_width_m`.

    Returns
    -------
    shapely.Geometry
        In the coordinates of the drawing.

    Examples
    --------
    >>> from shapely import LineString, Point
    >>> line = LineString([(0.0, 0.0), (0.0, 50.0)])
    >>> ditch = Watercourse(id="d", kind="ditch", geometry=line)
    >>> water_outline(ditch, {"ditch": 0.75}).distance(Point(10.0, 25.0))
    9.25
    """
    half_width_m = watercourse.half_width_m
    if half_width_m is None:
        half_width_m = assumed_half_width_m(watercourse, assumed_half_widths_m)
    if not half_width_m or not _is_centre_line(watercourse):
        return watercourse.geometry
    return watercourse.geometry.buffer(half_width_m)


def assumed_half_width_m(
    watercourse: Watercourse, assumed_half_widths_m: Mapping[str, float]
) -> float | None:
    """Return the half width that has to be assumed [m], or None if none has to be.

    Parameters
    ----------
    watercourse : Watercourse
        As drawn.
    assumed_half_widths_m : mapping of str to float
        Half width by kind [m].

    Returns
    -------
    float or None

    Examples
    --------
    >>> from shapely import LineString
    >>> line = LineString([(0.0, 0.0), (0.0, 50.0)])
    >>> ditch = Watercourse(id="d", kind="ditch", geometry=line)
    >>> assumed_half_width_m(ditch, {"ditch": 0.75})
    0.75
    """
    if watercourse.half_width_m is not None or not _is_centre_line(watercourse):
        return None
    return assumed_half_widths_m[watercourse.kind]


def _is_centre_line(watercourse: Watercourse) -> bool:
    is_line = watercourse.geometry.geom_type in ("LineString", "MultiLineString")
    return is_line and watercourse.drawn_at == "centre"
