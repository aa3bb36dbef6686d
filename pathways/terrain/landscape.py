"""Everything that decides where liquid goes on one farm."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from shapely import Geometry

from pathways.assumed import AssumedValues
from pathways.features import Features
from pathways.grid import Grid
from pathways.terrain.barriers import OpenBarriers, open_barriers
from pathways.terrain.drainage import MEMORY_LIMIT_BYTES, Drainage, route
from pathways.terrain.drains import Drains, find_drains
from pathways.terrain.surface import Ground, condition, with_openings
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
        return open_barriers(self.features, self.assumed, self.grid)

    @cached_property
    def drains(self) -> Drains:
        """Openings and where they lead."""
        return find_drains(self.features, self.waters, self.assumed, self.grid)

    @cached_property
    def _undrained(self) -> Ground:
        """The ground before openings, which is the same whatever is blocked."""
        return condition(self.grid, self.features, self.waters, self.barriers)

    @cached_property
    def _flows(self) -> dict[frozenset[int], Flow]:
        """Flows that were asked for, by what is blocked."""
        return {}

    @property
    def flow(self) -> Flow:
        """Water with all drains working."""
        return self.flow_past(frozenset())

    def flow_past(self, blocked: frozenset[int]) -> Flow:
        """Return water with some openings blocked, frozen or overwhelmed.

        Parameters
        ----------
        blocked : frozenset of int
            Openings, as places in `Drains.openings`.

        Returns
        -------
        Flow
            Kept, so that asking again costs nothing.
        """
        if blocked not in self._flows:
            openings = [
                replace(one, captures=one.captures and index not in blocked)
                for index, one in enumerate(self.drains.openings)
            ]
            ground = with_openings(self._undrained, openings, self.barriers)
            self._flows[blocked] = Flow(
                ground,
                route(
                    ground.heights_m,
                    ground.kinds,
                    memory_limit_bytes=self.memory_limit_bytes,
                ),
            )
        return self._flows[blocked]

    def forget_flows(self, kept: frozenset[frozenset[int]]) -> None:
        """Drop flows that were worked out once and will not be asked for again.

        Parameters
        ----------
        kept : frozenset of frozenset of int
            What is blocked in those that stay.
        """
        for blocked in self._flows.keys() - kept:
            del self._flows[blocked]

    @property
    def flows_kept(self) -> frozenset[frozenset[int]]:
        """What is blocked in the flows that are kept."""
        return frozenset(self._flows)

    @property
    def all_openings(self) -> frozenset[int]:
        """Every opening, as a place in `Drains.openings`."""
        return frozenset(range(len(self.drains.openings)))

    @property
    def observation_reach_m(self) -> float:
        """How near a way must come to an observed line to meet it [m]."""
        return max(
            self.assumed["drawing", "observation_reach_m"], 2 * self.grid.cell_size_m
        )

    @property
    def kerb_reach_m(self) -> float:
        """How near to a kerb a way runs along it [m]."""
        return max(self.assumed["spill", "kerb_reach_m"], 1.5 * self.grid.cell_size_m)

    def water_near(
        self, place: Geometry, reach_m: float, *, culverted: bool = False
    ) -> int | None:
        """Return the nearest water within reach of a place, or None.

        Parameters
        ----------
        place : shapely.Geometry
            Point or line.
        reach_m : float
            How near the water must lie [m].
        culverted : bool
            Whether water underground counts.

        Returns
        -------
        int or None
            Place in `Features.watercourses`.
        """
        near = [
            (outline.distance(place), index)
            for index, outline in enumerate(self.waters)
            if culverted or not self.features.watercourses[index].culverted
        ]
        if not near or min(near)[0] > reach_m:
            return None
        return min(near)[1]
