"""How a desktop GIS draws the layers of results, as QML.

Every class differs in colour and in dash or shape, so that it reads in grey and by
people who tell few colours apart. Words and colours are those of the map page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal
from xml.etree import ElementTree

from pathways.legend import (
    BLACK,
    BLUE,
    BLUISH_GREEN,
    GROUND_STATES,
    ORANGE,
    OUTCOMES,
    REACH_BAND,
    REACH_BANDS,
    REACH_COLOURS,
    REDDISH_PURPLE,
    SKY_BLUE,
    VERDICTS,
    VERMILLION,
    WAYS,
)

_WHITE: Final = "255,255,255,255"
_DOCTYPE: Final = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
#: The release of the format that the elements below belong to (Option, not prop).
_FORMAT: Final = "3.28.0"
#: Numbers of geometry kinds in the format.
_GEOMETRY_NUMBERS: Final = {"marker": "0", "line": "1", "fill": "2"}

#: A browser's pixel: 1/96 of an inch (CSS Values and Units Level 3, section 5.2).
_MM_PER_PIXEL: Final = 25.4 / 96

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
    cased: bool = False  # whether a line lies on black, and that on white


def _opaque(colour: str) -> str:
    return ",".join(str(one) for one in (*bytes.fromhex(colour[1:]), 255))


def _dash_mm(pattern: str | float | None) -> str:
    """Return a pattern in pixels, as a browser draws it, in millimetres."""
    pixels = str(pattern or "").split()
    return ";".join(f"{int(one) * _MM_PER_PIXEL:.2f}" for one in pixels)


#: Marks of outcomes.
_SHAPES: Final[Mapping[str, str]] = {
    "reaches_water": "circle",
    "enters_piped_drain": "square",
    "enters_ground": "triangle",
    "not_known": "cross2",
    "stops_on_surface": "diamond",
    "contained": "pentagon",
}

#: By outcome, worst first: colours, patterns and widths of the map page.
OUTCOME_LOOKS: Final[Mapping[str, Look]] = {
    outcome: Look(
        OUTCOMES[outcome],
        _opaque(str(way["colour"])),
        _dash_mm(way["pattern"]),
        5 * _MM_PER_PIXEL,
        _SHAPES[outcome],
        cased=True,
    )
    for outcome, way in WAYS.items()
}

#: Other ways are thin, as on the map, but keep their pattern: the legend names each.
OTHER_WAY_LOOKS: Final[Mapping[str, Look]] = {
    outcome: replace(look, width_mm=2 * _MM_PER_PIXEL)
    for outcome, look in OUTCOME_LOOKS.items()
}

#: Areas of sources; a hatch for each outcome beside its colour.
SOURCE_AREA_LOOKS: Final[Mapping[str, Look]] = {
    outcome: replace(look, cased=False, width_mm=1.0, hatch=hatch)
    for (outcome, look), hatch in zip(
        OUTCOME_LOOKS.items(),
        ("dense4", "cross", "b_diagonal", "dense6", "horizontal", "vertical"),
        strict=True,
    )
}

#: By whether a site meets the rules. None is green, as no way is.
VERDICT_LOOKS: Final[Mapping[str, Look]] = {
    "true": Look(VERDICTS["true"], _opaque(BLUE), "", 0.6, hatch="solid"),
    "marginal": Look(
        VERDICTS["marginal"], _opaque(ORANGE), "4;1", 0.8, hatch="b_diagonal"
    ),
    "false": Look(VERDICTS["false"], _opaque(VERMILLION), "2;1", 0.8, hatch="cross"),
    "no_rule_read": Look(
        VERDICTS["no_rule_read"], _opaque(BLACK), "1;1.5", 0.8, hatch="dense6"
    ),
}

#: Colour and mark of each state of the ground.
_STATES: Final[Mapping[str, tuple[str, str]]] = {
    "raining": (BLUE, "circle"),
    "saturated": (SKY_BLUE, "square"),
    "wet": (BLUISH_GREEN, "triangle"),
    "dry": (ORANGE, "diamond"),
}
STATE_LOOKS: Final[Mapping[str, Look]] = {
    state: Look(f"Lost {GROUND_STATES[state]}", _opaque(colour), shape=shape)
    for state, (colour, shape) in _STATES.items()
}

#: By part of a site.
PART_LOOKS: Final[Mapping[str, Look]] = {
    "pad": Look("Pad, laid out", _opaque(BLACK), "", 0.6, hatch="no"),
    "bed": Look("Bed, laid out", _opaque(BLACK), "3;1", 0.6, hatch="vertical"),
}

#: By how the liquid moves along a leg.
LEG_LOOKS: Final[Mapping[str, Look]] = {
    "surface": Look("Over the ground", _opaque(BLUE), "", 0.8),
    "pipe": Look("Through a pipe", _opaque(REDDISH_PURPLE), "6;1.5", 0.8),
    "observed": Look("As seen on the ground", _opaque(BLACK), "", 0.5),
    "joined": Look("Straight line where no pipe is drawn", _opaque(ORANGE), "1;2", 0.8),
}

#: By the share of the versions of the ground; the darker, the more of them.
BAND_LOOKS: Final[Mapping[str, Look]] = {
    f"{share:g}": Look(
        REACH_BAND.format(share=f"{100 * share:g}"),
        ",".join(map(str, colour)),
        width_mm=0.2,
        hatch="solid",
    )
    for share, colour in zip(REACH_BANDS, REACH_COLOURS, strict=True)
}


#: What lies under a cased line: colour, how many times as wide, dashed like it or not.
_CASING: Final = ((_WHITE, 2.2, False), (_opaque(BLACK), 1.6, True))


@dataclass(frozen=True)
class LayerLook:
    """How one layer is drawn: by the classes of a field, or all alike."""

    symbol: _Symbol
    looks: Mapping[str, Look]
    field: str = ""
    kind: Literal["string", "double"] = "string"


#: Layers that come with a style.
LAYER_LOOKS: Final[Mapping[str, LayerLook]] = {
    "pathways": LayerLook("line", OUTCOME_LOOKS, "outcome"),
    "pathway_legs": LayerLook("line", LEG_LOOKS, "kind"),
    "alternatives": LayerLook("line", OTHER_WAY_LOOKS, "outcome"),
    "sites": LayerLook("fill", VERDICT_LOOKS, "meets_rules"),
    "site_layouts": LayerLook("fill", PART_LOOKS, "part"),
    "site_scores": LayerLook(
        "marker",
        {"": Look("Middle of a place that was compared", _opaque(BLACK))},
    ),
    "reach": LayerLook("fill", BAND_LOOKS, "band", "double"),
    "spills": LayerLook("marker", STATE_LOOKS, "state"),
    "setbacks": LayerLook(
        "fill",
        {
            "": Look(
                "Within a distance that a rule asks for",
                _opaque(REDDISH_PURPLE),
                "3;1.5",
                0.4,
            )
        },
    ),
    "hollows": LayerLook(
        "marker", {"": Look("Hollow that fills first", _opaque(SKY_BLUE))}
    ),
    "sources": LayerLook("marker", OUTCOME_LOOKS, "outcome"),
    "source_areas": LayerLook("fill", SOURCE_AREA_LOOKS, "outcome"),
    "ends": LayerLook("marker", OUTCOME_LOOKS, "outcome"),
}

#: A class that nobody thought of is drawn and named, never left out of the map.
_OTHER: Final = Look("Anything else", _opaque(BLACK), "0.5;1", 0.6, "star", "dense7")


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
    renderer = ElementTree.SubElement(
        root,
        "renderer-v2",
        {"forceraster": "0", "symbollevels": "0", "enableorderby": "0"},
    )
    looks = list(layer.looks.values())
    if layer.field:
        looks.append(_OTHER)
        _add_categories(renderer, layer)
    else:
        # Of one symbol alone a legend says nothing; of a rule it says the label.
        renderer.set("type", "RuleRenderer")
        rules = ElementTree.SubElement(renderer, "rules", key="all")
        label = {"key": "rule", "symbol": "0", "label": looks[0].label}
        ElementTree.SubElement(rules, "rule", label)
    symbols = ElementTree.SubElement(renderer, "symbols")
    for number, look in enumerate(looks):
        _add_symbol(symbols, number, layer.symbol, look)
    geometry = ElementTree.SubElement(root, "layerGeometryType")
    geometry.text = _GEOMETRY_NUMBERS[layer.symbol]
    ElementTree.indent(root, " ")
    return _DOCTYPE + ElementTree.tostring(root, encoding="unicode") + "\n"


def _add_categories(renderer: ElementTree.Element, layer: LayerLook) -> None:
    renderer.set("type", "categorizedSymbol")
    renderer.set("attr", layer.field)
    categories = ElementTree.SubElement(renderer, "categories")
    # An empty value is the class of all that no other class takes.
    classes = {**layer.looks, "": _OTHER}
    for number, (value, look) in enumerate(classes.items()):
        ElementTree.SubElement(
            categories,
            "category",
            {
                "value": value,
                "type": layer.kind,
                "symbol": str(number),
                "label": look.label,
                "render": "true",
            },
        )


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
    if look.cased:
        for colour, times, dashed in _CASING:
            under = replace(look, colour=colour, width_mm=look.width_mm * times)
            under = under if dashed else replace(under, dash_mm="")
            # Locked: who changes the colour of a way means the way.
            _add_part(element, "SimpleLine", _line(under), locked=True)
    _add_part(element, "SimpleLine", _line(look))


def _add_part(
    symbol: ElementTree.Element,
    kind: str,
    options: Iterable[tuple[str, str]],
    *,
    locked: bool = False,
) -> None:
    part = ElementTree.SubElement(
        symbol,
        "layer",
        {"class": kind, "enabled": "1", "locked": str(int(locked)), "pass": "0"},
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
        ("line_width", f"{look.width_mm:.2f}"),
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
        ("outline_color", _opaque(BLACK)),
        ("outline_style", "solid"),
        ("outline_width", "0.6" if look.shape == "cross2" else "0.3"),
        ("outline_width_unit", "MM"),
    )
