"""One farm, from ground to findings; reads and writes no files."""

from __future__ import annotations

from dataclasses import dataclass

from pathways.errors import Notice
from pathways.features import Features
from pathways.grid import Grid
from pathways.settings import Settings
from pathways.siting.site import Site
from pathways.terrain.pathway import Pathway

CAUTIONS = (
    "This is a screening aid. Walk the yard in the rain before you rely on it.",
    "What was not drawn cannot be seen: an unseen gully or land drain can carry a spill "
    "straight to water.",
    "Local rules and your regulator decide; have works designed and checked by those "
    "licensed to do so.",
)


@dataclass(frozen=True)
class Farm:
    """Everything that is known of one farm before it is assessed."""

    grid: Grid
    features: Features
    settings: Settings
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Assumption:
    """A number that was not given, and where it comes from."""

    what: str
    value: float | str
    unit: str
    standing: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """What was found out about one farm."""

    farm: Farm
    pathways: tuple[Pathway, ...]
    sites: tuple[Site, ...]
    assumptions: tuple[Assumption, ...]
    notices: tuple[Notice, ...]
    cautions: tuple[str, ...] = CAUTIONS
    not_yet_assessed: tuple[str, ...] = ("arrival", "spill", "sizing")
