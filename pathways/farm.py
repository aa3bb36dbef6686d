"""Everything that is known of one farm before it is assessed, and the tables used."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pathways.aerial import AerialPicture
from pathways.assumed import AssumedValues
from pathways.elevation_error import ErrorScenario, fall_error_m
from pathways.errors import Notice
from pathways.features import Features
from pathways.grid import Grid
from pathways.materials import (
    GROUPS,
    Group,
    Materials,
    Soil,
    with_given_materials,
)
from pathways.rules import Rulebook
from pathways.settings import Settings
from pathways.siting.weights import Weights
from pathways.siting.without_building import WayWithout
from pathways.sizing.brief import Brief
from pathways.sizing.weather import Weather
from pathways.spill.spill import Circumstances


@dataclass(frozen=True)
class Farm:
    """Everything that is known of one farm before it is assessed.

    Parameters
    ----------
    grid : Grid
        Heights of the ground.
    features : Features
        What is drawn, in the grid's coordinates.
    settings : Settings
        Content of farm.toml.
    notices : tuple of Notice
        What reading found doubtful.
    weather : Weather or None
        Rain and evaporation; None where they are not given.
    prices : mapping of str to float
        The farm's own prices of what is ordered.
    picture : AerialPicture or None
        The ground from above, for the map alone.
    """

    grid: Grid
    features: Features
    settings: Settings
    notices: tuple[Notice, ...] = ()
    weather: Weather | None = None
    prices: Mapping[str, float] = field(default_factory=dict)
    picture: AerialPicture | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Tables:
    """Numbers of law and judgement that an assessment uses.

    Parameters
    ----------
    assumed : AssumedValues
        Used where nothing was given.
    elevation_errors : mapping of str to tuple of ErrorScenario
        How wrong heights can be, by kind of survey.
    rulebook : Rulebook
        Whose rules apply.
    weights : Weights
        How sites are compared.
    materials : Materials
        Covers of the ground and soils.
    ways_without : tuple of WayWithout
        What can be done without building.
    """

    assumed: AssumedValues
    elevation_errors: Mapping[str, tuple[ErrorScenario, ...]]
    rulebook: Rulebook
    weights: Weights
    materials: Materials
    ways_without: tuple[WayWithout, ...] = ()

    def materials_of(self, farm: Farm) -> Materials:
        """Return covers and soils with the farm's own numbers in place of some.

        Parameters
        ----------
        farm : Farm
            The farm.

        Returns
        -------
        Materials
            Given numbers have the standing ``given``.
        """
        return with_given_materials(
            self.materials, farm.settings.materials.model_dump()
        )

    def soil_of(self, farm: Farm) -> Soil | None:
        """Return the soil of a farm.

        Parameters
        ----------
        farm : Farm
            The farm.

        Returns
        -------
        Soil or None
            None where it is not given.
        """
        texture = farm.settings.soil.texture
        return None if texture is None else self.materials.soils[texture]

    def group_of(self, farm: Farm) -> Group:
        """Return the hydrologic soil group of a farm.

        Parameters
        ----------
        farm : Farm
            The farm.

        Returns
        -------
        {"A", "B", "C", "D"}
            As given, else that of its soil, else the one with most runoff.
        """
        soil = self.soil_of(farm)
        given = farm.settings.soil.hydrologic_group
        return given or (GROUPS[-1] if soil is None else soil.group)

    def fall_error_m_of(self, farm: Farm) -> float:
        """Return by how much a fall on a farm may be other than measured [m].

        Parameters
        ----------
        farm : Farm
            The farm.

        Returns
        -------
        float
            Of its survey, in the scenario and on the ground that are known worst.
        """
        return fall_error_m(self.elevation_errors[farm.settings.ground.survey])

    def circumstances_of(self, farm: Farm) -> Circumstances:
        """Return what losses on a farm depend on.

        Parameters
        ----------
        farm : Farm
            The farm.

        Returns
        -------
        Circumstances
            The same for every source and site of the farm.
        """
        return Circumstances(
            settings=farm.settings,
            assumed=self.assumed,
            soil=self.soil_of(farm),
            fall_error_m=self.fall_error_m_of(farm),
        )

    def brief_of(self, farm: Farm, rulebook: Rulebook | None = None) -> Brief:
        """Return what pad, tank and bed of a farm are sized for.

        Parameters
        ----------
        farm : Farm
            The farm.
        rulebook : Rulebook or None
            Whose rules apply; that of the tables by default.

        Returns
        -------
        Brief
            Its sprayer, washings, weather and prices.
        """
        return Brief(
            settings=farm.settings,
            assumed=self.assumed,
            rulebook=rulebook or self.rulebook,
            weather=farm.weather,
            prices=farm.prices,
        )
