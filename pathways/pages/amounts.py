"""How the pages say numbers: lengths, volumes, times, shares."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

from pathways.grid import Grid
from pathways.pages import tap_words
from pathways.terrain.shares import Share

#: Numbers of a design from here on are told whole.
_WHOLE_FROM: Final = 100
#: Between a number and its unit, so that no line breaks there.
_NO_BREAK: Final = "\u00a0"
#: The same in distances of rules, which the map's switch of units leaves as they are:
#: rounded to feet they could become shorter than the law asks.
_NO_BREAK_IN_RULES: Final = "\u202f"
#: Falls of less than this are not told as falls [m] (judgement: heights are no better).
HARDLY_FALLS_M: Final = 0.05


def metres(length_m: float) -> str:
    r"""Say a length.

    Examples
    --------
    >>> metres(57.6), metres(3.14159), metres(0.0)
    ('58\xa0m', '3.1\xa0m', '0\xa0m')
    """
    whole_from_m = 9.95
    if length_m >= whole_from_m:
        return f"{length_m:,.0f}{_NO_BREAK}m"
    return f"{length_m:.1f}".removesuffix(".0") + f"{_NO_BREAK}m"


def metres_there(length_m: float) -> str:
    r"""Say a distance that must be long enough: never rounded up to what is needed.

    Examples
    --------
    >>> metres_there(9.96)
    '9.9\u202fm'
    """
    tenths = math.floor(round(length_m * 10, 6))
    return f"{tenths / 10:,.1f}".removesuffix(".0") + f"{_NO_BREAK_IN_RULES}m"


def with_plain_spaces(told: str) -> str:
    r"""Return a text without the spaces that bind numbers to their units.

    Examples
    --------
    >>> with_plain_spaces(metres_needed(10.0))
    '10 m'
    """
    return told.replace(_NO_BREAK, " ").replace(_NO_BREAK_IN_RULES, " ")


def metres_needed(length_m: float) -> str:
    """Say a distance that is needed, with all the digits that it was given with."""
    return f"{length_m:,g}{_NO_BREAK_IN_RULES}m"


def deep(depth_m: float) -> str:
    r"""Say a depth of water.

    Examples
    --------
    >>> deep(0.062), deep(1.25), deep(0.002)
    ('6\xa0cm deep', '1.2\xa0m deep', 'less than 1\xa0cm deep')
    """
    if depth_m < 0.01:  # noqa: PLR2004 - a centimetre
        return f"less than 1{_NO_BREAK}cm deep"
    if depth_m < 1.0:
        return f"{depth_m * 100:.0f}{_NO_BREAK}cm deep"
    return f"{metres(depth_m)} deep"


def falls(grid: Grid, here: tuple[float, float], there: tuple[float, float]) -> str:
    """Say how far the ground falls from one place to another.

    Parameters
    ----------
    grid : Grid
        Heights as measured.
    here, there : tuple of (float, float)
        Easting and northing [m].

    Returns
    -------
    str
        Heights a few centimetres apart are no fall that a survey bears out.
    """
    cells = [grid.cell_at(*one) for one in (here, there)]
    heights_m = [
        math.nan if one is None else float(grid.heights_m[one]) for one in cells
    ]
    drop_m = heights_m[0] - heights_m[1]
    if math.isnan(drop_m):
        return tap_words.ANYWHERE["no_drop"]
    if drop_m < HARDLY_FALLS_M:
        return tap_words.ANYWHERE["level"]
    return tap_words.ANYWHERE["falls"].format(drop=metres(drop_m))


def litres(volume_l: float) -> str:
    r"""Say a volume to two figures, as heights that are centimetres out allow.

    Examples
    --------
    >>> litres(243.7), litres(18_312), litres(0.4)
    ('240\xa0l', '18,000\xa0l', 'less than 1\xa0l')
    """
    if volume_l < 1:
        return f"less than 1{_NO_BREAK}l"
    digits = max(0, math.floor(math.log10(volume_l)) - 1)
    return f"{round(volume_l, -digits):,.0f}{_NO_BREAK}l"


def volume(volume_l: float) -> str:
    r"""Say a volume to two figures, small ones in millilitres.

    Examples
    --------
    >>> volume(0.05), volume(9.96), volume(2_973.5), volume(0.0)
    ('50\xa0ml', '10\xa0l', '3,000\xa0l', '0\xa0l')
    """
    return _volume(volume_l, round)


def volume_at_most(volume_l: float, *, down: bool = False) -> str:
    r"""Say a volume that is not to be understated, or not to be overstated.

    Examples
    --------
    >>> volume_at_most(2_912.0), volume_at_most(2_982.0, down=True)
    ('3,000\xa0l', '2,900\xa0l')
    """
    return _volume(volume_l, math.floor if down else math.ceil)


def _volume(volume_l: float, whole: Callable[[float], int]) -> str:
    if not volume_l > 0:
        return f"0{_NO_BREAK}l"
    unit, amount = ("l", volume_l) if volume_l >= 1 else ("ml", 1000 * volume_l)
    step = 10.0 ** (math.floor(math.log10(amount)) - 1)
    # A step too much by the last bit is no step.
    rounded = whole(round(amount / step, 9)) * step
    return f"{rounded:,.10g}{_NO_BREAK}{unit}".replace(",.", ".")


def area(area_m2: float) -> str:
    r"""Say an area to two figures.

    Examples
    --------
    >>> area(959.0), area(6.0)
    ('960\xa0m²', '6\xa0m²')
    """
    if not area_m2 > 0:
        return f"0{_NO_BREAK}m²"
    digits = 1 - math.floor(math.log10(area_m2))
    return f"{round(area_m2, digits):,.10g}{_NO_BREAK}m²"


def cubic_metres(volume_m3: float) -> str:
    r"""Say a volume of ground.

    Examples
    --------
    >>> cubic_metres(12.4), cubic_metres(0.3)
    ('about 12\xa0m³', 'less than 1\xa0m³')
    """
    if volume_m3 < 1:
        return f"less than 1{_NO_BREAK}m³"
    return f"about {volume_m3:,.0f}{_NO_BREAK}m³"


def fall(slope: float) -> str:
    """Say a slope as builders do.

    Examples
    --------
    >>> fall(0.04)
    '1 in 25'
    """
    return f"1 in {1 / slope:,.0f}"


def in_as_little_as(time_s: float) -> str:
    r"""Say the least time that something takes, rounded down.

    Examples
    --------
    >>> in_as_little_as(30.0), in_as_little_as(95.0)
    ('in less than a minute', 'in as little as 1\xa0minute')
    >>> in_as_little_as(400.0)
    'in as little as 6\xa0minutes'
    """
    whole = int(time_s // 60)
    if whole < 1:
        return "in less than a minute"
    return f"in as little as {whole}{_NO_BREAK}minute{'s' if whole > 1 else ''}"


def versions(share: Share) -> str:
    """Say in how many versions of the ground something happens.

    Examples
    --------
    >>> from pathways.terrain.shares import share_of
    >>> versions(share_of(87, 100))
    'In 87 of 100 versions (79 to 92)'
    >>> versions(share_of(0, 400))
    'In fewer than 1.0 % of the versions'
    """
    says = share_in_words(share)
    if says.endswith("%"):
        return f"In {says} of the versions"
    of_hundred, interval = says.split(" (")
    return f"In {of_hundred} versions ({interval}"


def share_in_words(share: Share) -> str:
    """Say a share within a sentence, without signs.

    Examples
    --------
    >>> from pathways.terrain.shares import share_of
    >>> share_in_words(share_of(400, 400))
    'more than 99.0 %'
    """
    return share.says.replace("< ", "fewer than ").replace("> ", "more than ")


def first_of_a_hundred(rank_acceptability: Sequence[float]) -> str:
    """Say in how many of a hundred draws a site is first; it may not compete at all.

    Examples
    --------
    >>> first_of_a_hundred((0.344, 0.656)), first_of_a_hundred(())
    ('34 of 100', 'none')
    """
    if not rank_acceptability:
        return "none"
    return f"{100 * rank_acceptability[0]:.0f} of 100"


def figure(value: float | None, unit: str) -> str:
    """Say a number of a design: as many digits as it deserves.

    Examples
    --------
    >>> figure(5573.468, "l"), figure(0.2470, "m"), figure(12.8125, "m³")
    ('5,573 l', '0.247 m', '12.8 m³')
    >>> figure(41.0, "m²"), figure(0.01, "m/m"), figure(None, "m")
    ('41 m²', '0.01 m/m', 'not resolved')
    """
    if value is None:
        return "not resolved"
    if abs(value) >= _WHOLE_FROM:
        said = f"{value:,.0f}"
    elif abs(value) >= 1:
        said = f"{value:.1f}".removesuffix(".0")
    else:
        said = f"{value:.3f}".rstrip("0").rstrip(".")
    return f"{said} {unit}".rstrip()
