"""Put a set of files in the place of an earlier set, all or none.

The temporary folder lies in the folder itself, so that a move is a change of name:

- ``new`` takes the files while they are written;
- ``old`` takes the earlier files when they are moved aside;
- ``new`` becomes ``ready`` once every earlier file is aside: the one step that decides.

So a run that was killed can be brought to an end by what is found: with ``ready`` the
new files go on into place, without it the earlier ones go back.
"""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from pathlib import Path

_NAME = ".pathways-temporary"


class FileSwap:
    """The move of one set of files into a folder.

    Parameters
    ----------
    folder : Path
        An existing folder, locked against other runs.
    names : tuple of str
        Every file that a set may hold. No other file is touched.

    Attributes
    ----------
    new : Path
        Where to write the files of the new set.
    half_done : bool
        Whether a move failed and could not be undone; the next `begin` ends it.
    """

    def __init__(self, folder: Path, names: tuple[str, ...]) -> None:
        self._folder = folder
        self._names = names
        self._temporary = folder / _NAME
        self._ready = self._temporary / "ready"
        self._old = self._temporary / "old"
        self.new = self._temporary / "new"
        self.half_done = False

    def begin(self) -> None:
        """Bring what a killed run has left to its end, and make room for a new set."""
        _move_all(self._ready if self._ready.exists() else self._old, self._folder)
        flush_folders(self._folder)
        if self._temporary.exists():
            self._empty()
        self.new.mkdir(parents=True)
        self._old.mkdir()

    def finish(self) -> None:
        """Move the earlier set aside and the new one into place, or put it back."""
        self.half_done = True
        try:
            self._move()
        except BaseException:
            self._undo()
            self.half_done = False
            raise
        self.half_done = False

    def clear(self) -> None:
        """Remove the temporary folder, unless it still holds what must not be lost."""
        if not self.half_done:
            with suppress(OSError):  # the next run tries again
                self._empty()

    def present(self) -> tuple[str, ...]:
        """Return the names of the set that are in the folder now."""
        return tuple(
            name for name in self._names if os.path.lexists(self._folder / name)
        )

    def _empty(self) -> None:
        # In this order: earlier files without `ready` would be put back by a next run.
        if self._old.exists():
            shutil.rmtree(self._old)
            flush_folders(self._temporary)
        shutil.rmtree(self._temporary)

    def _move(self) -> None:
        for name in self.present():
            (self._folder / name).replace(self._old / name)
        flush_folders(self._folder, self.new, self._old)
        self.new.rename(self._ready)
        flush_folders(self._temporary)
        _move_all(self._ready, self._folder)
        flush_folders(self._folder)

    def _undo(self) -> None:
        if self._ready.exists():
            for name in self.present():
                (self._folder / name).replace(self._ready / name)
            self._ready.rename(self.new)
        _move_all(self._old, self._folder)


def flush(path: Path) -> None:
    """Have the system put a file's content on the disk itself."""
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def flush_folders(*folders: Path) -> None:
    """Have the system put the names in folders on the disk itself."""
    if os.name == "nt":  # Windows opens no folders
        return
    for folder in folders:
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _move_all(source: Path, target: Path) -> None:
    if source.exists():
        for one in sorted(source.iterdir()):
            one.replace(target / one.name)
