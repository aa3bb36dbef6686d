"""Every public number carries its unit in its name, or stands in the glossary."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import types
import typing
from collections.abc import Iterator
from pathlib import Path

import pytest

import pathways

GLOSSARY = Path(__file__).parent.parent / "docs" / "glossary.md"
UNITS = (
    "m",
    "mm",
    "m2",
    "m3",
    "l",
    "l_per_min",
    "l_per_s",
    "l_per_day",
    "t",
    "m_per_s",
    "m_per_s2",
    "m2_per_s",
    "m3_per_s",
    "mm_per_h",
    "per_year",
    "s",
    "degrees",
    "cells",
)


def is_number(annotation):
    """Whether a type is float, or float beside others."""
    if annotation is float:
        return True
    union = typing.get_origin(annotation) in (typing.Union, types.UnionType)
    return union and float in typing.get_args(annotation)


def numbers_of(thing, name):
    """Yield the names of all numbers that a class holds or a function takes."""
    for what, annotation in typing.get_type_hints(thing).items():
        if what != "return" and not what.startswith("_") and is_number(annotation):
            yield f"{name}.{what}"
    if inspect.isclass(thing):
        for what, inner in vars(thing).items():
            if inspect.isfunction(inner) and not what.startswith("_"):
                yield from numbers_of(inner, f"{name}.{what}")


def public_numbers(modules) -> Iterator[str]:
    """Yield every public number of modules by its whole name."""
    for module in modules:
        for name, thing in vars(module).items():
            own = getattr(thing, "__module__", None) == module.__name__
            if own and not name.startswith("_") and callable(thing):
                yield from numbers_of(thing, f"{module.__name__}.{name}")


def modules_of(package):
    for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        if not any(part.startswith("_") for part in found.name.split(".")):
            yield importlib.import_module(found.name)


def without_unit(names, listed):
    """Return the names that end in no unit and are not listed."""
    ends = tuple(f"_{unit}" for unit in UNITS)
    last = {name: name.rsplit(".", 1)[1] for name in names}
    return {
        name
        for name, one in last.items()
        if not one.endswith(ends) and one not in listed
    }


@pytest.fixture(scope="module")
def listed():
    _, _, section = GLOSSARY.read_text("utf-8").partition("## Numbers without a unit")
    told = re.findall(r"^\* ((?:`\w+`(?:, )?)+):", section, re.M)
    return {name for one in told for name in re.findall(r"`(\w+)`", one)}


@pytest.fixture(scope="module")
def numbers():
    return set(public_numbers(modules_of(pathways)))


def test_every_public_number_has_a_unit_or_stands_in_the_glossary(numbers, listed):
    assert without_unit(numbers, listed) == set()


def test_numbers_are_found_in_fields_parameters_methods_and_settings(numbers):
    assert {
        "pathways.features.Barrier.height_m",
        "pathways.grid.Grid.cell_at.easting_m",
        "pathways.rules.Setback.distance_m",
        "pathways.settings.GroundSettings.position_error_m",
        "pathways.terrain.way.follow.volume_l",
    } <= numbers


def test_glossary_lists_no_number_that_is_gone(numbers, listed):
    assert listed <= {name.rsplit(".", 1)[1] for name in numbers}


def test_every_unit_is_explained_in_the_glossary():
    text = GLOSSARY.read_text("utf-8")
    assert [unit for unit in UNITS if f"`_{unit}`" not in text] == []


@pytest.mark.parametrize(
    ("code", "missed"),
    [
        ("def spill(volume: float): ...", {"made.spill.volume"}),
        ("def spill(volume: float | None = None): ...", {"made.spill.volume"}),
        ("def spill(volume_l: float): ...", set()),
        ("def spill(score: float): ...", set()),
        ("def _spill(volume: float): ...", set()),
        ("class Tank:\n    free: float", {"made.Tank.free"}),
        ("class Tank:\n    def fill(self, by: float): ...", {"made.Tank.fill.by"}),
        ("class Tank:\n    free_l: float\n    name: str", set()),
    ],
)
def test_a_number_without_a_unit_is_found(code, missed, listed):
    made = types.ModuleType("made")
    exec(code, vars(made))  # noqa: S102  a module that is wrong on purpose
    assert without_unit(public_numbers([made]), listed) == missed
