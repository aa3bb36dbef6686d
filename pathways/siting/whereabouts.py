"""What to call a place that nobody named: by the nearest thing that has a name."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from shapely import Geometry, get_coordinates

from pathways.features import Features

#: Nearer than this a place lies beside a thing [m].
_BESIDE_M: Final = 1.5
#: Points of the compass, clockwise from north.
POINTS: Final = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


def point_of_compass(eastward_m: float, northward_m: float) -> str:
    """Return the point of the compass towards which an offset lies.

    Parameters
    ----------
    eastward_m, northward_m : float
        The offset [m].

    Returns
    -------
    str

    Examples
    --------
    >>> point_of_compass(5.0, 5.0), point_of_compass(-1.0, 0.1)
    ('north-east', 'west')
    """
    bearing = math.atan2(eastward_m, northward_m) % math.tau
    return POINTS[round(bearing / (math.tau / len(POINTS))) % len(POINTS)]


def whereabouts(shape: Geometry, features: Features) -> str:
    """Return how far and which way a place lies from the nearest named thing.

    Parameters
    ----------
    shape : shapely.Geometry
        The place.
    features : Features
        Buildings, and else sources and candidates, are what people steer by.

    Returns
    -------
    str
        Empty where none has a name.
    """
    for layer in (features.buildings, features.sources, features.candidates):
        named = [one for one in layer if one.name]
        if named:
            nearest = min(named, key=lambda one: shape.distance(one.geometry))
            here, there = shape.centroid, nearest.geometry.centroid
            away = np.subtract(get_coordinates(here)[0], get_coordinates(there)[0])
            distance_m = shape.distance(nearest.geometry)
            towards = point_of_compass(*away)
            if distance_m < _BESIDE_M:
                return f"beside {nearest.name}, {towards} of it"
            return f"{distance_m:.0f} m {towards} of {nearest.name}"
    return ""
