"""Holding the records file against every other program while it is moved away."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cuekit.files.filenames import shown
from cuekit.records.store_file import PATIENCE_S, RecordsBusyError

_FIRST, _COUNT = 0x4000_0002, 510
"""The bytes that SQLite locks while it has a database open (sqlite.org/fileformat2.html, part 1.4)."""


@contextmanager
def held_alone(path: Path) -> Iterator[None]:
    """Hold a file, sound or damaged, until it has been moved away.

    A program that has it open would go on storing in the file that was set aside, and as it closes, remove
    the log of the new one. On Windows a file that is open cannot be moved.

    Raises:
        RecordsBusyError: another program has it open for longer than we wait.
    """
    if os.name == "nt" or not path.exists():
        yield
        return
    with path.open("rb+") as file:
        _lock(file.fileno(), path)
        yield


def _lock(descriptor: int, path: Path) -> None:
    import fcntl  # not on Windows

    end = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.lockf(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB, _COUNT, _FIRST)
            return
        except BlockingIOError:
            if time.monotonic() > end:
                raise RecordsBusyError(
                    f"another program has the records {shown(path)} open: close it and try again"
                ) from None
            time.sleep(0.05)
