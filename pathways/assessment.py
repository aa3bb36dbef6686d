"""One farm, from ground to findings; reads and writes no files."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from shapely import Point

from pathways.assumptions import Assumption, assumptions_of
from pathways.errors import Notice
from pathways.farm import Farm, Tables
from pathways.rules import with_given_distances
from pathways.sites import Ground, sites_of
from pathways.siting.layout import layout_of
from pathways.siting.receptors import surroundings_of
from pathways.siting.setback_areas import SetbackArea, setback_areas
from pathways.siting.site import Site
from pathways.siting.ways_checked import checked
from pathways.siting.without_building import WayWithout
from pathways.sizing.brief import Brief
from pathways.sizing.design import Design, Spot, design_of, pad_and_bed_of
from pathways.spill.course import Course, course_of
from pathways.spill.spill import Spill, spill_of
from pathways.spill.times import storm_time_over_ground_s
from pathways.spill.yard_rain import Covers, YardRain, yard_rain
from pathways.terrain.chance import arrivals
from pathways.terrain.drain_leads import DrainLead, drain_leads
from pathways.terrain.landscape import Terrain
from pathways.terrain.network import MOST_CELLS, Network, network_of
from pathways.terrain.pathway import OUTCOMES, Arrival, Pathway
from pathways.terrain.tracing import trace
from pathways.terrain.versions import Versions

CAUTIONS = (
    "This is a screening aid. Walk the yard in the rain before you rely on it.",
    "What was not drawn cannot be seen: an unseen gully or land drain can carry a "
    "spill straight to water.",
    "Local rules and your regulator decide; have works designed and checked by those "
    "licensed to do so.",
)


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """What was found out about one farm.

    Parameters
    ----------
    farm : Farm
        What it was found out from.
    pathways : tuple of Pathway
        One or two for each source, in the order of the sources.
    spills : tuple of Spill or None
        What losses do on each pathway, in their order; None or none where that was not
        worked out.
    sites : tuple of Site
        Candidates and places in use, the best first.
    design : Design or None
        Sizes of pad, tank and bed; None where sites were not judged either.
    setbacks : tuple of SetbackArea
        The ground within the distances of the rules.
    assumptions : tuple of Assumption
        What stood in for what was not given.
    notices : tuple of Notice
        What a reader of the results must know of the input.
    network : Network or None
        Ways from all cells of the ground; None where that was not worked out.
    ways_without : tuple of WayWithout
        What can be done without building, or before.
    drains : tuple of DrainLead
        Where each inlet, pipe and tank that was drawn leads.
    cautions : tuple of str
        What a reader of any result must know.
    not_yet_assessed : tuple of str
        What this version does not work out.
    """

    farm: Farm
    pathways: tuple[Pathway, ...]
    spills: tuple[Spill | None, ...] = ()
    sites: tuple[Site, ...]
    design: Design | None = None
    setbacks: tuple[SetbackArea, ...] = ()
    assumptions: tuple[Assumption, ...]
    notices: tuple[Notice, ...]
    network: Network | None = field(default=None, repr=False)
    ways_without: tuple[WayWithout, ...] = ()
    drains: tuple[DrainLead, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS
    not_yet_assessed: tuple[str, ...] = ()

    @property
    def told(self) -> tuple[tuple[Pathway, Spill | None], ...]:
        """Each pathway with what losses do on it."""
        spills = self.spills or (None,) * len(self.pathways)
        return tuple(zip(self.pathways, spills, strict=True))

    @property
    def worst_first(self) -> tuple[int, ...]:
        """Places of the pathways in `pathways`, the worst outcome first."""
        outcomes = [OUTCOMES.index(one.outcome) for one in self.pathways]
        return tuple(sorted(range(len(outcomes)), key=outcomes.__getitem__))


def assess_farm(
    farm: Farm, tables: Tables, *, threads: int = 1, judge_sites: bool = True
) -> Assessment:
    """Trace all sources of a farm and judge its sites.

    Parameters
    ----------
    farm : Farm
        Ground, drawing and settings.
    tables : Tables
        Assumed values, errors of heights, rulebook and weights.
    threads : int
        How many versions of the ground are run at once; results do not depend on it.
    judge_sites : bool
        Whether sites are searched and judged too; else there are none in the result.

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
    traced = trace(terrain)
    materials = tables.materials_of(farm)
    courses = tuple(course_of(terrain, one, materials) for one in traced)
    pathways = with_arrivals(terrain, traced, courses, farm, tables, threads=threads)
    spills = _spills(terrain, pathways, courses, farm, tables)
    surroundings = surroundings_of(farm.features, tables.assumed.half_widths_m)
    rulebook = with_given_distances(tables.rulebook, farm.settings.rules)
    brief = tables.brief_of(farm)
    sites: tuple[Site, ...] = ()
    if judge_sites:
        layout = layout_of(
            farm.settings.siting,
            tables.assumed,
            _sized(brief),
            position_error_m=farm.settings.ground.position_error_m,
        )
        ground = Ground(
            farm, tables, terrain, surroundings, rulebook, pathways, layout, threads
        )
        sites = sites_of(ground)
    return Assessment(
        farm=farm,
        pathways=pathways,
        spills=spills,
        sites=sites,
        design=design_of(brief, _spot(sites), farm.features.sources)
        if judge_sites
        else None,
        setbacks=setback_areas(surroundings, rulebook),
        network=network_of(terrain)
        if judge_sites and farm.grid.heights_m.size <= MOST_CELLS
        else None,
        ways_without=checked(
            (
                one
                for one in tables.ways_without
                if one.jurisdiction in ("", tables.rulebook.id)
            ),
            terrain,
            pathways,
        ),
        drains=drain_leads(terrain.drains),
        assumptions=assumptions_of(farm, tables, spills, is_sized=judge_sites),
        notices=(
            *farm.notices,
            *terrain.barriers.notices,
            *terrain.drains.notices,
            *(_on_the_search(farm, sites) if judge_sites else ()),
        ),
    )


def _on_the_search(farm: Farm, sites: tuple[Site, ...]) -> Iterator[Notice]:
    """Tell a search that found nothing: it was looked, and there is no room."""
    drawn = {one.id for one in (*farm.features.candidates, *farm.features.sources)}
    if farm.features.search_area and all(one.site_id in drawn for one in sites):
        text = (
            "the search area has no free place on known ground for a pad and a bed of "
            "the sizes looked for; enlarge it, or give smaller sizes under [siting]"
        )
        yield Notice("search_found_nothing", text, "layer search_area")


def _sized(brief: Brief) -> dict[str, tuple[float, float]]:
    """Return the sides of what was sized for the farm, not merely assumed [m]."""
    sprayer = brief.settings.sprayer
    pad, bed = pad_and_bed_of(brief)
    found = {}
    if sprayer.length_m is not None and sprayer.width_m is not None:
        found["pad"] = pad.length_m, pad.width_m
    if bed is not None:
        found["bed"] = bed.side_m, bed.side_m
    return found


def _spot(sites: tuple[Site, ...]) -> Spot:
    """Return where it would be built: at the best site that breaks no rule."""
    best = next(
        (one for one in sites if not one.existing and one.meets_rules != "false"), None
    )
    if best is None:
        return Spot()
    depth = next(one for one in best.criteria if one.name == "depth_to_water")
    earthwork = best.earthwork
    return Spot(
        name=f"{best.name or best.site_id}, rank {best.rank} of the sites",
        level_m=None if earthwork is None else earthwork.level_m,
        depth_to_water_m=depth.value,
    )


def _spills(
    terrain: Terrain,
    pathways: tuple[Pathway, ...],
    courses: tuple[Course, ...],
    farm: Farm,
    tables: Tables,
) -> tuple[Spill | None, ...]:
    """Return what losses do on each pathway; the rain is that of its source."""
    materials = tables.materials_of(farm)
    sources = {one.id: one for one in farm.features.sources}
    covers = Covers(terrain, materials, tables.group_of(farm))
    given = tables.circumstances_of(farm)
    rains: dict[str, YardRain | None] = {}
    found: list[Spill | None] = []
    for pathway, course in zip(pathways, courses, strict=True):
        if pathway.outcome == "not_known" and not pathway.legs:
            found.append(None)  # nothing is known of its way
            continue
        source = sources[pathway.source_id]
        others = [course_of(terrain, one, materials) for one in pathway.alternatives]
        spill = spill_of(course, source, given, others)
        if source.id not in rains:
            start = Point(pathway.start)
            rains[source.id] = yard_rain(
                terrain, source, start, covers, farm.settings.climate
            )
        found.append(replace(spill, rain=rains[source.id]))
    return tuple(found)


def with_arrivals(
    terrain: Terrain,
    pathways: tuple[Pathway, ...],
    courses: tuple[Course, ...],
    farm: Farm,
    tables: Tables,
    *,
    threads: int = 1,
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
    courses : tuple of Course
        What a spill meets on each, for the times.
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
                pace = _pace_s_per_m(courses[number], farm, tables)
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


def _pace_s_per_m(course: Course, farm: Farm, tables: Tables) -> float | None:
    """Return the fast bound of a storm's time for a metre over the ground [s/m]."""
    if not course.over_ground_m > 0:
        return None
    time_s = storm_time_over_ground_s(course, fall_error_m=tables.fall_error_m_of(farm))
    return time_s / course.over_ground_m


def _with_time(arrival: Arrival, pace_s_per_m: float | None) -> Arrival:
    """Return an arrival with the quantiles of its time."""
    if pace_s_per_m is None or arrival.length_m is None:
        return arrival
    low, middle, high = (pace_s_per_m * one for one in arrival.length_m)
    return replace(arrival, time_s=(low, middle, high))
