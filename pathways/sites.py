"""The sites of one farm: drawn, in use and found, each followed and judged."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from shapely import Point

from pathways.farm import Farm, Tables
from pathways.rules import Rulebook
from pathways.siting.flow import flow_from
from pathways.siting.layout import Footing, Layout, laid_out
from pathways.siting.moving import with_gains
from pathways.siting.pairwise import with_comparisons
from pathways.siting.places import places_of
from pathways.siting.ranking import rank_sites
from pathways.siting.receptors import Surroundings
from pathways.siting.search import (
    MOST_FOUND,
    blocked_ground,
    keeps_rules,
    numbered,
    search,
)
from pathways.siting.site import Place, Site, SiteFlow
from pathways.siting.situation import Situation, SourceWay
from pathways.siting.way_out import nearest_way_out
from pathways.siting.weights import with_given_weights
from pathways.terrain.chance import arrivals
from pathways.terrain.landscape import Terrain
from pathways.terrain.pathway import Arrival, Pathway
from pathways.terrain.tracing import lowest_of
from pathways.terrain.versions import Versions


@dataclass(frozen=True)
class Ground:
    """One farm as it was traced, for the sites on it.

    Parameters
    ----------
    farm : Farm
        Ground, drawing and settings.
    tables : Tables
        Assumed values, errors of heights and weights.
    terrain : Terrain
        The farm as it was traced.
    surroundings : Surroundings
        What rules ask distance to.
    rulebook : Rulebook
        With the farm's own distances.
    pathways : tuple of Pathway
        Where spills of the sources go.
    layout : Layout
        Sizes of pad and bed, and how densely places are tried.
    threads : int
        How many versions are run at once.
    """

    farm: Farm
    tables: Tables
    terrain: Terrain
    surroundings: Surroundings
    rulebook: Rulebook
    pathways: tuple[Pathway, ...]
    layout: Layout
    threads: int = 1
    _flows: dict[bytes, SiteFlow] = field(default_factory=dict, init=False, repr=False)

    @property
    def situation(self) -> Situation:
        """What all sites are measured in."""
        settings = self.farm.settings
        return Situation(
            grid=self.farm.grid,
            features=self.farm.features,
            surroundings=self.surroundings,
            weights=with_comparisons(
                with_given_weights(self.tables.weights, settings.siting.weights),
                settings.siting.compared,
                settings.siting.comparisons,
            ),
            settings=settings,
            assumed=self.tables.assumed,
            ways=tuple(
                SourceWay(
                    source_id=one.source_id,
                    name=one.source_name,
                    lines=tuple(
                        leg.line
                        for leg in one.legs
                        if leg.kind in ("surface", "observed")
                    ),
                )
                for one in self.pathways
            ),
            fall_error_m=self.tables.fall_error_m_of(self.farm),
        )

    def flow_of(self, place: Place) -> SiteFlow:
        """Return where a spill at a place goes; asked again, it costs nothing."""
        key = place.footprint.wkb
        if key not in self._flows:
            self._flows[key] = flow_from(
                self.terrain,
                place,
                self.tables.materials_of(self.farm),
                self.tables.circumstances_of(self.farm),
            )
        return self._flows[key]


def sites_of(ground: Ground) -> tuple[Site, ...]:
    """Return drawn, existing and found sites, the best first.

    The search area is searched by what can be told of every place at once; the places
    on that shortlist are measured in full, and the best of them stand beside what was
    drawn. Only of these is told how sure the way of a spill is.

    Parameters
    ----------
    ground : Ground
        The farm as it was traced.

    Returns
    -------
    tuple of Site
        Those that were found are numbered in their order.

    Raises
    ------
    FeatureError, SettingsError
        If sites share an id, or the weights name no criterion.
    """
    farm, situation = ground.farm, ground.situation

    def ranked(traced: Iterable[tuple[Place, SiteFlow]]) -> tuple[Site, ...]:
        return rank_sites(situation, ground.rulebook, tuple(traced))

    drawn = _drawn(ground)
    ids = {one.site_id for one in drawn}
    shortlist = [
        one
        for one in search(
            ground.terrain,
            ground.surroundings,
            ground.rulebook,
            situation.weights,
            ground.layout,
        )
        if not any(
            one.footprint.intersects(other.built)
            for other in drawn
            if not other.existing
        )
    ]
    best = ranked((one, ground.flow_of(one)) for one in shortlist)[:MOST_FOUND]
    found = numbered(shortlist, [one.site_id for one in best], farm.features, ids)
    places = [*drawn, *found]
    flows = _with_arrivals(ground, places)
    by_id = dict(zip((one.site_id for one in places), flows, strict=True))
    order = [
        one.site_id
        for one in ranked(zip(places, flows, strict=True))
        if one.site_id not in ids
    ]
    told = [
        *((one, by_id[one.site_id]) for one in drawn),
        *zip(
            numbered(found, order, farm.features, ids),
            (by_id[one] for one in order),
            strict=True,
        ),
    ]
    sites = with_gains(ranked(told))
    footing = {place.site_id: place for place, _ in told}
    return tuple(
        one
        if one.meets_rules != "false"
        else _with_way_out(one, footing[one.site_id], ground)
        for one in sites
    )


def _drawn(ground: Ground) -> list[Place]:
    """Return candidates and places in use, with a pad and a bed laid out on each."""
    farm, layout = ground.farm, ground.layout
    footing = Footing(
        blocked=blocked_ground(ground.terrain, zones=False),
        layout=layout,
        grid=farm.grid,
        pad_fall=farm.settings.siting.pad_fall,
        keeps=lambda tried: keeps_rules(
            tried, ground.surroundings, ground.rulebook, layout.position_error_m
        ),
    )
    radius_m = ground.tables.weights.footprint_radius_m
    return [laid_out(one, footing) for one in places_of(farm.features, radius_m)]


def _with_way_out(site: Site, place: Place, ground: Ground) -> Site:
    """Return a site that breaks a rule with the nearest place that breaks none."""
    reach_m = ground.tables.assumed["siting", "way_out_reach_m"]
    found = nearest_way_out(
        place,
        ground.terrain,
        ground.surroundings,
        ground.rulebook,
        ground.layout,
        reach_m,
    )
    if found is None:
        says = (
            f"On a net of places within {reach_m:g} m none was found that is free for "
            "a pad and a bed and breaks no distance: look closer and farther off, ask "
            "your regulator, or do without building."
        )
    else:
        rest = (
            ""
            if found.meets_rules == "true"
            else "; what could not be decided here is not decided there either"
        )
        says = (
            f"The nearest free place found that breaks no distance lies about "
            f"{found.distance_m:.0f} m to the {found.towards}, whoever owns it{rest}."
        )
    return replace(site, reasons=(site.reasons[0], says, *site.reasons[1:]))


def _with_arrivals(ground: Ground, places: Sequence[Place]) -> list[SiteFlow]:
    """Return where spills go, with what is reached over the versions of the ground."""
    farm, tables, terrain = ground.farm, ground.tables, ground.terrain
    starts = [_start_of(terrain, one) for one in places]
    told: list[list[Arrival]] = [[] for _ in places]
    for scenario in tables.elevation_errors[farm.settings.ground.survey]:
        versions = Versions(
            terrain,
            scenario,
            farm.settings.farm.id,
            tables.assumed["ground", "spot_level_error_m"],
        )
        # No tank is counted on: whoever builds here is told what happens without it.
        found = arrivals(versions, starts, [None] * len(starts), threads=ground.threads)
        for mine, arrival in zip(told, found, strict=True):
            if arrival is not None:
                mine.append(arrival)
    return [
        replace(ground.flow_of(place), arrivals=tuple(mine))
        for place, mine in zip(places, told, strict=True)
    ]


def _start_of(terrain: Terrain, place: Place) -> Point:
    area = place.footprint.area > 0
    return lowest_of(terrain, place.footprint) if area else Point(place.footprint)
