"""Keys pressed while something else goes on: read without waiting, one at a time.

A clicker is a keyboard too: any of its buttons is a key.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

_POLL_S = 0.02


@dataclass(frozen=True)
class Keyboard:
    """What can be pressed.

    Attributes:
        there: whether there is one at all (there is none where input comes from a pipe).
        pressed: gives the key pressed since it was last asked, "" for none; never waits.
    """

    there: bool
    pressed: Callable[[], str]


def wait_for_key(keyboard: Keyboard, at_most_s: float = math.inf) -> str:
    """Wait for a key, so long at most; "" where none came. Without a keyboard there is no waiting."""
    until_s, key = time.monotonic() + at_most_s, ""
    while keyboard.there and not key and time.monotonic() < until_s:
        key = keyboard.pressed()
        time.sleep(0.0 if key else _POLL_S)
    return key


@contextmanager
def listening_keyboard() -> Iterator[Keyboard]:
    """Keys as they are pressed, not shown and not waiting for Enter."""
    if not sys.stdin or not sys.stdin.isatty():
        yield Keyboard(False, str)
    elif sys.platform == "win32":
        yield Keyboard(True, _windows_key)
    else:
        with _unbuffered():
            yield Keyboard(True, _posix_key)


@contextmanager
def _unbuffered() -> Iterator[None]:
    """The terminal handing over each key at once; Ctrl-C still interrupts."""
    import termios
    import tty

    descriptor = sys.stdin.fileno()
    before = termios.tcgetattr(descriptor)
    tty.setcbreak(descriptor)
    try:
        yield
    finally:
        termios.tcsetattr(descriptor, termios.TCSADRAIN, before)


def _posix_key() -> str:
    import os
    import select

    descriptor = sys.stdin.fileno()
    ready, _, _ = select.select([descriptor], [], [], 0)
    return os.read(descriptor, 1).decode("latin-1") if ready else ""


def _windows_key() -> str:
    import msvcrt

    return msvcrt.getwch() if msvcrt.kbhit() else ""
