"""One farm folder: read, assess, write."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from pathways.assessment import Assessment, assess_farm
from pathways.errors import Notice, OutputError, RefusedError, RulebookError
from pathways.farm import Farm, Tables
from pathways.io.farms import FarmRead, Provenance, read_farm
from pathways.io.geopackage import check_geopackage, write_geopackage
from pathways.io.output_folder import RESULT_FILES, OutputFolder
from pathways.io.results import check_results, results_document, write_results
from pathways.io.rulebooks import read_rulebook, read_rulebook_file, read_weights
from pathways.io.run_record import run_document
from pathways.io.tables import (
    read_assumed,
    read_elevation_errors,
    read_materials,
    read_ways_without,
)
from pathways.rules import Rulebook
from pathways.settings import RuleSettings
from pathways.terrain._jit import cache_folder
from pathways.terrain._kernels import find_steps
from pathways.terrain.landscape import Terrain
from pathways.terrain.runs import routed_once
from pathways.terrain.surface import open_cell_near
from pathways.terrain.versions import Versions
from pathways.witness import WitnessReport
from pathways.witness import witness as witness_of

#: Where results go unless the caller says otherwise, inside the farm folder.
RESULTS_FOLDER = "results"


@dataclass(frozen=True)
class Run:
    """What one run found and what it was made from."""

    assessment: Assessment
    provenance: Provenance


def assess(farm_folder: Path | str) -> Assessment:
    """Read and assess one farm; nothing is written.

    Parameters
    ----------
    farm_folder : Path or str
        Folder of the farm, or its farm.toml.

    Returns
    -------
    Assessment
        Pathways, sites, assumptions and notices.

    Raises
    ------
    RefusedError
        With everything that is wrong with the input.
    LimitError
        If the grid is too large for the memory allowed.
    """
    return run(Path(farm_folder)).assessment


def run(
    farm_folder: Path,
    *,
    told: Callable[[str], None] = lambda _: None,
    judge_sites: bool = True,
) -> Run:
    """Read and assess one farm, and keep what it was made from.

    Parameters
    ----------
    farm_folder : Path
        Folder of the farm, or its farm.toml.
    told : callable
        Is told what is being done.
    judge_sites : bool
        Whether sites are searched and judged too.

    Returns
    -------
    Run
        Assessment and provenance.

    Raises
    ------
    RefusedError
        With everything that is wrong with the input.
    """
    told("reading the farm")
    read: FarmRead = read_farm(farm_folder)
    folder = farm_folder.parent if farm_folder.is_file() else farm_folder
    tables = read_tables(folder, read.farm.settings.rules)
    sites = ", judging the sites" if judge_sites else ""
    told(f"tracing the sources over many versions of the ground{sites}")
    found = assess_farm(
        read.farm, tables, threads=os.cpu_count() or 1, judge_sites=judge_sites
    )
    return Run(found, read.provenance)


def check_farm(farm_folder: Path) -> tuple[Notice, ...]:
    """Return everything that is wrong or doubtful in a farm folder.

    Parameters
    ----------
    farm_folder : Path
        Folder of the farm, or its farm.toml.

    Returns
    -------
    tuple of Notice
        Errors and warnings, those of the rulebook, of walls and of drains among them;
        empty where there is nothing to say.
    """
    try:
        farm = read_farm(farm_folder).farm
    except RefusedError as error:
        return error.notices
    folder = farm_folder.parent if farm_folder.is_file() else farm_folder
    notices = list(farm.notices)
    try:
        rulebook_of(folder, farm.settings.rules)
    except RulebookError as error:
        where = "farm.toml, rules"
        notices.append(Notice("rulebook_refused", str(error), where, "error"))
    terrain = Terrain(farm.grid, farm.features, read_assumed())
    return (*notices, *terrain.barriers.notices, *terrain.drains.notices)


def read_tables(folder: Path, rules: RuleSettings) -> Tables:
    """Read every table that an assessment uses.

    Parameters
    ----------
    folder : Path
        Folder of the farm, for a rulebook of its own.
    rules : RuleSettings
        ``[rules]`` of farm.toml.

    Returns
    -------
    Tables

    Raises
    ------
    RulebookError
        If the rulebook is not there or is faulty.
    """
    return Tables(
        read_assumed(),
        read_elevation_errors(),
        rulebook_of(folder, rules),
        read_weights(),
        read_materials(),
        read_ways_without(),
    )


def warm_up(farm_folder: Path) -> str:
    """Compile all that an assessment uses, by assessing a farm; nothing is written.

    Parameters
    ----------
    farm_folder : Path
        A farm with a source on its ground and a surveyed level.

    Returns
    -------
    str
        Folder in which compiled code is kept between runs.

    Raises
    ------
    OutputError
        If it cannot be kept.
    """
    kept = cache_folder(find_steps)
    if kept is None:
        msg = (
            "compiled code cannot be kept: set NUMBA_CACHE_DIR to a folder that can be "
            "written, and see that NUMBA_DISABLE_JIT is not set"
        )
        raise OutputError(msg)
    farm = run(farm_folder).assessment.farm
    assumed = read_assumed()
    terrain = Terrain(farm.grid, farm.features, assumed)
    scenario = read_elevation_errors()[farm.settings.ground.survey][0]
    spot_level_error_m = assumed["ground", "spot_level_error_m"]
    versions = Versions(terrain, scenario, farm.settings.farm.id, spot_level_error_m)
    cell = open_cell_near(
        terrain.flow.ground, farm.features.sources[0].geometry, terrain.barriers
    )
    if cell is not None:
        routed_once(versions, cell)  # only farms with large pools come to this
    return kept


def ask_witness(farm: Farm) -> WitnessReport:
    """Have a second program fill the ground of a farm, with the values of the package.

    Parameters
    ----------
    farm : Farm
        A farm that was read.

    Returns
    -------
    WitnessReport
        How many cells are equal.

    Raises
    ------
    WitnessMissingError
        If the program is not installed.
    LimitError
        If the grid is too large for the memory allowed.
    """
    return witness_of(farm, read_assumed())


def rulebook_of(folder: Path, rules: RuleSettings) -> Rulebook:
    """Return the rulebook that a farm names.

    Parameters
    ----------
    folder : Path
        Folder of the farm, in which its own rulebook lies.
    rules : RuleSettings
        `[rules]` of farm.toml.

    Returns
    -------
    Rulebook
        The user's own where a file is named, else the built-in one.

    Raises
    ------
    RulebookError
        If there is none of that name, or the file is not in order.
    """
    if rules.file:
        return read_rulebook_file(folder / rules.file)
    return read_rulebook(rules.jurisdiction)


def write(
    done: Run,
    folder: Path,
    *,
    overwrite: bool = False,
    witness: WitnessReport | None = None,
    pdf: bool = False,
    told: Callable[[str], None] = lambda _: None,
) -> tuple[Path, ...]:
    """Write the results of a run: all files, or none.

    Parameters
    ----------
    done : Run
        What was found.
    folder : Path
        Where to; it is made if need be.
    overwrite : bool
        Replace results that are there.
    witness : WitnessReport, optional
        What a second program found, for ``run.json``.
    pdf : bool
        Whether the report is written as a PDF too.
    told : callable
        Is told what is being done.

    Returns
    -------
    tuple of Path
        The files.

    Raises
    ------
    OutputError
        If results are there and may not be replaced, or cannot be written.
    PrinterMissingError
        If a PDF is asked for and WeasyPrint is not installed.
    """
    # A tenth of a second that `trace` saves.
    from pathways.pages.map import map_page
    from pathways.pages.report import report_markdown, report_page, report_pdf
    from pathways.pages.sizes import sizes_page

    found, made_from = done.assessment, done.provenance
    results = results_document(found)
    record = run_document(
        inputs=made_from.inputs,
        operations=made_from.operations,
        settings=found.farm.settings,
        notices=found.notices,
        witness=None if witness is None else witness.for_machines(),
    )
    report = report_page(found)
    printed = report_pdf(report) if pdf else b""
    with OutputFolder(folder, overwrite=overwrite) as output:
        told("writing the pages")
        for name, page in (
            ("map.html", map_page(found)),
            ("report.html", report),
            ("report.md", report_markdown(found)),
            ("sizes.html", sizes_page(found)),
        ):
            output.add_content(name, page)
        if pdf:
            output.add_content("report.pdf", printed)
        told("writing the layers")
        output.add(
            "results.gpkg",
            partial(write_geopackage, found, record=record),
            partial(check_geopackage, found, record=record),
        )
        for name, document in (("results.json", results), ("run.json", record)):
            output.add(
                name, partial(write_results, document), partial(check_results, document)
            )
    written = [one for one in RESULT_FILES if pdf or one != "report.pdf"]
    return tuple(folder / name for name in written)
