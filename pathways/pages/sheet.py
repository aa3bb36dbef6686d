"""A sheet to draw a plan on as inline SVG: north up, to scale; prints grey."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import shapely
from markupsafe import Markup
from shapely import Geometry, Point
from shapely.geometry import Polygon

from pathways.pages.labels import Box

#: Width of every plan; its height follows.
WIDE: Final = 640.0
#: Ground shown round all that is told [m].
_MARGIN_M: Final = 15.0
INK: Final = "#111111"


@dataclass(frozen=True)
class Sheet:
    """Ground that is drawn, and how large."""

    west_m: float
    south_m: float
    scale: float  # drawn per metre
    high: float

    @classmethod
    def over(cls, shown: Iterable[Geometry], *, tallest: float) -> Sheet:
        """Return a sheet that holds some geometries.

        Parameters
        ----------
        shown : iterable of shapely.Geometry
            At least one.
        tallest : float
            Greatest height as a share of the width.

        Returns
        -------
        Sheet
            With some ground round them.
        """
        west, south, east, north = shapely.total_bounds(list(shown))
        west, south = west - _MARGIN_M, south - _MARGIN_M
        wide_m, high_m = east + _MARGIN_M - west, north + _MARGIN_M - south
        scale = WIDE / max(wide_m, high_m / tallest)
        beside_m = (WIDE / scale - wide_m) / 2
        return cls(west - beside_m, south, scale, scale * high_m)

    @property
    def frame(self) -> Polygon:
        """The ground on the sheet, in the farm's own coordinates."""
        return shapely.box(
            self.west_m,
            self.south_m,
            self.west_m + WIDE / self.scale,
            self.south_m + self.high / self.scale,
        )

    def at(self, place: Point) -> tuple[float, float]:
        """Return where a place lies on the sheet."""
        return self._on_sheet(place.x, place.y)

    def _on_sheet(self, x: float, y: float) -> tuple[float, float]:
        return (
            self.scale * (x - self.west_m),
            self.high - self.scale * (y - self.south_m),
        )

    def shapes(self, geometry: Geometry, style: str) -> str:
        """Draw the lines and areas of a geometry, as far as they lie on the sheet."""
        return "".join(
            self._shape(part, style)
            for part in shapely.get_parts(geometry & self.frame)
            if not part.is_empty
        )

    def _shape(self, part: Geometry, style: str) -> str:
        if part.geom_type == "Polygon":
            rings = [part.exterior, *part.interiors]
            path = " ".join(f"M{self._points(ring.coords)}Z" for ring in rings)
            return f'<path d="{path}" fill-rule="evenodd" {style}/>'
        if part.geom_type in ("LineString", "LinearRing"):
            return f'<path d="M{self._points(part.coords)}" {style}/>'
        return ""

    def _points(self, places: Iterable[tuple[float, ...]]) -> str:
        drawn = (self._on_sheet(*one[:2]) for one in places)
        return "L".join(f"{x:.1f} {y:.1f}" for x, y in drawn)

    def scale_bar(self) -> str:
        """Draw how long so many metres are."""
        widest = WIDE / 3
        length_m = next((one for one in (50, 10, 5) if self.scale * one < widest), 1)
        end = 12 + self.scale * length_m
        return (
            f'<path d="M12 {self.high - 12:.1f}H{end:.1f}" stroke="{INK}" '
            f'stroke-width="4"/><text x="12" y="{self.high - 20:.1f}" '
            f'font-size="14">{length_m} m, north up</text>'
        )

    def drawn(self, title: str, inside: str, *, below: Iterable[Box] = ()) -> Markup:
        """Return the sheet as a picture, with room for labels that stand below it.

        `title` is a word of ours, never a user's.
        """
        lowest = max((one.top + one.high + 4 for one in below), default=0.0)
        high = max(self.high, lowest)
        return Markup(  # noqa: S704 - what a user wrote is escaped where it is drawn
            f'<svg viewBox="0 0 {WIDE:.0f} {high:.0f}" role="img" '
            f'aria-label="{title}" xmlns="http://www.w3.org/2000/svg">'
            f"<title>{title}</title>{inside}</svg>"
        )
