"""How soon liquid can be at the water: the fast bound only."""

from __future__ import annotations

from collections.abc import Sequence

from pathways.materials import Materials
from pathways.spill.hydraulics import runoff_speed_m_per_s


def storm_pace_s_per_m(
    surfaces: Sequence[tuple[str, float]], slope: float, materials: Materials
) -> float | None:
    """Return how long storm runoff takes for a metre of a way [s/m].

    A fast bound: the covers take their shares of the way at its mean slope, and no way
    of the same length and fall is faster than one of even slope.

    Parameters
    ----------
    surfaces : sequence of (str, float)
        Covers on the way and their lengths [m].
    slope : float
        Fall over the ground by length over the ground [m/m].
    materials : Materials
        Constants of the covers (velocity method, NEH 630 table 15-3).

    Returns
    -------
    float or None
        Pace; None of a way that runs over no ground.
    """
    length_m = sum(part_m for _, part_m in surfaces)
    if not length_m > 0:
        return None
    time_s = sum(
        part_m
        / float(
            runoff_speed_m_per_s(materials.surface(kind).velocity_m_per_s.value, slope)
        )
        for kind, part_m in surfaces
    )
    return time_s / length_m
