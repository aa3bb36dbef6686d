"""Every inlet, pipe and tank as drawn, and where each leads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely import Point

from pathways.terrain.drains import Drains, Lead


@dataclass(frozen=True, kw_only=True)
class DrainLead:
    """Where one drawn thing leads.

    Parameters
    ----------
    layer : {"inlets", "pipes", "tanks"}
        The layer that it was drawn in.
    id : str
        Its id there.
    lead : Lead or None
        Where it leads; None of an opening that is capped.
    captures : bool
        Whether it takes surface water, as far as is known: False under a lid, of a roof
        pipe and of what has no opening of its own.
    """

    layer: Literal["inlets", "pipes", "tanks"]
    id: str
    lead: Lead | None
    captures: bool = False


def drain_leads(drains: Drains) -> tuple[DrainLead, ...]:
    """Return where each inlet, pipe and tank of a farm leads.

    Parameters
    ----------
    drains : Drains
        As found.

    Returns
    -------
    tuple of DrainLead
        Inlets, pipes, tanks, each in the order in which they were drawn.
    """
    inlets, mouths = (
        {one.id: one for one in drains.openings if (one.kind == "pipe_end") is open_}
        for open_ in (False, True)
    )
    found = [
        DrainLead(
            layer="inlets",
            id=one.id,
            lead=drains.lead_of(inlets[one.id], one.geometry.centroid)
            if one.id in inlets
            else None,
            captures=one.id in inlets and inlets[one.id].captures,
        )
        for one in drains.features.inlets
    ]
    found += [
        DrainLead(
            layer="pipes",
            id=one.id,
            lead=drains.lead_of_pipe(one, Point(one.geometry.coords[0])),
            captures=one.id in mouths,
        )
        for one in drains.features.pipes
    ]
    for tank in drains.features.tanks:
        place = tank.geometry.centroid
        outlet = next(iter(drains.outlets_of(tank)), None)
        lead = (
            Lead(ends="tank", via=(), lines=(), receptor_id=tank.id, place=place)
            if outlet is None
            else drains.lead_of_pipe(outlet, place)
        )
        found.append(DrainLead(layer="tanks", id=tank.id, lead=lead))
    return tuple(found)
