"""What stands at the foot of a page: warnings, assumptions, ways without building."""

from __future__ import annotations

from pathways.assumptions import Assumption
from pathways.errors import Notice
from pathways.pages import words
from pathways.siting.without_building import WayWithout


def notice_told(notice: Notice) -> str:
    """Say a warning, and where it belongs."""
    text = words.plain(notice.text)
    return f"{words.shown(notice.where)}: {text}" if notice.where else text


def without_told(one: WayWithout) -> str:
    """Say a way without building, what it needs and where that is from."""
    standing = words.plain(one.standing, words.STANDINGS)
    found = "; ".join(words.plain(found) for found in one.on_this_farm)
    on_this_farm = f" On this farm: {found}." if found else ""
    return (
        f"{one.title}. {one.says} It needs: {'; '.join(one.needs)}. "
        f"({standing}; {one.source}){on_this_farm}"
    )


def assumption_told(one: Assumption) -> str:
    """Say a number that was used, its standing and its source."""
    value = f"{one.value:,g}" if isinstance(one.value, float | int) else one.value
    standing = words.plain(one.standing, words.STANDINGS)
    source = f"; {words.shown(one.source)}" if one.source else ""
    says = f"{words.plain(one.what)}: {words.shown(value)} {words.shown(one.unit)}"
    return f"{words.capital(says.rstrip())} ({standing}{source})"
