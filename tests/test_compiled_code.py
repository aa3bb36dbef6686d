"""Compiled code is kept where it can be, and done without where it cannot."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

SAMPLE = Path(__file__).parent.parent / "data-samples" / "demo-farm"

ASSESS_AND_LIST_WHAT_WAS_COMPILED = """
import sys
from pathlib import Path
from pathways.run import warm_up
from pathways.terrain import _kernels, _kernels_lazy
warm_up(Path(sys.argv[1]))
for module in (_kernels, _kernels_lazy):
    for name, one in vars(module).items():
        if getattr(one, "__module__", "") != module.__name__:
            continue
        if hasattr(one, "stats") and one.stats.cache_misses:
            print("compiled anew:", name)
        if hasattr(one, "stats") and one.stats.cache_hits:
            print("kept:", name)
"""

#: What a read-only install under a user without a home folder meets: no place is left.
ASSESS_WITHOUT_A_PLACE_FOR_THE_CACHE = """
import sys, warnings
from numba.core.caching import CacheImpl
CacheImpl._locator_classes = []
with warnings.catch_warnings(record=True) as told:
    warnings.simplefilter("always")
    from pathways.terrain import _kernels_lazy
    from pathways.terrain.drainage import route
import numpy as np
from pathways.terrain._kernels import find_steps
from pathways.terrain._jit import cache_folder
print(cache_folder(find_steps))
kinds = np.ones((3, 3), np.uint8)
kinds[1, 1] = 0
print(route(np.eye(3, dtype=np.float32), kinds).steps[1, 1])
for one in told:
    print(one.message)
"""

WARM_UP_WITHOUT_A_PLACE = """
import sys
from numba.core.caching import CacheImpl
CacheImpl._locator_classes = []
from pathways_cli.main import main
sys.argv[1:] = ["warm-up"]
main()
"""

CALL_A_HELPER_WITHOUT_A_PLACE = """
from numba.core.caching import CacheImpl
CacheImpl._locator_classes = []
from pathways.terrain._jit import inlined
@inlined
def twice(number):
    return 2 * number
print(twice(21))
"""


def python(*words, **variables):
    return subprocess.run(
        [sys.executable, *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, **variables},
    )


@pytest.fixture(scope="module")
def warmed(tmp_path_factory):
    cache = tmp_path_factory.mktemp("cache")
    done = python("-m", "pathways_cli", "warm-up", NUMBA_CACHE_DIR=str(cache))
    assert done.returncode == 0, done.stderr
    return cache, done


def test_warm_up_says_where_compiled_code_is_kept(warmed):
    cache, done = warmed
    assert done.stdout.startswith(f"Compiled; kept in {cache}")


def test_after_warm_up_nothing_is_compiled_anew(warmed):
    cache, _ = warmed
    done = python(
        "-c", ASSESS_AND_LIST_WHAT_WAS_COMPILED, SAMPLE, NUMBA_CACHE_DIR=str(cache)
    )
    lines = done.stdout.splitlines()
    assert [one for one in lines if one.startswith("compiled anew")] == []
    kept = {one.removeprefix("kept: ") for one in lines}
    assert {"find_steps", "run_realisations", "realise", "number_levels"} <= kept


def test_warm_up_writes_no_results(warmed):
    assert not (SAMPLE / "results").exists()


@pytest.mark.parametrize("why", ["no place", "not compiled"])
def test_warm_up_that_keeps_nothing_fails_with_one_sentence(why):
    if why == "no place":
        done = python("-W", "ignore", "-c", WARM_UP_WITHOUT_A_PLACE)
    else:
        done = python("-m", "pathways_cli", "warm-up", NUMBA_DISABLE_JIT="1")
    assert done.returncode == 5
    assert len(done.stderr.splitlines()) == 1
    assert "NUMBA_CACHE_DIR" in done.stderr


def test_without_a_place_for_the_cache_there_is_one_warning_and_the_same_answer():
    done = python("-c", ASSESS_WITHOUT_A_PLACE_FOR_THE_CACHE)
    assert done.returncode == 0, done.stderr
    folder, step, *told = done.stdout.splitlines()
    assert (folder, step) == ("None", "0")  # to the east, the first of the steepest
    assert len(told) == 1
    assert "NUMBA_CACHE_DIR" in told[0]


def test_helper_that_is_compiled_into_its_callers_needs_no_place_for_a_cache():
    done = python("-W", "error", "-c", CALL_A_HELPER_WITHOUT_A_PLACE)
    assert (done.returncode, done.stdout, done.stderr) == (0, "42\n", "")
