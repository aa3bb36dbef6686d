"""How a desktop GIS draws the layers of results, as QML.

Every class differs in colour and in dash or shape, so that it reads in grey and by
people who tell few colours apart. The colours are those of Okabe and Ito (2008), Color
Universal Design, https://jfly.uni-koeln.de/color/.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal
from xml.etree import ElementTree

_VERMILLION: Final = "213,94,0,255"
_PURPLE: Final = "204,121,167,255"
_ORANGE: Final = "230,159,0,255"
_YELLOW: Final = "240,228,66,255"
_BLUE: Final = "0,114,178,255"
_SKY_BLUE: Final = "86,180,233,255"
_GREEN: Final = "0,158,115,255"
_BLACK: Final = "0,0,0,255"
_WHITE: Final = "255,255,255,255"

_DOCTYPE: Final = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
#: The release of the format that the elements below belong to (Option, not prop).
_FORMAT: Final = "3.28.0"
#: Numbers of geometry kinds in the format.
_GEOMETRY_NUMBERS: Final = {"marker": "0", "line": "1", "fill": "2"}

_Symbol = Literal["marker", "line", "fill"]


@dataclass(frozen=True)
class Look:
    """How one class of features is drawn."""

    label: str
    colour: str  # red, green, blue, opacity: 0 to 255
    dash_mm: str = ""  # drawn and left out in turn [mm]; empty for an unbroken line
    width_mm: float = 1.0
    shape: str = "circle"  # of a marker
    hatch: str = "no"  # of a fill


#: By outcome, worst first.
OUTCOME_LOOKS: Final[Mapping[str, Look]] = {
    "reaches_water": Look("Reaches water", _VERMILLION, "", 1.4, "circle"),
    "enters_piped_drain": Look("Enters a piped drain", _PURPLE, "6;1.5", 1.2, "square"),
    "enters_ground": Look("Enters the ground", _ORANGE, "4;2", 1.2, "triangle"),
    "not_known": Look("Not known", _BLACK, "1;2", 1.2, "cross2"),
    "stops_on_surface": Look(
        "Stops on the surface, until the next rain", _YELLOW, "5;2;1;2", 1.0, "diamond"
    ),
    "contained": Look("Contained", _SKY_BLUE, "2;1", 0.8, "pentagon"),
}

#: By whether a site meets the rules.
VERDICT_LOOKS: Final[Mapping[str, Look]] = {
    "true": Look("Meets the rules that were read", _GREEN, "", 0.6, hatch="solid"),
    "marginal": Look(
        "Within error of a limit", _ORANGE, "4;1", 0.8, hatch="b_diagonal"
    ),
    "false": Look("Does not meet a rule", _VERMILLION, "2;1", 0.8, hatch="cross"),
    "no_rule_read": Look(
        "Not decided: a rule or a layer is missing",
        _BLACK,
        "1;1.5",
        0.8,
        hatch="dense6",
    ),
}

#: By state of the ground.
STATE_LOOKS: Final[Mapping[str, Look]] = {
    "raining": Look("In rain", _BLUE, shape="circle"),
    "saturated": Look("Saturated or frozen", _SKY_BLUE, shape="square"),
    "wet": Look("Wet", _GREEN, shape="triangle"),
    "dry": Look("Dry", _ORANGE, shape="diamond"),
}

#: By part of a site.
PART_LOOKS: Final[Mapping[str, Look]] = {
    "pad": Look("Pad", _BLACK, "", 0.6, hatch="no"),
    "bed": Look("Bed", _GREEN, "3;1", 0.6, hatch="vertical"),
}

#: By how the liquid moves along a leg.
LEG_LOOKS: Final[Mapping[str, Look]] = {
    "surface": Look("Over the ground", _BLUE, "", 0.8),
    "pipe": Look("Through a pipe", _PURPLE, "6;1.5", 0.8),
    "observed": Look("As seen on the ground", _BLACK, "", 0.5),
    "joined": Look("Straight line where no pipe is drawn", _ORANGE, "1;2", 0.8),
}


@dataclass(frozen=True)
class LayerLook:
    """How one layer is drawn: by the classes of a field, or all alike."""

    symbol: _Symbol
    looks: Mapping[str, Look]
    field: str = ""


#: Layers that come with a style.
LAYER_LOOKS: Final[Mapping[str, LayerLook]] = {
    "pathways": LayerLook("line", OUTCOME_LOOKS, "outcome"),
    "pathway_legs": LayerLook("line", LEG_LOOKS, "kind"),
    "alternatives": LayerLook("line", OUTCOME_LOOKS, "outcome"),
    "sites": LayerLook("fill", VERDICT_LOOKS, "meets_rules"),
    "site_layouts": LayerLook("fill", PART_LOOKS, "part"),
    "site_scores": LayerLook("marker", {"": Look("Middle of a site", _BLACK)}),
    "reach": LayerLook(
        "fill",
        {
            "0.05": Look("5 of 100 versions", "254,232,56,150", hatch="solid"),
            "0.25": Look("25 of 100 versions", "188,175,111,170", hatch="solid"),
            "0.5": Look("50 of 100 versions", "124,123,120,185", hatch="solid"),
            "0.75": Look("75 of 100 versions", "65,77,107,200", hatch="solid"),
            "0.95": Look("95 of 100 versions", "0,34,78,215", hatch="solid"),
        },
        "band",
    ),
    "spills": LayerLook("marker", STATE_LOOKS, "state"),
    "setbacks": LayerLook("fill", {"": Look("Setback", _PURPLE, "3;1.5", 0.4)}),
    "hollows": LayerLook("marker", {"": Look("Hollow", _SKY_BLUE, shape="circle")}),
    "sources": LayerLook("marker", OUTCOME_LOOKS, "outcome"),
    "source_areas": LayerLook("fill", OUTCOME_LOOKS, "outcome"),
    "ends": LayerLook("marker", OUTCOME_LOOKS, "outcome"),
}

#: A class that nobody thought of is drawn and named, never left out of the map.
_OTHER: Final = Look("Anything else", _BLACK, "0.5;1", 0.6, "star", "dense7")


def qml(layer: LayerLook) -> str:
    """Return the style of a layer.

    Parameters
    ----------
    layer : LayerLook
        How the layer is drawn.

    Returns
    -------
    str
        QML, as a desktop GIS keeps it in the table ``layer_styles``.

    Examples
    --------
    >>> style = qml(LAYER_LOOKS["pathways"])
    >>> 'value="reaches_water"' in style
    True
    """
    root = ElementTree.Element("qgis", version=_FORMAT, styleCategories="Symbology")
    renderer = ElementTree.SubElement(root, "renderer-v2", _renderer(layer))
    looks = list(layer.looks.values())
    if layer.field:
        looks.append(_OTHER)
        categories = ElementTree.SubElement(renderer, "categories")
        # An empty value is the class of all that no other class takes.
        for number, (value, look) in enumerate(
            zip([*layer.looks, ""], looks, strict=True)
        ):
            ElementTree.SubElement(
                categories,
                "category",
                {
                    "value": value,
                    "type": "string",
                    "symbol": str(number),
                    "label": look.label,
                    "render": "true",
                },
            )
    symbols = ElementTree.SubElement(renderer, "symbols")
    for number, look in enumerate(looks):
        _add_symbol(symbols, number, layer.symbol, look)
    geometry = ElementTree.SubElement(root, "layerGeometryType")
    geometry.text = _GEOMETRY_NUMBERS[layer.symbol]
    ElementTree.indent(root, " ")
    return _DOCTYPE + ElementTree.tostring(root, encoding="unicode") + "\n"


def _renderer(layer: LayerLook) -> dict[str, str]:
    common = {"forceraster": "0", "symbollevels": "0", "enableorderby": "0"}
    if not layer.field:
        return {"type": "singleSymbol", **common}
    return {"type": "categorizedSymbol", "attr": layer.field, **common}


def _add_symbol(
    symbols: ElementTree.Element, number: int, symbol: _Symbol, look: Look
) -> None:
    element = ElementTree.SubElement(
        symbols,
        "symbol",
        {"name": str(number), "type": symbol, "alpha": "1", "clip_to_extent": "1"},
    )
    if symbol == "marker":
        _add_part(element, "SimpleMarker", _marker(look))
        return
    if symbol == "fill":
        _add_part(element, "SimpleFill", _fill(look))
    _add_part(element, "SimpleLine", _line(look))


def _add_part(
    symbol: ElementTree.Element, kind: str, options: Iterable[tuple[str, str]]
) -> None:
    part = ElementTree.SubElement(
        symbol, "layer", {"class": kind, "enabled": "1", "locked": "0", "pass": "0"}
    )
    table = ElementTree.SubElement(part, "Option", type="Map")
    for name, value in options:
        ElementTree.SubElement(
            table, "Option", {"type": "QString", "name": name, "value": value}
        )


def _line(look: Look) -> tuple[tuple[str, str], ...]:
    return (
        ("line_color", look.colour),
        ("line_style", "solid"),
        ("line_width", str(look.width_mm)),
        ("line_width_unit", "MM"),
        ("capstyle", "flat"),
        ("joinstyle", "round"),
        ("use_custom_dash", "1" if look.dash_mm else "0"),
        ("customdash", look.dash_mm or "5;2"),
        ("customdash_unit", "MM"),
    )


def _fill(look: Look) -> tuple[tuple[str, str], ...]:
    # A solid fill hides the ground below it: a quarter of its colour is enough.
    colour = (
        look.colour.replace(",255", ",64") if look.hatch == "solid" else look.colour
    )
    return (
        ("color", colour),
        ("style", look.hatch),
        ("outline_style", "no"),
    )


def _marker(look: Look) -> tuple[tuple[str, str], ...]:
    return (
        ("name", look.shape),
        ("color", look.colour),
        ("size", "4"),
        ("size_unit", "MM"),
        ("outline_color", look.colour if look.shape == "cross2" else _WHITE),
        ("outline_style", "solid"),
        ("outline_width", "0.6" if look.shape == "cross2" else "0.3"),
        ("outline_width_unit", "MM"),
    )
