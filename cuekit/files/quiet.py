"""Silence for C libraries, which write notes of their own to file descriptor 2, past Python."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet_libraries() -> Iterator[None]:
    """Nothing written to file descriptor 2 reaches the terminal while this lasts."""
    if sys.stderr is not None:
        sys.stderr.flush()
    try:
        kept = os.dup(2)
    except OSError:  # no standard error at all (a program without a console)
        yield
        return
    try:
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, 2)
        os.close(sink)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
