"""What all sites of one farm are measured in."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import LineString

from pathways.assumed import AssumedValues
from pathways.features import Features
from pathways.grid import Grid
from pathways.settings import Settings
from pathways.siting.receptors import Surroundings
from pathways.siting.weights import Weights


@dataclass(frozen=True, kw_only=True)
class SourceWay:
    """The way of a spill from one source over the ground to where it ends."""

    source_id: str
    name: str
    lines: tuple[LineString, ...]


@dataclass(frozen=True, kw_only=True)
class Situation:
    """What all sites of one farm are measured in.

    Parameters
    ----------
    grid : Grid
        Heights [m].
    features : Features
        In the grid's coordinates.
    surroundings : Surroundings
        Waters, supplies, drains and zones.
    weights : Weights
        With the farm's own weights.
    settings : Settings
        farm.toml.
    assumed : AssumedValues
        Used where nothing was given.
    ways : tuple of SourceWay
        Where spills of the sources go.
    fall_error_m : float
        By how much a fall may be other than measured [m].
    """

    grid: Grid
    features: Features
    surroundings: Surroundings
    weights: Weights
    settings: Settings
    assumed: AssumedValues
    ways: tuple[SourceWay, ...] = ()
    fall_error_m: float = 0.0
