"""One folder of results: a whole set of files, or the set that was there before.

What is promised:

- Only one run at a time writes into a folder. The lock belongs to the process, so one
  that was killed leaves nothing that blocks the next.
- Each file is written aside, flushed to the disk and read back before any earlier file
  is touched. A full disk or an error until then leaves the earlier files as they were.
- Then all earlier files are moved aside and all new ones into place. Files of two runs
  never lie side by side. An error on the way puts the earlier files back; a kill or a
  power cut on the way can leave the set incomplete until the next run with this folder,
  which puts the earlier files back or finishes the move before anything else.
- No other file in the folder is touched.

What is not promised: a disk or network drive that reports data as stored when they are
not, and a program that reads the folder in the very moment of the move.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from errno import EDQUOT, ENOSPC
from pathlib import Path
from types import TracebackType
from typing import Self

from pathways.errors import OutputError
from pathways.io._file_swap import FileSwap, flush
from pathways.io._folder_lock import FolderLock

#: The files that make up one set of results; ``report.pdf`` only if it is asked for.
RESULT_FILES = (
    "map.html",
    "report.html",
    "report.md",
    "report.pdf",
    "sizes.html",
    "results.gpkg",
    "results.json",
    "run.json",
)

#: A database is more than its file: what another program has not finished lies beside
#: it, and SQLite would apply that to whatever file bears the name.
_DATABASE_REMAINS = ("-wal", "-journal")


class OutputFolder:
    """Take files one by one and put them into a folder all at once.

    Parameters
    ----------
    path : Path
        The folder; it is made if need be.
    overwrite : bool
        Whether results that are there may be replaced.
    names : tuple of str
        The files that make up one set. Those of an earlier run that are not written
        again are removed with the rest of the earlier set.

    Raises
    ------
    OutputError
        On entering, if results are there and may not be replaced, or the folder cannot
        be written into; on leaving, if the files cannot be moved into place.
    OutputInUseError
        On entering, if another run is writing into the folder.

    Examples
    --------
    >>> import tempfile
    >>> from functools import partial
    >>> from pathlib import Path
    >>> from pathways.io.results import check_results, write_results
    >>> folder = Path(tempfile.mkdtemp())
    >>> document = {"schema": "farm-pathways/1"}
    >>> with OutputFolder(folder, overwrite=False) as results:
    ...     results.add(
    ...         "results.json",
    ...         partial(write_results, document),
    ...         partial(check_results, document),
    ...     )
    >>> [path.name for path in folder.iterdir()]
    ['results.json']
    """

    def __init__(
        self, path: Path, *, overwrite: bool, names: tuple[str, ...] = RESULT_FILES
    ) -> None:
        self._path = path
        self._overwrite = overwrite
        self._names = names
        self._swap = FileSwap(path, names)
        self._leaving = ExitStack()

    def __enter__(self) -> Self:
        """Lock the folder and see that results may be written into it."""
        lock = FolderLock(self._path)
        with ExitStack() as leaving:
            with self._in_words("write"):
                self._path.mkdir(parents=True, exist_ok=True)
            lock.take()
            leaving.callback(lock.release)
            with self._in_words("write"):
                self._swap.begin()
            leaving.callback(self._swap.clear)
            self.refuse_to_replace()
            self._leaving = leaving.pop_all()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        """Move the files into place, or forget them after an error."""
        with self._leaving:
            if kind is None:
                self._refuse_open_database()
                with self._in_words("move the results into place"):
                    self._swap.finish()

    def add_content(self, name: str, content: str | bytes) -> None:
        """Write a file of which the whole content is known.

        Parameters
        ----------
        name : str
            One of the names of the set.
        content : str or bytes
            Text is written as UTF-8, lines ended as they are.

        Raises
        ------
        OutputError
            If the file cannot be written, or is not what was written.
        ValueError
            If the name is none of the set.
        """
        stored = content.encode() if isinstance(content, str) else content

        def write(path: Path) -> None:
            path.write_bytes(stored)

        def check(path: Path) -> None:
            if path.read_bytes() != stored:
                msg = f"{name} was not written whole; check that the disk is not full"
                raise OutputError(msg)

        self.add(name, write, check)

    def add(
        self, name: str, write: Callable[[Path], None], check: Callable[[Path], None]
    ) -> None:
        """Write one file aside, flush it to the disk and read it back.

        Parameters
        ----------
        name : str
            One of the names of the set.
        write : callable
            Writes the file to the path that it is given.
        check : callable
            Reads the file at the path that it is given, and raises OutputError if it is
            not what was written: a full disk can damage a file without an error.

        Raises
        ------
        OutputError
            If the file cannot be written, or is not what was written.
        ValueError
            If the name is none of the set.
        """
        if name not in self._names:
            msg = f"{name!r} is none of the files of this folder: {self._names}"
            raise ValueError(msg)
        with self._in_words(f"write {name}"):
            write(self._swap.new / name)
            flush(self._swap.new / name)
            check(self._swap.new / name)
            written = {one.name for one in self._swap.new.iterdir()}
        strangers = written.difference(self._names)
        if strangers:
            msg = f"writing {name} was not finished: {sorted(strangers)} was left"
            raise OutputError(msg)

    def refuse_to_replace(self) -> None:
        """Refuse if what is in the folder may not or cannot be replaced.

        Entering does this too; asked before minutes of work, it saves them.

        Raises
        ------
        OutputError
            If results are there and may not be replaced, or cannot be.
        """
        present = self._swap.present()
        if present and not self._overwrite:
            msg = (
                f"{self._path} already holds {', '.join(present)}; "
                "give another folder, or --overwrite to replace them"
            )
            raise OutputError(msg)
        for name in present:
            if (self._path / name).is_dir():
                msg = f"{self._path / name} is a folder; move it or write elsewhere"
                raise OutputError(msg)
        self._refuse_open_database()

    def _refuse_open_database(self) -> None:
        for name in self._names:
            for ending in _DATABASE_REMAINS:
                if (self._path / f"{name}{ending}").exists():
                    msg = (
                        f"{self._path / name} is open in another program or was not "
                        f"closed properly ({name}{ending} lies beside it); open it in "
                        "a desktop GIS, close it there, and run again"
                    )
                    raise OutputError(msg)

    @contextmanager
    def _in_words(self, what: str) -> Iterator[None]:
        """Say in one sentence why the system refuses to do something."""
        try:
            yield
        except OSError as error:
            msg = f"cannot {what} in {self._path}: {_reason(error)}"
            if self._swap.half_done:
                msg += "; the next run with this folder brings its files in order first"
            raise OutputError(msg) from error


def _reason(error: OSError) -> str:
    if error.errno in (ENOSPC, EDQUOT):
        return "the disk is full; free some space and run again"
    if isinstance(error, FileExistsError | NotADirectoryError):
        return "there is a file of this name; give a folder"
    if isinstance(error, PermissionError):
        return (
            "the system does not permit it; choose a folder that you may write into, "
            "and close its files in other programs"
        )
    return error.strerror or str(error)
