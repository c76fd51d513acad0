"""Phone recordings: M4A, MP4, MOV, 3GP, AMR, WebM, AAC and WMA, by the decoder PyAV where it is installed.

It is an extra ("phone"), as it is larger than all the rest together. Of a film
only the sound is decoded. Packets are decoded one by one: a bad one is skipped and counted, and memory
does not grow with the length of the file.

Which format it is, is told by the first bytes and passed on, never guessed by the decoder: its guesses
include play lists, which open other files.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any, BinaryIO

import numpy as np

from cuekit.errors import AudioError, to_install

_FORMATS = (
    (b"#!AMR", "amr"),
    (b"\x1aE\xdf\xa3", "matroska"),
    (b"\x30\x26\xb2\x75\x8e\x66\xcf\x11", "asf"),
    (b"\xff\xf1", "aac"),
    (b"\xff\xf9", "aac"),
)
"""First bytes and the decoder's name of the format; from memory of the formats' own descriptions."""

MOST_BAD = 0.05
"""Share of packets that may be bad before a file is refused."""
_FEW_BAD = 3


def phone_format(head: bytes) -> str | None:
    """The decoder's name of the format, by the first bytes of a file; None for any other file."""
    if head[4:8] == b"ftyp":
        return "mov"
    for signature, name in _FORMATS:
        if head.startswith(signature):
            return name
    return None


class PhoneSound:
    """A phone recording open in the decoder; its blocks can be gone through more than once.

    Parameters:
        file: open for reading.
        kind: by `phone_format`.
        name: as shown in messages.
        what: what the file seems to be, as shown in messages ("an M4A phone memo").

    Attributes:
        rate_hz, channels: of the sound.
        claimed_s: length the file claims, s; None where it claims none.
        bad, packets: of the last going through.
        broke_off: whether that ended in an error.

    Raises:
        AudioError: the decoder is not installed, or the file is damaged or holds no sound.
    """

    def __init__(self, file: BinaryIO, kind: str, name: str, what: str) -> None:
        self._says = f"{name} seems to be {what}"
        self._av, self._file, self._kind, self._name = _decoder(self._says), file, kind, name
        self.bad = self.packets = 0
        self.broke_off = False
        with self._opened() as (_, stream):
            self.rate_hz, self.channels = int(stream.rate or 0), int(stream.channels or 0)
            length = stream.duration
            self.claimed_s = float(length * stream.time_base) if length and stream.time_base else None

    def blocks(self) -> Iterator[np.ndarray]:
        """The sound from its start, as arrays frames x channels, float32.

        Raises:
            AudioError: too much of it is damaged.
        """
        self.bad = self.packets = 0
        self.broke_off = False
        with self._opened() as (container, stream):
            straight = self._av.AudioResampler(format="fltp", layout=stream.layout, rate=stream.rate)
            for frame in self._frames(container, stream):
                for plain in straight.resample(frame):
                    yield plain.to_ndarray().T
        if self.bad > _FEW_BAD and self.bad > MOST_BAD * self.packets:
            raise AudioError(
                f"{self._name} is damaged: {self.bad} of its {self.packets} parts cannot be decoded: "
                "copy it from the phone again"
            )

    def _frames(self, container: Any, stream: Any) -> Iterator[Any]:
        """Decoded frames, bad packets left out."""
        packets = container.demux(stream)
        while True:
            try:
                packet = next(packets)
            except StopIteration:
                return
            except self._av.error.FFmpegError:
                self.broke_off = True
                return
            self.packets += 1
            try:
                yield from packet.decode()
            except self._av.error.FFmpegError:
                self.bad += 1

    @contextmanager
    def _opened(self) -> Iterator[tuple[Any, Any]]:
        """The file and its first stream of sound."""
        self._file.seek(0)
        damaged = f"{self._says}, but is damaged or was cut short: copy it again, or record again"
        try:
            container = self._av.open(self._file, format=self._kind, metadata_errors="replace")
        except (self._av.error.FFmpegError, ValueError):
            raise AudioError(damaged) from None
        with container:
            if not container.streams.audio:
                raise AudioError(f"{self._name} is a film without sound: record again with sound")
            yield container, container.streams.audio[0]


def _decoder(says: str) -> ModuleType:
    """PyAV, imported now."""
    try:
        import av
    except ImportError:
        raise AudioError(
            f"{says}, which needs one more part: {to_install('phone')}\n"
            "or set the phone's recorder to WAV (uncompressed), or save it as WAV in a sound editor"
        ) from None
    return av
