"""Where the sound lies in a file made of chunks, and how much of it the header claims.

Headers lie: a recorder that died left its sizes empty, a copy was cut short, a file was forged.
The length of the file is what counts. The walk below reads chunk headers only, so that a claim can
be compared with what is there and a wrong size be corrected before the decoder sees it.

Layouts from memory of the formats' descriptions (RIFF/WAVE 1991, EBU Tech 3306 for RF64, AIFF 1989,
Core Audio Format 1.0, Sony Wave64, Sun/NeXT AU), checked in the tests against files libsndfile
writes.
"""

from __future__ import annotations

import os
import struct
from contextlib import suppress
from dataclasses import dataclass
from typing import BinaryIO

MOST_CHUNKS = 1000
"""A file with more chunks before its sound is forged."""


@dataclass(frozen=True)
class DataChunk:
    """The chunk that holds the sound.

    Attributes:
        claimed_bytes: its length by its own header; None where that was never filled in.
        held_bytes: from its first byte to the end of the file.
        size_at: where in the file its length is written.
        size_format: how, for `struct`.
        size_extra: what its length counts beyond the bytes held (a header, in some formats).
    """

    claimed_bytes: int | None
    held_bytes: int
    size_at: int
    size_format: str
    size_extra: int = 0

    @property
    def wrong(self) -> bool:
        """Whether the header claims more than there is, or nothing."""
        return self.claimed_bytes is None or self.claimed_bytes > self.held_bytes

    def claimed_s(self, held_s: float) -> float | None:
        """The length the header claims, s, given that of what is held; None where it claims nothing."""
        if self.claimed_bytes is None:
            return None
        return held_s * max(1.0, self.claimed_bytes / max(self.held_bytes, 1))  # notes may follow the sound

    @property
    def right_size(self) -> bytes:
        """What the header should say, as bytes to stand at `size_at`."""
        bits = 8 * struct.calcsize(self.size_format)
        most = 2**bits - 2 if self.size_format[-1].isupper() else 2 ** (bits - 1) - 1
        return struct.pack(self.size_format, min(self.held_bytes + self.size_extra, most))


@dataclass(frozen=True)
class _Layout:
    """How a family of files strings its chunks together."""

    begins: bytes
    kind_at: int
    kinds: tuple[bytes, ...]
    first: int
    id_length: int
    size_format: str
    size_counts_header: bool
    multiple: int
    data_id: bytes


_W64_TAIL = bytes.fromhex("f3acd3118cd100c04f8edb8a")
_RIFF = (8, (b"WAVE",), 12, 4)
_LAYOUTS = (
    _Layout(b"RIFF", *_RIFF, "<I", False, 2, b"data"),
    _Layout(b"RF64", *_RIFF, "<I", False, 2, b"data"),
    _Layout(b"RIFX", *_RIFF, ">I", False, 2, b"data"),
    _Layout(b"FORM", 8, (b"AIFF", b"AIFC"), 12, 4, ">I", False, 2, b"SSND"),
    _Layout(b"caff", 0, (b"caff",), 8, 4, ">q", False, 1, b"data"),
    _Layout(b"riff", 24, (b"wave" + _W64_TAIL,), 40, 16, "<Q", True, 8, b"data" + _W64_TAIL),
)

_NOTES = (b"LIST", b"id3 ", b"ID3 ", b"bext", b"cue ", b"fact", b"iXML", b"smpl", b"JUNK", b"PEAK", b"inst")
"""Chunks found after the sound; one right behind an empty sound means it is truly empty."""


def find_data(file: BinaryIO) -> DataChunk | None:
    """The chunk of a sound file that holds the sound; None where the file has no such chunks."""
    length = file.seek(0, os.SEEK_END)
    file.seek(0)
    head = file.read(64)
    if head.startswith(b".snd"):
        return _au_data(head, length)
    for layout in _LAYOUTS:
        kind = head[layout.kind_at :]
        if head.startswith(layout.begins) and kind.startswith(layout.kinds):
            return _walk(file, layout, length)
    return None


def _walk(file: BinaryIO, layout: _Layout, length: int) -> DataChunk | None:
    """The data chunk, found by hopping from chunk to chunk."""
    header_length = layout.id_length + struct.calcsize(layout.size_format)
    at, true_size = layout.first, None
    for _ in range(MOST_CHUNKS):
        file.seek(at)
        header = file.read(header_length)
        if len(header) < header_length:
            return None
        name = header[: layout.id_length]
        (size,) = struct.unpack(layout.size_format, header[layout.id_length :])
        if layout.size_counts_header:
            size -= header_length
        if name == b"ds64":  # RF64 keeps the long size here and FFFFFFFF in the chunk
            true_size = at + header_length + 8
        if name == layout.data_id:
            return _data(file, layout, at + layout.id_length, size, length, true_size)
        if size < 0 or at + size > length:
            return None
        at += header_length + -(-size // layout.multiple) * layout.multiple
    return None


def _data(
    file: BinaryIO, layout: _Layout, size_at: int, size: int, length: int, true_size_at: int | None
) -> DataChunk:
    """The data chunk whose length is written at `size_at`, or for RF64 at `true_size_at`."""
    start = size_at + struct.calcsize(layout.size_format)
    held, form = length - start, layout.size_format
    if true_size_at is not None and size == 0xFFFFFFFF:
        file.seek(true_size_at)
        size, size_at, form = struct.unpack("<Q", file.read(8))[0], true_size_at, "<Q"
    file.seek(start)
    behind = file.read(4)
    empty = size <= 0 and (held <= 0 or behind in _NOTES)
    never_filled = size < 0 or size in (0, 0xFFFFFFFF) or (layout.size_counts_header and size <= 0)
    claimed = 0 if empty else None if never_filled else size
    extra = start - size_at + layout.id_length if layout.size_counts_header else 0
    return DataChunk(claimed, max(held, 0), size_at, form, extra)


def _au_data(head: bytes, length: int) -> DataChunk | None:
    """The sound of an AU file, which has one header and no chunks."""
    if len(head) < 24:
        return None
    start, size = struct.unpack(">II", head[4:12])
    claimed = None if size in (0, 0xFFFFFFFF) and length > start else size
    return DataChunk(claimed, max(length - start, 0), 8, ">I")


def ogg_is_cut(file: BinaryIO) -> bool:
    """Whether an Ogg file stops before the page that is marked as its last (RFC 3533, section 6)."""
    length = file.seek(0, os.SEEK_END)
    file.seek(0)
    if file.read(4) != b"OggS":
        return False
    file.seek(max(0, length - 70_000))  # a page is 65,307 bytes at most
    tail = file.read()
    at = tail.rfind(b"OggS")
    if at < 0 or len(tail) < at + 27:
        return True
    segments = tail[at + 26]
    page_end = at + 27 + segments + sum(tail[at + 27 : at + 27 + segments])
    return not tail[at + 5] & 4 or page_end > len(tail)


class SoundBytes:
    """The file as the decoder sees it, a wrong length in its header put right.

    An error (or Ctrl-C) inside a call from the decoder would be printed and lost; it is kept here
    and raised once the decoder has returned.
    """

    def __init__(self, file: BinaryIO, chunk: DataChunk | None) -> None:
        self._file = file
        self._at = chunk.size_at if chunk is not None and chunk.wrong else 0
        self._patch = chunk.right_size if chunk is not None and chunk.wrong else b""
        self._problem: BaseException | None = None
        file.seek(0)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        with suppress(OSError, ValueError, OverflowError):  # a damaged header may ask for a place before 0
            return self._file.seek(offset, whence)
        return self._file.tell()

    def tell(self) -> int:
        return self._file.tell()

    def readinto(self, buffer: memoryview) -> int:
        try:
            start = self._file.tell()
            count = self._file.readinto(buffer)
        except BaseException as problem:
            self._problem = problem
            return 0
        first, last = max(start, self._at), min(start + count, self._at + len(self._patch))
        if first < last:
            buffer[first - start : last - start] = self._patch[first - self._at : last - self._at]
        return count

    def raise_problem(self) -> None:
        if self._problem is not None:
            raise self._problem
