"""What the pages call a thing that was drawn."""

from __future__ import annotations

from collections.abc import Iterable

from pathways.features import Feature, Features
from pathways.pages import words
from pathways.terrain.pathway import Alternative, Pathway

RECEPTORS = (
    "watercourses",
    "water_supplies",
    "tanks",
    "inlets",
    "pipes",
    "barriers",
)
DRAINS = ("inlets", "pipes", "tanks")


def called(feature: Feature, kind: str) -> str:
    """Return what a feature is called in a sentence: its kind and its name.

    Examples
    --------
    >>> from shapely import Point
    >>> from pathways.features import Inlet
    >>> called(Inlet(geometry=Point(0, 0), id="G2", drains_to="unknown"), "gully")
    'gully G2'
    """
    title = words.shown(feature.title)
    if not title:
        return kind
    return title if kind.lower() in title.lower() else f"{kind} {title}"


def find_feature(features: Features, id_: str, layers: Iterable[str]) -> Feature | None:
    """Return the first feature with an id in some layers, or None."""
    return next(
        (
            one
            for layer in layers
            for one in getattr(features, layer)
            if id_ and one.id == id_
        ),
        None,
    )


def thing(features: Features, id_: str, *, layers: Iterable[str]) -> str:
    """Return what an id is called in a sentence; the bare id where nothing has it."""
    feature = find_feature(features, id_, layers)
    if feature is None:
        return words.shown(id_)
    kind = words.plain(getattr(feature, "kind", type(feature).__name__.lower()))
    name = called(feature, kind)
    water = type(feature).__name__ == "Watercourse"
    return f"the {name}" if water and name.startswith(kind) else name


def receptor_name(way: Pathway | Alternative, features: Features) -> str:
    """Return what a way ends in, such as "the stream Holt Brook"; may be empty."""
    if not way.receptor_id:
        return words.plain(way.receptor_kind)
    name = thing(features, way.receptor_id, layers=RECEPTORS)
    known = find_feature(features, way.receptor_id, RECEPTORS) is not None
    if known or not way.receptor_kind:
        return name
    return f"{words.plain(way.receptor_kind)} {name}"


def way_title(pathway: Pathway) -> str:
    """Return what a way is called: its source and, where told, the start there."""
    name = words.shown(pathway.source_name)
    kind = words.capital(words.plain(pathway.source_kind))
    title = name or f"{kind} {words.shown(pathway.source_id)}"
    start = words.STARTS[pathway.start_kind]
    return f"{title}, {start}" if start else title


def verdict_of(pathway: Pathway | Alternative, features: Features) -> str:
    """Return where a way ends, in words that are the same on the whole page."""
    if pathway.outcome == "not_known":
        why = pathway.why if isinstance(pathway, Pathway) else pathway.end_why
        return words.not_known(why)
    if pathway.outcome == "contained" and pathway.receptor_id:
        return f"Held by {receptor_name(pathway, features)} while it is maintained"
    return words.OUTCOMES[pathway.outcome]
