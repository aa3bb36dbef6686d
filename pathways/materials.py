"""Covers of the ground and soils: numbers with their standing and source.

The tables are `surfaces.toml` and `soils.toml`; `pathways.io.tables` reads them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from pathways.assumed import AssumedValue

Infiltration = Literal["none", "soil", "compacted_soil"]
Group = Literal["A", "B", "C", "D"]

#: Hydrologic soil groups, the one with least runoff first.
GROUPS: Final[tuple[Group, ...]] = ("A", "B", "C", "D")
#: The cover of ground on which none is drawn.
NOT_DRAWN: Final = "not_drawn"


@dataclass(frozen=True)
class KnownRange:
    """A low, a middle and a high value, and how firmly they are known."""

    low: float
    mid: float
    high: float
    standing: str
    source: str


@dataclass(frozen=True, kw_only=True)
class SurfaceMaterial:
    """One cover of the ground.

    Parameters
    ----------
    kind : str
        Kind of surface; `_worn` at its end where a hard one is worn.
    manning_n : AssumedValue
        Roughness for shallow flow [s/m^(1/3)].
    retention_mm : KnownRange
        Film that stays until the next rain [mm].
    infiltration : {"none", "soil", "compacted_soil"}
        What soaks in.
    velocity_m_per_s : AssumedValue
        k of V = k sqrt(slope), storm runoff [m/s].
    curve_numbers : mapping of str to AssumedValue
        By hydrologic soil group.
    runoff_coefficient : AssumedValue
        C of the rational method [-].
    width : {"yard", "field"}
        Which assumed width of the wetted path it takes.
    """

    kind: str
    manning_n: AssumedValue
    retention_mm: KnownRange
    infiltration: Infiltration
    velocity_m_per_s: AssumedValue
    curve_numbers: Mapping[str, AssumedValue]
    runoff_coefficient: AssumedValue
    width: Literal["yard", "field"]


@dataclass(frozen=True, kw_only=True)
class Soil:
    """Green-Ampt parameters of one soil texture.

    Parameters
    ----------
    texture : str
        Name of the texture.
    porosity, effective_porosity : float
        Share of the soil [-].
    suction_mm : float
        Suction head at the wetting front [mm].
    conductivity_mm_per_h : float
        Of the Green-Ampt equation, about half of the saturated one [mm/h].
    group : {"A", "B", "C", "D"}
        Hydrologic soil group.
    standing, source : str
        How firmly it is known.
    """

    texture: str
    porosity: float
    effective_porosity: float
    suction_mm: float
    conductivity_mm_per_h: float
    group: Group
    standing: str
    source: str


@dataclass(frozen=True)
class Materials:
    """All covers and soils."""

    surfaces: Mapping[str, SurfaceMaterial]
    soils: Mapping[str, Soil]

    def surface(self, kind: str, condition: str = "sound") -> SurfaceMaterial:
        """Return a cover by its kind and condition.

        Parameters
        ----------
        kind : str
            Kind of surface, or `NOT_DRAWN`.
        condition : {"sound", "worn"}
            State of a hard surface; it makes no difference to others.

        Returns
        -------
        SurfaceMaterial
            Its numbers.
        """
        worn = f"{kind}_worn"
        name = worn if condition == "worn" and worn in self.surfaces else kind
        return self.surfaces[name]


def parse_materials(surfaces: str, soils: str) -> Materials:
    """Read the tables of covers and soils.

    Parameters
    ----------
    surfaces, soils : str
        Content of ``surfaces.toml`` and ``soils.toml``.

    Returns
    -------
    Materials
        Every number with its standing and source.
    """
    return Materials(
        {kind: _surface(kind, one) for kind, one in tomllib.loads(surfaces).items()},
        _soils(tomllib.loads(soils)),
    )


def _surface(kind: str, entry: Mapping[str, Any]) -> SurfaceMaterial:
    numbers = dict(entry["curve_numbers"])
    known = {key: numbers.pop(key) for key in ("standing", "source")}
    return SurfaceMaterial(
        kind=kind,
        manning_n=AssumedValue(**entry["manning_n"]),
        retention_mm=KnownRange(**entry["retention_mm"]),
        infiltration=entry["infiltration"],
        velocity_m_per_s=AssumedValue(**entry["velocity_m_per_s"]),
        curve_numbers={
            group: AssumedValue(one, **known) for group, one in numbers.items()
        },
        runoff_coefficient=AssumedValue(**entry["runoff_coefficient"]),
        width=entry["width"],
    )


def _soils(table: Mapping[str, Any]) -> dict[str, Soil]:
    bounds = table["hydrologic_group"]["above_mm_per_h"]
    return {
        texture: Soil(
            texture=texture,
            group=group_of(2 * entry["conductivity_mm_per_h"], bounds),
            standing=table["standing"],
            source=table["source"],
            **entry,
        )
        for texture, entry in table["texture"].items()
    }


def group_of(saturated_mm_per_h: float, bounds: Mapping[str, float]) -> Group:
    """Return the hydrologic soil group of a saturated conductivity.

    Parameters
    ----------
    saturated_mm_per_h : float
        Least saturated conductivity of the profile [mm/h].
    bounds : mapping of str to float
        Conductivity above which each group begins [mm/h].

    Returns
    -------
    {"A", "B", "C", "D"}
        NEH 630 chapter 7 (2009).

    Examples
    --------
    >>> group_of(20.0, {"A": 36.07, "B": 14.48, "C": 1.524, "D": 0.0})
    'B'
    """
    for group in GROUPS:
        if saturated_mm_per_h > bounds[group]:
            return group
    return GROUPS[-1]


def with_given_materials(
    materials: Materials, given: Mapping[str, Mapping[str, Any]]
) -> Materials:
    """Return materials with the farm's own numbers in place of some.

    Parameters
    ----------
    materials : Materials
        From the tables.
    given : mapping
        By name of the number (``manning_n``, ``retention_mm``, ``velocity_m_per_s``,
        ``curve_number``, ``runoff_coefficient``), then by kind of surface.

    Returns
    -------
    Materials
        The farm's numbers have the standing ``given``.

    Raises
    ------
    KeyError
        If a kind of surface is not known.
    """
    surfaces = dict(materials.surfaces)
    for name, by_kind in given.items():
        for kind, value in by_kind.items():
            surfaces[kind] = replace(surfaces[kind], **_given(name, value))
    return replace(materials, surfaces=surfaces)


def _given(name: str, value: Any) -> dict[str, Any]:
    """Return the field that a given number fills."""
    source = f"farm.toml, [materials] {name}"
    if name == "retention_mm":
        low, mid, high = value
        return {name: KnownRange(low, mid, high, "given", source)}
    known = AssumedValue(value, "given", source)
    if name == "curve_number":
        return {"curve_numbers": dict.fromkeys(GROUPS, known)}
    return {name: known}
