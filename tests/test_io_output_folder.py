"""A folder of results holds one whole set, whatever happens while it is written."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

import pathways
from pathways.errors import OutputError, OutputInUseError
from pathways.io.output_folder import OutputFolder

OLD = {"map.html": "old map", "results.json": "old results", "run.json": "old run"}
NEW = {"results.gpkg": "new base", "results.json": "new results", "run.json": "new run"}


def write_all(folder, files, *, overwrite=True):
    with OutputFolder(folder, overwrite=overwrite) as results:
        for name, text in files.items():
            add(results, name, text)


def add(results, name, text):
    results.add(name, partial(write, text), partial(check, text))


def write(text, path):
    path.write_text(text)


def check(text, path):
    if path.read_text() != text:
        msg = f"{path.name} differs"
        raise OutputError(msg)


def held(folder):
    """Return what the folder holds, hidden files included."""
    return {
        one.name: one.read_text() if one.is_file() else None for one in folder.iterdir()
    }


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "results"
    write_all(folder, OLD)
    return folder


def test_a_new_folder_holds_the_files_and_nothing_else(tmp_path):
    write_all(tmp_path / "a" / "b", NEW, overwrite=False)
    assert held(tmp_path / "a" / "b") == NEW


def test_results_are_not_replaced_unasked(folder):
    with pytest.raises(OutputError, match=r"already holds map\.html.*--overwrite"):
        write_all(folder, NEW, overwrite=False)
    assert held(folder) == OLD


def test_results_are_replaced_as_a_set_when_asked(folder):
    """The earlier map would not belong to the new results: it goes as well."""
    write_all(folder, NEW)
    assert held(folder) == NEW


def test_other_files_are_not_touched(folder):
    (folder / "notes.txt").write_text("mine")
    (folder / "photos").mkdir()
    write_all(folder, NEW)
    assert held(folder) == {**NEW, "notes.txt": "mine", "photos": None}


def test_other_files_are_no_reason_to_refuse(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    write_all(tmp_path, NEW, overwrite=False)
    assert held(tmp_path) == {**NEW, "notes.txt": "mine"}


def test_nothing_is_in_place_before_the_end(tmp_path):
    with OutputFolder(tmp_path, overwrite=False) as results:
        add(results, "run.json", "new")
        assert not (tmp_path / "run.json").exists()


def stop(error, path):
    path.write_text("half")
    raise error


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), "the disk is full; free"),
        (PermissionError(errno.EACCES, "Permission denied"), "does not permit it"),
        (OSError(errno.EIO, "Input/output error"), "Input/output error"),
    ],
)
def test_a_write_that_fails_leaves_the_earlier_files(folder, error, says):
    def run():
        with OutputFolder(folder, overwrite=True) as results:
            add(results, "results.json", "new")
            results.add("run.json", partial(stop, error), partial(check, ""))

    with pytest.raises(OutputError, match=rf"cannot write run\.json in .*{says}"):
        run()
    assert held(folder) == OLD


def test_an_error_of_the_caller_leaves_the_earlier_files(folder):
    def run():
        with OutputFolder(folder, overwrite=True) as results:
            add(results, "results.json", "new")
            msg = "by hand"
            raise KeyboardInterrupt(msg)

    with pytest.raises(KeyboardInterrupt, match="by hand"):
        run()
    assert held(folder) == OLD


def test_a_file_that_reads_back_differently_leaves_the_earlier_files(folder):
    def run():
        with OutputFolder(folder, overwrite=True) as results:
            results.add("run.json", partial(write, "new"), partial(check, "other"))

    with pytest.raises(OutputError, match=r"run\.json differs"):
        run()
    assert held(folder) == OLD


def test_a_writer_that_leaves_its_journal_is_not_trusted(folder):
    def write_with_journal(path):
        path.write_text("base")
        path.with_name("results.gpkg-journal").write_text("unfinished")

    def run():
        with OutputFolder(folder, overwrite=True) as results:
            results.add("results.gpkg", write_with_journal, partial(check, "base"))

    with pytest.raises(OutputError, match=r"results\.gpkg-journal"):
        run()
    assert held(folder) == OLD


def test_a_name_that_is_none_of_the_set_is_a_mistake(folder):
    def run():
        with OutputFolder(folder, overwrite=True) as results:
            add(results, "../outside.txt", "new")

    with pytest.raises(ValueError, match=r"'\.\./outside\.txt' is none of the files"):
        run()


def test_a_file_in_place_of_the_folder_is_refused(tmp_path):
    (tmp_path / "results").write_text("mine")
    with pytest.raises(OutputError, match="there is a file of this name"):
        write_all(tmp_path / "results", NEW)
    assert (tmp_path / "results").read_text() == "mine"


def test_a_file_above_the_folder_is_refused(tmp_path):
    (tmp_path / "a").write_text("mine")
    with pytest.raises(OutputError, match="there is a file of this name"):
        write_all(tmp_path / "a" / "results", NEW)


def test_a_folder_in_place_of_a_file_is_refused(tmp_path):
    (tmp_path / "map.html").mkdir()
    with pytest.raises(OutputError, match=r"map\.html is a folder"):
        write_all(tmp_path, NEW)
    assert held(tmp_path) == {"map.html": None}


def test_a_database_that_is_open_elsewhere_is_not_replaced(folder):
    """SQLite, "How To Corrupt An SQLite Database File", section 1.4 (unlinking or
    renaming a database file while in use): a journal would be applied to the new file.
    """
    (folder / "results.gpkg-wal").write_text("unfinished")
    with pytest.raises(OutputError, match=r"results\.gpkg is open in another program"):
        write_all(folder, NEW)


def test_a_database_that_was_opened_meanwhile_is_not_replaced(folder):
    def run():
        with OutputFolder(folder, overwrite=True) as results:
            add(results, "results.gpkg", "new")
            (folder / "results.gpkg-wal").write_text("unfinished")

    with pytest.raises(OutputError, match=r"results\.gpkg is open in another program"):
        run()
    assert held(folder) == {**OLD, "results.gpkg-wal": "unfinished"}


def python(code, *arguments):
    """Start another process that can import what this one tests."""
    source = str(Path(pathways.__file__).parents[1])
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, arguments)],
        env={**os.environ, "PYTHONPATH": source},
        stdout=subprocess.PIPE,
        stdin=subprocess.PIPE,
        text=True,
    )


HOLD = """
import sys
from pathlib import Path
from pathways.io.output_folder import OutputFolder
with OutputFolder(Path(sys.argv[1]), overwrite=True):
    print("held", flush=True)
    sys.stdin.read()
"""


FORBIDDEN = """
import os, sys
from pathlib import Path
from pathways.errors import OutputError
from pathways.io.output_folder import OutputFolder
if os.geteuid() == 0:
    os.setuid(65534)
try:
    with OutputFolder(Path(sys.argv[1]), overwrite=True):
        pass
except OutputError as error:
    print(error)
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps permissions elsewhere")
def test_a_folder_that_may_not_be_written_into_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    with python(FORBIDDEN, tmp_path / "results") as process:
        says = process.stdout.read()
    tmp_path.chmod(0o700)
    assert says.startswith(f"cannot write in {tmp_path}")


@pytest.fixture
def holder(folder):
    with python(HOLD, folder) as process:
        assert process.stdout.readline() == "held\n"
        yield process
        process.kill()


def test_a_folder_in_use_is_refused_and_its_user_named(folder, holder):
    says = rf"process {holder.pid}, started \d{{4}}-\d\d-\d\dT\d\d:\d\d:\d\dZ"
    with pytest.raises(OutputInUseError, match=says):
        write_all(folder, NEW)


def test_a_refusal_does_not_disturb_the_run_that_holds_the_folder(folder, holder):
    with pytest.raises(OutputInUseError, match="another run"):
        write_all(folder, NEW)
    holder.stdin.close()
    assert holder.wait() == 0


def test_a_killed_run_blocks_nobody(folder, holder):
    holder.kill()
    holder.wait()
    write_all(folder, NEW)
    assert held(folder) == NEW


def test_two_runs_in_one_process_are_kept_apart_as_well(folder):
    with (
        OutputFolder(folder, overwrite=True),
        pytest.raises(OutputInUseError, match=str(os.getpid())),
    ):
        write_all(folder, NEW)


def test_a_link_in_place_of_the_lock_is_not_followed(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".pathways-lock").symlink_to(tmp_path / "mine.txt")
    with pytest.raises(OutputError, match="cannot write in"):
        write_all(tmp_path / "out", NEW)
    assert (tmp_path / "mine.txt").read_text() == "mine"


@pytest.mark.skipif(os.name == "nt", reason="Windows has no /dev/full")
def test_a_full_disk_is_told_in_one_sentence(folder):
    def write_to_a_full_disk(path):
        with Path("/dev/full").open("w") as full:
            full.write("x")

    def run():
        with OutputFolder(folder, overwrite=True) as results:
            results.add("run.json", write_to_a_full_disk, partial(check, ""))

    with pytest.raises(OutputError, match=r"^[^\n]*the disk is full; free some space"):
        run()
    assert held(folder) == OLD
