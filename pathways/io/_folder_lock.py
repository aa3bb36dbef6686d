"""A lock on a folder of results, which the system frees when its process ends."""

from __future__ import annotations

import errno
import json
import os
import sys
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from pathways.errors import OutputError, OutputInUseError

_NAME = ".pathways-lock"

if sys.platform == "win32":
    import msvcrt

    #: Windows locks bytes against reading too: one far behind the text is taken.
    _LOCKED_BYTE = 1 << 30

    def _lock(descriptor: int) -> None:
        os.lseek(descriptor, _LOCKED_BYTE, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        os.lseek(descriptor, 0, os.SEEK_SET)

else:
    import fcntl

    def _lock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


class FolderLock:
    """An exclusive lock, held from `take` to `release` or to the end of the process.

    Parameters
    ----------
    folder : Path
        An existing folder.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._path = folder / _NAME
        self._descriptor: int | None = None

    def take(self) -> None:
        """Take the lock, or say who holds it.

        Raises
        ------
        OutputInUseError
            If another run holds it.
        OutputError
            If the folder cannot be written into or locked.
        """
        while self._descriptor is None:
            descriptor = self._open()
            try:
                self._lock(descriptor)
                # A run that ends removes the file: then this is the lock of nothing.
                if self._is_still_there(descriptor):
                    self._descriptor = descriptor
            finally:
                if self._descriptor is None:
                    os.close(descriptor)
        holder = {
            "pid": os.getpid(),
            "started": f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}",
        }
        with suppress(OSError):  # on a full disk the lock holds without its text
            os.ftruncate(self._descriptor, 0)
            os.write(self._descriptor, json.dumps(holder).encode())

    def release(self) -> None:
        """Give the lock back and leave no file behind."""
        if self._descriptor is None:
            return
        if sys.platform != "win32":  # which removes no open file
            self._path.unlink(missing_ok=True)
        os.close(self._descriptor)
        self._descriptor = None
        if sys.platform == "win32":
            with suppress(OSError):  # another run has it open by now
                self._path.unlink(missing_ok=True)

    def _open(self) -> int:
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
        try:
            return os.open(self._path, flags, 0o666)
        except OSError as error:
            msg = (
                f"cannot write in {self._folder}: {error.strerror}; choose a folder "
                "that you may write into"
            )
            raise OutputError(msg) from error

    def _lock(self, descriptor: int) -> None:
        try:
            _lock(descriptor)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
                raise self._in_use() from error
            msg = (
                f"cannot lock {self._folder} against other runs: {error.strerror}; "
                "choose a folder on a local disk"
            )
            raise OutputError(msg) from error

    def _is_still_there(self, descriptor: int) -> bool:
        try:
            return os.path.samestat(os.fstat(descriptor), self._path.stat())
        except FileNotFoundError:
            return False

    def _in_use(self) -> OutputInUseError:
        try:
            holder = json.loads(self._path.read_text(encoding="utf-8"))
            by = f"process {holder['pid']}, started {holder['started']}"
        except (OSError, ValueError, KeyError, TypeError):
            by = "a process that has not said which"
        return OutputInUseError(
            f"{self._folder} is being written by another run ({by}); wait until it has "
            "ended, or give another folder"
        )
