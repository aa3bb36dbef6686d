"""What a run depends on besides the ground and what is drawn on it.

`Settings` is the content of farm.toml. Every key has a default or is asked for when the
step that needs it runs. Unknown keys are refused by `pathways.io.farms`, which also
turns pydantic's errors into sentences.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class _Table(BaseModel):
    """A table of farm.toml: frozen, and no key that is not listed."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class FarmSettings(_Table):
    """`[farm]`: what it is called."""

    id: str = Field(default="farm", description="short name, used in file names")
    name: str = Field(default="", description="what people call it")


class GroundSettings(_Table):
    """`[ground]`: the elevation."""

    files: list[str] = Field(
        default=["ground.tif"],
        description="one raster, or adjoining tiles of one survey",
    )
    kind: Literal["bare_earth", "surface"] = Field(
        default="bare_earth", description="surface: roofs and trees are in it"
    )
    height_unit: Literal["metre", "foot", "us_survey_foot"] | None = Field(
        default=None, description="unit of the heights where the file does not say it"
    )
    survey: Literal["airborne_lidar", "drone", "coarse"] = Field(
        default="airborne_lidar",
        description="how the ground was measured; decides the error of its heights",
    )
    survey_date: str = Field(default="", description="when the ground was measured")
    rebuilt_since_survey: bool = Field(
        default=False, description="true where the yard was changed after the survey"
    )
    vertical_datum: str = Field(default="", description="what heights are counted from")
    position_error_m: float = Field(
        default=1.0,
        gt=0,
        description="how far grid and drawing may be off in plan, together [m]",
    )


class FeatureSettings(_Table):
    """`[features]`: where the drawing is."""

    path: str = Field(
        default="", description="features.gpkg or a folder; empty: whichever is there"
    )


class RuleSettings(_Table):
    """`[rules]`: whose rules apply."""

    jurisdiction: str = Field(
        default="generic", description="name of a rulebook; see `pathways rules`"
    )
    file: str = Field(default="", description="your own rulebook, a .toml file")
    watercourse_m: float | None = Field(
        default=None,
        ge=0,
        description="your own distance to water [m]",
    )
    water_supply_m: float | None = Field(
        default=None,
        ge=0,
        description="your own distance to wells and springs [m]",
    )
    drain_opening_m: float | None = Field(
        default=None, ge=0, description="your own distance to gullies [m]"
    )


class SitingSettings(_Table):
    """`[siting]`: how sites are compared."""

    weights: dict[str, float] = Field(
        default={}, description="your own weights by criterion; see the guide"
    )


class OutputSettings(_Table):
    """`[output]`: how results are shown."""

    language: Literal["en"] = Field(default="en", description="language of the pages")


class Settings(_Table):
    """Everything in farm.toml.

    Examples
    --------
    >>> Settings().ground.kind
    'bare_earth'
    """

    farm: FarmSettings = FarmSettings()
    ground: GroundSettings = GroundSettings()
    features: FeatureSettings = FeatureSettings()
    rules: RuleSettings = RuleSettings()
    siting: SitingSettings = SitingSettings()
    output: OutputSettings = OutputSettings()


#: Tables of the data contract that this version keeps but does not use yet.
TABLES_NOT_USED_YET = ("sprayer", "washings", "climate", "soil", "spill")
