"""What a pad that falls to one side or to one corner holds behind its kerb."""

from __future__ import annotations

from typing import Final

from pathways.errors import SettingsError

#: A pad that falls less than this is level [m/m].
_LEVEL: Final = 1e-5
#: Halvings of a height between nothing and the highest kerb that is asked for.
_HALVINGS: Final = 60
#: No kerb that is driven over or stepped over is higher than this [m].
_HIGHEST_M: Final = 5.0


def held_one_way_m3(
    length_m: float, width_m: float, fall: float, height_m: float
) -> float:
    """Return what a pad holds that falls along its length to a kerb at the low end.

    Parameters
    ----------
    length_m, width_m : float
        Sides of the pad [m].
    fall : float
        Along the length [m/m].
    height_m : float
        Of the kerb above the pad at the low end; the other kerbs are as high above the
        same level [m].

    Returns
    -------
    float
        W h² / (2 s) while the water does not reach the high end, else
        W L (h - s L / 2) [m³].

    Examples
    --------
    >>> round(held_one_way_m3(10.0, 6.0, 0.01, 0.10), 6)
    3.0
    """
    if fall >= _LEVEL and height_m <= fall * length_m:
        return width_m * height_m**2 / (2 * fall)
    return width_m * length_m * (height_m - fall * length_m / 2)


def held_to_a_corner_m3(
    length_m: float, width_m: float, fall: float, height_m: float
) -> float:
    """Return what a pad holds that falls both ways to one corner.

    Parameters
    ----------
    length_m, width_m : float
        Sides of the pad [m].
    fall : float
        Along each of them [m/m].
    height_m : float
        Of the kerb above that corner [m].

    Returns
    -------
    float
        ∫∫ max(0, h - s x - s y) dx dy: a pyramid h³ / (6 s²) less what it would have
        beyond the sides [m³].

    Examples
    --------
    >>> round(held_to_a_corner_m3(10.0, 6.0, 0.01, 0.10), 2)
    1.56
    """
    if fall < _LEVEL:
        return length_m * width_m * height_m

    def pyramid(height: float) -> float:
        return float(max(height, 0.0) ** 3 / (6 * fall**2))

    return (
        pyramid(height_m)
        - pyramid(height_m - fall * length_m)
        - pyramid(height_m - fall * width_m)
        + pyramid(height_m - fall * (length_m + width_m))
    )


def height_to_hold_m(
    volume_m3: float, length_m: float, width_m: float, fall: float, *, both_ways: bool
) -> float:
    """Return the kerb that holds a volume.

    Parameters
    ----------
    volume_m3 : float
        To be held [m³].
    length_m, width_m : float
        Sides of the pad [m].
    fall : float
        Of the finished pad [m/m].
    both_ways : bool
        Whether it falls to a corner, else along its length.

    Returns
    -------
    float
        Height above the lowest place, without freeboard [m].

    Raises
    ------
    SettingsError
        If a kerb of 5 m would not hold it.

    Examples
    --------
    >>> round(height_to_hold_m(7.4, 10.0, 6.0, 0.01, both_ways=True), 3)
    0.203
    """
    held = held_to_a_corner_m3 if both_ways else held_one_way_m3
    if held(length_m, width_m, fall, _HIGHEST_M) < volume_m3:
        msg = (
            f"{volume_m3:,.1f} m³ cannot be held on a pad of {length_m:g} by "
            f"{width_m:g} m; check the volumes, or give a larger pad"
        )
        raise SettingsError(msg)
    low, high = 0.0, _HIGHEST_M
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if held(length_m, width_m, fall, middle) < volume_m3:
            low = middle
        else:
            high = middle
    return high
