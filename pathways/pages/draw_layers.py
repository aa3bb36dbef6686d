"""What the drawing page asks of each layer, made from `pathways.features`."""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Iterable, Mapping
from typing import Any

from pathways.features import LAYERS, fields_of
from pathways.pages import draw_questions, draw_words, palette, words

Values = dict[str, Any]


def groups() -> list[Values]:
    """Return the buttons of the panel under their headings."""
    named = {layer for _, layers in draw_words.GROUPS for layer in layers}
    rest = tuple(layer for layer in LAYERS if layer not in named)
    all_groups = draw_words.GROUPS + (((draw_words.OTHER_GROUP, rest),) if rest else ())
    return [{"heading": heading, "layers": layers} for heading, layers in all_groups]


def missing() -> Iterable[Values]:
    """Yield what it means that a layer is not drawn, and what may be said to it."""
    for layer, says in draw_words.MISSING.items():
        names = draw_words.NONE_HERE.get(layer, ())
        page = draw_words.PAGE
        yield {
            "layer": layer,
            "says": says,
            "none_here": [
                {
                    "name": name,
                    "says": page["none_here"]
                    if name == layer
                    else page["none_of"].format(what=_value("kind", name)),
                    "what": _none_of(layer, name),
                }
                for name in names
            ],
        }


def _none_of(layer: str, name: str) -> str:
    if name == layer:
        return words.LAYERS.get(layer, words.plain(layer)).lower()
    return _value("kind", name)


def layer_described(layer: str) -> Values:
    """Return all that the page knows of a layer: shapes, looks and questions."""
    described = LAYERS[layer]
    return {
        "key": layer,
        "thing": draw_words.THINGS.get(layer, words.capital(described.about)),
        "prefix": draw_words.PREFIXES.get(layer, f"{layer[:3].upper()}-"),
        "shapes": [
            {"type": one, "says": draw_words.SHAPES[one], "how": _how(layer, one)}
            for one in described.geometries
        ],
        "directed": draw_words.DIRECTED.get(layer),
        "kinds": _kinds(layer),
        "joins": draw_words.JOINS.get(layer, ()),
        "styles": _styles(layer),
        "fields": [_field(layer, one) for one in fields_of(layer) if one.name != "id"],
    }


def _how(layer: str, shape: str) -> str:
    own = draw_words.HOW.get(layer, "")
    if layer in ("pipes", "barriers"):
        return own
    return f"{draw_words.HOW[shape]} {own}".strip()


def _kinds(layer: str) -> Values:
    """Return what a thing of each kind is called."""
    (choices,) = [
        one.metadata["choices"] for one in fields_of(layer) if one.name == "kind"
    ] or [()]
    return {kind: words.plain(kind) for kind in choices}


def _styles(layer: str) -> Values:
    """Return the looks of a layer by kind; the empty kind is any other."""
    kinds = [
        key[1] for key in palette.FEATURES if isinstance(key, tuple) and key[0] == layer
    ]
    return {kind: dict(palette.style_of(layer, kind)) for kind in ("", *kinds)}


def _field(layer: str, field: dataclasses.Field[Any]) -> Values:
    """Return one question of a form."""
    label = draw_questions.FIELDS.get((layer, field.name))
    label = label or draw_questions.FIELDS.get(field.name)
    layers, besides = draw_questions.REFERS_TO.get((layer, field.name), ((), ()))
    default = None if field.default is dataclasses.MISSING else field.default
    return {
        "name": field.name,
        "label": label or words.capital(field.metadata["about"]),
        "type": _type(layer, field, refers=bool(layers)),
        "needed": field.name in LAYERS[layer].required,
        "default": default,
        "least": field.metadata["at_least"],
        "refers_to": layers,
        "choices": [
            {
                "value": one,
                "says": words.capital(_value(field.name, one)),
                "only_as": draw_questions.ONLY_AS.get((layer, one)),
            }
            for one in (*besides, *field.metadata["choices"])
        ],
    }


def _type(layer: str, field: dataclasses.Field[Any], *, refers: bool) -> str:
    if refers or field.metadata["choices"]:
        return "choice"
    hint = typing.get_type_hints(LAYERS[layer].feature)[field.name]
    kinds: Mapping[Any, str] = {float: "number", bool: "yes"}
    for one in (hint, *typing.get_args(hint)):
        if one in kinds:
            return kinds[one]
    return "text"


def _value(field: str, value: str) -> str:
    return draw_questions.VALUES.get((field, value)) or words.plain(value)
