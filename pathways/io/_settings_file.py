"""farm.toml: read, and each fault turned into one sentence with its cure."""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError

from pathways.errors import RefusedError, SettingsError
from pathways.io._findings import Findings, did_you_mean, folded
from pathways.settings import Settings

FILE_NAME: Final = "farm.toml"
_MOST_BYTES: Final = 1_000_000
#: What pydantic calls a wrong kind of value, and what to write.
_WANTED: Final = {
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "float_type": "a number",
    "int_type": "a whole number",
    "list_type": "a list in square brackets",
    "dict_type": "a table of keys and numbers",
    "finite_number": "a finite number",
}
_BOUNDS: Final = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def read_settings(path: Path, findings: Findings) -> Settings:
    """Return the settings of a farm.

    Parameters
    ----------
    path : Path
        The farm's farm.toml.
    findings : Findings
        Takes a notice for each table that is kept for later.

    Returns
    -------
    Settings
        Validated, with defaults.

    Raises
    ------
    RefusedError
        With one sentence for each key that is unknown or has an impossible value.
    SettingsError
        If the file cannot be read at all.
    """
    content = _content(path)
    used = {name: _dates_as_text(value) for name, value in content.items()}
    try:
        return Settings.model_validate(used)
    except ValidationError as error:
        faults = Findings()
        for fault in error.errors(include_url=False):
            faults.error("setting_refused", _sentence(fault), FILE_NAME)
        raise RefusedError((*findings.notices, *faults.notices)) from error


def _content(path: Path) -> dict[str, Any]:
    """Return farm.toml as tables."""
    try:
        stored = path.read_bytes()
        if len(stored) > _MOST_BYTES:
            msg = f"it is larger than {_MOST_BYTES:,} bytes; it holds settings only"
            raise SettingsError(msg)
        return tomllib.loads(stored.decode("utf-8-sig").replace("\r\n", "\n"))
    except UnicodeDecodeError as error:
        msg = f"it is not written in UTF-8 (byte {error.start}); save it as UTF-8"
        raise SettingsError(msg) from error
    except tomllib.TOMLDecodeError as error:
        msg = f"it is no valid TOML ({error}); mend that line"
        raise SettingsError(msg) from error
    except RecursionError as error:
        msg = "it is nested too deeply; write plain tables"
        raise SettingsError(msg) from error
    except OSError as error:
        msg = f"it cannot be read ({error.strerror}); check who may read it"
        raise SettingsError(msg) from error


def _dates_as_text(value: Any) -> Any:
    """Return a table with dates as text, as TOML lets people write them bare."""
    if isinstance(value, Mapping):
        return {key: _dates_as_text(one) for key, one in value.items()}
    if isinstance(value, datetime.date | datetime.datetime):
        return value.isoformat()
    return value


def _sentence(fault: Any) -> str:
    """Return one of pydantic's faults in the words of the file."""
    # The fault of a key bears the mark "[key]" behind it.
    place = [str(one) for one in fault["loc"] if one != "[key]"]
    kind, value = fault["type"], fault["input"]
    if kind == "extra_forbidden":
        return _unknown(place, value)
    if kind == "model_type" or len(place) == 1:
        return f"[{place[0]}] must be a table; write it as [{place[0]}] on its own line"
    key = f"[{place[0]}] {'.'.join(place[1:])}"
    shown = f"{value!r}"[:80]
    if kind == "literal_error":
        listed = _choices(fault)
        hint = did_you_mean(str(value), listed)
        return f"{key} is {shown} and must be one of {', '.join(listed)}{hint}"
    if kind in _BOUNDS:
        words, bound = _BOUNDS[kind]
        return f"{key} is {shown} and must be {words} {fault['ctx'][bound]:g}"
    return f"{key} is {shown} and must be {_WANTED.get(kind, fault['msg'])}"


def _choices(fault: Any) -> list[str]:
    """Return the words that a key may have."""
    field = model_of(fault["loc"][0]).model_fields[fault["loc"][1]]
    return choices_in(field.annotation)


def choices_in(annotation: Any) -> list[str]:
    """Return the words that a type lists, however deep.

    Examples
    --------
    >>> choices_in(Literal["metre", "foot"] | None)
    ['metre', 'foot']
    """
    if get_origin(annotation) is Literal:
        return [str(one) for one in get_args(annotation)]
    return [one for part in get_args(annotation) for one in choices_in(part)]


def model_of(table: Any) -> type[BaseModel]:
    """Return the model of a table."""
    model: type[BaseModel] = Settings.model_fields[table].annotation  # type: ignore[assignment]
    return model


def _unknown(place: list[str], value: Any) -> str:
    """Return a sentence for a table or key that does not exist."""
    tables = [*Settings.model_fields]
    name = place[-1]
    elsewhere = [
        table
        for table in Settings.model_fields
        if folded(name) in model_of(table).model_fields
    ]
    if len(place) == 1 and isinstance(value, dict):
        return (
            f"the table [{name}] is not known{_or_delete(did_you_mean(name, tables))}"
        )
    if len(place) == 1:
        return (
            f"the key '{name}' stands above all tables"
            f"{_or_delete(f'; move it under [{elsewhere[0]}]' if elsewhere else '')}"
        )
    hint = did_you_mean(name, model_of(place[0]).model_fields)
    if not hint and elsewhere:
        hint = f"; it belongs under [{elsewhere[0]}]"
    return f"the key '{name}' in [{place[0]}] is not known{_or_delete(hint)}"


def _or_delete(hint: str) -> str:
    return hint or "; delete it"
