"""The one door to numba."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar, cast

import numba

_Given = ParamSpec("_Given")
_Result = TypeVar("_Result")


def inlined(function: Callable[_Given, _Result]) -> Callable[_Given, _Result]:
    """Compile a small helper into every kernel that calls it.

    For helpers that are called for each neighbour of each cell: passing their arrays
    costs more than what they do.
    """
    compiled = numba.njit(nogil=True, forceinline=True)(function)
    return cast("Callable[_Given, _Result]", compiled)


def kernel(function: Callable[_Given, _Result]) -> Callable[_Given, _Result]:
    """Compile a function on its first call, and keep the result on disk.

    The compiled code releases the interpreter lock and uses plain arithmetic: not-a-
    number stands for "no data", so fast-math may never be switched on. Where no folder
    for the cache can be written, compilation is repeated in each process instead of
    failing; set ``NUMBA_CACHE_DIR`` to avoid that.
    """
    options: dict[str, Any] = {"nogil": True, "cache": True}
    try:
        compiled = numba.njit(**options)(function)
    except RuntimeError:
        # numba finds no place for its cache: an unwritable install and no home folder
        warnings.warn(
            "compiled code cannot be kept between runs: set NUMBA_CACHE_DIR to a "
            "folder that can be written",
            stacklevel=2,
        )
        options["cache"] = False
        compiled = numba.njit(**options)(function)
    return cast("Callable[_Given, _Result]", compiled)
