"""What a network of ways is made of besides its cells."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from shapely import LineString

from pathways.terrain.way import Way

Kind = Literal[
    "opening",
    "land_drain",
    "barrier",
    "kerb",
    "well_head",
    "supply",
    "water",
    "flow_seen",
    "flow_band",
    "flow_near",
]


@dataclass(frozen=True, kw_only=True)
class Past:
    """A way that liquid takes where an opening or a wall does not hold.

    Parameters
    ----------
    blocked : str
        Id of the opening that is blocked; empty where all of the farm are.
    is_blocked : bool
        Whether any is.
    over_walls : bool
        Whether it overtops walls.
    way : Way
        From the opening.
    """

    blocked: str
    is_blocked: bool
    over_walls: bool
    way: Way


@dataclass(frozen=True, kw_only=True)
class Onwards:
    """What follows where liquid goes down an opening, or as it was seen.

    Parameters
    ----------
    way : Way
        Legs from there, and how it ends if it does.
    cell : int or None
        Number of the cell where it comes out on the ground; None where `way` ends.
    past : tuple of Past
        What else liquid may do there.
    beside : tuple of (int, float, float)
        Places in `Network.beside` of what lies along its legs that are no pipes, and
        from where to where along the first of these legs [m]; all of later ones.
    """

    way: Way
    cell: int | None
    past: tuple[Past, ...] = ()
    beside: tuple[tuple[int, float, float], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A line along which water was seen to run.

    Parameters
    ----------
    index : int
        Place in `Features.observations`.
    line : shapely.LineString
        The whole of it.
    ends : tuple of (float, Onwards)
        In order, how far along the line it comes to water or to its end [m], and what
        follows there; liquid that meets the line goes on at the first that lies beyond.
    """

    index: int
    line: LineString
    ends: tuple[tuple[float, Onwards], ...]


@dataclass(frozen=True, kw_only=True)
class Beside:
    """Something near some cells that a way through them must be told with.

    Parameters
    ----------
    kind : str
        What it is.
    index : int
        Place in `Drains.openings`, `Features.pipes`, `barriers`, `water_supplies`,
        `watercourses` or `observations`, by kind.
    way : Way or None
        Where liquid would go that it takes.
    """

    kind: Kind
    index: int
    way: Way | None = field(default=None, repr=False)
