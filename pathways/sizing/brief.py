"""What a design is made for: sprayer, washings, weather, rules, and what stands in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pathways.assumed import AssumedValue, AssumedValues
from pathways.rules import Containment, Requirement, Rulebook
from pathways.settings import Settings
from pathways.sizing.figure import given_or_assumed
from pathways.sizing.weather import Weather

Values = NDArray[np.float64]


@dataclass(frozen=True)
class Brief:
    """What a design is made for.

    Parameters
    ----------
    settings : Settings
        farm.toml.
    assumed : AssumedValues
        Used where nothing was given.
    rulebook : Rulebook
        Whose rules apply.
    weather : Weather or None
        None where neither a record nor normals were given.
    prices : mapping of str to float
        Price of one unit of a quantity, by its name; the farm's own.
    """

    settings: Settings
    assumed: AssumedValues
    rulebook: Rulebook
    weather: Weather | None = None
    prices: Mapping[str, float] | None = None

    def known(
        self, given: float | None, key: str, group: str, name: str
    ) -> AssumedValue:
        """Return what farm.toml gives, or the assumed value.

        Parameters
        ----------
        given : float or None
            Value of farm.toml.
        key : str
            What to call it there.
        group, name : str
            Which assumed value.

        Returns
        -------
        AssumedValue
        """
        return given_or_assumed(given, key, self.assumed, group, name)

    @cached_property
    def full_sprayer(self) -> AssumedValue:
        """What the sprayer's tank holds [l]."""
        given = self.settings.sprayer.tank_l
        return self.known(given, "[sprayer] tank_l", "pad", "full_sprayer_l")

    @cached_property
    def storm(self) -> AssumedValue:
        """Rain of the storm that counts [mm]."""
        given = self.settings.climate.design_storm_mm
        return self.known(given, "[climate] design_storm_mm", "pad", "storm_mm")

    @property
    def washings_l(self) -> Values | None:
        """Washings of each month [l]; None where they are not given."""
        given = self.settings.washings
        if not given.times or given.each_l is None:
            return None
        return np.array(given.times) * given.each_l

    def containment_of(self, what: str) -> Containment | None:
        """Return the row of the rulebook that says how much something holds.

        Parameters
        ----------
        what : str
            A pad, a store.

        Returns
        -------
        Containment or None
            The first of its kind.
        """
        rows = (one for one in self.rulebook.containments if one.of == what)
        return next(rows, None)

    @property
    def yearly_cap(self) -> Requirement | None:
        """The cap on washings of a bed, if the rulebook has one."""
        rows = (
            one
            for one in self.rulebook.requirements
            if one.kind == "cap" and "bed" in one.applies_to
        )
        return next(rows, None)
