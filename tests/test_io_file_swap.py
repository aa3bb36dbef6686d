"""The move into place: killed, failed and undone at every one of its steps."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

import pathways
from pathways.errors import OutputError
from pathways.io.output_folder import OutputFolder

OLD = {"map.html": "old map", "results.json": "old results", "run.json": "old run"}
NEW = {"results.gpkg": "new base", "results.json": "new results", "run.json": "new run"}


def write_all(folder, files, *, overwrite=True):
    with OutputFolder(folder, overwrite=overwrite) as results:
        for name, text in files.items():
            results.add(name, partial(write, text), lambda _: None)


def write(text, path):
    path.write_text(text)


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


#: Killed at the n-th of all steps that change names or make them last.
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
    source = str(Path(pathways.__file__).parents[1])
    ends = []
    for step in range(1, 100):
        folder = tmp_path / str(step)
        write_all(folder, OLD)
        code = subprocess.run(
            [sys.executable, "-c", KILLED, folder, str(step), *files],
            env={**os.environ, "PYTHONPATH": source},
            check=False,
        ).returncode
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
        for name in ("replace", "rename"):
            monkeypatch.setattr(Path, name, self.counted(getattr(Path, name)))

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
