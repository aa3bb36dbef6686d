"""Everything that decides where liquid goes on one farm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from shapely import Geometry, Point

from pathways.assumed import AssumedValues
from pathways.features import Features
from pathways.grid import Grid
from pathways.terrain.barriers import OpenBarriers, open_barriers
from pathways.terrain.drainage import MEMORY_LIMIT_BYTES, Drainage, route
from pathways.terrain.drains import Drains, Opening, find_drains
from pathways.terrain.surface import Ground, condition
from pathways.water_edge import water_outline


@dataclass(frozen=True)
class Flow:
    """A conditioned ground and where its water goes."""

    ground: Ground
    drainage: Drainage


@dataclass(frozen=True)
class Terrain:
    """Everything that decides where liquid goes on one farm.

    Parameters
    ----------
    grid : Grid
        The ground as measured.
    features : Features
        What is drawn.
    assumed : AssumedValues
        Widths and reaches used where nothing was given.
    memory_limit_bytes : int
        Refuse rather than use more.
    """

    grid: Grid
    features: Features
    assumed: AssumedValues
    memory_limit_bytes: int = field(default=MEMORY_LIMIT_BYTES, repr=False)

    @cached_property
    def waters(self) -> tuple[Geometry, ...]:
        """Outline of each watercourse."""
        return tuple(
            water_outline(one, self.assumed.half_widths_m)
            for one in self.features.watercourses
        )

    @cached_property
    def barriers(self) -> OpenBarriers:
        """Barriers with gates and gaps cut."""
        return open_barriers(self.features, self.assumed, self.grid.cell_size_m)

    @cached_property
    def drains(self) -> Drains:
        """Openings and where they lead."""
        return find_drains(
            self.features, self.waters, self.assumed, self.grid.cell_size_m
        )

    @cached_property
    def flow(self) -> Flow:
        """Water with all drains working."""
        return self._flow(self.drains.openings)

    @cached_property
    def flow_past_drains(self) -> Flow:
        """Water with every opening blocked, frozen or overwhelmed."""
        return self._flow(())

    def _flow(self, openings: Sequence[Opening]) -> Flow:
        ground = condition(
            self.grid, self.features, self.waters, self.barriers, openings
        )
        return Flow(
            ground,
            route(
                ground.heights_m,
                ground.kinds,
                memory_limit_bytes=self.memory_limit_bytes,
            ),
        )

    @property
    def observation_reach_m(self) -> float:
        """How near a way must come to an observed line to meet it [m]."""
        return max(
            self.assumed["drawing", "observation_reach_m"], 2 * self.grid.cell_size_m
        )

    def water_near(self, place: Point, reach_m: float) -> int | None:
        """Return the nearest open water within reach of a place, or None.

        Parameters
        ----------
        place : shapely.Point
            In the grid's coordinates.
        reach_m : float
            How far its edge may be off [m].

        Returns
        -------
        int or None
            Its place in `Features.watercourses`; culverted water is left out.
        """
        near = [
            (outline.distance(place), index)
            for index, outline in enumerate(self.waters)
            if not self.features.watercourses[index].culverted
        ]
        if not near or min(near)[0] > reach_m:
            return None
        return min(near)[1]
