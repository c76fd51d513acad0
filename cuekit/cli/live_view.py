"""What the terminal shows while a bout runs: a mark for each foot, and where it is wanted a bouncing ball.

The ball is drawn over itself. Each frame is written at once and only where it differs from the last, so
that nothing flickers.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Protocol

import click

from cuekit.bouts.audio_port import OnClock, Stop
from cuekit.bouts.given import Given
from cuekit.cli.options import takes_unicode
from cuekit.drawing.bounce import bounce_of
from cuekit.drawing.bounce_text import HEIGHT, WIDTH, frame
from cuekit.hearing.events import Footfall

FOOT = "o "
_FRAME_S = 0.02

Write = Callable[[str], None]


class View(Protocol):
    """Shows a bout as it happens; both methods return at once."""

    def heard(self, footfall: Footfall) -> None:
        """A foot was heard."""
        ...

    def at(self, now_s: float) -> None:
        """Where the take is, see `audio_port.OnClock`."""
        ...


class NoView:
    """Shows nothing."""

    def heard(self, footfall: Footfall) -> None:
        """See `View`."""

    def at(self, now_s: float) -> None:
        """See `View`."""


class FeetView:
    """A mark for each foot.

    Parameters:
        write: puts text on the terminal.
    """

    def __init__(self, write: Write) -> None:
        self._write = write

    def heard(self, footfall: Footfall) -> None:
        """See `View`."""
        self._write(FOOT)

    def at(self, now_s: float) -> None:
        """See `View`."""


class BallView:
    """The bouncing ball, and the feet below it.

    Parameters:
        given: the cue it follows.
        write: puts text on a terminal that understands the usual control sequences.
        unicode: whether the terminal has more than ASCII.
    """

    def __init__(self, given: Given, write: Write, *, unicode: bool) -> None:
        self._bounce, self._lead_in_s = bounce_of(given.schedule), given.track.lead_in_s
        self._write, self._unicode = write, unicode
        self._shown: tuple[str, ...] = ()
        self._feet = 0

    def heard(self, footfall: Footfall) -> None:
        """See `View`; drawn with the next frame."""
        self._feet += 1

    def at(self, now_s: float) -> None:
        """See `View`."""
        feet = FOOT * (self._feet % (WIDTH // len(FOOT) + 1))
        lines = (*frame(self._bounce, now_s - self._lead_in_s, unicode=self._unicode), feet.ljust(WIDTH))
        if lines != self._shown:
            back = f"\x1b[{HEIGHT + 1}A\r" if self._shown else ""
            self._write(back + "\n".join(lines) + "\n")
            self._shown = lines


def view_of(given: Given | None, *, ball: bool) -> View:
    """What shows a bout on this terminal.

    Parameters
    ----------
    given : its cue; None without one
    ball : whether the bouncing ball is wanted

    Raises
    ------
    click.UsageError
        See `check_terminal`.
    """
    check_terminal(ball=ball)
    if not ball or given is None:
        return FeetView(_write)
    return BallView(given, _write, unicode=takes_unicode())


def check_terminal(*, ball: bool) -> None:
    """Refuse a ball where there is no terminal to draw it on.

    Raises:
        click.UsageError: so it is.
    """
    if ball and not _on_a_terminal():
        raise click.UsageError("the ball needs a terminal: leave out --ball and --silent, or do not redirect")


def show_silently(given: Given, on_clock: OnClock, stop: Stop) -> None:
    """Show a cue to its end by the clock of the computer: no device is opened."""
    began_s = time.monotonic()
    while (now_s := time.monotonic() - began_s) < given.track.duration_s and not stop():
        on_clock(now_s)
        time.sleep(_FRAME_S)


def _write(text: str) -> None:
    click.echo(text, nl=False)


def _on_a_terminal() -> bool:
    return sys.stdout.isatty()
