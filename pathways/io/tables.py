"""Tables that come with the package."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources

from pathways.assumed import AssumedValues, parse_assumed
from pathways.elevation_error import ErrorScenario, parse_elevation_errors
from pathways.materials import Materials, parse_materials
from pathways.siting.without_building import WayWithout, parse_ways_without


def read_assumed() -> AssumedValues:
    """Return the values that are used where nothing was given.

    Returns
    -------
    AssumedValues
        Every value with its standing and source.

    Examples
    --------
    >>> read_assumed()["drawing", "gate_width_m"]
    4.0
    """
    text = resources.files("pathways").joinpath("assumed.toml").read_text("utf-8")
    return parse_assumed(text)


def read_elevation_errors() -> Mapping[str, tuple[ErrorScenario, ...]]:
    """Read how wrong heights can be, by kind of survey.

    Returns
    -------
    mapping of str to tuple of ErrorScenario
        Scenarios of each survey, the smaller error first.

    Examples
    --------
    >>> [one.name for one in read_elevation_errors()["airborne_lidar"]]
    ['smaller_error', 'larger_error']
    """
    file = resources.files("pathways").joinpath("elevation_errors.toml")
    return parse_elevation_errors(file.read_text("utf-8"))


def read_materials() -> Materials:
    """Return the covers of the ground and the soils.

    Returns
    -------
    Materials
        Every number with its standing and source.

    Examples
    --------
    >>> read_materials().surface("concrete").infiltration
    'none'
    """
    folder = resources.files("pathways")
    surfaces, soils = (
        folder.joinpath(name).read_text("utf-8")
        for name in ("surfaces.toml", "soils.toml")
    )
    return parse_materials(surfaces, soils)


def read_ways_without() -> tuple[WayWithout, ...]:
    """Return the ways to do without a pad and a bed.

    Returns
    -------
    tuple of WayWithout
        Each with its standing and source.

    Examples
    --------
    >>> read_ways_without()[0].id
    'in_field'
    """
    file = resources.files("pathways").joinpath("siting", "without_building.toml")
    return parse_ways_without(file.read_text("utf-8"))
