"""Coordinate reference systems: read, refused with the cure, turned to metres."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, Final

from pyproj import CRS, Proj, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.exceptions import ProjError

from pathways.errors import CrsError

_CODE: Final = re.compile(r"(?i)\s*EPSG:{1,2}(\d{4,6})\s*")
_TEXT_OF_CRS: Final = re.compile(
    r"(?is)\s*(PROJCS|PROJCRS|GEOGCS|GEOGCRS|GEODCRS|COMPD_?CS|COMPOUNDCRS"
    r"|BOUNDCRS|ENGCRS|ENGINEERINGCRS|LOCAL_CS|\{)"
)
#: How far a metre of the map may be off a metre on the ground. Transverse Mercator and
#: conic systems for one country or state stay below 0.1 %; "web Mercator" reaches 60 %
#: in Britain. Common practice, no source.
MOST_SCALE_ERROR: Final = 0.01
#: How far outside its area of use a system is still taken for meant [degrees].
AREA_MARGIN_DEGREES: Final = 1.0


@dataclass(frozen=True)
class MetricCrs:
    """A projected system in metres, and how the original's numbers become metres."""

    crs: CRS
    name: str
    metres_per_unit: float
    unit_name: str
    vertical_unit: tuple[str, float] | None  # name and length [m], where a file says it


def parse_crs(text: str) -> CRS:
    """Return the system that a text names.

    Parameters
    ----------
    text : str
        ``EPSG:`` and a code, or WKT, or PROJJSON. Nothing else, as other texts may be
        links or guesses.

    Raises
    ------
    CrsError
        If the text is none of these, or PROJ does not know it.

    Examples
    --------
    >>> parse_crs("EPSG:27700").name
    'OSGB36 / British National Grid'
    """
    code = _CODE.fullmatch(text)
    if code is None and not _TEXT_OF_CRS.match(text):
        msg = (
            f"'{text[:80]}' is no coordinate reference system that can be read; "
            "give its EPSG code, such as EPSG:27700"
        )
        raise CrsError(msg)
    try:
        return CRS.from_epsg(int(code[1])) if code else CRS.from_user_input(text)
    except ProjError as error:
        msg = (
            f"the coordinate reference system '{text[:80].strip()}' is not known; give "
            "a system from the EPSG register, such as EPSG:27700"
        )
        raise CrsError(msg) from error


def metric_crs(crs: CRS, centre: tuple[float, float]) -> MetricCrs:
    """Return a projected system in metres, or refuse with the system to use instead.

    Parameters
    ----------
    crs : CRS
        System that a raster is in; it may be compound.
    centre : tuple of float
        A place in that system, in its own unit, east first.

    Raises
    ------
    CrsError
        If the system is in degrees, local, not east and north, or if the place or the
        scale there make no sense.
    """
    vertical_unit = vertical_unit_of(crs)
    flat = flat_crs(crs)
    if flat.is_geographic:
        msg = (
            f"it is in {flat.name}, whose unit is the degree; reproject it to a system "
            f"in metres{_suggest(flat, centre)}"
        )
        raise CrsError(msg)
    if not flat.is_projected or flat.name.lower().startswith("undefined"):
        msg = (
            f"its coordinate reference system '{flat.name}' names no place on Earth; "
            "give it the national grid that its numbers are in"
        )
        raise CrsError(msg)
    _check_axes(flat)
    _check_scale(flat, centre)
    axis = flat.axis_info[0]
    name = name_of(flat)
    if math.isclose(axis.unit_conversion_factor, 1.0, rel_tol=1e-12):
        return MetricCrs(flat, name, 1.0, axis.unit_name, vertical_unit)
    return MetricCrs(
        _with_metre_axes(flat),
        f"{name} in metres",
        axis.unit_conversion_factor,
        axis.unit_name,
        vertical_unit,
    )


def flat_crs(crs: CRS) -> CRS:
    """Return the horizontal part of a system."""
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    return crs.to_2d()


def name_of(crs: CRS) -> str:
    """Return what people call a system: its code where it has one."""
    authority = crs.to_authority(min_confidence=100)
    return ":".join(authority) if authority else crs.name


def vertical_unit_of(crs: CRS) -> tuple[str, float] | None:
    """Return name and length [m] of the unit of heights, where the system has one."""
    for axis in crs.axis_info:
        if axis.direction == "down":
            msg = "its heights are depths, counted downwards; turn them into heights"
            raise CrsError(msg)
        if axis.direction == "up":
            return axis.unit_name, axis.unit_conversion_factor
    return None


def _check_axes(crs: CRS) -> None:
    """Refuse a system that does not count metres or feet to the east and north."""
    directions = [axis.direction for axis in crs.axis_info]
    if sorted(directions) != ["east", "north"]:
        msg = (
            f"the axes of {crs.name} point {' and '.join(directions)}; reproject it to "
            "a system that counts to the east and north"
        )
        raise CrsError(msg)
    lengths = [axis.unit_conversion_factor for axis in crs.axis_info]
    if lengths[0] != lengths[1]:
        msg = (
            f"the axes of {crs.name} have different units; reproject it to a system in "
            "metres"
        )
        raise CrsError(msg)


def _check_scale(crs: CRS, centre: tuple[float, float]) -> None:
    """Refuse a place that is not on the map, or a map whose metres are no metres."""
    longitude, latitude = longitude_latitude(crs, centre)
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        msg = (
            f"its middle ({centre[0]:.7g}, {centre[1]:.7g}) is no place in {crs.name}; "
            "check which coordinate reference system its numbers are in"
        )
        raise CrsError(msg)
    try:
        factors = Proj(crs).get_factors(longitude, latitude)
    except ProjError as error:
        msg = f"{crs.name} cannot be worked with; reproject it to your national grid"
        raise CrsError(msg) from error
    scales = (factors.meridional_scale, factors.parallel_scale)
    off = max(abs(scale - 1.0) for scale in scales)
    if not off <= MOST_SCALE_ERROR:
        msg = (
            f"in {crs.name} lengths are {off:.0%} off those on the ground there; "
            f"reproject it to a system made for the place{_suggest(crs, centre)}"
        )
        raise CrsError(msg)


def outside_area_of_use(crs: CRS, centre: tuple[float, float]) -> bool:
    """Return whether a place lies well outside the area that a system is made for."""
    authority = crs.to_authority(min_confidence=100)
    # The text of a system in a file leaves the area out; the register has it.
    area = CRS.from_authority(*authority).area_of_use if authority else crs.area_of_use
    if area is None:
        return False
    longitude, latitude = longitude_latitude(crs, centre)
    margin = AREA_MARGIN_DEGREES
    if not area.south - margin <= latitude <= area.north + margin:
        return True
    width = (area.east - area.west) % 360.0 or 360.0  # an area may cross 180 degrees
    return (longitude - area.west + margin) % 360.0 > width + 2.0 * margin


def longitude_latitude(crs: CRS, place: tuple[float, float]) -> tuple[float, float]:
    """Return longitude and latitude of a place on the system's own datum [degrees]."""
    geodetic = crs.geodetic_crs
    if geodetic is None:
        return math.nan, math.nan
    try:
        to_degrees = Transformer.from_crs(crs, geodetic, always_xy=True)
        longitude, latitude = to_degrees.transform(*place)
    except ProjError:
        return math.nan, math.nan  # no place that PROJ knows
    return float(longitude), float(latitude)


def _suggest(crs: CRS, centre: tuple[float, float]) -> str:
    """Return the UTM zone for a place, as the end of a sentence."""
    longitude, latitude = longitude_latitude(crs, centre)
    on_earth = abs(longitude) <= 180.0 and abs(latitude) <= 90.0  # noqa: PLR2004
    zones = (
        query_utm_crs_info(
            datum_name="WGS 84",
            area_of_interest=AreaOfInterest(longitude, latitude, longitude, latitude),
        )
        if on_earth
        else []
    )
    if not zones:
        return ", such as your national grid"
    return f", such as your national grid or EPSG:{zones[0].code} ({zones[0].name})"


def _with_metre_axes(crs: CRS) -> CRS:
    """Return the same projection with axes in metres.

    The parameters of the projection keep their own units, so no place moves.
    """
    definition = crs.to_json_dict()
    projected: dict[str, Any] = definition.get("source_crs", definition)
    for axis in projected["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    projected["name"] += " in metres"
    for part in (definition, projected):
        part.pop("id", None)
    return CRS.from_json_dict(definition)
