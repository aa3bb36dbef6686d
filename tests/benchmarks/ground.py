"""Grounds that are timed: seeded, with everything in them that a farm's ground has.

`lidar_like` has the relief, pits and noise of a bare-earth grid of 1 m from the air;
`real` is a clip of such a survey, mirrored to size. `Case` puts on either what makes
routing dearer or other than on smooth ground: walls, level areas, and ends of several
kinds inside the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio

from pathways.terrain.drainage import END, GROUND, HOLE

CLIP = (
    Path(__file__).parents[1] / "external/data/slovenia_north_1m/slovenia_north_1m.tif"
)
#: Walls stand this far above the ground for programs that know no walls [m].
WALL_HEIGHT_M = 100.0


@dataclass(frozen=True)
class Case:
    """One ground as it is routed.

    `heights_m` and `kinds` are as `pathways.terrain.drainage.route` takes them.
    `bare_m` is the same for programs that know neither walls nor ends inside a grid:
    walls are very high ground there. The river lies below all else and leaves by the
    rim, so it ends ways for all alike; ponds and inlets end them in `kinds` only.
    """

    name: str
    heights_m: np.ndarray
    kinds: np.ndarray
    bare_m: np.ndarray

    @property
    def without_inner_ends(self) -> np.ndarray:
        """Kinds of cell with no ends but the rim and the river, as in `bare_m`."""
        kinds = np.where(self.kinds == HOLE, np.uint8(HOLE), np.uint8(GROUND))
        kinds[self.heights_m == self.heights_m.min()] = END
        return _rimmed(kinds)

    def corner(self, size: int) -> Case:
        """Return the north-west corner as a ground of its own."""
        part = np.s_[:size, :size]
        return Case(
            self.name,
            self.heights_m[part].copy(),
            _rimmed(self.kinds[part].copy()),
            self.bare_m[part].copy(),
        )


def _rimmed(kinds: np.ndarray) -> np.ndarray:
    for rim in (kinds[0], kinds[-1], kinds[:, 0], kinds[:, -1]):
        rim[rim != HOLE] = END
    return kinds


def _rough(
    size: int, slope: float, rng: np.random.Generator, shortest: float = 0.5
) -> np.ndarray:
    """Return rough ground of standard deviation 1 with a power spectrum of a slope.

    `shortest` damps what is shorter than so many cycles a cell.
    """
    across = np.fft.rfftfreq(size).astype(np.float32)
    down = np.fft.fftfreq(size).astype(np.float32)
    power = across[None, :] ** 2 + down[:, None] ** 2
    power[0, 0] = 1.0
    weights = power ** np.float32(-slope / 4)
    if shortest < 0.5:
        weights *= np.exp(-power / np.float32(2 * shortest**2))
    weights[0, 0] = 0.0
    waves = rng.standard_normal((*power.shape, 2), np.float32).view(np.complex64)
    ground = np.fft.irfft2(waves[:, :, 0] * weights, s=(size, size))
    ground -= ground.mean()
    ground /= ground.std()
    return ground.astype(np.float32)


def river_columns(size: int) -> np.ndarray:
    """Return the column of the river's middle in each row."""
    rows = np.arange(size, dtype=np.float32)
    winding = 0.12 * size * np.sin(9 * rows / size)
    return size / 2 + winding + 12 * np.sin(rows / 37) + 5 * np.sin(rows / 11)


def lidar_like(size: int, seed: int = 0) -> np.ndarray:
    """Return heights of a hilly ground of 1 m cells with a river [m].

    A tilt of 1.2 %, a winding valley with a channel of 1.2 m, road banks across it,
    hollows, and an error of 3 cm with and 3 cm without correlation.
    """
    rng = np.random.default_rng(seed)
    relief = 0.012 * size**0.85
    heights = _rough(size, 3.4, rng) * np.float32(relief)
    rows = np.arange(size, dtype=np.float32)[:, None]
    columns = np.arange(size, dtype=np.float32)[None, :]
    heights += 0.012 * (size - rows)
    away = columns - river_columns(size).astype(np.float32)[:, None]
    heights -= np.float32(relief / 2) * np.exp(-((away / np.float32(0.1 * size)) ** 2))
    heights -= np.float32(1.2) * np.exp(-((away / 2) ** 4))
    for road in range(300, size - 50, 600):
        near = slice(road - 40, road + 40)
        line = road + 20 * np.sin(columns / 150)
        heights[near] += np.exp(-(((rows[near] - line) / 3) ** 4))
    for _ in range(max(4, size**2 // 250_000)):
        row, column = rng.integers(40, size - 40, 2)
        radius = rng.uniform(4, 18)
        about = np.s_[
            max(0, row - 40) : row + 40,
            max(0, column - 40) : column + 40,
        ]
        apart = (rows[about[0]] - row) ** 2 + (columns[:, about[1]] - column) ** 2
        heights[about] -= rng.uniform(0.2, 0.9) * np.exp(-apart / np.float32(radius**2))
    heights += np.float32(0.03) * _rough(size, 2.0, rng, shortest=0.15)
    heights += np.float32(0.03) * rng.standard_normal((size, size), np.float32)
    return heights - heights.min() + np.float32(20)


def real(size: int) -> np.ndarray:
    """Return heights of the Slovenian clip, mirrored to size [m].

    Origin and licence: tests/external/data/slovenia_north_1m.
    """
    with rasterio.open(CLIP) as source:
        clip = source.read(1, masked=True).filled(np.nan).astype(np.float32)
    if not np.isfinite(clip).all():
        msg = f"{CLIP.name} has cells without data"
        raise ValueError(msg)
    rows = [(0, max(0, size - clip.shape[0])), (0, max(0, size - clip.shape[1]))]
    return np.ascontiguousarray(np.pad(clip, rows, mode="reflect")[:size, :size])


def _walls(size: int, rng: np.random.Generator) -> np.ndarray:
    """Return where walls and buildings stand: 1 % of the cells."""
    walls = np.zeros((size, size), bool)
    while walls.mean() < 0.01:
        row, column = rng.integers(3, size - 63, 2)
        long = rng.integers(10, 60)
        match rng.integers(3):
            case 0:
                walls[row : row + 2, column : column + long] = True
            case 1:
                walls[row : row + long, column : column + 2] = True
            case _:
                walls[row : row + long // 2, column : column + long // 3] = True
    return walls


def case(name: str, heights_m: np.ndarray, seed: int = 0) -> Case:
    """Return a ground with walls, level areas, a river, ponds and inlets on it."""
    size = len(heights_m)
    rng = np.random.default_rng([seed, 1])
    heights = heights_m.copy()
    for _ in range(max(2, size**2 // 100_000)):  # flattened to 1 cm and to 10 cm
        row, column = rng.integers(0, size - 60, 2)
        block = np.s_[row : row + 60, column : column + 60]
        step = np.float32(rng.choice([0.01, 0.1]))
        heights[block] = np.round(heights[block] / step) * step
    away = np.abs(np.arange(size)[None, :] - river_columns(size)[:, None])
    river = away < 2
    walls = _walls(size, rng) & ~river
    ponds = np.zeros_like(walls)
    for _ in range(max(1, size**2 // 500_000)):
        row, column = rng.integers(20, size - 40, 2)
        ponds[row : row + 20, column : column + 15] = True
    inlets = rng.integers(1, size - 1, (max(4, size**2 // 20_000), 2))
    kinds = np.zeros(walls.shape, np.uint8)
    kinds[river | ponds] = END
    kinds[tuple(inlets.T)] = END
    kinds[walls] = HOLE
    heights[river] = heights.min() - 1
    bare = heights.copy()
    bare[walls] += np.float32(WALL_HEIGHT_M)
    return Case(name, heights, _rimmed(kinds), bare)
