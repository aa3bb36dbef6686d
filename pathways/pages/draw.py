"""The page on which a farm is drawn: one file that opens without a network."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from shapely import Geometry, LineString
from shapely.geometry import mapping

from pathways.aerial import AerialPicture
from pathways.features import LAYERS, Feature, Features, fields_of
from pathways.grid import Grid
from pathways.pages import draw_words, palette, words
from pathways.pages.contours import step_between_m
from pathways.pages.draw_layers import groups, layer_described, missing
from pathways.pages.relief import Relief, photo, relief
from pathways.pages.web_map import Handover, bare_map, page_around
from pathways.units import SQUARE_METRES_PER_HECTARE

Values = dict[str, Any]

#: Decimals of longitude and latitude: the ninth is a tenth of a millimetre.
DIGITS: Final = 9
_SCRIPTS: Final = (
    "pieces.js",
    "draw_store.js",
    "draw_map.js",
    "draw_corners.js",
    "draw_form.js",
    "draw_lists.js",
    "draw_files.js",
    "draw.js",
)


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """What a drawing page is made of.

    Parameters
    ----------
    grid : Grid
        The ground.
    farm : str
        What the farm is called; may be empty.
    features : Features
        What is drawn already.
    none_here : tuple of str
        What the drawing says was looked for and is not there.
    placed_by : str
        Operation by which the reader of drawings moves degrees onto the grid.
    to_degrees : callable
        The same the other way: a geometry of the grid in longitude and latitude.
    valleys : tuple of LineString
        Lines that are offered as water, in the grid's coordinates.
    valley_area_m2 : float
        Ground that drains to the head of each of them [m²].
    picture : AerialPicture or None
        Lies under the drawing instead of the shaded ground, if wanted.
    """

    grid: Grid
    farm: str
    features: Features
    none_here: tuple[str, ...]
    placed_by: str
    to_degrees: Callable[[Geometry], Geometry]
    valleys: tuple[LineString, ...] = ()
    valley_area_m2: float = 0.0
    picture: AerialPicture | None = None


def draw_page(sheet: Sheet) -> str:
    """Return the drawing page as the text of one HTML file.

    Parameters
    ----------
    sheet : Sheet
        What to draw on. Equal sheets give equal pages, byte for byte.

    Returns
    -------
    str
        A page that asks nothing of the network and runs no script but its own.

    Raises
    ------
    OutputError
        If the page would need something from the internet.
    """
    heights_m = sheet.grid.heights_m
    every_m = step_between_m(float(np.nanmax(heights_m) - np.nanmin(heights_m)))
    ground = relief(sheet.grid, contour_every_m=every_m)
    map_ = bare_map(ground, max_zoom=24, double_click_zoom=False)
    Handover("drawFarm", map_).add_to(map_)
    data = _data(sheet, ground, every_m)
    return page_around(map_, "draw.html", data, draw_words.PAGE, _SCRIPTS)


def _data(sheet: Sheet, ground: Relief, every_m: float) -> Values:
    name = words.shown(sheet.farm)
    page = draw_words.PAGE
    start = [
        _feature(layer, one, sheet)
        for layer in LAYERS
        for one in getattr(sheet.features, layer)
    ]
    notes = [page["contour_note"].format(every=f"{every_m:g}")]
    if ground.times_steeper > 1:
        steeper = f"{ground.times_steeper:.0f}"
        notes.insert(0, page["relief_note"].format(times=steeper))
    return {
        "title": page["title"].format(farm=name) if name else page["title_nameless"],
        "words": {
            **page,
            "valleys_hint": page["valleys_hint"].format(
                area=f"{sheet.valley_area_m2 / SQUARE_METRES_PER_HECTARE:g}"
            ),
        },
        "layers": [layer_described(one) for one in LAYERS],
        "order": list(palette.ORDER),
        "groups": groups(),
        "missing": [*missing()],
        "grounds": _grounds(sheet, ground, notes),
        "start": start,
        "none_here": list(sheet.none_here),
        "placed_by": sheet.placed_by,
        "key": _key(sheet, start),
        "digits": DIGITS,
        "valleys": [*_valleys(sheet)],
    }


def _grounds(sheet: Sheet, ground: Relief, notes: list[str]) -> list[Values]:
    """Return the pictures that may lie under the drawing, the best first."""
    grounds = [
        {
            "name": draw_words.PAGE["relief"],
            "note": " ".join(notes),
            "uri": ground.data_uri,
            "corners": [ground.south_west, ground.north_east],
        }
    ]
    picture = sheet.picture
    if picture is not None:
        uri, corners = photo(picture)
        name = draw_words.PAGE["picture"]
        grounds.insert(0, {"name": name, "note": "", "uri": uri, "corners": corners})
    return grounds


def _key(sheet: Sheet, start: list[Values]) -> str:
    """Return what a browser keeps the drawing under: the same for the same page."""
    grid = sheet.grid
    digest = hashlib.sha256(grid.heights_m.tobytes())
    place = [grid.west_m, grid.north_m, grid.cell_size_m, grid.crs, start]
    digest.update(json.dumps([place, sheet.none_here]).encode())
    return digest.hexdigest()[:16]


def _valleys(sheet: Sheet) -> Iterable[Values]:
    for number, one in enumerate(sheet.valleys, start=1):
        yield {
            "number": number,
            "coordinates": _shape(one, sheet)["coordinates"],
            "length": f"{one.length:.0f}",
            "name": draw_words.VALLEY_NAME,
            "note": draw_words.VALLEY_NOTE.format(number=number),
        }


def _feature(layer: str, feature: Feature, sheet: Sheet) -> Values:
    """Return something drawn as the page saves it, with what was said of it only."""
    said = {
        one.name: _plain_number(getattr(feature, one.name))
        for one in fields_of(layer)
        if one.name in ("id", "kind", *LAYERS[layer].required)
        or getattr(feature, one.name) != one.default
    }
    return {
        "type": "Feature",
        "properties": {"layer": layer, **said},
        "geometry": _shape(feature.geometry, sheet),
    }


def _plain_number(value: Any) -> Any:
    """Return 12.0 as a browser writes it, so that saving changes no byte."""
    whole = isinstance(value, float) and value.is_integer()
    return int(value) if whole else value


def _shape(geometry: Geometry, sheet: Sheet) -> Values:
    moved = shapely.transform(
        sheet.to_degrees(geometry), lambda places: places.round(DIGITS)
    )
    shape: Values = json.loads(json.dumps(mapping(moved)))
    return shape
