"""A recording dropped on the page: taken in block by block to a temporary file, and gone afterwards.

Nothing the page says about it is believed: not its name, not its type, not its length.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import AsyncIterator
from contextlib import suppress
from pathlib import Path

from cuekit.errors import AudioError

LARGEST_BYTES = 200_000_000
"""As large as a recording may be."""
STILL_S = 20.0
"""So long may nothing come before the sender is given up, s."""


class TooLargeError(AudioError):
    """More came than may come."""


async def spool(chunks: AsyncIterator[bytes], announced: int | None, folder: Path) -> Path:
    """Write what comes to a new file in `folder` and give its place; the caller deletes it.

    Args:
        chunks: the bytes as they come.
        announced: how many there are to be, where that was said; more than that is refused unread.
        folder: a private one.

    Raises:
        TooLargeError: it is larger than may be.
        AudioError: nothing came, it stopped coming, or it cannot be written.
    """
    if announced is not None and announced > LARGEST_BYTES:
        raise _too_large()
    try:
        with tempfile.NamedTemporaryFile(dir=folder, prefix="dropped-", delete=False) as file:
            path = Path(file.name)
            try:
                await _fill(file, chunks)
            except BaseException:
                _delete(path)
                raise
    except OSError as problem:
        raise AudioError(f"the recording cannot be taken in ({problem.strerror}): free some space") from None
    return path


async def _fill(file: tempfile._TemporaryFileWrapper, chunks: AsyncIterator[bytes]) -> None:
    size, coming = 0, chunks.__aiter__()
    with suppress(StopAsyncIteration):
        while True:
            try:
                chunk = await asyncio.wait_for(coming.__anext__(), STILL_S)
            except TimeoutError:
                raise AudioError("the recording stopped coming: drop it again") from None
            size += len(chunk)
            if size > LARGEST_BYTES:
                raise _too_large()
            file.write(chunk)
    if not size:
        raise AudioError("the recording is empty: choose another file")


def _too_large() -> TooLargeError:
    return TooLargeError(
        f"a recording may have {LARGEST_BYTES // 1_000_000} MB here: cut it, or use cuekit keep FILE"
    )


def _delete(path: Path) -> None:
    with suppress(OSError):
        path.unlink()
