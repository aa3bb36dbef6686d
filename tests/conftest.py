"""What all tests share: settings of hypothesis, and small farms made of a few lines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import settings

from pathways.features import Features
from pathways.grid import Grid
from pathways.io.tables import read_assumed
from pathways.terrain.way import Terrain

# The first example of a test compiles kernels, so there is no deadline; examples are
# the same on every run, so that a failure can be repeated.
settings.register_profile("pathways", deadline=None, derandomize=True)
settings.load_profile("pathways")

#: A projected system in metres for farms that lie nowhere.
NOWHERE = (
    'ENGCRS["nowhere",EDATUM["nowhere"],CS[Cartesian,2],AXIS["east",east],'
    'AXIS["north",north],LENGTHUNIT["metre",1]]'
)


@pytest.fixture
def plane():
    """Return a maker of sloping ground: metres east and north give the height [m]."""

    def make(height_of, *, size_m=100.0, cell_size_m=1.0):
        count = round(size_m / cell_size_m)
        east = (np.arange(count) + 0.5) * cell_size_m
        north = size_m - east
        heights = height_of(*np.meshgrid(east, north)).astype(np.float32)
        return Grid(heights, 0.0, size_m, cell_size_m, NOWHERE, "nowhere")

    return make


@pytest.fixture
def terrain():
    """Return a maker of terrain from a grid and features by layer."""

    def make(grid, **layers):
        given = {name: tuple(features) for name, features in layers.items()}
        return Terrain(grid, Features(**given, drawn=frozenset(given)), read_assumed())

    return make
