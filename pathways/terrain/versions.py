"""Many versions of one farm's ground: what can be reached in them, and through what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pathways.elevation_error import HARD, OPEN, ErrorScenario
from pathways.terrain.cells import cells_inside
from pathways.terrain.drains import Lead
from pathways.terrain.error_field import Ties, error_model, ties_of
from pathways.terrain.landscape import Terrain
from pathways.terrain.lazy import CREST, LOW, ErrorModel, LazyTracer
from pathways.terrain.seen import dye_lead
from pathways.terrain.surface import Role, open_cell_near
from pathways.terrain.way import tank_is_sure

#: Side of the squares in which ways are counted together, if cells are smaller [m].
_SQUARE_SIDE_M: Final = 2.0

_OTHER_ENDS: Final = (
    "contained",
    "leaves_grid",
    "meets_no_data",
    "shut_in",
    "over_budget",
    "drains_in_a_circle",
)


@dataclass(frozen=True)
class Versions:
    """The versions of a farm's ground under one scenario of the error.

    Parameters
    ----------
    terrain : Terrain
        Ground, drains and what is drawn.
    scenario : ErrorScenario
        Error of the heights.
    farm_id : str
        Decides the versions, with their number.
    spot_level_error_m : float
        Standard error of a surveyed level that gives none [m].
    """

    terrain: Terrain
    scenario: ErrorScenario
    farm_id: str
    spot_level_error_m: float

    @cached_property
    def _hard(self) -> NDArray[np.uint8]:
        """What stays hard in each cell."""
        ground = self.terrain.flow.ground
        hard = np.zeros(ground.roles.shape, np.uint8)
        hard[ground.barrier_at >= 0] = CREST
        hard[np.isin(ground.roles, (Role.WATER, Role.OPENING))] = LOW
        return hard

    @cached_property
    def _classes(self) -> NDArray[np.uint8]:
        """Class of ground of each cell."""
        grid = self.terrain.grid
        classes = np.full(grid.heights_m.size, OPEN, np.uint8)
        for surface in self.terrain.features.surfaces:
            if surface.kind in ("concrete", "asphalt"):
                classes[cells_inside(surface.geometry, grid)] = HARD
        return classes.reshape(grid.heights_m.shape)

    def tracer(self) -> LazyTracer:
        """Return work space of its own for one thread."""
        flow = self.terrain.flow
        return LazyTracer(
            flow.drainage.heights_m,
            flow.ground.kinds,
            hard=self._hard,
            classes=self._classes,
        )

    @cached_property
    def ends(self) -> tuple[tuple[str, str], ...]:
        """Id and kind of everything that a way can end in; openings come first."""
        openings = [(one.id, "drain") for one in self.terrain.drains.openings]
        waters = [(one.id, one.kind) for one in self.terrain.features.watercourses]
        return (*openings, *waters, *(("", one) for one in _OTHER_ENDS))

    def number_of(self, kind: str) -> int:
        """Return the number of an end that is neither water nor a drain."""
        return self.ends.index(("", kind))

    @property
    def square_side(self) -> int:
        """Side of the squares in which ways are counted together [cells].

        Ways of two versions that run a step beside each other are the same way.
        """
        return max(1, round(_SQUARE_SIDE_M / self.terrain.grid.cell_size_m))

    @property
    def squares(self) -> int:
        """Number of squares."""
        grid, side = self.terrain.grid, self.square_side
        return -(-grid.rows // side) * -(-grid.columns // side)

    def squares_of(self, cells: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the number of the square of each cell."""
        columns, side = self.terrain.grid.columns, self.square_side
        across = -(-columns // side)
        numbers: NDArray[np.int64] = (
            cells // columns // side * across + cells % columns // side
        )
        return numbers

    def is_water(self, reached: NDArray[np.int16]) -> NDArray[np.bool_]:
        """Return where the number of an end is that of a watercourse."""
        first = len(self.terrain.drains.openings)
        after = first + len(self.terrain.features.watercourses)
        water: NDArray[np.bool_] = (reached >= first) & (reached < after)
        return water

    def may_be_water(self, reached: NDArray[np.int16]) -> NDArray[np.bool_]:
        """Return where nothing known keeps the liquid from water."""
        held: NDArray[np.bool_] = reached == self.number_of("contained")
        return ~held

    @cached_property
    def ends_at(self) -> NDArray[np.int16]:
        """Number of the end in each cell."""
        ground = self.terrain.flow.ground
        openings = len(self.terrain.drains.openings)
        ends = np.full(ground.roles.shape, -1, np.int16)
        ends[ground.roles == Role.EDGE] = self.number_of("leaves_grid")
        ends[ground.roles == Role.BESIDE_NO_DATA] = self.number_of("meets_no_data")
        water = ground.roles == Role.WATER
        ends[water] = openings + ground.water_at[water]
        opening = ground.roles == Role.OPENING
        ends[opening] = ground.opening_at[opening]
        return ends.ravel()

    def onwards(
        self, volumes_l: Sequence[float | None]
    ) -> tuple[NDArray[np.int64], NDArray[np.int16]]:
        """Return where drains lead from each opening, for each source.

        Parameters
        ----------
        volumes_l : sequence of float or None
            Volume of each source [l]; a tank holds it only when it is known.

        Returns
        -------
        cells : ndarray of int64, shape (sources, openings)
            Cell where drains come out on the ground; -1 where they end.
        ends : ndarray of int16, shape (sources, openings)
            Number of what they end in.
        """
        openings = self.terrain.drains.openings
        cells = np.full((len(volumes_l), len(openings)), -1, np.int64)
        ends = np.tile(np.arange(len(openings), dtype=np.int16), (len(volumes_l), 1))
        for number, opening in enumerate(openings):
            entered = opening.geometry.centroid
            seen = dye_lead(self.terrain, opening, entered)
            lead = seen or self.terrain.drains.lead_of(opening, entered)
            for source, volume_l in enumerate(volumes_l):
                cells[source, number], end = self._onward(lead, volume_l)
                if end >= 0:
                    ends[source, number] = end
        return cells, ends

    def _onward(self, lead: Lead, volume_l: float | None) -> tuple[int, int]:
        """Return the cell where drains come out, and what they end in; -1 neither."""
        if lead.ends == "water":
            waters = [one.id for one in self.terrain.features.watercourses]
            openings = len(self.terrain.drains.openings)
            return -1, openings + waters.index(lead.receptor_id)
        if lead.ends == "tank" and tank_is_sure(self.terrain, lead, volume_l):
            return -1, self.number_of("contained")
        if lead.ends in ("surface", "tank") and lead.place is not None:
            cell = open_cell_near(
                self.terrain.flow.ground, lead.place, self.terrain.barriers
            )
            if cell is None:
                return -1, self.number_of("leaves_grid")
            return cell, -1
        return -1, -1

    def tied(self) -> tuple[ErrorModel, Ties]:
        """Return the model of the error, tied to the surveyed levels, and these."""
        grid = self.terrain.grid
        model = error_model(self.scenario, grid.cell_size_m)
        spots = [
            (
                one,
                self.spot_level_error_m if one.accuracy_m is None else one.accuracy_m,
            )
            for one in self.terrain.features.spot_levels
        ]
        ties = ties_of(spots, grid, self._classes, model)
        return ErrorModel(model.classes, ties.cells), ties
