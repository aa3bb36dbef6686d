"""The one door to numba."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from functools import cache
from typing import Any, ParamSpec, TypeVar, cast

import numba
from numba.extending import intrinsic

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
        _say_that_nothing_is_kept()
        options["cache"] = False
        compiled = numba.njit(**options)(function)
    return cast("Callable[_Given, _Result]", compiled)


@cache
def _say_that_nothing_is_kept() -> None:
    """Warn once, not for each kernel."""
    warnings.warn(
        "compiled code cannot be kept between runs, each of which compiles for some "
        "20 s: set NUMBA_CACHE_DIR to a folder that can be written",
        stacklevel=3,
    )


def cache_folder(compiled: object) -> str | None:
    """Return the folder in which a kernel is kept between runs; None for nowhere."""
    told = getattr(compiled, "stats", None)
    return None if told is None else told.cache_path


if numba.config.DISABLE_JIT:  # type: ignore[attr-defined]

    def borrowed(array: Any) -> Any:
        """Return the array itself: nothing is counted where nothing is compiled."""
        return array

else:

    @intrinsic
    def borrowed(_: Any, array: Any) -> Any:
        """Return the array without its count of references.

        Compiled code counts references with two atomic instructions each time that an
        array is passed on or may have been replaced in a loop: in tracing that was most
        of the time. Only for what is held meanwhile by something else: a parameter, or
        an array in a list that is used again at the end.
        """

        def code(context: Any, builder: Any, signature: Any, given: Any) -> Any:
            kind = signature.args[0]
            view = context.make_array(kind)(context, builder, value=given[0])
            for owner in ("meminfo", "parent"):
                empty = getattr(view, owner).type(None)
                setattr(view, owner, empty)
            return view._getvalue()

        return array(array), code
