"""The four states of the ground in which a spill is told, the headline first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pathways.assumed import AssumedValues
from pathways.materials import Soil, SurfaceMaterial

StateName = Literal["raining", "saturated", "wet", "dry"]

#: The headline first.
STATE_NAMES: tuple[StateName, ...] = ("raining", "saturated", "wet", "dry")


@dataclass(frozen=True, kw_only=True)
class GroundState:
    """What the ground can take before a spill.

    Parameters
    ----------
    name : {"raining", "saturated", "wet", "dry"}
        Which state.
    film_share : float
        Share of the film of dry ground that still finds room.
    moisture_deficit : float or None
        Free pores as a share of the soil; None where nothing soaks in.
    deficit_share : float
        Free pores as a share of the effective ones, where `moisture_deficit` is nought.
    hollows_free : bool
        Whether hollows are empty; else they are full of rain.
    tanks_free : bool
        Whether tanks that are counted on take anything; in rain none is.
    in_storm : bool
        Whether storm runoff carries the spill.
    """

    name: StateName
    film_share: float
    moisture_deficit: float | None
    deficit_share: float = 0.0
    hollows_free: bool = False
    tanks_free: bool = True
    in_storm: bool = False


def ground_states(assumed: AssumedValues) -> tuple[GroundState, ...]:
    """Return the four states.

    Parameters
    ----------
    assumed : AssumedValues
        Its table ``[ground_states]``.

    Returns
    -------
    tuple of GroundState
        In the order of `STATE_NAMES`.
    """
    wet_share = assumed["ground_states", "wet_retention_share"]
    return (
        GroundState(
            name="raining",
            film_share=0.0,
            moisture_deficit=None,
            tanks_free=False,
            in_storm=True,
        ),
        GroundState(name="saturated", film_share=wet_share, moisture_deficit=None),
        GroundState(
            name="wet",
            film_share=wet_share,
            moisture_deficit=assumed["ground_states", "wet_moisture_deficit"],
        ),
        GroundState(
            name="dry",
            film_share=1.0,
            moisture_deficit=0.0,
            deficit_share=assumed["ground_states", "dry_deficit_share"],
            hollows_free=True,
        ),
    )


@dataclass(frozen=True)
class Uptake:
    """What one cover takes into the ground in one state.

    Parameters
    ----------
    conductivity_mm_per_h : float
        Of the Green-Ampt equation [mm/h]; nought where nothing soaks in.
    suction_deficit_mm : float
        Suction head times free pores [mm].
    """

    conductivity_mm_per_h: float
    suction_deficit_mm: float


def uptake_of(
    material: SurfaceMaterial,
    state: GroundState,
    soil: Soil | None,
    assumed: AssumedValues,
) -> Uptake:
    """Return what soaks in under a cover.

    Parameters
    ----------
    material : SurfaceMaterial
        The cover.
    state : GroundState
        How wet it is.
    soil : Soil or None
        What lies under it; of an unknown soil nothing is taken to soak in.
    assumed : AssumedValues
        By what compaction divides the conductivity.

    Returns
    -------
    Uptake
        Nought where the cover is sealed, the ground saturated or the soil unknown.
    """
    if (
        soil is None
        or state.moisture_deficit is None
        or material.infiltration == "none"
    ):
        return Uptake(0.0, 0.0)
    compacted = material.infiltration == "compacted_soil"
    divisor = assumed["spill", "compaction_divisor"] if compacted else 1.0
    free = state.moisture_deficit or state.deficit_share * soil.effective_porosity
    return Uptake(
        soil.conductivity_mm_per_h / divisor,
        soil.suction_mm * min(free, soil.effective_porosity),
    )
