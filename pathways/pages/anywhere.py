"""What the map page needs to tell the way of a spill from wherever it is tapped.

The page walks through the arrays of `pathways.terrain.network` and puts together
sentences that Python wrote; it works out neither amounts nor times.
"""

from __future__ import annotations

import base64
import zlib
from collections.abc import Iterable
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from pathways.assessment import Assessment
from pathways.features import Feature, Features
from pathways.grid import Grid
from pathways.pages import amounts, palette, tap_words, words
from pathways.pages.contours import contour_values
from pathways.pages.naming import called, receptor_name, thing, verdict_of
from pathways.pages.places import Places
from pathways.pages.placing import placing
from pathways.pages.posts import legs_told, post_after
from pathways.terrain.hollows import Pool
from pathways.terrain.network import CLOSED, MOST_CELLS, Ending, Network
from pathways.terrain.network_parts import Beside, Onwards, Past, Seen
from pathways.terrain.pathway import OUTCOMES, Alternative, Leg
from pathways.terrain.way import Way

Values = dict[str, Any]

#: Heights are carried in steps of this size [m]: surveys are no better than that.
HEIGHT_STEP_M: Final = 0.02
#: A height that is not known.
_NO_HEIGHT: Final = 0xFFFF


def ground_values(assessment: Assessment, places: Places) -> Values | None:
    """Return the ground as the page's script walks through it.

    Parameters
    ----------
    assessment : Assessment
        With a network; without one there is nothing to walk through.
    places : Places
        Of its grid.

    Returns
    -------
    dict or None
        Arrays (deflated, base64), sentences, and how cells are placed on the map.

    Raises
    ------
    OutputError
        If the cells cannot be placed on a web map to a millimetre.
    """
    network = assessment.network
    if network is None:
        return None
    features, grid = assessment.farm.features, network.grid
    heights, lowest_m = _heights(grid)
    tell = _Teller(network, features, places)
    return {
        "rows": grid.rows,
        "columns": grid.columns,
        "cell_m": grid.cell_size_m,
        "closed": CLOSED,
        "no_height": _NO_HEIGHT,
        "lowest_m": lowest_m,
        "height_step_m": HEIGHT_STEP_M,
        "along_m": network.along_m,
        "hardly_falls_m": amounts.HARDLY_FALLS_M,
        "round_m": assessment.farm.settings.ground.position_error_m + grid.cell_size_m,
        "arrays": {
            "steps": _packed(network.steps),
            "falls": _packed(network.falls),
            "cover_at": _packed(network.covers),
            "ends_at": _packed(network.ends_at),
            "pool_at": _packed(network.pools_at),
            "beside_at": _packed(network.beside_at),
            "height_at": _packed(heights),
        },
        "placing": placing(grid),
        "contours": contour_values(grid),
        "outcomes": {
            one: {
                "rank": OUTCOMES.index(one),
                "says": words.OUTCOMES[one],
                "style": dict(palette.OUTCOMES[one]),
            }
            for one in OUTCOMES
        },
        "covers": [_cover("unknown"), *map(_cover, network.cover_kinds)],
        "endings": [tell.ending(one) for one in network.endings],
        "pools": _pools(network.pools),
        "groups": network.groups,
        "beside": [tell.beside(one) for one in network.beside],
        "openings": [
            tell.opening(number, one) for number, one in enumerate(network.openings)
        ],
        "seen": [tell.seen(one) for one in network.seen],
        "says": dict(tap_words.ANYWHERE),
        "whys": {
            why: words.not_known(why)
            for why in ("ground_too_flat", "drains_in_a_circle", "shut_in")
        },
    }


def no_ground(assessment: Assessment) -> str:
    """Say why no place can be tapped where the ground is too large, or nothing.

    Parameters
    ----------
    assessment : Assessment
        With or without a network.

    Returns
    -------
    str
        A sentence.
    """
    is_large = assessment.farm.grid.heights_m.size > MOST_CELLS
    return tap_words.ANYWHERE["too_large"] if is_large else ""


class _Teller:
    """Says what a way meets, with the names that things have on this farm."""

    def __init__(self, network: Network, features: Features, places: Places) -> None:
        self.network, self.features, self.places = network, features, places
        self._no_water = not any(one.kind == "water" for one in network.endings)

    def ending(self, ending: Ending) -> Values:
        """Return what becomes of liquid in an ending, and the opening that it is."""
        told: Values = {"kind": ending.kind, "opening": None, "receptor": ""}
        if ending.kind == "opening":
            return told | {"opening": ending.index}
        if ending.kind == "water":
            water = self.features.watercourses[ending.index]
            name = thing(self.features, water.id, layers=("watercourses",))
            return told | self._ended("reaches_water", name=name)
        if ending.kind == "wall":
            wall = self.features.barriers[ending.index]
            return told | self._ended("not_known", why="shut_in", name=_named(wall))
        why = {"edge": "leaves_grid", "no_data": "meets_no_data"}[ending.kind]
        if why == "leaves_grid" and self._no_water:
            why = "no_water_in_grid"
        return told | self._ended("not_known", why=why)

    def _ended(self, outcome: str, *, why: str = "", name: str = "") -> Values:
        says = words.not_known(why) if why else words.OUTCOMES[outcome]
        return {"outcome": outcome, "verdict": says, "receptor": name}

    def opening(self, number: int, onwards: Onwards) -> Values:
        """Return what an opening leads to, and what may become of liquid past it."""
        name = self._opening_name(number)
        enters = tap_words.ANYWHERE["enters"].format(what=name)
        past = [
            {"says": self._past(one, name), "outcome": one.way.outcome}
            for one in onwards.past
        ]
        return self._onwards(onwards, enters) | {"past": past}

    def _past(self, past: Past, name: str) -> str:
        """Say what liquid does where an opening or a wall does not hold."""
        then = self._then(past.way)
        if not past.is_blocked:
            return tap_words.ANYWHERE["over_wall"].format(then=then)
        key = "past_over_wall" if past.over_walls else "past"
        what = name if past.blocked else tap_words.ANYWHERE["every_drain"]
        return tap_words.ANYWHERE[key].format(what=what, then=then)

    def seen(self, seen: Seen) -> Values:
        """Return an observed line and what follows at each place where it ends."""
        one = self.features.observations[seen.index]
        date = words.shown(one.date) if one.date else tap_words.ANYWHERE["no_date"]
        enters = tap_words.ANYWHERE["seen"].format(date=date)
        kinds = [(each.kind, each.index) for each in self.network.beside]
        return {
            "valid": kinds.index(("flow_seen", seen.index)),
            "band": kinds.index(("flow_band", seen.index)),
            "ends": [
                {"along_m": round(along_m, 2), **self._onwards(onwards, enters)}
                for along_m, onwards in seen.ends
            ],
        }

    def _onwards(self, onwards: Onwards, enters: str) -> Values:
        way = onwards.way
        told = legs_told(as_alternative(way), self.features)
        legs = []
        for number, (leg, entered) in enumerate(told):
            says = enters
            if number:
                says = post_after(told[number - 1][0], leg, entered, self.features)
            if leg.line.length > 0:
                legs.append({"enters": says, **self._leg(leg)})
        ground = Leg(kind="surface", line=LineString())
        goes_on = post_after(told[-1][0], ground, "", self.features) if told else ""
        values: Values = {
            "enters": enters,
            "legs": legs,
            "goes_on": goes_on,
            "cell": onwards.cell,
            "cautions": [words.plain(one) for one in way.cautions],
            "beside": [
                [place, round(from_m, 2), None if np.isinf(until_m) else until_m]
                for place, from_m, until_m in onwards.beside
            ],
        }
        if onwards.cell is not None:
            return values
        return values | self._way_ended(way)

    def _way_ended(self, way: Way) -> Values:
        ended = as_alternative(way)
        return {
            "outcome": way.outcome,
            "verdict": verdict_of(ended, self.features),
            "receptor": receptor_name(ended, self.features),
        }

    def _then(self, way: Way) -> str:
        """Say how another way ends."""
        ended = self._way_ended(way)
        if not ended["receptor"] or way.outcome in ("contained", "not_known"):
            return str(ended["verdict"])
        return f"{ended['verdict']} ({ended['receptor']})"

    def _leg(self, leg: Leg) -> Values:
        length = amounts.metres(leg.line.length)
        layers = ("pipes", "observations")
        name = thing(self.features, leg.through, layers=layers) or "a pipe"
        says = tap_words.ANYWHERE[f"leg_{leg.kind}"]
        return {
            "kind": leg.kind,
            "says": says.format(length=length, what=name),
            "line": [self.places.point(*place[:2]) for place in leg.line.coords],
        }

    def beside(self, beside: Beside) -> Values:
        """Return the sentence on something that lies beside a way."""
        told: Values = {"kind": beside.kind, "index": beside.index, "outcome": None}
        says = tap_words.ANYWHERE.get(f"beside_{beside.kind}", "")
        then = ""
        if beside.way is not None:
            told |= self._way_ended(beside.way)
            then = self._then(beside.way)
        if beside.kind in ("water", "well_head"):
            reaches = {"water": "reaches_water", "well_head": "enters_ground"}
            told["outcome"] = reaches[beside.kind]
        what = self._name(beside)
        if beside.kind == "supply":
            use = self.features.water_supplies[beside.index].use
            if use == "unknown":
                says += " " + tap_words.ANYWHERE["use_unknown"]
        if beside.kind == "land_drain":
            told["by"] = tap_words.ANYWHERE["by_drain"].format(what=what)
        return told | {"says": words.capital(says.format(what=what, then=then))}

    def _name(self, beside: Beside) -> str:
        if beside.kind == "opening":
            return self._opening_name(beside.index)
        layer = {
            "land_drain": self.features.pipes,
            "barrier": self.features.barriers,
            "kerb": self.features.barriers,
            "well_head": self.features.water_supplies,
            "supply": self.features.water_supplies,
            "water": self.features.watercourses,
            "flow_seen": self.features.observations,
            "flow_band": self.features.observations,
            "flow_near": self.features.observations,
        }[beside.kind]
        return _named(layer[beside.index])

    def _opening_name(self, number: int) -> str:
        name = self.network.opening_ids[number]
        return thing(self.features, name, layers=("inlets", "pipes"))


def _pools(pools: Iterable[Pool]) -> Values:
    """Return the sentences of hollows by what they hold and how deep they are.

    A survey shows tens of thousands, and few amounts to two figures.
    """
    volumes: dict[str, int] = {}
    depths: dict[str, int] = {}
    told = [
        (
            volumes.setdefault(amounts.litres(one.capacity_l), len(volumes)),
            depths.setdefault(amounts.deep(one.depth_m), len(depths)),
        )
        for one in pools
    ]
    return {"volumes": [*volumes], "depths": [*depths], "of": told}


def as_alternative(way: Way) -> Alternative:
    """Return a way as the pages tell it."""
    return Alternative(
        why=way.why,
        outcome=way.outcome,
        receptor_id=way.receptor_id,
        receptor_kind=way.receptor_kind,
        length_m=way.length_m,
        via=way.via,
        legs=way.legs,
        end_why=way.why,
    )


def _named(feature: Feature) -> str:
    return called(feature, words.plain(getattr(feature, "kind", "")))


def _cover(kind: str) -> Values:
    style = palette.FEATURES.get(("surfaces", kind), palette.FEATURES["surfaces"])
    return {"name": words.plain(kind), "style": dict(style)}


def _packed(values: NDArray[Any]) -> str:
    """Return an array deflated (RFC 1950), in base64; little end first."""
    plain = values.astype(values.dtype.newbyteorder("<"), copy=False)
    return base64.b64encode(zlib.compress(plain.tobytes(), 9)).decode()


def _heights(grid: Grid) -> tuple[NDArray[np.uint16], float]:
    """Return heights as steps above the lowest, each less its western neighbour.

    Differences along rows are small numbers, which deflate well; the script adds them
    up again, modulo 65,536.
    """
    known = np.isfinite(grid.heights_m)
    lowest_m = float(np.floor(np.nanmin(grid.heights_m)))
    steps = np.full(grid.heights_m.shape, _NO_HEIGHT, np.int64)
    above_m = grid.heights_m[known].astype(np.float64) - lowest_m
    # Ground more than a kilometre above its lowest place has no height here.
    steps[known] = np.minimum(np.rint(above_m / HEIGHT_STEP_M), _NO_HEIGHT)
    differences = np.diff(steps, axis=1, prepend=0)
    return (differences % 0x10000).astype(np.uint16), lowest_m
