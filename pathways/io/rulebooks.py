"""Read rulebooks, weights and assumed values: those built in, and the user's own."""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Mapping
from dataclasses import fields
from importlib import resources
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import TypeAdapter, ValidationError

from pathways.errors import RulebookError
from pathways.io.tables import read_assumed
from pathways.rules import (
    Citation,
    Containment,
    Gap,
    Requirement,
    Rulebook,
    Setback,
    did_you_mean,
)
from pathways.siting.weights import Weights, Yardstick

_TEXTS: Final = ("id", "title", "jurisdiction")
_ROWS: Final[Mapping[str, type[Any]]] = {
    "setback": Setback,
    "requirement": Requirement,
    "containment": Containment,
    "gap": Gap,
}
_ADAPTERS: Final[Mapping[type[Any], TypeAdapter[Any]]] = {
    kind: TypeAdapter(kind)
    for kind in (Citation, Setback, Requirement, Containment, Gap, Yardstick, Weights)
}
_Row = TypeVar("_Row")


def rulebook_names() -> tuple[str, ...]:
    """Return the names of the rulebooks that are built in.

    Examples
    --------
    >>> rulebook_names()  # doctest: +NORMALIZE_WHITESPACE
    ('colorado', 'england', 'generic', 'illinois', 'ireland', 'kansas', 'michigan',
    'missouri', 'north_dakota', 'scotland', 'united_states', 'washington')
    """
    files = resources.files("pathways.rulebooks").iterdir()
    return tuple(
        sorted(
            one.name.removesuffix(".toml")
            for one in files
            if one.name.endswith(".toml")
        )
    )


def read_rulebook(name: str) -> Rulebook:
    """Return a built-in rulebook.

    Parameters
    ----------
    name : str
        One of `rulebook_names`.

    Returns
    -------
    Rulebook

    Raises
    ------
    RulebookError
        If there is none of that name.

    Examples
    --------
    >>> read_rulebook("generic").title
    'Your own distances'
    """
    names = rulebook_names()
    if name not in names:
        msg = f"there is no rulebook {name!r}{did_you_mean(name, names)}"
        raise RulebookError(msg)
    file = resources.files("pathways.rulebooks") / f"{name}.toml"
    return parse_rulebook(file.read_text("utf-8"), f"{name}.toml")


def read_rulebook_file(path: Path) -> Rulebook:
    """Return the user's own rulebook, checked exactly as a built-in one.

    Parameters
    ----------
    path : Path
        A .toml file.

    Returns
    -------
    Rulebook

    Raises
    ------
    RulebookError
        If it cannot be read or is not a rulebook.
    """
    try:
        text = path.read_text("utf-8")
    except OSError as error:
        msg = (
            f"{path} cannot be read: {error.strerror}; check [rules] file in farm.toml"
        )
        raise RulebookError(msg) from None
    except UnicodeDecodeError:
        msg = f"{path} is not UTF-8 text; save it as UTF-8"
        raise RulebookError(msg) from None
    return parse_rulebook(text, path.name)


def parse_rulebook(text: str, where: str) -> Rulebook:
    """Return a rulebook from the text of its file.

    Parameters
    ----------
    text : str
        TOML: `id`, `title`, `jurisdiction`, tables `[citation.NAME]`, and rows
        `[[setback]]`, `[[requirement]]`, `[[containment]]`, `[[gap]]`, which name their
        citation. With `builds_on` the rows of a built-in rulebook come after its own,
        containments only for what it has none of; so do gaps that your own distances
        do not settle.
    where : str
        What to call the file in an error.

    Returns
    -------
    Rulebook

    Raises
    ------
    RulebookError
        One sentence: which file, entry and key, and how to mend it.
    """
    tables = _tables(text, where)
    _check_top(tables, where)
    citations = {
        name: _row(Citation, table, f"{where}, [citation.{name}]")
        for name, table in tables.get("citation", {}).items()
    }
    rows = {key: _rows(key, tables.get(key, []), citations, where) for key in _ROWS}
    if "builds_on" in tables:
        beneath = _beneath(tables["builds_on"], where)
        rows["setback"] += beneath.setbacks
        rows["requirement"] += beneath.requirements
        # A gap that your own distances settle is settled by what builds on it.
        rows["gap"] += tuple(
            gap for gap in beneath.gaps if not gap.own_distance_settles
        )
        told = {row.of for row in rows["containment"]}
        rows["containment"] += tuple(
            row for row in beneath.containments if row.of not in told
        )
    _check_ids([row.id for table in rows.values() for row in table], where)
    return Rulebook(
        **{key: tables[key] for key in _TEXTS},
        setbacks=rows["setback"],
        requirements=rows["requirement"],
        containments=rows["containment"],
        gaps=rows["gap"],
    )


def _beneath(name: Any, where: str) -> Rulebook:
    """Return the built-in rulebook that another builds on."""
    names = rulebook_names()
    if name not in names:
        msg = (
            f"{where}: builds_on {name!r} names no built-in rulebook"
            f"{did_you_mean(str(name), names)}"
        )
        raise RulebookError(msg)
    return read_rulebook(name)


def read_weights() -> Weights:
    """Return how sites are compared by default.

    Returns
    -------
    Weights

    Examples
    --------
    >>> read_weights().standing
    'assumed'
    """
    where = "weights.toml"
    file = resources.files("pathways.siting") / where
    tables = _tables(file.read_text("utf-8"), where)
    criteria = [
        _row(Yardstick, table, f"{where}, [[criterion]] {number}")
        for number, table in enumerate(tables.pop("criterion"), start=1)
    ]
    given = {
        "criteria": criteria,
        "assumed_half_widths_m": read_assumed().half_widths_m,
    }
    return _row(Weights, tables | given, where)


def _tables(text: str, where: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        msg = f"{where} is not TOML: {error}"
        raise RulebookError(msg) from None


def _check_top(tables: Mapping[str, Any], where: str) -> None:
    known = (*_TEXTS, "builds_on", "citation", *_ROWS)
    for key in tables:
        if key not in known:
            msg = f"{where}: {key} is no key of a rulebook{did_you_mean(key, known)}"
            raise RulebookError(msg)
    for key in _TEXTS:
        if not isinstance(tables.get(key), str) or not tables[key]:
            msg = f'{where}: {key} is missing or no text; write {key} = "..."'
            raise RulebookError(msg)
    if not isinstance(tables.get("citation", {}), dict):
        msg = f"{where}: citation is no table; write [citation.NAME]"
        raise RulebookError(msg)
    for key in _ROWS:
        if not isinstance(tables.get(key, []), list):
            msg = f"{where}: {key} is no list of tables; write [[{key}]]"
            raise RulebookError(msg)


def _check_ids(ids: list[str], where: str) -> None:
    for name, times in Counter(ids).items():
        if times > 1:
            msg = (
                f"{where}: the id {name!r} is used {times} times; give each row its own"
            )
            raise RulebookError(msg)


def _rows(
    key: str, tables: list[Any], citations: Mapping[str, Citation], where: str
) -> tuple[Any, ...]:
    rows = []
    for number, table in enumerate(tables, start=1):
        name = table.get("id") if isinstance(table, dict) else None
        place = f"{where}, [[{key}]] {number}" + (f" {name!r}" if name else "")
        rows.append(_row(_ROWS[key], _cited(table, citations, place), place))
    return tuple(rows)


def _cited(table: Any, citations: Mapping[str, Citation], where: str) -> Any:
    if not isinstance(table, dict) or "citation" not in table:
        return table
    name = table["citation"]
    if not isinstance(name, str) or name not in citations:
        hint = did_you_mean(str(name), citations)
        msg = f"{where}: citation {name!r} names no [citation.NAME] of this file{hint}"
        raise RulebookError(msg)
    return {**table, "citation": citations[name]}


def _row(kind: type[_Row], table: Any, where: str) -> _Row:
    if not isinstance(table, dict):
        msg = f"{where} is {table!r}; it must be a table of keys and values"
        raise RulebookError(msg)
    known = [one.name for one in fields(kind)]  # type: ignore[arg-type]
    for key in table:
        if key not in known:
            msg = f"{where}: {key} is not known here{did_you_mean(key, known)}"
            raise RulebookError(msg)
    if table.get("distance_setting") and "distance_m" in table:
        msg = f"{where}: it has distance_m and distance_setting; give one of the two"
        raise RulebookError(msg)
    try:
        row: _Row = _ADAPTERS[kind].validate_python(table)
    except ValidationError as error:
        msg = f"{where}: {_sentence(error)}"
        raise RulebookError(msg) from None
    return row


def _sentence(error: ValidationError) -> str:
    first = error.errors(include_url=False)[0]
    if first["type"] == "value_error":
        return first["msg"].removeprefix("Value error, ")
    key = str(first["loc"][0])
    if first["type"] == "missing":
        return f"{key} is missing; add it"
    hint = first["msg"][0].lower() + first["msg"][1:]
    return f"{key} is {first['input']!r}; {hint}"
