"""Horn's slope and aspect against printed examples.

The originals were read in restatements, not in the primary text.
"""

import numpy as np
import pytest

from pathways.grid import Grid
from pathways.terrain.slope import horn_gradient


def middle(rows, cell_size_m):
    grid = Grid(np.array(rows, np.float32), 0.0, 0.0, cell_size_m, "", "local")
    gradient = horn_gradient(grid)
    return {
        "eastward": gradient.eastward[1, 1],
        "northward": gradient.northward[1, 1],
        "slope_degrees": gradient.slope_degrees[1, 1],
        "aspect_degrees": gradient.aspect_degrees[1, 1],
    }


# Esri's help page on how slope is computed: 3 x 3 cells of 5 m. It counts southwards,
# hence the sign of its dz/dy = -3.8; it prints 75.25762 degrees with a rounded factor
# of 57.29578 and a rounded gradient (3.80032), hence the tolerance.
STEEP = [[50, 45, 50], [30, 30, 30], [8, 10, 10]]

# Esri's help page on how aspect is computed; it prints dz/dx = -8.125, dz/dy = -0.375
# (again southwards, without cell size: here cells of 1 m) and 92.64 degrees.
EASTERLY = [[101, 92, 85], [101, 92, 85], [101, 91, 84]]

# A grid of the hydrology lectures of Tarboton and Maidment, cells of 30 m: slope 21.8
# degrees, aspect 145.2 (from memory, reproduces; the finer figures are recomputed).
LECTURE = [[80, 74, 63], [69, 67, 56], [60, 52, 48]]


@pytest.mark.parametrize(
    ("rows", "cell_size_m", "what", "expected", "within"),
    [
        (STEEP, 5.0, "eastward", 0.05, 1e-9),
        (STEEP, 5.0, "northward", 3.8, 1e-9),
        (STEEP, 5.0, "slope_degrees", 75.2577, 0.0001),
        (EASTERLY, 1.0, "eastward", -8.125, 1e-9),
        (EASTERLY, 1.0, "northward", 0.375, 1e-9),
        (EASTERLY, 1.0, "aspect_degrees", 92.64, 0.005),
        (LECTURE, 30.0, "eastward", -0.2292, 0.00005),
        (LECTURE, 30.0, "northward", 0.3292, 0.00005),
        (LECTURE, 30.0, "slope_degrees", 21.855, 0.001),
        (LECTURE, 30.0, "aspect_degrees", 145.15, 0.005),
    ],
)
def test_horn_equals_the_printed_example(rows, cell_size_m, what, expected, within):
    assert middle(rows, cell_size_m)[what] == pytest.approx(expected, abs=within)
