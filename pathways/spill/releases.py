"""Losses that are told of every source: how much, how fast, and who says so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pathways.assumed import AssumedValues
from pathways.features import Source
from pathways.settings import Settings
from pathways.spill.hydraulics import emptying_time_s
from pathways.units import (
    LITRES_PER_CUBIC_METRE,
    MILLIMETRES_PER_METRE,
    SECONDS_PER_MINUTE,
)

ReleaseName = Literal["dregs", "container", "overfill", "full_tank", "stated"]


@dataclass(frozen=True, kw_only=True)
class Release:
    """One loss.

    Parameters
    ----------
    name : {"dregs", "container", "overfill", "full_tank", "stated"}
        Which loss.
    volume_l : float
        How much [l].
    rate_l_per_min : float
        How fast [l/min].
    neat : bool
        Whether it is product as it comes out of its container.
    standing, source : str
        How firmly volume and rate are known.
    """

    name: ReleaseName
    volume_l: float
    rate_l_per_min: float
    neat: bool
    standing: str
    source: str

    @property
    def rate_m3_per_s(self) -> float:
        """How fast it runs out [m³/s]."""
        return self.rate_l_per_min / LITRES_PER_CUBIC_METRE / SECONDS_PER_MINUTE

    @property
    def duration_s(self) -> float:
        """How long it runs out [s]."""
        return SECONDS_PER_MINUTE * self.volume_l / self.rate_l_per_min


def releases_of(
    source: Source, settings: Settings, assumed: AssumedValues
) -> tuple[Release, ...]:
    """Return the losses that are told of a source, the stated one last.

    Parameters
    ----------
    source : Source
        Its largest credible loss and the rate of that, where they are given.
    settings : Settings
        The sprayer's tank, and the hole by which tanks empty.
    assumed : AssumedValues
        Losses that happen on farms.

    Returns
    -------
    tuple of Release
        The full tank and the stated loss only where their volume is given.
    """

    def known(name: str) -> float:
        return assumed["credible_losses", name]

    table = assumed.table
    neat_rate = known("neat_l_per_min")
    found = [
        Release(
            name=name,
            volume_l=known(key),
            rate_l_per_min=neat_rate,
            neat=True,
            standing=table["credible_losses", key].standing,
            source=table["credible_losses", key].source,
        )
        for name, key in _NEAT
    ]
    overfill = table["credible_losses", "overfill_l_per_min"]
    found.append(
        Release(
            name="overfill",
            volume_l=overfill.value * known("overfill_min"),
            rate_l_per_min=overfill.value,
            neat=False,
            standing=overfill.standing,
            source=overfill.source,
        )
    )
    if settings.sprayer.tank_l is not None:
        found.append(
            Release(
                name="full_tank",
                volume_l=settings.sprayer.tank_l,
                rate_l_per_min=_by_hole(settings.sprayer.tank_l, settings, assumed),
                neat=False,
                standing="given",
                source="farm.toml [sprayer] tank_l",
            )
        )
    if source.volume_l:
        rate = source.release_l_per_min or _by_hole(source.volume_l, settings, assumed)
        found.append(
            Release(
                name="stated",
                volume_l=source.volume_l,
                rate_l_per_min=rate,
                neat=False,
                standing="given",
                source="sources: volume_l"
                + (" and release_l_per_min" if source.release_l_per_min else ""),
            )
        )
    return tuple(found)


_NEAT: tuple[tuple[ReleaseName, str], ...] = (
    ("dregs", "dregs_l"),
    ("container", "container_l"),
)


def _by_hole(volume_l: float, settings: Settings, assumed: AssumedValues) -> float:
    """Return the mean rate at which a tank empties through a hole [l/min]."""
    given = settings.spill
    diameter_m = assumed["spill", "hole_diameter_m"]
    if given.hole_diameter_mm is not None:
        diameter_m = given.hole_diameter_mm / MILLIMETRES_PER_METRE
    time_s = emptying_time_s(
        volume_l / LITRES_PER_CUBIC_METRE,
        given.tank_height_m or assumed["spill", "tank_height_m"],
        diameter_m,
        assumed["spill", "discharge_coefficient"],
    )
    return SECONDS_PER_MINUTE * volume_l / time_s
