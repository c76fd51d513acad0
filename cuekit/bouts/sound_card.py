"""The loudspeaker and microphone of this computer, through PortAudio.

sounddevice is imported when it is needed: its import opens the sound system and fails where PortAudio
is missing, and `cuekit --help` must not wait for either.

PortAudio calls back with a block to fill and a block taken in. The callback only moves blocks between
two queues; everything else is done by the caller's thread. When a device disappears PortAudio says
nothing at all, or only that the stream is finished (both seen with a sink taken away): so the blocks
are counted, an end nobody asked for is a loss, and so is a second without a block.
"""

from __future__ import annotations

import statistics
import threading
import time
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from types import ModuleType
from typing import Any

import numpy as np

from cuekit.bouts.audio_port import Ended, Listener, OnClock, Passage, Slip, SlipKind, Stop, unwatched
from cuekit.bouts.own_rate import Converting, cue_at
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.errors import DeviceError
from cuekit.files.quiet import quiet_libraries

BLOCK, HEARING_BLOCK = 1024, 512
IN_LATENCY_S, OUT_LATENCY_S = 0.1, 0.2
"""A footfall is to be shown within 100 ms: the ear needs 50 of them, so the microphone is asked to keep back
little, in small blocks where nothing plays. Where something does, larger blocks and a later loudspeaker kept
the time line best on a busy computer."""

AHEAD_S = 1.0
"""Cue kept waiting in the queue: the caller may be busy this long, s."""

FLUSH_S = 0.4
"""Silence played after a cue: some systems drop what is still queued when told to end, s."""

FIRST_BLOCK_S, NEXT_BLOCK_S = 3.0, 1.0
"""A device that gives no block for so long is lost, s. Some take long to begin."""

_POLL_S = 0.01
_STAMPS = 256
_WRONG_RATE = -9997  # paInvalidSampleRate of portaudio.h
_MEND = "cues can still be written to a file (cuekit play --out FILE.wav) and recordings scored"


class SoundCard:
    """The usual loudspeaker and microphone, or the ones named.

    Parameters:
        loudspeaker, microphone: part of a device's name; None for the usual one.
    """

    def __init__(self, loudspeaker: str | None = None, microphone: str | None = None) -> None:
        self._loudspeaker, self._microphone = loudspeaker, microphone

    def play(self, cue: Iterable[np.ndarray], stop: Stop, on_clock: OnClock = unwatched) -> Passage:
        """Play to the end; see `AudioPort`."""
        return self._run(_Wish(cue, hears=False, ends=True), _nobody, stop, on_clock)

    def record(self, listener: Listener, stop: Stop, on_clock: OnClock = unwatched) -> Passage:
        """Record until stopped; see `AudioPort`."""
        return self._run(_Wish(None, hears=True, ends=False), listener, stop, on_clock)

    def play_and_record(
        self, cue: Iterable[np.ndarray], listener: Listener, stop: Stop, on_clock: OnClock = unwatched
    ) -> Passage:
        """Both on one clock; see `AudioPort`."""
        return self._run(_Wish(cue, hears=True, ends=False), listener, stop, on_clock)

    def names(self) -> tuple[str, str]:
        """Names of the loudspeaker and the microphone that will be used.

        Raises:
            DeviceError: one of them is missing.
        """
        sounddevice = _sounddevice()
        return (
            _name(sounddevice, self._loudspeaker, "output"),
            _name(sounddevice, self._microphone, "input"),
        )

    def _run(self, wish: _Wish, listener: Listener, stop: Stop, on_clock: OnClock) -> Passage:
        """Move blocks until the cue has sounded, somebody stops it or the device is lost."""
        with quiet_libraries():
            exchange, stream = self._opened(wish)
            own = None if exchange.rate_hz == SAMPLE_RATE_HZ else Converting(listener, exchange.rate_hz)
            heard = own or listener
            try:
                exchange.fill()
                stream.start()
                exchange.held_back_s = _output_latency_s(stream) if exchange.sounds else 0.0
                ended = _exchanged(exchange, heard, stop, on_clock)
            except _sounddevice().PortAudioError as error:
                raise DeviceError(f"{exchange.what} cannot be started ({_short(error)}): {_MEND}") from None
            finally:
                # Drops what is queued: the sound is gone at once.
                stream.abort(ignore_errors=True)
                stream.close(ignore_errors=True)
            exchange.pass_on(heard)
            passage = exchange.passage(ended)
            return own.finish(passage, exchange.rate_hz) if own else passage

    def _opened(self, wish: _Wish) -> tuple[_Exchange, Any]:
        """The stream, not started, at 48 kHz or else at a rate of the device's own."""
        sounddevice = _sounddevice()
        refused: Exception | None = None
        for rate_hz in self._rates_hz(wish):
            exchange = _Exchange(wish, rate_hz)
            try:
                return exchange, self._stream(exchange)
            except (sounddevice.PortAudioError, ValueError) as error:
                refused = refused or error
                if _WRONG_RATE not in getattr(error, "args", ()):
                    break
        raise DeviceError(f"{wish.what} cannot be opened ({_short(refused)}): {_MEND}") from None

    def _rates_hz(self, wish: _Wish) -> Iterator[int]:
        """48 kHz, and the rates the devices have by themselves, which are looked up only if it is refused."""
        yield SAMPLE_RATE_HZ
        sounddevice = _sounddevice()
        sides = [(self._microphone, "input", wish.hears), (self._loudspeaker, "output", wish.sounds)]
        for device, kind, used in sides:
            if used:
                yield round(sounddevice.query_devices(device, kind)["default_samplerate"])

    def _stream(self, exchange: _Exchange) -> Any:
        """The stream of an exchange, not started."""
        sounddevice = _sounddevice()
        settings = {
            "samplerate": exchange.rate_hz,
            "blocksize": exchange.block,
            "channels": 1,
            "dtype": "float32",
            "finished_callback": exchange.finished.set,
        }
        if exchange.hears and exchange.sounds:
            devices, latency = (self._microphone, self._loudspeaker), (IN_LATENCY_S, OUT_LATENCY_S)
            return sounddevice.Stream(device=devices, callback=exchange.both, latency=latency, **settings)
        if exchange.hears:
            return sounddevice.InputStream(
                device=self._microphone, callback=exchange.take_in, latency=IN_LATENCY_S, **settings
            )
        return sounddevice.OutputStream(
            device=self._loudspeaker, callback=exchange.give_out, latency=OUT_LATENCY_S, **settings
        )


@dataclass(frozen=True)
class _Wish:
    """What is wanted of the device: a cue (None for none), to hear, to end with the cue."""

    cue: Iterable[np.ndarray] | None
    hears: bool
    ends: bool

    @property
    def sounds(self) -> bool:
        """Whether anything is played."""
        return self.cue is not None

    @property
    def block(self) -> int:
        """Frames of a block."""
        return BLOCK if self.sounds else HEARING_BLOCK

    @property
    def what(self) -> str:
        """The device, in words."""
        names = {(True, True): "loudspeaker and microphone", (True, False): "the loudspeaker"}
        return names.get((self.sounds, self.hears), "the microphone")


class _Exchange:
    """The two queues between PortAudio's thread and ours, and what is noted on the way."""

    def __init__(self, wish: _Wish, rate_hz: int = SAMPLE_RATE_HZ) -> None:
        self.rate_hz, self.what, self.block = rate_hz, wish.what, wish.block
        self.sounds, self.hears = wish.sounds, wish.hears
        self.finished = threading.Event()
        self.last_block_s = time.monotonic() + FIRST_BLOCK_S - NEXT_BLOCK_S
        self.held_back_s = 0.0
        self._ends = wish.ends
        flush = np.zeros(round(FLUSH_S * SAMPLE_RATE_HZ), np.float32)
        sound = chain(wish.cue or (), [flush])
        self._waiting = _blocks_of(sound if rate_hz == SAMPLE_RATE_HZ else cue_at(sound, rate_hz), self.block)
        self._out: deque[np.ndarray] = deque()
        self._in: deque[np.ndarray] = deque()
        self._all_queued = wish.cue is None
        self._recorded = self._played = self._handed = 0
        self._slips: list[Slip] = []
        self._delays_s: deque[float] = deque(maxlen=_STAMPS)
        self._first_sample_s: float | None = None
        self._stop_callback: type[Exception] = _sounddevice().CallbackStop

    @property
    def now_s(self) -> float:
        """Where the take is, see `OnClock`; between two blocks it goes on with the clock of the computer."""
        frames = self._handed if self.sounds else self._recorded
        since_s = min(max(time.monotonic() - self.last_block_s, 0.0), NEXT_BLOCK_S) if frames else 0.0
        return max(0.0, frames / self.rate_hz + since_s - self.held_back_s)

    @property
    def all_played(self) -> bool:
        """Whether the whole cue has been handed over and nothing else is wanted."""
        return self._ends and self._all_queued and not self._out

    def fill(self) -> None:
        """Render ahead, as much as is kept waiting."""
        while not self._all_queued and len(self._out) * self.block < AHEAD_S * self.rate_hz:
            block = next(self._waiting, None)
            if block is None:
                self._all_queued = True
            else:
                self._out.append(block)

    def pass_on(self, listener: Listener) -> None:
        """Give the listener what has come in."""
        while self._in:
            listener(self._in.popleft())

    def both(self, taken: np.ndarray, given: np.ndarray, frames: int, stamps: Any, status: Any) -> None:
        """PortAudio has a block and wants one."""
        self._delays_s.append(stamps.outputBufferDacTime - stamps.inputBufferAdcTime)
        self.take_in(taken, frames, stamps, status)
        self.give_out(given, frames, stamps, status)

    def take_in(self, taken: np.ndarray, frames: int, stamps: Any, status: Any) -> None:
        """PortAudio has a block."""
        self.last_block_s = time.monotonic()
        if status.input_overflow:
            self._slips.append(Slip(SlipKind.LOST_INPUT, self._recorded))
        if self._first_sample_s is None:
            self._first_sample_s = stamps.inputBufferAdcTime
        self._in.append(taken[:, 0].copy())
        self._recorded += frames

    def give_out(self, given: np.ndarray, frames: int, stamps: Any, status: Any) -> None:
        """PortAudio wants a block."""
        self.last_block_s = time.monotonic()
        given.fill(0.0)
        self._handed += frames
        at = self._recorded if self.hears else self._played
        if status.output_underflow:
            self._slips.append(Slip(SlipKind.LATE_OUTPUT, at))
        if self._out:
            block = self._out.popleft()
            given[: block.size, 0] = block
            self._played += block.size
        elif not self._all_queued:  # we were too slow, and the rest of the cue will come late
            self._slips.append(Slip(SlipKind.LATE_OUTPUT, at))
        if self.all_played:
            raise self._stop_callback

    def passage(self, ended: Ended) -> Passage:
        """What was noted."""
        seconds = (self._recorded if self.hears else self._played) / self.rate_hz
        lost = f"{self.what} was disconnected after {seconds:.1f} s; what was heard so far is kept"
        return Passage(
            ended=ended,
            recorded=self._recorded,
            played=self._played,
            slips=tuple(self._slips),
            lost=lost if ended is Ended.LOST else "",
            # The first stamps are wrong on some systems: the middle one of many is taken.
            stamped_delay_s=statistics.median(self._delays_s) if self._delays_s else None,
            first_sample_s=self._first_sample_s,
        )


def _exchanged(exchange: _Exchange, listener: Listener, stop: Stop, on_clock: OnClock) -> Ended:
    """Keep both queues moving until it is over."""
    while True:
        exchange.fill()
        exchange.pass_on(listener)
        on_clock(exchange.now_s)
        if stop():
            return Ended.STOPPED
        if exchange.finished.is_set():
            return Ended.PLAYED if exchange.all_played else Ended.LOST
        if time.monotonic() - exchange.last_block_s > NEXT_BLOCK_S:
            return Ended.LOST
        exchange.finished.wait(_POLL_S)


def _output_latency_s(stream: Any) -> float:
    """From handing a sample over to its sound, as the device claims it, s."""
    latency = stream.latency
    return float(latency[1] if isinstance(latency, tuple) else latency)


def _blocks_of(sound: Iterable[np.ndarray], size: int) -> Iterator[np.ndarray]:
    """The same samples in blocks of one size, the last one shorter."""
    rest = np.zeros(0, np.float32)
    for block in sound:
        rest = np.concatenate([rest, block])
        whole = rest.size // size * size
        yield from rest[:whole].reshape(-1, size)
        rest = rest[whole:]
    if rest.size:
        yield rest


def _nobody(block: np.ndarray) -> None:
    """The listener where nothing is recorded."""


def _sounddevice() -> ModuleType:
    """The sound library, imported now."""
    with quiet_libraries():
        try:
            import sounddevice
        except OSError:
            raise DeviceError(
                "the sound library PortAudio is not installed (on Debian: apt install libportaudio2); "
                + _MEND
            ) from None
    return sounddevice


def _name(sounddevice: ModuleType, asked: str | None, kind: str) -> str:
    with quiet_libraries():
        try:
            return sounddevice.query_devices(asked, kind)["name"]
        except (sounddevice.PortAudioError, ValueError) as error:
            what = "loudspeaker" if kind == "output" else "microphone"
            raise DeviceError(f"no {what} can be used ({_short(error)}): {_MEND}") from None


def _short(error: Exception) -> str:
    return str(error).split("\n")[0][:80]
