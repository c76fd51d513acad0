"""stdin, stdout and stderr as they may be: closed, full, a pipe whose reader left, unable to show a letter.

A program started with one of them closed would give its number to the next file it opens, the records
perhaps, and whatever is printed would go into that file.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress


def open_outlets() -> None:
    """Make all three usable: nothing behind a closed one, and letters it cannot show told by their number."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free: this one
    if sys.stdout is None:
        sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    if sys.stderr is None:
        sys.stderr = os.fdopen(2, "w", encoding="utf-8", closefd=False)
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError):  # a test may have put something simpler in its place
            stream.reconfigure(errors="backslashreplace")


def outlets_take_all() -> bool:
    """Whether all that was printed has gone out; an outlet that refuses is left to nothing from then on."""
    taken = True
    for number, stream in ((1, sys.stdout), (2, sys.stderr)):
        try:
            stream.flush()
        except OSError:
            taken = False
            nothing = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nothing, number)
            os.close(nothing)
    return taken
