"""Trace where a farmyard spill runs, and site what stops it.

>>> import pathways
>>> assessment = pathways.assess("data-samples/demo-farm")  # doctest: +SKIP

The names below are loaded when they are first used, so that importing `pathways` stays
quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathways.assessment import Assessment, assess_farm
    from pathways.assumptions import Assumption
    from pathways.errors import InputError, Notice, PathwaysError, RefusedError
    from pathways.farm import Farm, Tables
    from pathways.features import Features
    from pathways.grid import Cell, Grid
    from pathways.io.farms import read_farm
    from pathways.io.new_farm import write_new_farm
    from pathways.run import assess, check_farm
    from pathways.siting.site import Site
    from pathways.terrain.landscape import Terrain
    from pathways.terrain.pathway import Pathway
    from pathways.terrain.tracing import trace

_HOMES = {
    "Assessment": "assessment",
    "Assumption": "assumptions",
    "Cell": "grid",
    "Farm": "farm",
    "Features": "features",
    "Grid": "grid",
    "InputError": "errors",
    "Notice": "errors",
    "Pathway": "terrain.pathway",
    "PathwaysError": "errors",
    "RefusedError": "errors",
    "Site": "siting.site",
    "Tables": "farm",
    "Terrain": "terrain.landscape",
    "assess": "run",
    "assess_farm": "assessment",
    "check_farm": "run",
    "read_farm": "io.farms",
    "trace": "terrain.tracing",
    "write_new_farm": "io.new_farm",
}

__all__ = [
    "Assessment",
    "Assumption",
    "Cell",
    "Farm",
    "Features",
    "Grid",
    "InputError",
    "Notice",
    "Pathway",
    "PathwaysError",
    "RefusedError",
    "Site",
    "Tables",
    "Terrain",
    "assess",
    "assess_farm",
    "check_farm",
    "read_farm",
    "trace",
    "write_new_farm",
]


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for."""
    if name in _HOMES:
        return getattr(import_module(f"pathways.{_HOMES[name]}"), name)
    msg = f"module 'pathways' has no attribute {name!r}"
    raise AttributeError(msg)


def __dir__() -> list[str]:
    return __all__
