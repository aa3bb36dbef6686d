"""Routing a whole grid: this engine, sorting, and general-purpose programs beside it.

Each engine is a function that does its passes through `timed`, which takes a label and
what to run, and returns the filled surface where it makes one. Engines that are not
installed are left out, and said to be.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module, metadata
from tempfile import TemporaryDirectory
from types import ModuleType
from typing import Any

import numpy as np
import rasterio
from ground import Case
from rasterio.transform import from_origin

from pathways.terrain.drainage import accumulate, route
from pathways.terrain.multiple_flow import accumulate_multiple

Timed = Callable[[str, Callable[[], Any]], Any]

NO_DATA = -9999.0
#: Told apart from the rest: it begins with what was filled or routed before.
MULTIPLE = "multiple flow"


@contextmanager
def quiet() -> Iterator[None]:
    """Send what libraries print from C to nowhere."""
    sys.stdout.flush()
    sys.stderr.flush()
    kept = [os.dup(one) for one in (1, 2)]
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for one in (1, 2):
        os.dup2(nowhere, one)
    try:
        yield
    finally:
        for one, was in zip((1, 2), kept, strict=True):
            os.dup2(was, one)
            os.close(was)
        os.close(nowhere)


def ours(case: Case, timed: Timed) -> np.ndarray:
    """Route with walls, level ground and all ends."""
    drainage = timed("route and fill", lambda: route(case.heights_m, case.kinds))
    timed("accumulate", lambda: accumulate(drainage))
    timed(MULTIPLE, lambda: accumulate_multiple(drainage))
    return drainage.filled_m


def sorting(case: Case, timed: Timed) -> None:
    """Sort the same heights: what any engine with a sort in it must pay."""
    flat = case.heights_m.ravel()
    timed("argsort", lambda: np.argsort(flat))
    timed("argsort, stable", lambda: np.argsort(flat, kind="stable"))


def richdem(case: Case, timed: Timed) -> np.ndarray:
    """Fill, and fill with a slope in it (in float64, or the slope is lost) and D8."""
    library = import_module("richdem")

    def wrapped(heights: np.ndarray) -> Any:
        array = library.rdarray(heights, no_data=NO_DATA)
        array.geotransform = [0, 1, 0, 0, 0, -1]
        return array

    single, double = wrapped(case.bare_m), wrapped(case.bare_m.astype(np.float64))
    filled = timed("fill", lambda: library.FillDepressions(single))
    sloped = timed(
        "fill with a slope", lambda: library.FillDepressions(double, epsilon=True)
    )
    timed("accumulate", lambda: library.FlowAccumulation(sloped, method="D8"))
    # Quinn is its Freeman with the power 1: on the surface that ours shares out on.
    ground = wrapped(np.nan_to_num(route(case.heights_m, case.kinds).filled_m, nan=999))
    timed(MULTIPLE, lambda: library.FlowAccumulation(ground, method="Quinn"))
    return np.asarray(filled)


def pyflwdir(case: Case, timed: Timed) -> np.ndarray:
    """Fill with directions, read them, accumulate."""
    library = import_module("pyflwdir")
    filled, directions = timed(
        "fill and directions",
        lambda: library.dem.fill_depressions(case.bare_m, nodata=NO_DATA),
    )
    timed(
        "accumulate",
        lambda: library.from_array(
            directions, ftype="d8", check_ftype=False
        ).upstream_area(unit="cell"),
    )
    return np.asarray(filled)


def topotoolbox(case: Case, timed: Timed) -> np.ndarray:
    """Fill; route by carving; accumulate. Its routing does not need its fill."""
    library = import_module("topotoolbox")
    grid = library.GridObject()
    grid.z, grid.cellsize = case.bare_m.copy(), 1.0
    filled = timed("fill", grid.fillsinks)
    flow = timed("route", lambda: library.FlowObject(grid))
    timed("accumulate", flow.flow_accumulation)
    return np.asarray(filled.z)


def fastscapelib(case: Case, timed: Timed) -> None:
    """Route by a tree of basins with carving, accumulate; the graph is made before."""
    library = import_module("fastscapelib")
    heights = case.bare_m.astype(np.float64)
    grid = library.RasterGrid(
        list(heights.shape), [1.0, 1.0], library.NodeStatus.FIXED_VALUE
    )
    graph = library.FlowGraph(
        grid,
        [
            library.SingleFlowRouter(),
            library.MSTSinkResolver(
                library.MSTMethod.KRUSKAL, library.MSTRouteMethod.CARVE
            ),
        ],
    )
    timed("route", lambda: graph.update_routes(heights))
    timed("accumulate", lambda: graph.accumulate(1.0))


def whitebox_workflows(case: Case, timed: Timed) -> np.ndarray:
    """Fill with flats led away, accumulate; the fill reads its file."""
    library = import_module("whitebox_workflows")
    tools = library.WbEnvironment().hydrology
    with TemporaryDirectory() as name:
        path = f"{name}/ground.tif"
        _write(path, case.bare_m)
        ground = library.WbEnvironment().read_raster(path)
        filled = timed(
            "fill", lambda: tools.fill_depressions(dem=ground, fix_flats=True)
        )
        timed("accumulate", lambda: tools.d8_flow_accum(input=filled, out_type="cells"))
        timed(
            MULTIPLE,
            lambda: tools.quinn_flow_accumulation(dem=filled, out_type="cells"),
        )
        return np.asarray(filled.to_numpy()).reshape(case.bare_m.shape)


def _write(path: str, heights_m: np.ndarray) -> None:
    rows, columns = heights_m.shape
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=columns,
        height=rows,
        count=1,
        dtype="float32",
        nodata=NO_DATA,
        transform=from_origin(0, rows, 1, 1),
    ) as file:
        file.write(heights_m, 1)


def landlab(case: Case, timed: Timed) -> np.ndarray:
    """Directions, accumulation, then fill; some hundred times slower than the rest."""
    library = import_module("landlab")
    components = import_module("landlab.components")
    grid = library.RasterModelGrid(case.bare_m.shape, xy_spacing=1.0)
    heights = case.bare_m.astype(np.float64).ravel()
    grid.add_field("topographic__elevation", heights, at="node")
    filled = grid.add_zeros("filled", at="node")

    def work() -> None:
        flow = components.FlowAccumulator(grid, flow_director="FlowDirectorD8")
        lakes = components.LakeMapperBarnes(
            grid,
            method="D8",
            fill_flat=True,
            redirect_flow_steepest_descent=False,
            surface="topographic__elevation",
            fill_surface=filled,
            track_lakes=False,
        )
        flow.run_one_step()
        lakes.run_one_step()

    timed("all", work)
    return np.asarray(filled).reshape(case.bare_m.shape).astype(np.float32)


#: Engines by name: how they run, and the package that must be installed.
ENGINES: dict[str, tuple[Callable[[Case, Timed], np.ndarray | None], str]] = {
    "ours": (ours, "farm-pathways"),
    "sorting": (sorting, "numpy"),
    "richdem": (richdem, "richdem2"),
    "pyflwdir": (pyflwdir, "pyflwdir"),
    "topotoolbox": (topotoolbox, "topotoolbox"),
    "fastscapelib": (fastscapelib, "fastscapelib"),
    "whitebox_workflows": (whitebox_workflows, "whitebox-workflows"),
    "landlab": (landlab, "landlab"),
}
#: Run once, and on the smallest size only.
SLOW = ("landlab",)


def installed() -> dict[str, str]:
    """Return the version of each engine that can be run."""
    found = {}
    for name, (_, package) in ENGINES.items():
        try:
            found[name] = metadata.version(package)
            imported: ModuleType | None = (
                import_module(name) if name not in ("ours", "sorting") else None
            )
            del imported
        except (ImportError, metadata.PackageNotFoundError):
            found.pop(name, None)
    return found


def pass_times(case: Case, cpu_s: Callable[[], float]) -> dict[str, float]:
    """Return the CPU time of each pass of `route` [s]: each kernel in its place."""
    from pathways.terrain import _kernels as kernels
    from pathways.terrain import drainage

    spent: dict[str, float] = {}

    class Watched:
        """The kernels, each of which notes what it took."""

        def __getattr__(self, name: str) -> Any:
            kernel = getattr(kernels, name)

            def run(*given: Any) -> Any:
                began = cpu_s()
                found = kernel(*given)
                spent[name] = spent.get(name, 0.0) + cpu_s() - began
                return found

            return run

    began = cpu_s()
    drainage._kernels = Watched()
    try:
        route(case.heights_m, case.kinds)
    finally:
        drainage._kernels = kernels
    spent["all else"] = cpu_s() - began - sum(spent.values())
    return spent
