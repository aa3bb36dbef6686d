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
            raise KeyboardInterrupt("by hand")

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


#: Everything that changes names or makes them last; each is a place to be killed.
STEPS = (
    (Path, "replace"),
    (Path, "rename"),
    (os, "fsync"),
    (os, "unlink"),
    (os, "rmdir"),
)

KILLED = """
import os, sys
from pathlib import Path
from pathways.io.output_folder import OutputFolder
left = int(sys.argv[2])
def counted(call):
    def step(*arguments, **more):
        global left
        left -= 1
        if left == 0:
            os._exit(137)
        return call(*arguments, **more)
    return step
for place, name in ((Path, "replace"), (Path, "rename"), (os, "fsync"),
                    (os, "unlink"), (os, "rmdir")):
    setattr(place, name, counted(getattr(place, name)))
with OutputFolder(Path(sys.argv[1]), overwrite=True) as results:
    for text in sys.argv[3:]:
        name, _, content = text.partition("=")
        results.add(name, lambda path: path.write_text(content) and None,
                    lambda path: None)
"""


def test_a_kill_at_any_step_leaves_one_whole_set(tmp_path):
    files = [f"{name}={text}" for name, text in NEW.items()]
    ends = []
    for step in range(1, 100):
        folder = tmp_path / str(step)
        write_all(folder, OLD)
        with python(KILLED, folder, step, *files) as process:
            code = process.wait()
        in_place = {name: text for name, text in held(folder).items() if text}
        in_place.pop(".pathways-lock", None)
        assert in_place.items() <= OLD.items() or in_place.items() <= NEW.items()
        with pytest.raises(OutputError, match="already holds"):
            write_all(folder, NEW, overwrite=False)
        assert held(folder) in (OLD, NEW)
        ends.append("old" if held(folder) == OLD else "new")
        if code == 0:
            break
        assert code == 137
    assert step > len(MOVES)
    # First the earlier set, from one step on the new one: it never swings back.
    assert ends == sorted(ends, reverse=True)
    assert set(ends) == {"old", "new"}


class Failing:
    """Make the n-th step fail, once or from then on."""

    def __init__(self, monkeypatch, number, *, for_good):
        self.count = 0
        self.number = number
        self.for_good = for_good
        for place, name in STEPS[:2]:
            monkeypatch.setattr(place, name, self.counted(getattr(place, name)))

    def counted(self, call):
        def step(*arguments, **more):
            self.count += 1
            if self.count == self.number or (
                self.for_good and self.count > self.number
            ):
                raise OSError(errno.EIO, "Input/output error")
            return call(*arguments, **more)

        return step


# By hand: three earlier files aside, one decision, three new files into place.
MOVES = range(1, 8)


@pytest.mark.parametrize("number", MOVES)
def test_a_move_that_fails_is_undone(folder, monkeypatch, number):
    with monkeypatch.context() as patched:
        Failing(patched, number, for_good=False)
        with pytest.raises(OutputError, match="cannot move the results into place"):
            write_all(folder, NEW)
    assert held(folder) == OLD


@pytest.mark.parametrize("number", MOVES)
def test_a_move_that_cannot_be_undone_loses_nothing(folder, monkeypatch, number):
    with monkeypatch.context() as patched:
        Failing(patched, number, for_good=True)
        with pytest.raises(OutputError, match="cannot move the results into place"):
            write_all(folder, NEW)
    with pytest.raises(OutputError, match="already holds"):
        write_all(folder, NEW, overwrite=False)
    assert held(folder) in (OLD, NEW)


def test_a_move_has_as_many_steps_as_are_made_to_fail(folder, monkeypatch):
    failing = Failing(monkeypatch, number=None, for_good=False)
    write_all(folder, NEW)
    assert failing.count == len(MOVES)


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
