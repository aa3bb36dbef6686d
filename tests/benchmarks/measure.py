"""Clocks, medians, and what a part of a program takes in a process of its own."""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import numba

HERE = Path(__file__).parent


def cpu_s() -> float:
    """Return the CPU time of this process, all its threads together [s]."""
    return time.process_time()


class Clock:
    """CPU time of named passes, several times over."""

    def __init__(self) -> None:
        self.spent: dict[tuple[str, str], list[float]] = defaultdict(list)

    def of(self, engine: str) -> Callable[[str, Callable[[], Any]], Any]:
        """Return what times the passes of one engine."""

        def timed(what: str, work: Callable[[], Any]) -> Any:
            began = cpu_s()
            found = work()
            self.spent[engine, what].append(cpu_s() - began)
            return found

        return timed

    def medians(self) -> dict[tuple[str, str], float]:
        """Return the median of each pass [s]."""
        return {one: median(times) for one, times in self.spent.items()}


def machine() -> str:
    """Return processor and cores; not the name of the machine."""
    model = platform.processor()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        lines = cpuinfo.read_text().splitlines()
        names = [one.split(":")[1].strip() for one in lines if "model name" in one]
        model = names[0] if names else model
    return f"{model}, {os.cpu_count()} cores, {platform.system()}"


def peak_kib() -> int:
    """Return the most memory this process has held since `forget_peak` [KiB]."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1])
    msg = "this system does not tell the peak of memory"
    raise RuntimeError(msg)


def forget_peak() -> None:
    """Begin to watch the peak of memory anew (Linux)."""
    Path("/proc/self/clear_refs").write_text("5")


def alone(code: str, *given: str, cache: str | None = None) -> dict[str, Any]:
    """Run code in a process of its own; return its last line of output, read as JSON.

    `cache`: folder for compiled code, an empty one for a cold start.
    """
    variables = dict(os.environ)
    if cache is not None:
        variables["NUMBA_CACHE_DIR"] = cache
    done = subprocess.run(
        [sys.executable, "-c", code, *given],
        capture_output=True,
        text=True,
        check=False,
        cwd=HERE,
        env=variables,
    )
    if done.returncode:
        msg = f"a part of the benchmark failed:\n{done.stderr[-2000:]}"
        raise RuntimeError(msg)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


@numba.njit(nogil=True)
def _spin(turns: int) -> int:
    state = 1
    for _ in range(turns):
        state = (state * 1103515245 + 12345) & 0x7FFFFFFF
    return state


def spin_gain(turns: int = 400_000_000) -> float:
    """Return how much sooner two threads end twice a loop without memory than one."""
    _spin(10)
    began = time.perf_counter()
    _spin(turns)
    _spin(turns)
    one = time.perf_counter() - began
    threads = [threading.Thread(target=_spin, args=(turns,)) for _ in range(2)]
    began = time.perf_counter()
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    return one / (time.perf_counter() - began)
