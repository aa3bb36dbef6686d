"""What a GeoJSON file says of its place on Earth, read without GDAL.

GDAL takes a link in the `crs` member for an address to fetch, and a name that it does
not know for WGS 84, both in silence.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Final

from pyproj import CRS

from pathways.errors import CrsError, FeatureError
from pathways.io.crs import parse_crs

_CODE_IN_NAME: Final = re.compile(
    r"(?i)(?:urn:ogc:def:crs:EPSG:[\d.]*:|EPSG:{1,2}"
    r"|https?://www\.opengis\.net/def/crs/EPSG/[\d.]+/)(\d{4,6})"
)
_WGS_84_NAME: Final = re.compile(
    r"(?i)(?:urn:ogc:def:crs:)?OGC:(?:[\d.]*:)?CRS84"
    r"|https?://www\.opengis\.net/def/crs/OGC/[\d.]+/CRS84"
)
_TYPES: Final = ("FeatureCollection", "Feature")


def geojson_crs(path: Path) -> CRS:
    """Return the system of a GeoJSON file.

    Without a `crs` member it is WGS 84, longitude first (RFC 7946, section 4). The
    member of the older GeoJSON 2008 is read where it names a system.

    Raises
    ------
    FeatureError
        If the file is no GeoJSON of features.
    CrsError
        If the `crs` member is a link, null, unknown or not at the top.
    """
    content = geojson_content(path)
    if any("crs" in one for one in content.get("features") or [] if _is_object(one)):
        msg = (
            "a single feature bears a 'crs' of its own; write one 'crs' at the top of "
            "the file, or none for WGS 84"
        )
        raise CrsError(msg)
    if "crs" not in content:
        return CRS.from_epsg(4326)
    return _named(content["crs"])


def geojson_content(path: Path) -> dict[str, Any]:
    """Return the top object of the file.

    Raises
    ------
    FeatureError
        If the file is no GeoJSON of features.
    """
    try:
        content = json.loads(path.read_bytes().decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        msg = f"it is not written in UTF-8 (byte {error.start}); save it as UTF-8"
        raise FeatureError(msg) from error
    except json.JSONDecodeError as error:
        msg = (
            f"it is no valid JSON (line {error.lineno}: {error.msg}); export it again "
            "as GeoJSON"
        )
        raise FeatureError(msg) from error
    except (
        ValueError
    ) as error:  # Python refuses to read a number of thousands of digits
        msg = "it holds a number that is no number; export it again as GeoJSON"
        raise FeatureError(msg) from error
    except RecursionError as error:
        msg = "it is nested too deeply to be GeoJSON; export it again"
        raise FeatureError(msg) from error
    kind = content.get("type") if isinstance(content, dict) else None
    if kind not in _TYPES:
        msg = f"its type is {kind!r} and not 'FeatureCollection'; export it again"
        raise FeatureError(msg)
    if kind == "FeatureCollection" and not isinstance(content.get("features"), list):
        msg = "it has no list of 'features'; export it again as GeoJSON"
        raise FeatureError(msg)
    return dict(content)


def _named(member: Any) -> CRS:
    """Return the system that the `crs` member names."""
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if (
        not _is_object(member)
        or member.get("type") != "name"
        or not isinstance(name, str)
    ):
        what = (
            "a link" if _is_object(member) and member.get("type") == "link" else "empty"
        )
        msg = (
            f"its 'crs' is {what} and names no system; name it there, such as "
            "'urn:ogc:def:crs:EPSG::27700', or leave 'crs' out for WGS 84"
        )
        raise CrsError(msg)
    if _WGS_84_NAME.fullmatch(name.strip()):
        return CRS.from_epsg(4326)
    code = _CODE_IN_NAME.fullmatch(name.strip())
    if code is None:
        msg = (
            f"its 'crs' is named '{name[:80]}', which is not known; name it as "
            "'urn:ogc:def:crs:EPSG::27700', or leave 'crs' out for WGS 84"
        )
        raise CrsError(msg)
    return parse_crs(f"EPSG:{code[1]}")


def _is_object(value: Any) -> bool:
    return isinstance(value, dict)
