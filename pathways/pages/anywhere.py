"""What the map page needs to tell the way of a spill from wherever it is tapped.

The page walks through the arrays of `pathways.terrain.network` and puts together
sentences that are written here; it works out neither amounts nor times.
"""

from __future__ import annotations

import base64
import zlib
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pathways.assessment import Assessment
from pathways.features import Feature, Features
from pathways.grid import Grid
from pathways.pages import amounts, palette, tap_words, words
from pathways.pages.contours import contour_values
from pathways.pages.naming import called, receptor_name, thing, verdict_of
from pathways.pages.places import Places
from pathways.pages.placing import placing
from pathways.terrain.network import CLOSED, Beside, Ending, Network, Onwards
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
        "pools": [
            tap_words.ANYWHERE["pool"].format(
                volume=amounts.litres(one.capacity_l), deep=amounts.deep(one.depth_m)
            )
            for one in network.pools
        ],
        "groups": network.groups,
        "beside": [tell.beside(one) for one in network.beside],
        "openings": [
            tell.opening(number, one) for number, one in enumerate(network.openings)
        ],
        "seen": [
            tell.seen(beside, onwards)
            for beside, onwards in zip(
                (one for one in network.beside if one.kind == "flow_seen"),
                network.seen,
                strict=True,
            )
        ],
        "says": dict(tap_words.ANYWHERE),
        "whys": {
            why: f"Not known: {words.plain(why, words.WHY)}"
            for why in ("ground_too_flat", "drains_in_a_circle", "shut_in")
        },
    }


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
        says = words.OUTCOMES[outcome]
        if why:
            says = f"Not known: {words.plain(why, words.WHY)}"
        return {"outcome": outcome, "verdict": says, "receptor": name}

    def opening(self, number: int, onwards: Onwards) -> Values:
        """Return what an opening leads to."""
        name = self._opening_name(number)
        return {
            "enters": tap_words.ANYWHERE["enters"].format(what=name),
            **self._onwards(onwards),
        }

    def seen(self, beside: Beside, onwards: Onwards) -> Values:
        """Return what follows where water was seen to run."""
        one = self.features.observations[beside.index]
        given = words.shown(one.date) if one.date else tap_words.ANYWHERE["no_date"]
        return {
            "enters": tap_words.ANYWHERE["seen"].format(date=given),
            "beside": self.network.beside.index(beside),
            **self._onwards(onwards),
        }

    def _onwards(self, onwards: Onwards) -> Values:
        way = onwards.way
        told: Values = {
            "legs": [self._leg(one) for one in way.legs if one.line.length > 0],
            "cell": onwards.cell,
            "cautions": [words.plain(one) for one in way.cautions],
        }
        if onwards.cell is not None:
            return told
        return told | self._way_ended(way)

    def _way_ended(self, way: Way) -> Values:
        ended = as_alternative(way)
        return {
            "outcome": way.outcome,
            "verdict": verdict_of(ended, self.features),
            "receptor": receptor_name(ended, self.features),
        }

    def _leg(self, leg: Leg) -> Values:
        length = amounts.metres(leg.line.length)
        layers = ("pipes", "observations")
        name = thing(self.features, leg.through, layers=layers) or "a pipe"
        says = tap_words.ANYWHERE[f"leg_{leg.kind}"]
        return {
            "kind": leg.kind,
            "length_m": round(leg.line.length, 3),
            "says": says.format(length=length, what=name),
            "line": [self.places.point(*place[:2]) for place in leg.line.coords],
        }

    def beside(self, beside: Beside) -> Values:
        """Return the sentence on something that lies beside a way."""
        told: Values = {"kind": beside.kind, "index": beside.index, "outcome": None}
        says = tap_words.ANYWHERE.get(f"beside_{beside.kind}", "")
        then = ""
        if beside.way is not None:
            told["outcome"] = beside.way.outcome
            ended = self._way_ended(beside.way)
            then = ended["verdict"]
            if ended["receptor"] and beside.way.outcome != "contained":
                then += f" ({ended['receptor']})"
        if beside.kind in ("water", "well_head"):
            reaches = {"water": "reaches_water", "well_head": "enters_ground"}
            told["outcome"] = reaches[beside.kind]
        return told | {
            "says": words.capital(says.format(what=self._name(beside), then=then))
        }

    def _name(self, beside: Beside) -> str:
        if beside.kind == "opening":
            return self._opening_name(beside.index)
        layer = {
            "land_drain": self.features.pipes,
            "barrier": self.features.barriers,
            "kerb": self.features.barriers,
            "well_head": self.features.water_supplies,
            "water": self.features.watercourses,
            "flow_seen": self.features.observations,
        }[beside.kind]
        return _named(layer[beside.index])

    def _opening_name(self, number: int) -> str:
        name = self.network.opening_ids[number]
        return thing(self.features, name, layers=("inlets", "pipes"))


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
