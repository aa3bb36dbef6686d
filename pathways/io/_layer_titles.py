"""What the layers of results are called, and what they hold, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from pathways.assessment import CAUTIONS

#: What each layer is called where its contents are listed.
TITLES: Final[Mapping[str, str]] = {
    "pathways": "Where a spill runs",
    "pathway_legs": "Where a spill runs, stretch by stretch",
    "alternatives": "Other ways it may take",
    "sites": "Sites for a pad and bed",
    "site_layouts": "Pad and bed, laid out",
    "site_scores": "What sites were compared by",
    "reach": "How sure the ways are",
    "spills": "What a spill does",
    "setbacks": "Ground within the distances of rules",
    "hollows": "Hollows that fill first",
    "sources": "Where a spill can begin",
    "source_areas": "Where a spill can begin, drawn as areas",
    "ends": "Where the ways end",
}

#: What each layer holds.
_DESCRIPTIONS: Final[Mapping[str, str]] = {
    "pathways": "The way of each source's liquid, from its start to its end",
    "pathway_legs": "The same ways by leg: over the ground, through a pipe, as seen",
    "alternatives": "Other ways that the same liquid may take, and why",
    "sites": "Sites for pad and bed in order, with the rules that they do not meet",
    "site_layouts": "Pads and beds as they were laid out on the sites",
    "site_scores": "What each site was compared by, a row for each criterion",
    "reach": "Ground that at least a share of the versions of the ground passes",
    "spills": "What each loss does on its way, in four states of the ground",
    "setbacks": "Areas within the distances of the rules",
    "hollows": "Hollows on the way, which fill before liquid goes on",
    "sources": "Where a spill can begin, with the worst outcome of its pathways",
    "source_areas": "Sources that were drawn as areas, with their worst outcome",
    "ends": "Where each pathway ends",
}


def described(layer: str) -> str:
    """Return what a desktop GIS shows about a layer: what it holds, and the cautions.

    Parameters
    ----------
    layer : str
        Its name.

    Returns
    -------
    str
        Sentences.

    Examples
    --------
    >>> described("ends").split(". ")[0]
    'Where each pathway ends'
    """
    return ". ".join((_DESCRIPTIONS[layer], " ".join(CAUTIONS)))
