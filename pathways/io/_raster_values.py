"""The heights in one raster: no data, scale, unit and plausibility settled."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from pathways.errors import GridError, Notice
from pathways.grid import PLAUSIBLE_HEIGHTS_M
from pathways.io._gdal import rasterio
from pathways.io.crs import MetricCrs
from pathways.units import (
    HEIGHT_UNITS_M,
    METRES_PER_FOOT,
    METRES_PER_US_SURVEY_FOOT,
)

#: Cells read at a time, so that a wide type does not need its memory all at once.
_BLOCK_CELLS: Final = 16_000_000
#: Two units whose lengths differ by less are the same one: a foot and a US survey foot
#: differ by 2 in a million, which is 0.2 mm in 100 m of height.
_SAME_UNIT: Final = 1e-5
#: A height that fills several cells and is this far from the next height [m] is more
#: likely a filler than ground. Common practice, no source.
_SUSPICIOUS_GAP_M: Final = 10.0

#: What files call the unit of their heights.
_UNIT_TAGS_M: Final = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(
        ("ft", "foot", "feet", "international foot", "international feet"),
        METRES_PER_FOOT,
    ),
    **dict.fromkeys(
        (
            *("ftus", "us-ft", "us_ft", "usft", "foot_us", "us_survey_foot"),
            *("us survey foot", "us survey feet", "survey foot", "sfeet"),
        ),
        METRES_PER_US_SURVEY_FOOT,
    ),
}


def height_unit_m(
    dataset: Any, metric: MetricCrs, height_unit: str | None
) -> tuple[float, list[Notice]]:
    """Return the length of the unit of heights [m].

    It comes from the file (vertical system or unit tag), else from the setting, else it
    is the metre where the plan is in metres too; this last is told as an assumption.

    Raises
    ------
    GridError
        If the unit is unknown, or file and setting contradict each other.
    """
    said = _units_of_file(dataset, metric)
    if height_unit is not None:
        said.append(
            (f"[ground] height_unit = '{height_unit}'", _setting_m(height_unit))
        )
    if not said:
        return _assumed_unit_m(metric)
    first, length_m = said[0]
    for other, other_m in said[1:]:
        if abs(other_m / length_m - 1.0) > _SAME_UNIT:
            msg = (
                f"the unit of its heights is told twice and differently, by {first} "
                f"and by {other}; correct the one that is wrong"
            )
            raise GridError(msg)
    notices = []
    if length_m != 1.0:
        text = f"heights were turned into metres: 1 unit is {length_m:.7g} m ({first})"
        notices.append(Notice("heights_converted", text))
    return length_m, notices


def _setting_m(height_unit: str) -> float:
    """Return the length of the unit that the setting names [m]."""
    return HEIGHT_UNITS_M[height_unit]


def _units_of_file(dataset: Any, metric: MetricCrs) -> list[tuple[str, float]]:
    """Return what the file itself says of the unit of its heights."""
    said = []
    if metric.vertical_unit is not None:
        name, length_m = metric.vertical_unit
        said.append((f"the vertical system ({name})", length_m))
    tag = (dataset.units[0] or "").strip()
    if tag:
        tagged_m = _UNIT_TAGS_M.get(tag.casefold())
        if tagged_m is None:
            msg = (
                f"the unit of its heights is given as '{tag}', which is not known; "
                "write the heights in metres and tag them 'm'"
            )
            raise GridError(msg)
        said.append((f"the unit tag '{tag}'", tagged_m))
    return said


def _assumed_unit_m(metric: MetricCrs) -> tuple[float, list[Notice]]:
    """Return the metre for a plan in metres, and refuse to guess for another."""
    if metric.metres_per_unit != 1.0:
        msg = (
            f"its plan is in {metric.unit_name} and nothing says what its heights are "
            "in; set [ground] height_unit to metre, foot or us_survey_foot"
        )
        raise GridError(msg)
    text = (
        "nothing says what unit the heights are in: metres were assumed, as in plan; "
        "set [ground] height_unit to be sure"
    )
    return 1.0, [Notice("height_unit_assumed", text)]


def read_heights_m(
    dataset: Any, unit_m: float
) -> tuple[NDArray[np.float32], list[Notice]]:
    """Return the heights of the only band [m]; NaN where there is no data.

    Parameters
    ----------
    dataset : rasterio dataset
        Open raster with one band of real numbers.
    unit_m : float
        Length of the unit of heights [m].

    Raises
    ------
    GridError
        If the file cannot be read to its end, or holds what is no height on Earth.
    """
    scale, offset = float(dataset.scales[0]), float(dataset.offsets[0])
    if not (np.isfinite(scale) and np.isfinite(offset) and scale != 0.0):
        msg = f"its scale {scale} and offset {offset} give no heights; correct the tags"
        raise GridError(msg)
    heights_m = np.empty(dataset.shape, np.float32)
    rows = max(1, _BLOCK_CELLS // dataset.width)
    for top in range(0, dataset.height, rows):
        block = _read_rows(dataset, top, min(rows, dataset.height - top))
        block = (block * scale + offset) * unit_m
        _check_plausible(block, dataset, unit_m)
        heights_m[top : top + len(block)] = block
    notices = _value_notices(dataset, heights_m)
    if (scale, offset) != (1.0, 0.0):
        text = f"heights were scaled as the file says: value x {scale:g} + {offset:g}"
        notices.append(Notice("scale_applied", text))
    return heights_m, notices


def _read_rows(dataset: Any, top: int, rows: int) -> NDArray[np.float64]:
    """Return some rows as they are stored, NaN for no data."""
    window = rasterio.windows.Window(0, top, dataset.width, rows)
    block = dataset.read(1, window=window, masked=True)
    with np.errstate(invalid="ignore"):  # a NaN may be of the kind that signals
        return np.ma.filled(block.astype(np.float64), np.nan)


def _check_plausible(
    heights_m: NDArray[np.float64], dataset: Any, unit_m: float
) -> None:
    """Refuse what is no height on Earth, and unknown cells that nothing declares."""
    lowest_m, highest_m = PLAUSIBLE_HEIGHTS_M
    # An infinite value is no height either, and no data that anybody declared.
    wrong = ~np.isnan(heights_m) & ~((heights_m >= lowest_m) & (heights_m <= highest_m))
    if wrong.any():
        value = heights_m[wrong][0] / unit_m
        declared = (
            "none is declared"
            if dataset.nodata is None
            else f"{dataset.nodata:g} is declared"
        )
        msg = (
            f"{int(wrong.sum())} cells hold {value:g}, which is no height on Earth: it "
            f"looks like an undeclared 'no data' value ({declared}); declare it in the "
            "file"
        )
        raise GridError(msg)
    if not _declares_no_data(dataset) and np.isnan(heights_m).any():
        msg = (
            f"{int(np.isnan(heights_m).sum())} cells hold no number and no 'no data' "
            "value is declared; declare it in the file (nan)"
        )
        raise GridError(msg)


def _declares_no_data(dataset: Any) -> bool:
    """Return whether the file says by a value or a mask where nothing is known."""
    flags = dataset.mask_flag_enums[0]
    return rasterio.enums.MaskFlags.all_valid not in flags


def _value_notices(dataset: Any, heights_m: NDArray[np.float32]) -> list[Notice]:
    """Return what a reader must know about the values."""
    notices = []
    if not _declares_no_data(dataset):
        text = (
            "it declares no 'no data' value; it was accepted because every cell holds "
            "a height that occurs on Earth; declare one to be sure"
        )
        notices.append(Notice("no_data_undeclared", text))
    if np.issubdtype(np.dtype(dataset.dtypes[0]), np.integer) and (
        dataset.scales[0] == 1.0
    ):
        text = (
            "its heights are whole numbers, so slopes are stepped; if they are not in "
            "whole units of height, declare the scale in the file"
        )
        notices.append(Notice("heights_whole_numbers", text))
    filler = _suspected_filler_m(heights_m)
    if filler is not None:
        text = (
            f"{filler[1]} cells all hold {filler[0]:g} m, far from every other height: "
            "they look like an undeclared 'no data' value; declare it if it is one"
        )
        notices.append(Notice("suspected_no_data", text))
    return notices


def _suspected_filler_m(heights_m: NDArray[np.float32]) -> tuple[float, int] | None:
    """Return the lowest or highest height and its cells, where it stands far apart."""
    if np.isnan(heights_m).all():
        return None
    for extreme, direction in ((np.nanmin, 1.0), (np.nanmax, -1.0)):
        value = np.float32(extreme(heights_m))
        same = heights_m == value
        count = int(same.sum())
        others = heights_m[~same & ~np.isnan(heights_m)]
        if count < 2 or others.size == 0:  # noqa: PLR2004
            continue
        if direction * (float(extreme(others)) - float(value)) > _SUSPICIOUS_GAP_M:
            return float(value), count
    return None
