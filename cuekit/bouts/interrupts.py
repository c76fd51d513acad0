"""Ctrl-C as a wish to end the bout, so that no block is lost between the microphone and the disk."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager


class Interrupt:
    """Whether somebody wants to stop.

    Attributes:
        asked: True from the first Ctrl-C (or request to end the program) on.
    """

    def __init__(self) -> None:
        self.asked = False

    def __call__(self, number: int, frame: object) -> None:
        """A signal has come: the first is noted, the second leaves at once."""
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True


@contextmanager
def noted_interrupt() -> Iterator[Interrupt]:
    """While this lasts, Ctrl-C and a request to end the program are noted instead of raised.

    One within another is the same one: what was asked outside is asked inside, and the other way round.
    """
    noting = signal.getsignal(signal.SIGINT)
    if isinstance(noting, Interrupt):
        yield noting
        return
    interrupt = Interrupt()
    try:
        before = {number: signal.signal(number, interrupt) for number in (signal.SIGINT, signal.SIGTERM)}
    except ValueError:  # not the main thread, which alone gets signals
        yield interrupt
        return
    try:
        yield interrupt
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
