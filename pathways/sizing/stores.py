"""What the bunds of stores hold, by the rules that apply there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from pathways.features import Source
from pathways.sizing.brief import Brief
from pathways.sizing.figure import Chapter, Figure

_STORES: Final[Mapping[str, str]] = {
    "pesticide_store": "pesticide_store",
    "fuel_store": "fuel_store",
}


def stores_of(brief: Brief, sources: Iterable[Source]) -> Chapter | None:
    """Return what the bund of each drawn store is to hold.

    Parameters
    ----------
    brief : Brief
        Whose rulebook applies.
    sources : iterable of Source
        Stores of pesticide and of fuel; a stated volume is taken as what is stored, in
        one container.

    Returns
    -------
    Chapter or None
        None where none is drawn.
    """
    figures, says = [], []
    for source in sources:
        row = brief.containment_of(_STORES.get(source.kind, ""))
        if source.kind not in _STORES:
            continue
        what = f"bund of {source.title or source.kind.replace('_', ' ')}"
        if row is None or source.volume_l is None:
            how = (
                "no rule was read"
                if row is None
                else "volume_l of this source is not given"
            )
            figures.append(Figure(what=what, value=None, unit="l", how=how))
            continue
        held = row.held(has_roof=False)  # the greater: nobody said that it is roofed
        volume_l, clause = held.volume_l(source.volume_l, source.volume_l, 0.0)
        figures.append(
            Figure(
                what=what,
                value=volume_l,
                unit="l",
                how=f"{clause}: {source.volume_l:,.0f} l stored",
                standing=row.standing,
                source=f"{row.id}, {row.citation.text}",
            )
        )
        rule = f"{row.says} [{row.citation.text}; {row.standing.replace('_', ' ')}]."
        says.append(f"{rule} {row.note}".strip())
    if not figures:
        return None
    return Chapter(
        title="Stores", figures=tuple(figures), says=tuple(dict.fromkeys(says))
    )
