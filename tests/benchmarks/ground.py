"""Seeded ground for timing: pits, walls, level areas, water and other ends."""

from __future__ import annotations

import numpy as np

from pathways.terrain.drainage import END, GROUND, HOLE


def lidar_like(size, seed=0):
    """Return heights [m] and kinds of a square of `size` cells.

    Fractal hills with 2 cm of noise; a quarter of the area given to whole centimetres,
    so that there are plateaus; 1 % of the cells walls; a river of ends.
    """
    rng = np.random.default_rng(seed)
    waves = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None])
    waves[0, 0] = 1.0
    spectrum = np.fft.rfft2(rng.standard_normal((size, size))) * waves**-1.8
    hills = np.fft.irfft2(spectrum, s=(size, size))
    heights = hills * (size / 120.0 / hills.std())
    heights += np.linspace(0.01 * size, 0.0, size)[:, None]
    heights += rng.normal(0.0, 0.02, (size, size))
    half = size // 2
    heights[:half, :half] = np.round(heights[:half, :half], 2)
    kinds = np.full((size, size), GROUND, np.uint8)
    walls = rng.random((size // 10, size // 10)) < 0.01
    kinds[: walls.shape[0] * 10, : walls.shape[1] * 10][
        np.kron(walls, np.ones((10, 10), bool))
    ] = HOLE
    along = np.arange(size)
    middle = (size / 2 + size / 8 * np.sin(along / size * 9)).astype(int)
    for width in range(3):
        kinds[along, middle + width] = END
    kinds[[0, -1], :] = END
    kinds[:, [0, -1]] = END
    return heights.astype(np.float32), kinds
