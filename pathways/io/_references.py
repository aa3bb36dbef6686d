"""What features say of one another: ids that must be unique and must exist."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Final

from pathways.features import LAYERS, Feature, Inlet, Observation, Source
from pathways.io._findings import Findings, did_you_mean, folded

#: Where an inlet can lead, besides the id of a pipe, tank or watercourse.
NO_OUTLET_DRAWN: Final = ("unknown", "soakaway", "capped")
_OUTLET_LAYERS: Final = ("pipes", "tanks", "watercourses")

#: Features by layer, as they were read.
Drawn = dict[str, list[Any]]
#: For features drawn in several parts: the id as drawn, and the ids of its parts.
Parts = Mapping[str, tuple[str, ...]]


def singular(layer: str) -> str:
    """Return what one feature of a layer is called, for ids that were not given.

    Examples
    --------
    >>> singular("search_area")
    'search_area'
    >>> singular("spot_levels")
    'spot_level'
    """
    name = LAYERS[layer].feature.__name__
    return "".join(f"_{one}" if one.isupper() else one for one in name).lower()[1:]


def name_nameless(layer: str, features: list[Feature]) -> list[Feature]:
    """Return the features with an id for each that was given none."""
    taken = {one.id for one in features}
    named = []
    number = 0
    for one in features:
        if one.id:
            named.append(one)
            continue
        number += 1
        while f"{singular(layer)}-{number}" in taken:
            number += 1
        named.append(replace(one, id=f"{singular(layer)}-{number}"))
    return named


def check_ids(drawn: Drawn, file_name: str, findings: Findings) -> None:
    """Refuse ids that mean two things."""
    for layer, features in drawn.items():
        for name, count in Counter(one.id for one in features).items():
            if count > 1:
                text = (
                    f"the id '{name}' is used {count} times in the layer; give each "
                    "feature its own"
                )
                findings.error("id_twice", text, file_name, layer, name)
    _check_inlets(drawn, file_name, findings)
    outlets = Counter(
        name for layer in _OUTLET_LAYERS for name in {one.id for one in drawn[layer]}
    )
    for name, count in outlets.items():
        layers = [
            layer
            for layer in _OUTLET_LAYERS
            if name in {one.id for one in drawn[layer]}
        ]
        if count > 1:
            text = (
                f"the id '{name}' is used in {' and '.join(layers)}, so an inlet that "
                "drains to it could mean either; rename one"
            )
            findings.error("id_ambiguous", text, file_name, layers[0], name)
        if folded(name) in NO_OUTLET_DRAWN:
            text = f"the id '{name}' has a meaning of its own in drains_to; rename it"
            findings.error("id_ambiguous", text, file_name, layers[0], name)


def _check_inlets(drawn: Drawn, file_name: str, findings: Findings) -> None:
    """Refuse an inlet that shares its id with something that drains lead to.

    A way names inlets, pipes and tanks by their ids alone.
    """
    inlets = {one.id for one in drawn["inlets"]}
    for layer in _OUTLET_LAYERS:
        for name in sorted(inlets & {one.id for one in drawn[layer]}):
            text = (
                f"the id '{name}' is used in inlets and {layer}, so a way that goes "
                "through it could mean either; rename one"
            )
            findings.error("id_ambiguous", text, file_name, "inlets", name)


def settle_references(
    drawn: Drawn, parts: Parts, file_name: str, findings: Findings
) -> Drawn:
    """Return the features with references that hold, and refuse those that do not.

    `parts` holds also the ids of features that were refused, with no parts, so that one
    fault is not told twice.
    """
    settled = dict(drawn)
    settled["inlets"] = [
        _settle_inlet(one, drawn, parts, findings, file_name) for one in drawn["inlets"]
    ]
    doors = [*(one.id for one in drawn["access"]), *_refused(parts)]
    for source in drawn["sources"]:
        _check_door(source, doors, findings, file_name)
    origins = [one.id for layer in ("sources", "inlets") for one in drawn[layer]]
    origins += _refused(parts)
    for seen in drawn["observations"]:
        _check_origin(seen, origins, findings, file_name)
    return settled


def _settle_inlet(
    inlet: Inlet, drawn: Drawn, parts: Parts, findings: Findings, file_name: str
) -> Inlet:
    """Return an inlet whose `drains_to` is one of the words or an id that exists."""
    to = inlet.drains_to
    outlets = {one.id: one for layer in _OUTLET_LAYERS for one in drawn[layer]}
    if to in outlets:
        return inlet
    if to in parts:
        if not parts[to]:
            return inlet
        nearest = min(
            parts[to], key=lambda part: outlets[part].geometry.distance(inlet.geometry)
        )
        return replace(inlet, drains_to=nearest)
    if folded(to) in NO_OUTLET_DRAWN:
        return replace(inlet, drains_to=folded(to))
    text = (
        f"'drains_to' is '{to[:80]}', which is no pipe, tank or watercourse and none "
        f"of {', '.join(NO_OUTLET_DRAWN)}"
        f"{_hint(to, (*outlets, *parts, *NO_OUTLET_DRAWN))}"
    )
    findings.error("reference_unknown", text, file_name, "inlets", inlet.id)
    return inlet


def _check_door(
    source: Source, doors: list[str], findings: Findings, file_name: str
) -> None:
    """Refuse a door that is not drawn."""
    if source.door is not None and source.door not in doors:
        text = (
            f"'door' is '{source.door[:80]}', which is no id in the layer access"
            f"{_hint(source.door, doors)}"
        )
        findings.error("reference_unknown", text, file_name, "sources", source.id)


def _check_origin(
    seen: Observation, origins: list[str], findings: Findings, file_name: str
) -> None:
    """Refuse an observation of dye from nowhere."""
    if seen.from_id is not None and seen.from_id not in origins:
        text = (
            f"'from_id' is '{seen.from_id[:80]}', which is no source and no inlet"
            f"{_hint(seen.from_id, origins)}"
        )
        findings.error("reference_unknown", text, file_name, "observations", seen.id)


def _refused(parts: Parts) -> list[str]:
    """Return the ids of features that were refused."""
    return [name for name, of_it in parts.items() if not of_it]


def _hint(word: str, listed: Iterable[str]) -> str:
    """Return the likely word, or what to do where there is none."""
    return did_you_mean(word, listed) or "; correct it or draw what it names"
