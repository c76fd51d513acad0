"""What is told to the pages that are open, as server-sent events (HTML standard, section 9.2).

The sound runs in a thread of its own and must never wait for a page: telling is putting a line into the
queue of each reader. A reader that does not keep up is let go, and gets the whole view when it returns.
"""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, field

MOST_WAITING = 400
"""Events a reader may be behind, some ten seconds of a bout."""
MOST_READERS = 16
"""Pages that may be open at once; the oldest is let go."""
ALIVE_S = 10.0
"""A comment is sent after so long a silence, so that a page that went away is noticed."""


@dataclass(eq=False)
class _Reader:
    loop: asyncio.AbstractEventLoop
    queue: asyncio.Queue[str | None] = field(default_factory=lambda: asyncio.Queue(MOST_WAITING))

    def put(self, line: str | None) -> None:
        """In the reader's own loop."""
        if self.queue.full():
            line = None
            while not self.queue.empty():
                self.queue.get_nowait()
        self.queue.put_nowait(line)


class Feed:
    """Events from any thread to all readers."""

    def __init__(self) -> None:
        self._readers: list[_Reader] = []
        self._lock = threading.Lock()

    @property
    def readers(self) -> int:
        """How many pages listen."""
        return len(self._readers)

    def tell(self, event: str, data: object) -> None:
        """Send an event; returns at once, from whichever thread."""
        text = _written(event, data)
        with self._lock:
            readers = list(self._readers)
        for reader in readers:
            self._put(reader, text)

    def close(self) -> None:
        """Let all readers go."""
        with self._lock:
            readers, self._readers = self._readers, []
        for reader in readers:
            self._put(reader, None)

    async def read(self, event: str, first: Callable[[], Awaitable[object]]) -> AsyncIterator[str]:
        """What one page gets: `first` at once, then all that is told, until it is let go.

        `first` is asked for when the page listens already, so that no change falls in between.
        """
        reader = _Reader(asyncio.get_running_loop())
        with self._lock:
            self._readers.append(reader)
            oldest = self._readers.pop(0) if len(self._readers) > MOST_READERS else None
        if oldest is not None:
            self._put(oldest, None)
        try:
            yield _written(event, await first())
            while (line := await _next(reader)) is not None:
                yield line
        finally:
            with self._lock:
                if reader in self._readers:
                    self._readers.remove(reader)

    @staticmethod
    def _put(reader: _Reader, line: str | None) -> None:
        with suppress(RuntimeError):  # its loop is closed: the program is going down
            reader.loop.call_soon_threadsafe(reader.put, line)


async def _next(reader: _Reader) -> str | None:
    try:
        return await asyncio.wait_for(reader.queue.get(), ALIVE_S)
    except TimeoutError:
        return ": alive\n\n"


def _written(event: str, data: object) -> str:
    text = json.dumps(
        data if isinstance(data, dict) else asdict(data), ensure_ascii=False, separators=(",", ":")
    )
    return f"event: {event}\ndata: {text}\n\n"
