"""Ways to keep washings and spills from water without building a pad and a bed."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import Literal

CheckName = Literal["", "field_ground", "openings", "concrete", "tanks"]


@dataclass(frozen=True, kw_only=True)
class WayWithout:
    """One way to do without, or to begin with.

    Parameters
    ----------
    id, title, says : str
        What it is.
    needs : tuple of str
        What must be so for it.
    standing, source : str
        How firmly it is known.
    jurisdiction : str
        Rulebook with which alone it is told; empty for all.
    check : str
        What of a farm's drawing is looked at (`pathways.siting.ways_checked`).
    from_water_m, from_drains_m, from_supplies_m : float
        Distances that it keeps, of those that can be looked at [m].
    on_this_farm : tuple of str
        What was found there.
    """

    id: str
    title: str
    says: str
    needs: tuple[str, ...]
    standing: str
    source: str
    jurisdiction: str = ""
    check: CheckName = ""
    from_water_m: float = 0.0
    from_drains_m: float = 0.0
    from_supplies_m: float = 0.0
    on_this_farm: tuple[str, ...] = ()


def parse_ways_without(text: str) -> tuple[WayWithout, ...]:
    """Read the table of ways without building.

    Parameters
    ----------
    text : str
        Content of ``without_building.toml``.

    Returns
    -------
    tuple of WayWithout
        In its order, those that cost nothing first.
    """
    return tuple(
        WayWithout(**{**entry, "needs": tuple(entry["needs"])})
        for entry in tomllib.loads(text)["way"]
    )
