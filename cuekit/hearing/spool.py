"""Where the sound of a long recording lies while it is worked on: in a nameless file, read as an array.

Three hours at 16 kHz are 691 MB as float32. What is longer than `KEPT_IN_MEMORY_S` goes to a temporary
file that no other program can open and that the system removes with the process, whatever ends it. It
is mapped, so that it is read like any array; `let_go` gives back the memory of what was read.
"""

from __future__ import annotations

import mmap
import tempfile
import weakref
from collections.abc import Iterator

import numpy as np

from cuekit.errors import AudioError

KEPT_IN_MEMORY_S = 600.0

CHUNK = 1 << 20
"""Samples worked on at a time: 4 MB, about a minute."""


class Spool:
    """Collects float32 samples, in memory first and then in a file.

    Parameters
    ----------
    most_in_memory : samples from which on a file is used
    """

    def __init__(self, most_in_memory: int) -> None:
        self.size = 0
        self._most = most_in_memory
        self._parts: list[np.ndarray] = []
        self._file = None

    def add(self, samples: np.ndarray) -> None:
        """Append samples; they must not be changed afterwards.

        Raises
        ------
        AudioError
            The disk is full, or nothing can be written to it.
        """
        self._parts.append(samples)
        self.size += samples.size
        if self.size > self._most:
            try:
                self._write()
            except OSError as problem:
                raise AudioError(
                    f"the recording is long, and its sound does not fit on the disk meanwhile "
                    f"({problem.strerror}): free some space, or cut the file"
                ) from None

    def _write(self) -> None:
        """Move what is in memory to the file."""
        if self._file is None:
            self._file = tempfile.TemporaryFile()  # noqa: SIM115 - lives as long as this spool
            weakref.finalize(self, self._file.close)
        for part in self._parts:
            self._file.write(np.ascontiguousarray(part, np.float32).data)
        self._parts = []

    def samples(self) -> np.ndarray:
        """All that was added, as one array that can be changed; nothing can be added afterwards."""
        if self._file is None:
            return np.concatenate(self._parts) if self._parts else np.zeros(0, np.float32)
        with self._file as file:
            file.flush()
            return np.memmap(file, np.float32, "r+", shape=(self.size,))


def chunks(samples: np.ndarray, size: int = CHUNK) -> Iterator[np.ndarray]:
    """Views of the samples in order, each let go when the next one is asked for."""
    for start in range(0, samples.size, size):
        yield samples[start : start + size]
        let_go(samples)


def let_go(samples: np.ndarray) -> None:
    """Give back the memory of samples that lie in a file; they are read again when needed."""
    base = samples.base
    while isinstance(base, np.ndarray):
        base = base.base
    if isinstance(base, mmap.mmap) and hasattr(mmap, "MADV_DONTNEED"):
        base.madvise(mmap.MADV_DONTNEED)
