"""The values of one feature: text, numbers, yes or no, and words from a list."""

from __future__ import annotations

import dataclasses
import math
import re
import typing
from functools import cache
from typing import Any, Final

import numpy as np

from pathways.errors import FeatureError
from pathways.features import LAYERS, REGIONAL_WORDS
from pathways.io._findings import did_you_mean, folded

#: Longest text of one field [bytes].
MOST_TEXT_BYTES: Final = 10_000
#: A character of nought, and halves of a pair that JSON can write singly.
_UNWRITABLE: Final = re.compile("[\0\ud800-\udfff]")
_YES: Final = ("true", "yes", "y", "t", "1", "1.0")
_NO: Final = ("false", "no", "n", "f", "0", "0.0")


@cache
def _types(layer: str) -> dict[str, Any]:
    """Return the type of each field of a layer, `None` left out of unions."""
    hints = typing.get_type_hints(LAYERS[layer].feature)
    return {
        name: next(
            (one for one in typing.get_args(hint) if one is not type(None)), hint
        )
        for name, hint in hints.items()
    }


def type_of(layer: str, name: str) -> Any:
    """Return the type of one field: `str`, `float` or `bool`."""
    return _types(layer)[name]


def parse_field(layer: str, field: dataclasses.Field[Any], value: Any) -> Any:
    """Return a field's value as the feature class takes it.

    Parameters
    ----------
    layer : str
        Layer that the feature is in.
    field : dataclasses.Field
        One of `fields_of(layer)`.
    value : Any
        As stored; None, NaN and empty text mean that nothing was filled in.

    Returns
    -------
    Any
        The value, or the field's default.

    Raises
    ------
    FeatureError
        If it is required and absent, or is no such value.
    """
    if _is_absent(value):
        return _absent(layer, field)
    wanted = type_of(layer, field.name)
    if wanted is float:
        return _number(field, value)
    if wanted is bool:
        return _yes_or_no(field, value)
    text = _text(field, value)
    return _choice(layer, field, text) if field.metadata["choices"] else text


def _is_absent(value: Any) -> bool:
    """Return whether a cell of the table was left empty."""
    if value is None:
        return True
    if isinstance(value, float | np.floating):
        return math.isnan(value)
    if isinstance(value, np.datetime64):
        return bool(np.isnat(value))
    return isinstance(value, str) and not value.strip()


def _absent(layer: str, field: dataclasses.Field[Any]) -> Any:
    """Return the default of a field, or refuse where it must be filled in."""
    needed = field.name in LAYERS[layer].required
    if needed or field.default is dataclasses.MISSING:
        choices = field.metadata["choices"]
        listed = f": one of {', '.join(choices)}" if choices else ""
        msg = (
            f"'{field.name}' is empty and is needed; fill it in "
            f"({field.metadata['about']}{listed})"
        )
        raise FeatureError(msg)
    return field.default


def _number(field: dataclasses.Field[Any], value: Any) -> float:
    """Return a finite number that is not below what the field allows."""
    try:
        # Yes and no are no numbers, although Python counts them as 1 and 0.
        number = float("" if isinstance(value, bool | np.bool_) else value)
    except (TypeError, ValueError, OverflowError) as error:
        msg = (
            f"'{field.name}' is '{str(value)[:80]}', which is no number; write "
            f"{field.metadata['about']} as a plain number, such as 12.5"
        )
        raise FeatureError(msg) from error
    least = field.metadata["at_least"]
    if not math.isfinite(number) or (least is not None and number < least):
        bound = "finite" if least is None else f"{least:g} or more"
        msg = f"'{field.name}' is {number:g} and must be {bound}; correct it"
        raise FeatureError(msg)
    return number


def _yes_or_no(field: dataclasses.Field[Any], value: Any) -> bool:
    """Return true or false."""
    word = str(value).strip().casefold()
    if word in _YES:
        return True
    if word in _NO:
        return False
    msg = f"'{field.name}' is '{str(value)[:80]}' and must be true or false; correct it"
    raise FeatureError(msg)


def _text(field: dataclasses.Field[Any], value: Any) -> str:
    """Return text as it was written; whole numbers and dates as people write them."""
    if isinstance(value, float | np.floating) and float(value).is_integer():
        text = str(int(value))
    elif isinstance(value, str | int | float | np.number | bool | np.bool_):
        text = str(value)
    else:
        msg = f"'{field.name}' holds a list or bytes and must be text; correct it"
        raise FeatureError(msg)
    if len(text.encode("utf-8", "surrogatepass")) > MOST_TEXT_BYTES:
        msg = f"'{field.name}' is longer than {MOST_TEXT_BYTES:,} bytes; shorten it"
        raise FeatureError(msg)
    if _UNWRITABLE.search(text):
        msg = f"'{field.name}' holds a character that no file can keep; type it again"
        raise FeatureError(msg)
    return text.removesuffix("T00:00:00")


def _choice(layer: str, field: dataclasses.Field[Any], text: str) -> str:
    """Return the listed word that is meant; regional words count as well."""
    choices: tuple[str, ...] = field.metadata["choices"]
    word = folded(text)
    if word in choices:
        return word
    regional = REGIONAL_WORDS.get((layer, field.name), {})
    if word in regional:
        return regional[word]
    hint = did_you_mean(text, (*choices, *regional))
    msg = (
        f"'{field.name}' is '{text[:80]}' and must be one of {', '.join(choices)}{hint}"
    )
    raise FeatureError(msg)
