"""What a run depends on besides the ground and what is drawn on it.

`Settings` is the content of farm.toml. Every key has a default or is asked for when the
step that needs it runs. Unknown keys are refused by `pathways.io.farms`, which also
turns pydantic's errors into sentences.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

Texture = Literal[
    "sand",
    "loamy_sand",
    "sandy_loam",
    "loam",
    "silt_loam",
    "sandy_clay_loam",
    "clay_loam",
    "silty_clay_loam",
    "sandy_clay",
    "silty_clay",
    "clay",
]

#: Kinds of surface as in `surfaces.toml`, hard ones sound and worn.
Cover = Literal[
    "concrete",
    "concrete_worn",
    "asphalt",
    "asphalt_worn",
    "hardcore",
    "planings",
    "loose_gravel",
    "short_grass",
    "dense_grass",
    "arable",
    "bare_soil",
    "woodland",
    "not_drawn",
]

#: What may be said to be not there: layers, and kinds of zones.
NotThere = Literal[
    "watercourses",
    "water_supplies",
    "buildings",
    "barriers",
    "inlets",
    "pipes",
    "surfaces",
    "exclusions",
    "access",
    "flood_zone",
    "spz1",
    "spz2",
    "safeguard_zone",
    "habitat",
    "archaeology",
    "services",
    "other",
]

_LOW_MIDDLE_HIGH = 3
_LENGTH_AND_WIDTH = 2
_MONTHS = 12


def _in_order(values: list[float]) -> list[float]:
    if values and (len(values) != _LOW_MIDDLE_HIGH or values != sorted(values)):
        kind, says = "three_in_order", "three numbers in order: low, middle, high"
        raise PydanticCustomError(kind, says)
    return values


_Positive = Annotated[float, Field(gt=0)]
_Range = Annotated[list[Annotated[float, Field(ge=0)]], AfterValidator(_in_order)]


def _two(values: list[float]) -> list[float]:
    if values and len(values) != _LENGTH_AND_WIDTH:
        kind, says = "two_sides", "two numbers: length and width"
        raise PydanticCustomError(kind, says)
    return values


def _twelve(values: list[float]) -> list[float]:
    if values and len(values) != _MONTHS:
        kind, says = "twelve_months", "twelve numbers, January first"
        raise PydanticCustomError(kind, says)
    return values


_Months = Annotated[list[Annotated[float, Field(ge=0)]], AfterValidator(_twelve)]
_Temperatures = Annotated[
    list[Annotated[float, Field(ge=-60, le=60)]], AfterValidator(_twelve)
]
_TwoSides = Annotated[list[_Positive], AfterValidator(_two)]
_PositiveRange = Annotated[list[_Positive], AfterValidator(_in_order)]


class _Table(BaseModel):
    """A table of farm.toml: frozen, and no key that is not listed."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False
    )


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
        default="",
        description="features.gpkg, features.geojson or a folder; empty: whichever is "
        "there",
    )
    none_here: list[NotThere] = Field(
        default=[],
        description="layers, or kinds of zones, that were looked for and are not "
        "there; an empty layer alone proves no look",
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

    pad_size_m: _TwoSides = Field(
        default=[], description="length and width of the pad to look for [m]"
    )
    bed_size_m: _TwoSides = Field(
        default=[], description="length and width of the bed to look for [m]"
    )
    pad_fall: float = Field(
        default=0.01,
        ge=0,
        le=0.1,
        description="fall of the finished pad [m/m]; 1 in 100 is the least of an "
        "English grant specification",
    )
    weights: dict[str, float] = Field(
        default={}, description="your own weights by criterion; see the guide"
    )
    compared: list[str] = Field(
        default=[], description="criteria whose weights come from comparisons"
    )
    comparisons: list[list[_Positive]] = Field(
        default=[],
        description="a row for each of them: how many times more it counts than each",
    )


class SprayerSettings(_Table):
    """`[sprayer]`: what is filled and washed."""

    tank_l: float | None = Field(
        default=None, gt=0, description="what its tank holds when full [l]"
    )
    length_m: float | None = Field(
        default=None, gt=0, description="its length with folded booms [m]"
    )
    width_m: float | None = Field(
        default=None, gt=0, description="its width with folded booms [m]"
    )
    axle_load_t: float | None = Field(
        default=None, gt=0, description="its heaviest axle, full [t]"
    )


class WashingsSettings(_Table):
    """`[washings]`: what is washed off."""

    times: _Months = Field(
        default=[], description="how often the sprayer is washed, month by month"
    )
    each_l: float | None = Field(
        default=None, gt=0, description="washings of one time [l]"
    )


class PadSettings(_Table):
    """`[pad]`: the filling pad."""

    margin_m: float | None = Field(
        default=None, ge=0, description="room round the folded sprayer [m]"
    )
    falls: Literal["to_a_corner", "one_way"] = Field(
        default="to_a_corner", description="where the finished pad drains to"
    )
    kerb_m: float | None = Field(
        default=None,
        gt=0,
        description="height of the lowest kerb or of the bund that is driven over [m]",
    )
    freeboard_m: float | None = Field(
        default=None, ge=0, description="kerb that stays above the water [m]"
    )
    has_roof: bool = Field(default=False, description="no rain falls on it")
    tank_l: float | None = Field(
        default=None, gt=0, description="a tank for washings that is there [l]"
    )


class BedSettings(_Table):
    """`[bed]`: the lined bed that treats washings."""

    layout: Literal["offset", "direct"] = Field(
        default="offset",
        description="direct: the sprayer stands on a grid over the bed, without a tank",
    )
    area_m2: float | None = Field(default=None, gt=0, description="a size given [m²]")
    depth_m: float | None = Field(
        default=None, gt=0, le=3, description="depth of the mix [m]"
    )
    loading_mm_per_year: float | None = Field(
        default=None, gt=0, description="water that it is to take in a year [mm]"
    )
    dose_l_per_m2: float | None = Field(
        default=None,
        gt=0,
        description="water that it is given in a day, at most [l/m²]",
    )


class SoilSettings(_Table):
    """`[soil]`: what lies under the covers."""

    texture: Texture | None = Field(
        default=None,
        description="texture of the topsoil; without it nothing is taken to soak in",
    )
    hydrologic_group: Literal["A", "B", "C", "D"] | None = Field(
        default=None,
        description="hydrologic soil group; else by the texture, else D is assumed",
    )
    depth_to_water_m: float | None = Field(
        default=None,
        ge=0,
        description="from the ground down to the water in winter [m]",
    )


class ClimateSettings(_Table):
    """`[climate]`: rain."""

    design_storm_mm: float | None = Field(
        default=None, gt=0, description="rain of the storm that counts [mm]"
    )
    design_intensity_mm_per_h: float | None = Field(
        default=None,
        gt=0,
        description="its heaviest rain over some minutes [mm/h]",
    )
    rain_mm: _Months = Field(default=[], description="mean rain of each month [mm]")
    evaporation_mm: _Months = Field(
        default=[], description="mean reference evapotranspiration of each month [mm]"
    )
    least_temperature_c: _Temperatures = Field(
        default=[], description="mean daily least temperature of each month [°C]"
    )
    greatest_temperature_c: _Temperatures = Field(
        default=[], description="mean daily greatest temperature of each month [°C]"
    )
    latitude_degrees: float | None = Field(
        default=None, ge=-90, le=90, description="of the farm, for evaporation"
    )
    daily_file: str = Field(
        default="", description="daily record, a .csv file in the farm folder"
    )


class SpillSettings(_Table):
    """`[spill]`: how a spill begins and runs."""

    wetted_width_m: _PositiveRange = Field(
        default=[],
        description="how wide a spill runs over a yard: low, most likely, high [m]",
    )
    hole_diameter_mm: float | None = Field(
        default=None, gt=0, description="hole by which a tank empties [mm]"
    )
    tank_height_m: float | None = Field(
        default=None, gt=0, description="how high liquid stands in that tank [m]"
    )
    capture_fraction: float | None = Field(
        default=None,
        ge=0,
        le=1,
        description="share of what passes an inlet that it takes, as you saw it",
    )


class MaterialSettings(_Table):
    """`[materials]`: your own numbers for covers, by kind of surface."""

    manning_n: dict[Cover, _Positive] = Field(
        default={}, description="roughness [s/m^(1/3)]"
    )
    retention_mm: dict[Cover, _Range] = Field(
        default={},
        description="film that stays until the next rain: low, middle, high [mm]",
    )
    velocity_m_per_s: dict[Cover, _Positive] = Field(
        default={}, description="speed of storm runoff at a slope of 1 [m/s]"
    )
    curve_number: dict[Cover, Annotated[float, Field(gt=0, le=100)]] = Field(
        default={}, description="curve number"
    )
    runoff_coefficient: dict[Cover, Annotated[float, Field(gt=0, le=1)]] = Field(
        default={}, description="runoff coefficient of the rational method"
    )


class OutputSettings(_Table):
    """`[output]`: how results are shown."""

    language: Literal["en"] = Field(default="en", description="language of the pages")
    aerial_picture: str = Field(
        default="",
        description="GeoTIFF in RGB of the ground from above, to lie under the map",
    )
    price_file: str = Field(
        default="", description="your own prices, a .csv file in the farm folder"
    )


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
    sprayer: SprayerSettings = SprayerSettings()
    washings: WashingsSettings = WashingsSettings()
    pad: PadSettings = PadSettings()
    bed: BedSettings = BedSettings()
    climate: ClimateSettings = ClimateSettings()
    soil: SoilSettings = SoilSettings()
    spill: SpillSettings = SpillSettings()
    materials: MaterialSettings = MaterialSettings()
    siting: SitingSettings = SitingSettings()
    output: OutputSettings = OutputSettings()
