"""What stood in for what was not given, and the standing of every number used."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from pathways.assumed import AssumedValue
from pathways.farm import Farm, Tables
from pathways.materials import KnownRange, SurfaceMaterial
from pathways.spill.hydraulics import LAMINAR_REYNOLDS, VISCOSITY_M2_PER_S
from pathways.spill.spill import Spill
from pathways.units import name_and_unit
from pathways.water_edge import assumed_half_width_m

#: Groups of the table of assumed values that every run uses.
_ALWAYS: Final = ("drawing", "drains", "supplies", "ground")
#: Groups that a run uses which tells what spills do.
_OF_SPILLS: Final = ("spill", "credible_losses", "ground_states")
#: Groups that a run uses which sizes pad, tank and bed.
_OF_SIZES: Final = ("pad", "construction", "bed", "flotation", "pump", "acceptance")


@dataclass(frozen=True, kw_only=True)
class Assumption:
    """A number that was not given, and where it comes from.

    Parameters
    ----------
    what : str
        What it is a number of, in words.
    value : float or str
        The number in `unit`, or words where it is more than one.
    unit : str
        Unit of the number; empty where it has none.
    standing : str
        How firmly it is known: one of `pathways.rules.STANDINGS`.
    source : str
        Where it comes from.
    """

    what: str
    value: float | str
    unit: str
    standing: str
    source: str


def assumptions_of(
    farm: Farm,
    tables: Tables,
    spills: tuple[Spill | None, ...],
    *,
    is_sized: bool = False,
) -> tuple[Assumption, ...]:
    """Return the numbers that a run used besides what was drawn and measured.

    Parameters
    ----------
    farm : Farm
        What was given.
    tables : Tables
        What stood in for the rest.
    spills : tuple of Spill or None
        What was told of spills; they name the covers.
    is_sized : bool
        Whether pad, tank and bed were sized.

    Returns
    -------
    tuple of Assumption
        In a fixed order.
    """
    told = [one for one in spills if one is not None]
    found = [*_of_water(farm, tables), *_of_table(tables, _ALWAYS)]
    found += [*_of_the_survey(farm, tables), *_of_sites(farm, tables)]
    if told:
        covers = sorted({kind for one in told for kind in one.covers})
        found += _of_spills(farm, tables)
        found += [row for kind in covers for row in _of_cover(farm, tables, kind)]
        rains = [one.rain for one in told if one.rain is not None]
        covers = sorted({kind for one in rains for kind in one.covers})
        found += [row for kind in covers for row in _of_rain(farm, tables, kind)]
    if is_sized:
        found += _of_sizes(farm, tables)
    return tuple(found)


def _of_water(farm: Farm, tables: Tables) -> Iterator[Assumption]:
    """Yield the half widths of water that was drawn without one."""
    half_widths_m = tables.assumed.half_widths_m
    for water in farm.features.watercourses:
        half_width_m = assumed_half_width_m(water, half_widths_m)
        if half_width_m is not None:
            entry = tables.assumed.table["half_width_m", water.kind]
            yield Assumption(
                what=f"half width of {water.kind} {water.title}",
                value=half_width_m,
                unit="m",
                standing=entry.standing,
                source=entry.source,
            )


def _of_table(tables: Tables, groups: tuple[str, ...]) -> Iterator[Assumption]:
    """Yield the assumed values of some groups."""
    for (group, name), entry in tables.assumed.table.items():
        if group in groups:
            yield _assumption(*name_and_unit(name), entry)


def _assumption(what: str, unit: str, known: AssumedValue | KnownRange) -> Assumption:
    value = (
        f"{known.low:g}, {known.mid:g}, {known.high:g}"
        if isinstance(known, KnownRange)
        else known.value
    )
    return Assumption(
        what=what, value=value, unit=unit, standing=known.standing, source=known.source
    )


def _of_the_survey(farm: Farm, tables: Tables) -> Iterator[Assumption]:
    """Yield how wrong heights and drawing are taken to be."""
    survey = farm.settings.ground.survey
    for scenario in tables.elevation_errors[survey]:
        yield Assumption(
            what=f"{scenario.name.replace('_', ' ')} of heights, {survey} survey",
            value=scenario.says,
            unit="",
            standing=scenario.standing,
            source=scenario.source,
        )
    yield Assumption(
        what="position error of grid and drawing",
        value=farm.settings.ground.position_error_m,
        unit="m",
        standing="given"
        if "position_error_m" in farm.settings.ground.model_fields_set
        else "assumed",
        source="farm.toml [ground] position_error_m",
    )


def _of_sites(farm: Farm, tables: Tables) -> Iterator[Assumption]:
    """Yield where the weights of sites come from, and what was looked for."""
    drawn = farm.features
    if drawn.search_area or drawn.candidates or drawn.sources:
        yield from _of_search(farm, tables)
    siting = farm.settings.siting
    given = {"weights": siting.weights, "comparisons": siting.comparisons}
    own = [name for name, values in given.items() if values]
    yield Assumption(
        what="weights and value functions of sites",
        value="see the criteria of each site",
        unit="",
        standing="given" if own else tables.weights.standing,
        source=f"farm.toml [siting] {' and '.join(own)}"
        if own
        else tables.weights.source,
    )


def _of_search(farm: Farm, tables: Tables) -> Iterator[Assumption]:
    """Yield the sizes of pad and bed, and what else sites are measured by."""
    given = farm.settings.siting
    sides = {"pad": given.pad_size_m, "bed": given.bed_size_m}
    for (group, name), entry in tables.assumed.table.items():
        if group != "siting":
            continue
        is_size = name.endswith(("length_m", "width_m"))
        size_m = sides.get(name.split("_")[0]) if is_size else None
        known = entry
        if size_m:
            value_m = size_m[0] if "length" in name else size_m[1]
            key = f"farm.toml [siting] {name.split('_')[0]}_size_m"
            known = AssumedValue(value_m, "given", key)
        yield _assumption(*name_and_unit(name), known)


def _of_sizes(farm: Farm, tables: Tables) -> Iterator[Assumption]:
    """Yield the numbers of a design: given ones in place of assumed ones."""
    given = _given_for_sizes(farm)
    texture = farm.settings.soil.texture
    for (group, name), entry in tables.assumed.table.items():
        if group not in _OF_SIZES:
            continue
        what, unit = name_and_unit(name)
        if group == "acceptance" and unit and name != f"{texture}_mm_per_h":
            continue  # of another soil
        known = given.get((group, name), entry)
        yield _assumption(f"{what} ({group})", unit, known)


def _given_for_sizes(farm: Farm) -> dict[tuple[str, str], AssumedValue]:
    """Return what farm.toml gives in place of values of a design."""
    settings = farm.settings
    values = {
        ("pad", "margin_m"): (settings.pad.margin_m, "[pad] margin_m"),
        ("pad", "kerb_m"): (settings.pad.kerb_m, "[pad] kerb_m"),
        ("pad", "freeboard_m"): (settings.pad.freeboard_m, "[pad] freeboard_m"),
        ("pad", "full_sprayer_l"): (settings.sprayer.tank_l, "[sprayer] tank_l"),
        ("pad", "storm_mm"): (
            settings.climate.design_storm_mm,
            "[climate] design_storm_mm",
        ),
        ("bed", "depth_m"): (settings.bed.depth_m, "[bed] depth_m"),
        ("bed", "day_dose_l_per_m2"): (
            settings.bed.dose_l_per_m2,
            "[bed] dose_l_per_m2",
        ),
    }
    return {
        key: AssumedValue(value, "given", f"farm.toml {name}")
        for key, (value, name) in values.items()
        if value is not None
    }


def _of_spills(farm: Farm, tables: Tables) -> Iterator[Assumption]:
    """Yield the numbers of every spill: given ones in place of assumed ones."""
    given = _given_for_spills(farm)
    captured = farm.settings.spill.capture_fraction
    for (group, name), entry in tables.assumed.table.items():
        if group in _OF_SPILLS and not (name == "grating_width_m" and captured):
            yield _assumption(*name_and_unit(name), given.get(name, entry))
    if captured is not None:
        known = AssumedValue(captured, "given", "farm.toml [spill] capture_fraction")
        yield _assumption("share that inlets take", "", known)
    soil = tables.soil_of(farm)
    if soil is None:
        yield Assumption(
            what="soil",
            value="not given: nothing is taken to soak in",
            unit="",
            standing="assumed",
            source="give [soil] texture in farm.toml",
        )
    else:
        known_soil = (soil.standing, soil.source)
        for what, value, unit in (
            ("conductivity", soil.conductivity_mm_per_h, "mm/h"),
            ("suction at the wetting front", soil.suction_mm, "mm"),
            ("effective pores", soil.effective_porosity, ""),
        ):
            name = f"{what} of {soil.texture.replace('_', ' ')}"
            yield _assumption(name, unit, AssumedValue(value, *known_soil))
    yield _assumption(
        "kinematic viscosity of water at 10 degrees C",
        "m²/s",
        AssumedValue(VISCOSITY_M2_PER_S, "from_memory", "handbook value"),
    )
    yield _assumption(
        "Reynolds number below which a film is laminar",
        "",
        AssumedValue(LAMINAR_REYNOLDS, "from_memory", "handbook value"),
    )


def _given_for_spills(farm: Farm) -> dict[str, AssumedValue]:
    """Return what farm.toml gives in place of values of the table, by their names."""
    spill = farm.settings.spill
    found = {}
    if spill.wetted_width_m:
        ends = ("low", "mode", "high")
        for end, width_m in zip(ends, spill.wetted_width_m, strict=True):
            found[f"yard_width_{end}_m"] = (width_m, "wetted_width_m")
    if spill.hole_diameter_mm is not None:
        found["hole_diameter_m"] = (spill.hole_diameter_mm / 1000, "hole_diameter_mm")
    if spill.tank_height_m is not None:
        found["tank_height_m"] = (spill.tank_height_m, "tank_height_m")
    return {
        name: AssumedValue(value, "given", f"farm.toml [spill] {key}")
        for name, (value, key) in found.items()
    }


def _of_cover(farm: Farm, tables: Tables, kind: str) -> Iterator[Assumption]:
    """Yield the numbers of a cover that were used."""
    cover: SurfaceMaterial = tables.materials_of(farm).surfaces[kind]
    name = kind.replace("_", " ")
    yield _assumption(f"roughness (Manning's n) of {name}", "", cover.manning_n)
    yield _assumption(
        f"film that stays on {name}: low, middle, high", "mm", cover.retention_mm
    )
    yield _assumption(
        f"speed of storm runoff on {name} at a slope of 1",
        "m/s",
        cover.velocity_m_per_s,
    )


def _of_rain(farm: Farm, tables: Tables, kind: str) -> Iterator[Assumption]:
    """Yield the numbers of a cover by which runoff was found."""
    cover = tables.materials_of(farm).surfaces[kind]
    name = kind.replace("_", " ")
    climate = farm.settings.climate
    if climate.design_storm_mm is not None:
        group = tables.group_of(farm)
        number = cover.curve_numbers[group]
        yield _assumption(f"curve number of {name}, soil group {group}", "", number)
    if climate.design_intensity_mm_per_h is not None:
        yield _assumption(f"runoff coefficient of {name}", "", cover.runoff_coefficient)
