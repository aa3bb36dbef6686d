"""The rain that runs past a source: from how much ground, and where it goes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import Geometry, Point

from pathways.features import Source, Surface
from pathways.materials import NOT_DRAWN, Group, Materials, SurfaceMaterial
from pathways.settings import ClimateSettings
from pathways.spill.runoff import curve_number_runoff_mm, rational_peak_l_per_s
from pathways.terrain.cells import cells_inside
from pathways.terrain.drainage import NOT_GROUND, PIT, accumulate
from pathways.terrain.landscape import Terrain
from pathways.terrain.upslope import cells_above
from pathways.terrain.way import follow
from pathways.units import MILLIMETRES_PER_METRE

#: Covers that shed rain and are driven on.
HARD: Final = frozenset({"concrete", "asphalt", "planings", "hardcore", "loose_gravel"})


@dataclass(frozen=True, kw_only=True)
class RainEnd:
    """Where some of the rain goes that runs past a source.

    Parameters
    ----------
    id, kind : str
        Water, drain or tank that takes it; where it goes on unknown, the outcome.
    outcome : str
        How the way from there ends, as of a spill.
    area_m2, hard_area_m2 : float
        Ground that drains there past the source, and the hard part of it [m²].
    runoff_m3 : float or None
        Volume of the design storm, curve number method; None without a storm [m³].
    peak_l_per_s : float or None
        Its peak, rational method; None without an intensity [l/s].
    """

    id: str
    kind: str
    outcome: str
    area_m2: float
    hard_area_m2: float
    runoff_m3: float | None
    peak_l_per_s: float | None


@dataclass(frozen=True, kw_only=True)
class YardRain:
    """The rain that runs past one source.

    Parameters
    ----------
    working_area_m2 : float
        Ground at the source on which product is handled [m²].
    dirty_area_m2 : float
        Hard ground that drains past the source, the working area included [m²].
    joining_area_m2 : float
        Ground outside the working area whose clean rain needlessly joins it [m²].
    ends : tuple of RainEnd
        Where it goes, the largest area first.
    covers : tuple of str
        Covers on which it falls.
    """

    working_area_m2: float
    dirty_area_m2: float
    joining_area_m2: float
    ends: tuple[RainEnd, ...]
    covers: tuple[str, ...] = ()


class Covers:
    """What each cell of a farm is covered with, as numbers of the rain.

    Parameters
    ----------
    terrain : Terrain
        Grid and drawn surfaces.
    materials : Materials
        Curve numbers and runoff coefficients.
    group : {"A", "B", "C", "D"}
        Hydrologic soil group.
    """

    def __init__(self, terrain: Terrain, materials: Materials, group: Group) -> None:
        count = terrain.grid.heights_m.size
        self.materials: list[SurfaceMaterial] = [materials.surface(NOT_DRAWN)]
        self.which = np.zeros(count, np.int64)
        self.group = group
        self.hard = np.zeros(count, np.bool_)
        drawn: list[Surface] = sorted(
            terrain.features.surfaces, key=lambda one: -one.geometry.area
        )
        for surface in drawn:  # where two lie over each other, the smaller is on top
            cells = cells_inside(surface.geometry, terrain.grid)
            self.which[cells] = len(self.materials)
            self.hard[cells] = surface.kind in HARD
            self.materials.append(materials.surface(surface.kind, surface.condition))

    def amounts(self, climate: ClimateSettings) -> dict[str, NDArray[np.float64]]:
        """Return area, hard area, runoff and peak of each cell, for a square metre."""
        found: dict[str, NDArray[np.float64]] = {
            "area_m2": np.ones(self.which.size),
            "hard_area_m2": self.hard.astype(np.float64),
        }
        if climate.design_storm_mm is not None:
            numbers = [one.curve_numbers[self.group].value for one in self.materials]
            depth_mm = curve_number_runoff_mm(climate.design_storm_mm, numbers)
            found["runoff_m3"] = depth_mm[self.which] / MILLIMETRES_PER_METRE
        if climate.design_intensity_mm_per_h is not None:
            shares = [one.runoff_coefficient.value for one in self.materials]
            peak = rational_peak_l_per_s(shares, climate.design_intensity_mm_per_h, 1.0)
            found["peak_l_per_s"] = peak[self.which]
        return found


def yard_rain(
    terrain: Terrain,
    source: Source,
    start: Point,
    covers: Covers,
    climate: ClimateSettings,
) -> YardRain | None:
    """Find the rain that runs past a source.

    Parameters
    ----------
    terrain : Terrain
        Ground and drains; rain on roofs is led off by them.
    source : Source
        An area in the open is its own working area.
    start : shapely.Point
        Where its liquid begins; else the drawn surface there counts, as far as product
        is handled about it.
    covers : Covers
        What the ground is covered with.
    climate : ClimateSettings
        Design storm and its intensity.

    Returns
    -------
    YardRain or None
        None where no ground is known there.
    """
    grid = terrain.grid
    working = cells_inside(_working_area(terrain, source, start), grid)
    above = cells_above(terrain.flow, working)
    if not above.size:
        return None
    cell_m2 = grid.cell_size_m**2
    through = np.zeros(grid.heights_m.size, np.bool_)
    through[above] = True
    on_site = np.zeros(grid.heights_m.size, np.bool_)
    on_site[working] = True
    hard = through & covers.hard
    sums = {
        name: _at_ends(terrain, np.where(through, amount, 0.0) * cell_m2)
        for name, amount in covers.amounts(climate).items()
    }
    return YardRain(
        working_area_m2=float((through & on_site).sum() * cell_m2),
        dirty_area_m2=float(hard.sum() * cell_m2),
        joining_area_m2=float((through & ~on_site).sum() * cell_m2),
        ends=tuple(_ends(terrain, sums)),
        covers=tuple(
            dict.fromkeys(
                covers.materials[which].kind
                for which in np.unique(covers.which[through])
            )
        ),
    )


def _working_area(terrain: Terrain, source: Source, start: Point) -> Geometry:
    """Return the ground on which product is handled at a source."""
    buildings = terrain.features.closed_buildings
    if source.geometry.difference(buildings).area > 0:
        return source.geometry.difference(buildings)
    about = start.buffer(terrain.assumed["spill", "handling_radius_m"])
    under = [
        one.geometry
        for one in sorted(
            terrain.features.surfaces, key=lambda surface: surface.geometry.area
        )
        if one.geometry.intersects(start)
    ]
    area = about.intersection(under[0]) if under else about
    return area.difference(buildings)


def _at_ends(terrain: Terrain, amounts: NDArray[np.float64]) -> Mapping[int, float]:
    """Return what comes to each end of the ground, by its cell."""
    drainage = terrain.flow.drainage
    steps = drainage.steps
    sums = accumulate(drainage, amounts.reshape(steps.shape)).ravel()
    is_end = (steps >= PIT) & (steps != NOT_GROUND)
    ends = np.flatnonzero(is_end.ravel() & (sums > 0))
    return {int(cell): float(sums[cell]) for cell in ends}


def _ends(
    terrain: Terrain, sums: Mapping[str, Mapping[int, float]]
) -> Iterator[RainEnd]:
    """Yield where the rain goes, the ends of one receptor together."""
    found: dict[tuple[str, str, str], dict[str, float]] = {}
    receptor_of: dict[tuple[int, ...], tuple[str, str, str]] = {}
    ground = terrain.flow.ground
    for cell in sums["area_m2"]:
        told = tuple(
            int(one.ravel()[cell])
            for one in (ground.roles, ground.water_at, ground.opening_at)
        )
        if told not in receptor_of:
            way = follow(terrain, Point(ground.place(cell)))
            kind = way.receptor_kind or way.why or way.outcome
            receptor_of[told] = (way.receptor_id, kind, way.outcome)
        totals = found.setdefault(receptor_of[told], {})
        for name, by_cell in sums.items():
            totals[name] = totals.get(name, 0.0) + by_cell.get(cell, 0.0)
    order = sorted(found.items(), key=lambda one: (-one[1]["area_m2"], one[0]))
    for (name, kind, outcome), totals in order:
        yield RainEnd(
            id=name,
            kind=kind,
            outcome=outcome,
            area_m2=totals["area_m2"],
            hard_area_m2=totals["hard_area_m2"],
            runoff_m3=totals.get("runoff_m3"),
            peak_l_per_s=totals.get("peak_l_per_s"),
        )
