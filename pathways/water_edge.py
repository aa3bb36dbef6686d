"""Where the water's edge lies for a watercourse as it is drawn."""

from __future__ import annotations

from shapely import Geometry

from pathways.assumed import AssumedValues
from pathways.features import Watercourse


def half_width_is_assumed(watercourse: Watercourse) -> bool:
    """Whether the edge follows from a width that nobody gave."""
    return (
        watercourse.geometry.area == 0
        and watercourse.drawn_at == "centre"
        and watercourse.half_width_m is None
    )


def water_outline(watercourse: Watercourse, assumed: AssumedValues) -> Geometry:
    """Return the water with its edge at the bank top.

    A polygon, and a line drawn along the edge or the bank top, are taken as drawn. A
    centre line is widened by its half width, or by the one assumed for its kind.

    Parameters
    ----------
    watercourse : Watercourse
        Water as drawn.
    assumed : AssumedValues
        Half widths by kind.

    Returns
    -------
    shapely.Geometry
        Polygon, or the line itself where it follows the edge.
    """
    shape = watercourse.geometry
    if shape.area > 0 or watercourse.drawn_at != "centre":
        return shape
    half_width_m = watercourse.half_width_m
    if half_width_m is None:
        half_width_m = assumed.half_width_m(watercourse.kind)
    return shape.buffer(half_width_m) if half_width_m > 0 else shape
