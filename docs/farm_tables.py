"""Tables of the documentation, made from the code and its TOML files at build time.

The directive ``{farm-table}`` writes one of them into a page, so that a layer, a key or
a number of law is described once and the pages cannot drift from the program.
"""

from __future__ import annotations

import dataclasses
import json
import types
from collections.abc import Callable, Iterable
from typing import Any, Final, get_args, get_origin

from docutils import nodes
from docutils.statemachine import StringList
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

from pathways.features import LAYERS, REGIONAL_WORDS, fields_of
from pathways.io.results import SCHEMA
from pathways.io.rulebooks import read_rulebook, read_weights
from pathways.io.tables import read_assumed, read_materials
from pathways.materials import GROUPS
from pathways.pages.words import OUTCOMES, STANDINGS
from pathways.rules import Requirement, Setback
from pathways.settings import Settings
from pathways.terrain.pathway import OUTCOMES as WORST_FIRST
from pathways.units import name_and_unit

Rows = Iterable[tuple[str, ...]]


def layer(name: str) -> str:
    """Return what a layer holds: geometries, fields, choices, defaults."""
    described = LAYERS[name]
    kinds = " or ".join(described.geometries)
    table = _table(
        ("Field", "Meaning", "Choices", "If left empty"),
        (
            (
                f"`{one.name}`",
                one.metadata["about"],
                ", ".join(f"`{word}`" for word in one.metadata["choices"]),
                _when_empty(one, required=one.name in described.required),
            )
            for one in fields_of(name)
        ),
    )
    return f"{kinds}.\n\n{table}"


def _when_empty(one: dataclasses.Field[Any], *, required: bool) -> str:
    if required:
        return "refused"
    if one.default is dataclasses.MISSING or one.default in ("", None):
        return "numbered" if one.name == "id" else "left open"
    return f"`{str(one.default).lower()}`"


def regional_words(_: str) -> str:
    """Return the regional words that are understood."""
    return _table(
        ("Layer", "Word", "Read as"),
        (
            (f"`{name}`", word, f"`{meant}`")
            for (name, _field), words in REGIONAL_WORDS.items()
            for word, meant in words.items()
        ),
    )


def settings(_: str) -> str:
    """Return every key of farm.toml."""
    return _table(
        ("Table", "Key", "Meaning", "Choices", "Default"),
        (
            (f"`[{table}]`", f"`{key}`", about, choices, default)
            for table, inner in Settings.model_fields.items()
            for key, about, choices, default in _keys(inner)
        ),
    )


def _keys(table: FieldInfo) -> Rows:
    model: Any = table.annotation
    for key, one in model.model_fields.items():
        choices = ", ".join(f"`{word}`" for word in _choices(one.annotation))
        empty = one.default in (None, "", PydanticUndefined) or one.default in ({}, [])
        yield (
            key,
            one.description,
            choices,
            "none" if empty else f"`{json.dumps(one.default)}`",
        )


def _choices(annotation: Any) -> list[str]:
    if get_origin(annotation) in (list, dict) or annotation is types.NoneType:
        return []
    parts = get_args(annotation)
    if parts and all(isinstance(part, str) for part in parts):
        return list(parts)
    return [word for part in parts for word in _choices(part)]


def outcomes(_: str) -> str:
    """Return the outcomes, worst first."""
    return _table(
        ("Outcome", "On the pages"),
        ((f"`{one}`", OUTCOMES[one]) for one in WORST_FIRST),
    )


def standings(_: str) -> str:
    """Return how firmly a number can be known, firmest first."""
    return _table(
        ("Standing", "Meaning"),
        ((f"`{name}`", says) for name, says in STANDINGS.items()),
    )


def assumed(_: str) -> str:
    """Return the values used where nothing was given."""
    return _table(
        ("Group", "Name", "Value", "Standing", "Source"),
        (
            (
                f"`{group}`",
                f"`{name}`",
                f"{one.value:g} {name_and_unit(name)[1]}".rstrip(),
                one.standing,
                one.source,
            )
            for (group, name), one in read_assumed().table.items()
        ),
    )


def covers(_: str) -> str:
    """Return the numbers of each cover, each with its standing."""
    return _table(
        ("Cover", "Roughness", "Film [mm]", "Soaks in", "Runoff speed", "C", "Sources"),
        (
            (
                f"`{kind}`",
                f"{one.manning_n.value:g}",
                f"{one.retention_mm.low:g}, {one.retention_mm.mid:g}, "
                f"{one.retention_mm.high:g}",
                one.infiltration.replace("_", " "),
                f"{one.velocity_m_per_s.value:g} m/s",
                f"{one.runoff_coefficient.value:g}",
                "; ".join(
                    f"{name}: {_plain(known.standing)}, {known.source}"
                    for name, known in (
                        ("n", one.manning_n),
                        ("film", one.retention_mm),
                        ("speed", one.velocity_m_per_s),
                        ("C", one.runoff_coefficient),
                    )
                ),
            )
            for kind, one in read_materials().surfaces.items()
        ),
    )


def curve_numbers(_: str) -> str:
    """Return the curve numbers of each cover by soil group."""
    return _table(
        ("Cover", *GROUPS, "Standing", "Source"),
        (
            (
                f"`{kind}`",
                *(f"{one.curve_numbers[group].value:g}" for group in GROUPS),
                _plain(one.curve_numbers["A"].standing),
                one.curve_numbers["A"].source,
            )
            for kind, one in read_materials().surfaces.items()
        ),
    )


def soils(_: str) -> str:
    """Return the numbers of each soil."""
    found = read_materials().soils.values()
    source = next(iter(found))
    table = _table(
        (
            "Texture",
            "Conductivity [mm/h]",
            "Suction [mm]",
            "Porosity",
            "Effective",
            "Group",
        ),
        (
            (
                f"`{one.texture}`",
                f"{one.conductivity_mm_per_h:g}",
                f"{one.suction_mm:g}",
                f"{one.porosity:g}",
                f"{one.effective_porosity:g}",
                one.group,
            )
            for one in found
        ),
    )
    return f"{table}\n\nStanding: {_plain(source.standing)}; {source.source}."


def criteria(_: str) -> str:
    """Return the criteria of sites, their weights and what a value is worth."""
    return _table(
        ("Criterion", "Measured", "Concerns", "Weight", "Worth"),
        (
            (
                f"`{one.name}`",
                one.says,
                one.concerns,
                f"{one.weight:.2f}",
                ", ".join(
                    f"{worth:g} at {value:g} {one.unit}" for value, worth in one.points
                ),
            )
            for one in read_weights().criteria
        ),
    )


def rulebook(name: str) -> str:
    """Return the rows of a rulebook, and what was looked for and not found."""
    book, generic = read_rulebook(name), read_rulebook("generic")
    # Rows that a rulebook takes from the generic one stand there.
    taken = {row.id for row in generic.setbacks} if name != "generic" else set()
    found = _table(
        ("Rule", "Distance", "For", "Force, standing, source"),
        (
            (
                f"`{row.id}` {row.says}" + (f" ({row.note})" if row.note else ""),
                _distance(row) if isinstance(row, Setback) else "",
                ", ".join(row.applies_to),
                f"{_plain(row.force)}, {_plain(row.standing)}{_weak(row)}: "
                f"{row.citation.text}",
            )
            for row in (*book.setbacks, *book.requirements)
            if row.id not in taken
        ),
    )
    held = _table(
        ("Rule", "Of", "Force, standing, source"),
        (
            (
                f"`{row.id}` {row.says}" + (f" ({row.note})" if row.note else ""),
                _plain(row.of),
                f"{_plain(row.force)}, {_plain(row.standing)}: {row.citation.text}",
            )
            for row in book.containments
            if name == "generic" or row not in generic.containments
        ),
    )
    gaps = _table(
        ("Not found", "Looked for", "For", "Ask"),
        (
            (f"`{gap.id}`", gap.looked_for, ", ".join(gap.applies_to), gap.ask)
            for gap in book.gaps
        ),
    )
    return f"**{book.title}.**\n\n{found}\n\n{held}\n\n{gaps}"


def _plain(word: str) -> str:
    return word.replace("_", " ")


def _weak(row: Setback | Requirement) -> str:
    return ", warns only" if isinstance(row, Setback) and not row.binds else ""


def _distance(row: Setback) -> str:
    if row.distance_setting:
        return f"`{row.distance_setting}`"
    return "off the ground" if row.is_bar else f"{row.distance_m:g} m"


def schema(_: str) -> str:
    """Return the name and number of the form of results.json."""
    return f"The form is called `{SCHEMA}`."


def _table(head: tuple[str, ...], rows: Rows) -> str:
    def line(cells: Iterable[str]) -> str:
        return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"

    return "\n".join([line(head), line("---" for _ in head), *map(line, rows)])


TABLES: Final[dict[str, Callable[[str], str]]] = {
    "assumed": assumed,
    "covers": covers,
    "criteria": criteria,
    "curve-numbers": curve_numbers,
    "layer": layer,
    "outcomes": outcomes,
    "regional-words": regional_words,
    "rulebook": rulebook,
    "schema": schema,
    "settings": settings,
    "soils": soils,
    "standings": standings,
}


class FarmTable(SphinxDirective):
    """Write one of `TABLES`: its name, and what it is of where there are several."""

    required_arguments = 1
    optional_arguments = 1

    def run(self) -> list[nodes.Node]:
        """Return the table as nodes of the page."""
        name, *of = self.arguments
        text = TABLES[name](of[0] if of else "")
        holder = nodes.container()
        self.state.nested_parse(
            StringList(text.splitlines(), source=f"farm-table {name}"),
            self.content_offset,
            holder,
        )
        return holder.children


def setup(app: Sphinx) -> dict[str, bool]:
    """Make the directive known to Sphinx."""
    app.add_directive("farm-table", FarmTable)
    return {"parallel_read_safe": True}
