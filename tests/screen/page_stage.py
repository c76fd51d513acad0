"""A made lesson behind the real server: shows the page the views a test gives it, and keeps what the page did."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

from cuekit.errors import CuekitError
from cuekit.screen.feed import Feed
from cuekit.screen.server import Served, serve
from cuekit.screen.view import HeardMark, Value, View
from cuekit.screen.wire import plain_view

TICKS_HZ = 20.0


@dataclass(eq=False)
class MadeLesson:
    """What the server asks, answered from what the test put there.

    Attributes:
        shown: the view.
        feed: to the pages.
        done: actions taken by the page, with their values.
        recordings: bytes handed over.
        refusal: what the next actions are refused with; empty for none.
    """

    shown: View
    feed: Feed = field(default_factory=Feed)
    done: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    recordings: list[bytes] = field(default_factory=list)
    refusal: str = ""

    def anew(self, view: View) -> None:
        """Forget what was done, and show a view to the pages to come."""
        self.feed.close()
        self.shown, self.refusal = view, ""
        self.done.clear()
        self.recordings.clear()

    def view(self) -> object:
        return plain_view(self.shown)

    def do(self, action: str, values: tuple[Value, ...]) -> None:
        self.done.append((action, {one.name: one.value for one in values}))
        if self.refusal:
            raise CuekitError(self.refusal)

    def take_in(self, recording: Path) -> None:
        self.recordings.append(recording.read_bytes())

    def paper(self, name: str) -> str:
        return f"<!doctype html><title>{name}</title><p>{name}</p>"

    def show(self, view: View) -> None:
        self.shown = view
        self.feed.tell("view", self.view())


@dataclass(eq=False)
class RunningBout:
    """The clock and the feet of a bout, told as the program tells them.

    Attributes:
        lesson: whose page sees it.
        began: the program's wall clock at which t is 0, s.
    """

    lesson: MadeLesson
    began: float
    _over: threading.Event = field(default_factory=threading.Event)

    @classmethod
    def start(cls, lesson: MadeLesson, view: View, at_s: float, jitter_s: tuple[float, ...] = (0.0,)) -> RunningBout:
        """Show the bout and tell its clock from `at_s` on, each tick wrong by the next of `jitter_s`."""
        running = cls(lesson, time.time() - at_s)
        lesson.show(view)
        threading.Thread(target=running._tick, args=(jitter_s,), daemon=True).start()
        return running

    def _tick(self, jitter_s: tuple[float, ...]) -> None:
        n = 0
        while not self._over.wait(1.0 / TICKS_HZ):
            wall = time.time()
            self.lesson.feed.tell("clock", {"t": wall - self.began + jitter_s[n % len(jitter_s)], "wall": wall})
            n += 1

    def footfall(self, t: float, size: float) -> None:
        """A foot lands."""
        self.lesson.shown = replace(self.lesson.shown, heard=(*self.lesson.shown.heard, HeardMark(t, size)))
        self.lesson.feed.tell("footfall", {"t": t, "size": size, "wall": self.began + t})

    def stop(self) -> None:
        """No more ticks."""
        self._over.set()


def serve_made(folder: Path, view: View) -> tuple[MadeLesson, Served]:
    """A made lesson and where its page is."""
    lesson = MadeLesson(view)
    return lesson, serve(lesson, folder)
