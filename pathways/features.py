"""What is drawn of a farm: sources, water, walls, drains and the rest.

Each class is one layer of a farm folder. The table of fields that readers, `pathways
new` and the guide use is made from the classes themselves (`LAYERS`, `fields_of`), so
that a field is described once.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

from shapely import Geometry, union_all


def _listed(
    about: str,
    *,
    default: Any = dataclasses.MISSING,
    choices: tuple[str, ...] = (),
    at_least: float | None = None,
) -> Any:
    """Return a dataclass field with what a reader must know about it."""
    metadata = {"about": about, "choices": choices, "at_least": at_least}
    if default is dataclasses.MISSING:
        return field(metadata=metadata)
    return field(default=default, metadata=metadata)


@dataclass(frozen=True, kw_only=True)
class Feature:
    """Anything drawn: where it is and what it is called."""

    geometry: Geometry = field(metadata={})
    id: str = _listed("short name, used once in its layer", default="")
    name: str = _listed("what people call it", default="")

    @property
    def title(self) -> str:
        """What to call it in a sentence."""
        return self.name or self.id


@dataclass(frozen=True, kw_only=True)
class Source(Feature):
    """A place where something that harms water can be spilt or washed off."""

    kind: str = _listed(
        "what happens there",
        choices=(
            "filling_point",
            "washdown",
            "pesticide_store",
            "fuel_store",
            "fertiliser_store",
            "slurry_store",
            "silage_clamp",
            "midden",
            "livestock_yard",
            "other",
        ),
    )
    volume_l: float | None = _listed(
        "largest credible loss [l]", default=None, at_least=0.0
    )
    release_l_per_min: float | None = _listed(
        "rate of that loss [l/min]", default=None, at_least=0.0
    )
    fills_per_year: float | None = _listed(
        "sprayer fills a year", default=None, at_least=0.0
    )
    door: str | None = _listed(
        "id of the access point by which liquid leaves the building", default=None
    )


@dataclass(frozen=True, kw_only=True)
class Watercourse(Feature):
    """A river, stream, ditch, pond or shore; dry in summer is still water."""

    kind: str = _listed(
        "which water",
        default="stream",
        choices=(
            "river",
            "stream",
            "ditch",
            "canal",
            "pond",
            "lake",
            "coast",
            "wetland",
        ),
    )
    drawn_at: str = _listed(
        "what the line follows",
        default="centre",
        choices=("centre", "edge", "bank_top"),
    )
    half_width_m: float | None = _listed(
        "from the centre line to the bank top [m]", default=None, at_least=0.0
    )
    culverted: bool = _listed("runs underground here", default=False)
    seasonal: bool = _listed("dry for part of the year", default=False)


@dataclass(frozen=True, kw_only=True)
class WaterSupply(Feature):
    """A well, borehole, spring or intake."""

    kind: str = _listed(
        "which supply", choices=("well", "borehole", "spring", "intake")
    )
    use: str = _listed(
        "what the water is used for; unknown is treated as domestic",
        default="unknown",
        choices=("domestic_or_food_production", "other", "unknown"),
    )


@dataclass(frozen=True, kw_only=True)
class Building(Feature):
    """A building; under an open-sided one liquid passes."""

    kind: str = _listed(
        "whether liquid passes under it",
        default="closed",
        choices=("closed", "open_sided"),
    )
    dwelling: bool = _listed("people live in it", default=False)


@dataclass(frozen=True, kw_only=True)
class Barrier(Feature):
    """A wall, kerb or bank that turns water aside until it is overtopped."""

    kind: str = _listed(
        "which barrier",
        choices=("wall", "kerb", "bund", "drive_over_bund", "hedge_bank"),
    )
    height_m: float = _listed("height above the ground beside it [m]", at_least=0.0)


@dataclass(frozen=True, kw_only=True)
class Inlet(Feature):
    """An opening through which surface water leaves the yard."""

    kind: str = _listed(
        "which opening",
        default="gully",
        choices=("gully", "channel_drain", "manhole", "downpipe"),
    )
    drains_to: str = _listed(
        "id of a pipe, tank or watercourse, or unknown, soakaway or capped"
    )
    covered: bool = _listed("a lid or mat keeps water out", default=False)


@dataclass(frozen=True, kw_only=True)
class Pipe(Feature):
    """A pipe, culvert or land drain, drawn in the direction of flow."""

    kind: str = _listed(
        "which conduit", default="pipe", choices=("pipe", "culvert", "land_drain")
    )
    diameter_mm: float | None = _listed(
        "inner diameter [mm]", default=None, at_least=0.0
    )


@dataclass(frozen=True, kw_only=True)
class Tank(Feature):
    """A tank or sump that drains lead to."""

    capacity_l: float = _listed("what it holds when empty [l]", at_least=0.0)
    free_l: float | None = _listed(
        "what it can be relied on to take [l]", default=None, at_least=0.0
    )
    maintained: bool = _listed("inspected and emptied", default=False)


@dataclass(frozen=True, kw_only=True)
class Surface(Feature):
    """What the ground is covered with."""

    kind: str = _listed(
        "which cover",
        choices=(
            "concrete",
            "asphalt",
            "hardcore",
            "planings",
            "loose_gravel",
            "short_grass",
            "dense_grass",
            "arable",
            "bare_soil",
            "woodland",
        ),
    )
    condition: str = _listed(
        "state of a hard surface", default="sound", choices=("sound", "worn")
    )


@dataclass(frozen=True, kw_only=True)
class Exclusion(Feature):
    """Ground on which a pad or bed is barred or questioned."""

    kind: str = _listed(
        "why",
        choices=(
            "flood_zone",
            "spz1",
            "spz2",
            "safeguard_zone",
            "habitat",
            "archaeology",
            "services",
            "other",
        ),
    )
    label: str = _listed("what the map should say", default="")
    standing: str = _listed("how it is known", default="")


@dataclass(frozen=True, kw_only=True)
class SearchArea(Feature):
    """Where a pad and bed could go."""


@dataclass(frozen=True, kw_only=True)
class Candidate(Feature):
    """A site for pad and bed that somebody has already in mind."""

    depth_to_water_m: float | None = _listed(
        "from the ground down to the water in winter, by a trial pit [m]",
        default=None,
        at_least=0.0,
    )


@dataclass(frozen=True, kw_only=True)
class Access(Feature):
    """A way in, or a supply that a site needs."""

    kind: str = _listed(
        "which",
        choices=("track", "gate", "door", "water", "power", "pesticide_store"),
    )
    width_m: float | None = _listed(
        "clear width of a gate or door [m]", default=None, at_least=0.0
    )


@dataclass(frozen=True, kw_only=True)
class SpotLevel(Feature):
    """A surveyed height, which counts for more than the grid."""

    level_m: float = _listed("height in the grid's datum [m]")
    accuracy_m: float | None = _listed("standard error [m]", default=None, at_least=0.0)


@dataclass(frozen=True, kw_only=True)
class Observation(Feature):
    """What somebody saw on the ground; it outweighs what the grid suggests."""

    kind: str = _listed(
        "what was seen",
        choices=(
            "flow_seen",
            "ponding_seen",
            "dye_arrived",
            "dye_absent",
            "outfall_seen",
        ),
    )
    date: str = _listed("when", default="")
    by: str = _listed("by whom", default="")
    from_id: str | None = _listed(
        "source or inlet that the dye was poured into", default=None
    )


@dataclass(frozen=True)
class Layer:
    """How one layer is stored."""

    feature: type[Feature]
    geometries: tuple[str, ...]
    required: tuple[str, ...]
    about: str


LAYERS: Final[Mapping[str, Layer]] = {
    "sources": Layer(
        Source, ("Point", "Polygon"), ("id", "kind"), "where a spill can begin"
    ),
    "watercourses": Layer(
        Watercourse, ("LineString", "Polygon"), ("id",), "receiving water"
    ),
    "water_supplies": Layer(
        WaterSupply, ("Point",), ("id", "kind"), "wells, boreholes, springs"
    ),
    "buildings": Layer(Building, ("Polygon",), (), "buildings"),
    "barriers": Layer(
        Barrier, ("LineString",), ("id", "kind", "height_m"), "walls, kerbs, banks"
    ),
    "inlets": Layer(
        Inlet, ("Point", "LineString"), ("id", "drains_to"), "gullies and drains"
    ),
    "pipes": Layer(Pipe, ("LineString",), ("id",), "pipes, culverts, land drains"),
    "tanks": Layer(Tank, ("Point", "Polygon"), ("id", "capacity_l"), "tanks, sumps"),
    "surfaces": Layer(Surface, ("Polygon",), ("kind",), "cover of the ground"),
    "exclusions": Layer(Exclusion, ("Polygon",), ("kind",), "ground that is barred"),
    "search_area": Layer(SearchArea, ("Polygon",), (), "where a pad could go"),
    "candidates": Layer(
        Candidate, ("Point", "Polygon"), ("id",), "sites already in mind"
    ),
    "access": Layer(
        Access, ("Point", "LineString"), ("kind",), "gates, doors, supplies"
    ),
    "spot_levels": Layer(SpotLevel, ("Point",), ("level_m",), "surveyed heights"),
    "observations": Layer(
        Observation, ("Point", "LineString"), ("kind",), "what was seen on the ground"
    ),
}

#: Regional words and what they are called here, by layer and field.
REGIONAL_WORDS: Final[Mapping[tuple[str, str], Mapping[str, str]]] = {
    ("watercourses", "kind"): {
        "beck": "stream",
        "bourne": "stream",
        "brook": "stream",
        "burn": "stream",
        "creek": "stream",
        "winterbourne": "stream",
        "dike": "ditch",
        "drain": "ditch",
        "dyke": "ditch",
        "reen": "ditch",
        "rhyne": "ditch",
        "sheugh": "ditch",
        "sike": "ditch",
        "loch": "lake",
        "lough": "lake",
        "mere": "lake",
        "tarn": "lake",
        "dewpond": "pond",
        "marsh": "wetland",
        "fen": "wetland",
        "sea": "coast",
    },
    ("barriers", "kind"): {
        "curb": "kerb",
        "kerbstone": "kerb",
        "berm": "bund",
        "dike": "bund",
        "speed_hump": "drive_over_bund",
        "rollover": "drive_over_bund",
        "hedgebank": "hedge_bank",
        "clawdd": "hedge_bank",
    },
    ("inlets", "kind"): {
        "catch_basin": "gully",
        "drain": "gully",
        "grate": "gully",
        "gulley": "gully",
        "aco": "channel_drain",
        "slot_drain": "channel_drain",
        "trench_drain": "channel_drain",
        "inspection_chamber": "manhole",
        "downspout": "downpipe",
        "rainwater_pipe": "downpipe",
    },
    ("pipes", "kind"): {
        "field_drain": "land_drain",
        "tile": "land_drain",
        "tile_drain": "land_drain",
        "mole_drain": "land_drain",
        "sewer": "pipe",
    },
    ("surfaces", "kind"): {
        "blacktop": "asphalt",
        "tarmac": "asphalt",
        "bitumen": "asphalt",
        "cement": "concrete",
        "gravel": "loose_gravel",
        "stone": "hardcore",
        "lawn": "short_grass",
        "pasture": "dense_grass",
        "crop": "arable",
        "trees": "woodland",
    },
    ("sources", "kind"): {
        "fill_point": "filling_point",
        "sprayer_filling": "filling_point",
        "wash_down": "washdown",
        "chemical_store": "pesticide_store",
        "spray_store": "pesticide_store",
        "diesel_tank": "fuel_store",
        "manure_heap": "midden",
        "slurry_lagoon": "slurry_store",
    },
    ("buildings", "kind"): {
        "barn": "closed",
        "shed": "closed",
        "dutch_barn": "open_sided",
        "open": "open_sided",
    },
    ("water_supplies", "kind"): {"bore": "borehole", "waterhole": "spring"},
}


def fields_of(layer: str) -> tuple[dataclasses.Field[Any], ...]:
    """Return the fields of a layer, the geometry left out.

    Examples
    --------
    >>> [one.name for one in fields_of("barriers")]
    ['id', 'name', 'kind', 'height_m']
    """
    return tuple(
        one
        for one in dataclasses.fields(LAYERS[layer].feature)
        if one.name != "geometry"
    )


@dataclass(frozen=True, kw_only=True)
class Features:
    """All that is drawn of one farm, in the grid's coordinates.

    `drawn` names the layers that the farm folder holds, so that a result can say which
    were absent: an empty layer was looked at, an absent one was not.

    Parameters
    ----------
    sources, watercourses, water_supplies : tuple
        Where a spill can begin, and what it must not reach.
    buildings, barriers : tuple
        What turns water aside.
    inlets, pipes, tanks : tuple
        What takes it underground.
    surfaces, exclusions, search_area, candidates : tuple
        The ground and what it may be used for.
    access, spot_levels, observations : tuple
        Ways in and supplies; what was measured and seen.
    drawn : frozenset of str
        Names of the layers that the farm folder holds.
    """

    sources: tuple[Source, ...] = ()
    watercourses: tuple[Watercourse, ...] = ()
    water_supplies: tuple[WaterSupply, ...] = ()
    buildings: tuple[Building, ...] = ()
    barriers: tuple[Barrier, ...] = ()
    inlets: tuple[Inlet, ...] = ()
    pipes: tuple[Pipe, ...] = ()
    tanks: tuple[Tank, ...] = ()
    surfaces: tuple[Surface, ...] = ()
    exclusions: tuple[Exclusion, ...] = ()
    search_area: tuple[SearchArea, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    access: tuple[Access, ...] = ()
    spot_levels: tuple[SpotLevel, ...] = ()
    observations: tuple[Observation, ...] = ()
    drawn: frozenset[str] = frozenset()

    def title_of(self, id_: str) -> str:
        """Return what water, a drain or a tank is called: its kind and its name.

        Parameters
        ----------
        id_ : str
            Its id.

        Returns
        -------
        str
            The id itself where nothing bears it.
        """
        for layer in (self.watercourses, self.inlets, self.pipes, self.tanks):
            for one in layer:
                if id_ and one.id == id_:
                    kind = getattr(one, "kind", "tank").replace("_", " ")
                    named = kind.lower() in one.title.lower()
                    return one.title if named else f"{kind} {one.title}"
        return id_

    @cached_property
    def closed_buildings(self) -> Geometry:
        """Ground plan of all closed buildings together."""
        return union_all(
            [one.geometry for one in self.buildings if one.kind == "closed"]
        )
