"""Time the flow engine beside others, in one process: medians of CPU time, as ratios.

Run it with the peers that are to be compared installed beside the package::

    python tests/benchmarks/run.py --sizes 1000,2000,4000

A peer that is not installed is left out and named. Peers get the ground without walls
and inner ends, which they do not know; ours gets both.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from importlib import import_module, metadata
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
from ground import lidar_like

from pathways.elevation_error import OPEN
from pathways.io.tables import read_elevation_errors
from pathways.terrain import _kernels as kernels
from pathways.terrain.drainage import HOLE, accumulate, route, step_offsets
from pathways.terrain.lazy import LazyTracer
from pathways.terrain.multiple_flow import accumulate_multiple
from pathways.terrain.versions import error_model
from pathways.witness import silence

REPEATS = 3


def richdem_runs(heights):
    richdem = import_module("richdem")

    def array(dtype=np.float32):
        made = richdem.rdarray(heights.astype(dtype), no_data=-9999.0)
        made.geotransform = [0, 1, 0, 0, 0, -1]
        return made

    def eps_and_d8():
        filled = richdem.FillDepressions(array(np.float64), epsilon=True)
        return richdem.FlowAccumulation(filled, method="D8")

    filled = richdem.FillDepressions(array())
    return {
        "richdem fill": lambda: richdem.FillDepressions(array()),
        "richdem eps-fill + D8": eps_and_d8,
        "richdem Quinn": lambda: richdem.FlowAccumulation(filled, method="Quinn"),
    }


def pyflwdir_runs(heights):
    pyflwdir = import_module("pyflwdir")

    def chain():
        _, steps = pyflwdir.dem.fill_depressions(
            heights, nodata=-9999.0, outlets="edge"
        )
        return pyflwdir.from_array(steps, ftype="d8").upstream_area(unit="cell")

    return {"pyflwdir fill + D8": chain}


def topotoolbox_runs(heights):
    topotoolbox = import_module("topotoolbox")
    grid = topotoolbox.GridObject()
    grid.z = np.asfortranarray(heights)
    grid.cellsize = 1.0
    return {
        "topotoolbox flow + D8": lambda: topotoolbox.FlowObject(
            grid
        ).flow_accumulation()
    }


def fastscapelib_runs(heights):
    fs = import_module("fastscapelib")
    grid = fs.RasterGrid(heights.shape, [1.0, 1.0], fs.NodeStatus.FIXED_VALUE, {})
    graph = fs.FlowGraph(
        grid, [fs.SingleFlowRouter(), fs.MSTSinkResolver(fs.MSTMethod.KRUSKAL)]
    )
    ground = heights.astype(np.float64)

    def chain():
        assert (
            grid.size == ground.size
        )  # keeps the grid alive, which the graph does not
        graph.update_routes(ground.copy())
        return graph.accumulate(1.0)

    return {"fastscapelib MST + D8": chain}


PEERS = (richdem_runs, pyflwdir_runs, topotoolbox_runs, fastscapelib_runs)


def timed(runs, size):
    """Return median CPU time of each, in ns a cell, run in turn."""
    taken = {name: [] for name in runs}
    for run in runs.values():
        with silence():
            run()  # compiles, loads
    for _ in range(REPEATS):
        for name, run in runs.items():
            begin = time.process_time()
            with silence():
                run()
            taken[name].append(time.process_time() - begin)
    return {name: statistics.median(one) / size**2 * 1e9 for name, one in taken.items()}


def routing(size):
    heights, kinds = lidar_like(size)
    drainage = route(heights, kinds)
    raised = float(
        np.nanmean(drainage.filled_m[kinds != HOLE] > heights[kinds != HOLE])
    )
    runs = {
        "np.argsort": lambda: np.argsort(heights.ravel()),
        "np.argsort stable": lambda: np.argsort(heights.ravel(), kind="stable"),
        "ours: route + fill": lambda: route(heights, kinds),
        "ours: accumulate": lambda: accumulate(drainage),
        "ours: multiple flow": lambda: accumulate_multiple(drainage),
    }
    missing = []
    for peer in PEERS:
        try:
            with silence():
                runs |= peer(heights)
        except Exception as error:  # noqa: BLE001  a peer may fail in any way
            missing.append(
                f"{peer.__name__.removesuffix('_runs')} ({type(error).__name__})"
            )
    return timed(runs, size), raised, missing


def passes(size):
    """Return where the time of routing goes, in ns a cell."""
    heights, kinds = lidar_like(size)
    ground = np.where(kinds == HOLE, np.float32(np.inf), heights)
    flat, offsets = ground.ravel(), step_offsets(size)
    found = {}

    def take(name, run):
        begin = time.process_time()
        result = run()
        found[name] = (time.process_time() - begin) / size**2 * 1e9
        return result

    steps = np.empty((size, size), np.uint8)
    take("find_steps", lambda: kernels.find_steps(ground, kinds, steps, 0, size))
    level = take(
        "drain_plateaus", lambda: kernels.drain_plateaus(flat, steps.ravel(), offsets)
    )
    take(
        "merge_small_pits",
        lambda: kernels.merge_small_pits(flat, steps.ravel(), offsets),
    )
    labels = np.zeros((size, size), np.int32)
    pits = take(
        "label_basins",
        lambda: kernels.label_basins(steps.ravel(), labels.ravel(), offsets),
    )
    marks = np.empty((size, size), np.uint8)
    take("mark_passes", lambda: kernels.mark_passes(ground, labels, marks, 0, size))
    listed = take(
        "list_passes",
        lambda: kernels.list_passes(
            flat, flat.view(np.uint32), labels.ravel(), marks.ravel(), size, pits.size
        ),
    )
    joined = take("join_basins", lambda: kernels.join_basins(flat, *listed, pits, size))
    take(
        "carve",
        lambda: kernels.carve(
            flat,
            steps.ravel(),
            labels.ravel(),
            listed[0],
            listed[1],
            joined[0],
            pits,
            level,
            offsets,
            size,
        ),
    )
    filled = np.empty(size * size, np.float32)
    take(
        "fill",
        lambda: kernels.fill(flat, labels.ravel(), joined[1], filled, 0, flat.size),
    )
    return found


def lazy(size=1000, sources=60):
    heights, kinds = lidar_like(size)
    scenario = read_elevation_errors()["airborne_lidar"][1]
    model = error_model(scenario, 1.0)
    assert model.classes[OPEN, 0] > 0
    tracer = LazyTracer(heights, kinds)
    cells = np.random.default_rng(1).choice(np.flatnonzero(kinds.ravel() == 0), sources)
    tracer.trace(int(cells[0]), seed=1, errors=model)
    begin = time.process_time()
    touched = [
        tracer.trace(int(cell), seed=seed, errors=model).touched
        for seed, cell in enumerate(cells)
    ]
    one_ms = (time.process_time() - begin) / sources * 1e3
    begin = time.process_time()
    noisy = tracer.realise(1, model)
    route(noisy, kinds, level_by_number=True)
    whole_ms = (time.process_time() - begin) * 1e3
    return one_ms, float(np.mean(touched)), whole_ms


def threads(size=1000, traces=400):
    """Return the speed-up of two threads over versions, and of a spin loop."""
    heights, kinds = lidar_like(size)
    model = error_model(read_elevation_errors()["airborne_lidar"][1], 1.0)
    cell = int(np.flatnonzero(kinds.ravel() == 0)[size * 300])
    tracers = [LazyTracer(heights, kinds) for _ in range(2)]

    def work(tracer, seeds):
        for seed in seeds:
            tracer.trace(cell, seed=seed, errors=model)

    def spin(_, seeds):
        for seed in seeds:
            np.sort(np.random.default_rng(seed).random(20_000))

    ratios = []
    for job in (work, spin):
        job(tracers[0], range(2))
        begin = time.perf_counter()
        job(tracers[0], range(traces))
        alone = time.perf_counter() - begin
        begin = time.perf_counter()
        with ThreadPoolExecutor(2) as pool:
            list(
                pool.map(job, tracers, (range(traces // 2), range(traces // 2, traces)))
            )
        ratios.append(alone / (time.perf_counter() - begin))
    return ratios


def peak_bytes_a_cell(size):
    """Return the peak of memory while routing, in a process of its own.

    The process reads the ground from files: making it there would leave freed memory
    behind, which routing would use again and which would hide what it takes.
    """
    code = (
        "import sys, numpy as np\n"
        "from pathways.terrain.drainage import route\n"
        "h, k = (np.load(sys.argv[1] + name) for name in ('/h.npy', '/k.npy'))\n"
        "route(h[:200, :200].copy(), k[:200, :200].copy())\n"
        "before = int(open('/proc/self/status').read().split('VmRSS:')[1].split()[0])\n"
        "open('/proc/self/clear_refs', 'w').write('5')\n"
        "route(h, k)\n"
        "peak = int(open('/proc/self/status').read().split('VmHWM:')[1].split()[0])\n"
        "print((peak - before) * 1024 / h.size)\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        for name, array in zip("hk", lidar_like(size), strict=True):
            np.save(Path(folder) / f"{name}.npy", array)
        done = subprocess.run(
            [sys.executable, "-c", code, folder],
            capture_output=True,
            text=True,
            check=True,
        )
    return float(done.stdout)


def versions():
    names = ("numpy", "numba", "richdem2", "pyflwdir", "topotoolbox", "fastscapelib")
    for name in names:
        with contextlib.suppress(metadata.PackageNotFoundError):
            yield f"{name} {metadata.version(name)}"


def processor():
    text = Path("/proc/cpuinfo").read_text("utf-8")
    return next(
        (
            line.split(":")[1].strip()
            for line in text.splitlines()
            if "model name" in line
        ),
        platform.processor(),
    )


def report(sizes):
    yield f"{datetime.now(UTC):%Y-%m-%d}; Python {platform.python_version()}"
    yield f"{processor()}, {os.cpu_count()} cores; {', '.join(versions())}"
    for size in sizes:
        found, raised, missing = routing(size)
        ours = found["ours: route + fill"]
        chain = ours + found["ours: accumulate"]
        yield f"\n{size} x {size} cells, {raised:.0%} raised (CPU ns a cell, ratios)"
        for name, value in found.items():
            yield (
                f"  {name:24} {value:8.1f}   {value / ours:5.2f} x route+fill"
                f"   {value / chain:5.2f} x route+accumulate"
            )
        if missing:
            yield f"  left out: {', '.join(missing)}"
        costs = passes(size).items()
        told = ", ".join(f"{name} {value:.1f}" for name, value in costs)
        yield f"  passes: {told}"
        peak_bytes = peak_bytes_a_cell(size)
        yield f"  peak of memory while routing: {peak_bytes:.1f} bytes a cell"
    one_ms, touched, whole_ms = lazy()
    yield (
        f"\nlazy version at 1000 x 1000: {one_ms:.2f} ms, "
        f"{touched:.0f} cells touched; "
        f"error field and routing {whole_ms:.0f} ms, "
        f"{whole_ms / one_ms:.0f} times"
    )
    ours, spin = threads()
    yield f"two threads over versions: {ours:.2f} times one; a sorting loop: {spin:.2f}"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    yield f"peak of this process: {peak / 1024:.0f} MB"


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", default="1000,2000")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    lines = []
    for line in report([int(one) for one in given.sizes.split(",")]):
        print(line, flush=True)  # noqa: T201
        lines.append(line)
    if given.out:
        given.out.write_text("\n".join(lines) + "\n", "utf-8")


if __name__ == "__main__":
    main()
