"""Measure speed and memory, beside general-purpose programs: see docs/benchmarks.md.

    python tests/benchmarks/run.py [--sizes 1000,2000,4000] [--out FILE]

Needs `pip install richdem2 pyflwdir fastscapelib topotoolbox whitebox-workflows
landlab==2.10.1` for the programs beside; what is not installed is left out, and said.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import platform
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import farm
import lazy
import numba
import numpy as np
import siting
import spill
from ground import Case, case, lidar_like, real
from measure import Clock, alone, cpu_s, machine
from routing import ENGINES, MULTIPLE, SLOW, installed, pass_times, quiet

from pathways.terrain.drainage import GROUND, route

_MEMORY = """
import json, sys
import numpy as np
from measure import forget_peak, peak_kib
from ground import Case
from routing import ENGINES, quiet
given = np.load(sys.argv[1])
run = ENGINES[sys.argv[2]][0]
only = sys.argv[3]
done = []
class Enough(Exception):
    pass
def timed(what, work):
    found = work()
    if what == only:
        raise Enough
    return found
def once(one):
    try:
        run(one, timed)
    except Enough:
        pass
with quiet():
    one = Case("", given["heights_m"], given["kinds"], given["bare_m"])
    del given
    once(one.corner(200))
    forget_peak()
    before = peak_kib()
    once(one)
print(json.dumps(dict(bytes_a_cell=(peak_kib() - before) * 1024 / one.kinds.size)))
"""


def grounds(size: int) -> Iterator[Case]:
    """Yield the grounds of one size."""
    yield case("seeded", lidar_like(size))
    yield case("Slovenia, mirrored", real(size))


def side_by_side(one: Case, repeats: int, *, slow: bool) -> tuple[Clock, list[str]]:
    """Run all engines in turn, several times; return what they took and what differs.

    The filled surfaces must agree: ours is routed once more with the ends that the
    others know, and compared on every cell of ground.
    """
    clock, said = Clock(), []
    names = installed()
    kinds = one.without_inner_ends
    ground = kinds == GROUND
    expected = route(one.heights_m, kinds).filled_m[ground]
    with quiet():
        for name in names:  # compiled now
            if name not in SLOW:
                ENGINES[name][0](one.corner(200), lambda _, work: work())
        for turn in range(repeats):
            for name in names:
                if name in SLOW and not (slow and turn == 0):
                    continue
                filled = ENGINES[name][0](one, clock.of(name))
                if turn or filled is None or name == "ours":
                    continue
                share = float((filled[ground] == expected).mean())
                off = float(np.abs(filled[ground] - expected).max())
                said.append(f"{name}: {100 * share:.4f} %, at most {off:.6f} m off")
    return clock, said


def memory(one: Case) -> dict[str, float]:
    """Return what each engine holds at most besides its input [bytes a cell]."""
    found = {}
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "case.npz"
        np.savez(path, heights_m=one.heights_m, kinds=one.kinds, bare_m=one.bare_m)
        for engine in installed():
            if engine in ("sorting", *SLOW):
                continue
            told = alone(_MEMORY, str(path), engine, "")
            found[engine] = told["bytes_a_cell"]
        told = alone(_MEMORY, str(path), "ours", "route and fill")
        found["ours, route and fill alone"] = told["bytes_a_cell"]
    return found


def report(sizes: list[int], repeats: int) -> Iterator[str]:
    """Yield the lines of the report as they are measured."""
    yield f"date: {datetime.datetime.now(tz=datetime.UTC):%Y-%m-%d}"
    yield f"machine: {machine()}"
    yield f"python {platform.python_version()}, numpy {np.__version__}, numba " + (
        f"{numba.__version__}, load when begun {os.getloadavg()[0]:.1f}"
    )
    versions = installed()
    yield "engines: " + ", ".join(f"{name} {of}" for name, of in versions.items())
    yield "not installed: " + (", ".join(set(ENGINES) - set(versions)) or "none")
    for size in sizes:
        for one in grounds(size):
            yield from routing_lines(one, repeats, slow=size == min(sizes))
            yield from lazy_lines(one)
    yield f"\n## spills on a way of {spill.LENGTH_M:.0f} m"
    for name, seconds in spill.measured(cpu_s).items():
        yield f"{name}: {1e3 * seconds:.1f} ms"
    yield f"\n## search for sites: {json.dumps(siting.measured(cpu_s))}"
    yield "\n## farms"
    for name, found in farm.measured().items():
        yield f"{name}: {json.dumps(found)}"


def routing_lines(one: Case, repeats: int, *, slow: bool) -> Iterator[str]:
    """Yield what routing one ground takes."""
    ground = one.kinds == GROUND
    drainage = route(one.heights_m, one.kinds)
    raised = float((drainage.filled_m > one.heights_m)[ground].mean())
    cells = one.kinds.size
    yield f"\n## {one.name}, {len(one.kinds)} x {len(one.kinds)}"
    yield f"raised: {100 * raised:.0f} % of the cells"
    clock, said = side_by_side(one, repeats, slow=slow)
    spent = clock.medians()
    for (engine, what), seconds in spent.items():
        yield f"{engine}, {what}: {1e9 * seconds / cells:.1f} ns a cell"
    ours = spent["ours", "route and fill"]
    whole = ours + spent["ours", "accumulate"]
    for sort in ("argsort", "argsort, stable"):
        yield f"ratio route and fill / {sort}: {ours / spent['sorting', sort]:.2f}"
    for engine in {name: None for name, _ in spent}:
        if engine in ("ours", "sorting"):
            continue
        without = (engine == "richdem" and "fill") or (
            engine == "topotoolbox" and "fill"
        )
        total = sum(
            seconds
            for (name, what), seconds in spent.items()
            if name == engine and what not in (without, MULTIPLE)
        )
        yield f"ratio {engine} / ours, route and accumulate: {total / whole:.1f}"
        if (engine, MULTIPLE) in spent:
            times = spent[engine, MULTIPLE] / spent["ours", MULTIPLE]
            yield f"ratio {engine} / ours, multiple flow: {times:.1f}"
        if (engine, "fill") in spent:
            yield f"ratio {engine} fill / ours: {spent[engine, 'fill'] / ours:.1f}"
    yield from (f"same fill: {line}" for line in said)
    for engine, held in memory(one).items():
        yield f"memory, {engine}: {held:.0f} bytes a cell"
    passes: dict[str, list[float]] = {}
    for _ in range(repeats):
        for name, seconds in pass_times(one, cpu_s).items():
            passes.setdefault(name, []).append(1e9 * seconds / cells)
    told = ", ".join(f"{name} {np.median(all_):.1f}" for name, all_ in passes.items())
    yield f"passes of route, ns a cell: {told}"


def lazy_lines(one: Case) -> Iterator[str]:
    """Yield what one realisation takes."""
    found = lazy.measured(one, cpu_s)
    yield (
        f"lazy: {1e3 * found.lazy_s:.2f} ms a realisation ({found.realisations}; "
        f"{found.cells_on_way:.0f} cells on the way, {found.touched_median:.0f} "
        f"touched, mean {found.touched_mean:.0f}, over budget "
        f"{100 * found.over_budget:.0f} %); whole: field {1e3 * found.field_s:.0f} + "
        f"route {1e3 * found.route_s:.0f} ms; ratio {found.gain:.0f}; dearest source "
        f"{found.worst:.2f} of the whole"
    )


def main() -> None:
    """Measure, and print or write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--sizes", default="1000,2000,4000")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    sizes = [int(one) for one in given.sizes.split(",")]
    lines = []
    for line in report(sizes, given.repeats):
        sys.stdout.write(line + "\n")
        sys.stdout.flush()
        lines.append(line)
    if given.out:
        given.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
