"""One farm, from ground to findings; reads and writes no files."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from shapely import Geometry, Point

from pathways.assumed import AssumedValues
from pathways.elevation_error import ErrorScenario
from pathways.errors import Notice
from pathways.features import Features
from pathways.grid import Grid
from pathways.materials import Materials
from pathways.rules import Rulebook, with_given_distances
from pathways.settings import Settings
from pathways.siting.places import places_of
from pathways.siting.ranking import rank_sites
from pathways.siting.receptors import surroundings_of
from pathways.siting.setbacks import setback_areas
from pathways.siting.site import Place, Site, SiteFlow
from pathways.siting.weights import Weights
from pathways.spill.times import storm_pace_s_per_m
from pathways.terrain.alternatives import (
    Start,
    ways_by_land_drains,
    ways_into_unknown_drains,
)
from pathways.terrain.chance import arrivals
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Arrival, Pathway
from pathways.terrain.tracing import lowest_of, trace
from pathways.terrain.upslope import upslope_area_m2
from pathways.terrain.versions import Versions
from pathways.terrain.way import follow
from pathways.water_edge import assumed_half_width_m

CAUTIONS = (
    "This is a screening aid. Walk the yard in the rain before you rely on it.",
    "What was not drawn cannot be seen: an unseen gully or land drain can carry a "
    "spill straight to water.",
    "Local rules and your regulator decide; have works designed and checked by those "
    "licensed to do so.",
)


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
    """

    grid: Grid
    features: Features
    settings: Settings
    notices: tuple[Notice, ...] = ()


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
    """

    assumed: AssumedValues
    elevation_errors: Mapping[str, tuple[ErrorScenario, ...]]
    rulebook: Rulebook
    weights: Weights
    materials: Materials


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


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """What was found out about one farm.

    Parameters
    ----------
    farm : Farm
        What it was found out from.
    pathways : tuple of Pathway
        One or two for each source, in the order of the sources.
    sites : tuple of Site
        Candidates and places in use, the best first.
    setbacks : tuple of (str, str, float, shapely.Geometry)
        Rule, citation, distance [m] and the ground within it.
    assumptions : tuple of Assumption
        What stood in for what was not given.
    notices : tuple of Notice
        What a reader of the results must know of the input.
    cautions : tuple of str
        What a reader of any result must know.
    not_yet_assessed : tuple of str
        What this version does not work out.
    """

    farm: Farm
    pathways: tuple[Pathway, ...]
    sites: tuple[Site, ...]
    setbacks: tuple[tuple[str, str, float, Geometry], ...] = ()
    assumptions: tuple[Assumption, ...]
    notices: tuple[Notice, ...]
    cautions: tuple[str, ...] = CAUTIONS
    not_yet_assessed: tuple[str, ...] = ("spill", "sizing")


def assess_farm(farm: Farm, tables: Tables, *, threads: int = 1) -> Assessment:
    """Trace all sources of a farm and judge its sites.

    Parameters
    ----------
    farm : Farm
        Ground, drawing and settings.
    tables : Tables
        Assumed values, errors of heights, rulebook and weights.
    threads : int
        How many versions of the ground are run at once; results do not depend on it.

    Returns
    -------
    Assessment
        Pathways in the order of the sources, sites in the order of their rank.

    Raises
    ------
    LimitError
        If the grid is too large for the memory allowed.
    FeatureError, SettingsError
        If sites share an id, or the weights name no criterion.
    """
    terrain = Terrain(farm.grid, farm.features, tables.assumed)
    pathways = with_arrivals(terrain, trace(terrain), farm, tables, threads)
    places = places_of(farm.features, tables.weights.footprint_radius_m)
    sites = rank_sites(
        grid=farm.grid,
        features=farm.features,
        rulebook=tables.rulebook,
        weights=tables.weights,
        settings=farm.settings,
        flows={place.site_id: _flow_from(terrain, place) for place in places},
    )
    return Assessment(
        farm=farm,
        pathways=pathways,
        sites=sites,
        setbacks=setback_areas(
            surroundings_of(farm.features, tables.assumed.half_widths_m),
            with_given_distances(tables.rulebook, farm.settings.rules),
        ),
        assumptions=(*_assumptions(farm, tables), *_of_covers(pathways, tables)),
        notices=(*farm.notices, *terrain.barriers.notices, *terrain.drains.notices),
    )


def with_arrivals(
    terrain: Terrain,
    pathways: tuple[Pathway, ...],
    farm: Farm,
    tables: Tables,
    threads: int,
) -> tuple[Pathway, ...]:
    """Return pathways with how sure each is, the more cautious scenario first.

    A way that was seen, or that a drain takes at its start, does not hang on the
    heights: it is left without.

    Parameters
    ----------
    terrain : Terrain
        The farm as it was traced.
    pathways : tuple of Pathway
        From `trace`.
    farm : Farm
        Names the survey; its id decides the versions of the ground.
    tables : Tables
        Errors by survey.
    threads : int
        How many versions are run at once.

    Returns
    -------
    tuple of Pathway
        In the same order.
    """
    by_heights = [
        number
        for number, pathway in enumerate(pathways)
        if pathway.legs
        and pathway.legs[0].kind == "surface"
        and not any(leg.kind == "observed" for leg in pathway.legs)
    ]
    volumes_l = {source.id: source.volume_l for source in farm.features.sources}
    found: dict[int, list[Arrival]] = {number: [] for number in by_heights}
    for scenario in tables.elevation_errors[farm.settings.ground.survey]:
        versions = Versions(
            terrain,
            scenario,
            farm.settings.farm.id,
            tables.assumed["ground", "spot_level_error_m"],
        )
        told = arrivals(
            versions,
            [Point(pathways[number].start) for number in by_heights],
            [volumes_l[pathways[number].source_id] for number in by_heights],
            threads=threads,
        )
        for number, arrival in zip(by_heights, told, strict=True):
            if arrival is not None:
                pace = _pace_s_per_m(terrain, pathways[number], tables.materials)
                found[number].append(_with_time(arrival, pace))
    return tuple(
        replace(
            pathway,
            arrivals=tuple(
                sorted(
                    found.get(number, ()),
                    key=lambda one: (
                        -one.may_reach_water.probability,
                        -one.reaches_water.probability,
                        one.decided,
                    ),
                )
            ),
        )
        for number, pathway in enumerate(pathways)
    )


def _pace_s_per_m(
    terrain: Terrain, pathway: Pathway, materials: Materials
) -> float | None:
    """Return how long a storm takes for a metre of a way over the ground [s/m]."""
    length_m = fall_m = 0.0
    for leg in pathway.legs:
        if leg.kind != "surface" or not leg.line.length > 0:
            continue
        ends = [terrain.grid.cell_at(*leg.line.coords[place]) for place in (0, -1)]
        first, last = (
            float("nan") if cell is None else float(terrain.grid.heights_m[cell])
            for cell in ends
        )
        length_m += leg.line.length
        fall_m += first - last
    if not length_m > 0 or math.isnan(fall_m):
        return None
    return storm_pace_s_per_m(pathway.surfaces, fall_m / length_m, materials)


def _with_time(arrival: Arrival, pace_s_per_m: float | None) -> Arrival:
    """Return an arrival with the quantiles of its time."""
    if pace_s_per_m is None or arrival.length_m is None:
        return arrival
    low, middle, high = (pace_s_per_m * one for one in arrival.length_m)
    return replace(arrival, time_s=(low, middle, high))


def _flow_from(terrain: Terrain, place: Place) -> SiteFlow:
    """Return where liquid spilt at a site goes, from its lowest corner."""
    area = place.footprint.area > 0
    start = lowest_of(terrain, place.footprint) if area else Point(place.footprint)
    way = follow(terrain, start)
    # A gully of unknown outlet beside the way counts as joined to water: the nearest
    # such end decides.
    ends = [
        one
        for one in (
            way,
            *ways_into_unknown_drains(
                terrain, place.footprint, Start("point", start), way
            ),
            *ways_by_land_drains(terrain, place.footprint),
        )
        if one.outcome in ("reaches_water", "enters_piped_drain", "enters_ground")
    ]
    nearest = min(ends, key=lambda one: one.over_ground_m, default=None)
    told = way if nearest is None else nearest
    return SiteFlow(
        outcome=told.outcome,
        receptor_id=told.receptor_id,
        length_m=None if nearest is None else nearest.over_ground_m,
        upslope_area_m2=upslope_area_m2(terrain.flow, place.footprint),
    )


def _of_covers(pathways: tuple[Pathway, ...], tables: Tables) -> Iterator[Assumption]:
    """Yield the constants by which the time of ways was found."""
    timed = [one for one in pathways if any(two.time_s for two in one.arrivals)]
    for kind in sorted({kind for one in timed for kind, _ in one.surfaces}):
        known = tables.materials.surface(kind).velocity_m_per_s
        yield Assumption(
            what=f"speed of storm runoff on {kind.replace('_', ' ')} at a slope of 1",
            value=known.value,
            unit="m/s",
            standing=known.standing,
            source=known.source,
        )


def _assumptions(farm: Farm, tables: Tables) -> Iterator[Assumption]:
    """Yield the values that stood in for what was not given."""
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
    for (group, name), entry in tables.assumed.table.items():
        if group in ("drawing", "drains", "supplies", "ground"):
            yield Assumption(
                what=name.removesuffix("_m").replace("_", " "),
                value=entry.value,
                unit="m",
                standing=entry.standing,
                source=entry.source,
            )
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
    yield Assumption(
        what="weights and value functions of sites",
        value="see the criteria of each site",
        unit="",
        standing="given" if farm.settings.siting.weights else tables.weights.standing,
        source="farm.toml [siting] weights"
        if farm.settings.siting.weights
        else tables.weights.source,
    )
