"""The loudspeaker and microphone of this computer, through PortAudio.

sounddevice is imported when it is needed: its import opens the sound system and fails where PortAudio
is missing, and `cuekit --help` must not wait for either.

PortAudio calls back with a block to fill and a block taken in (`cuekit.bouts.exchange`). When a device
disappears it says nothing at all, or only that the stream is finished (both seen with a sink taken away):
so the blocks are counted, an end nobody asked for is a loss, and so is a second without a block.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from types import ModuleType
from typing import Any

import numpy as np

from cuekit.bouts.audio_port import Ended, Listener, OnClock, Passage, Stop, unwatched
from cuekit.bouts.exchange import NEXT_BLOCK_S, Exchange, Wish
from cuekit.bouts.own_rate import Converting
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.errors import DeviceError
from cuekit.files.quiet import quiet_libraries

IN_LATENCY_S, OUT_LATENCY_S = 0.1, 0.2
"""A footfall is to be shown within 100 ms: the ear needs 50 of them, so the microphone is asked to keep back
little. A later loudspeaker kept the time line best on a busy computer."""

HELD_UP_S = 0.5
"""Where the program itself stood still so long, the device has its second again from then on, s."""

_POLL_S = 0.01
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
        return self._run(Wish(cue, hears=False, ends=True), _nobody, stop, on_clock)

    def record(self, listener: Listener, stop: Stop, on_clock: OnClock = unwatched) -> Passage:
        """Record until stopped; see `AudioPort`."""
        return self._run(Wish(None, hears=True, ends=False), listener, stop, on_clock)

    def play_and_record(
        self, cue: Iterable[np.ndarray], listener: Listener, stop: Stop, on_clock: OnClock = unwatched
    ) -> Passage:
        """Both on one clock; see `AudioPort`."""
        return self._run(Wish(cue, hears=True, ends=False), listener, stop, on_clock)

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

    def _run(self, wish: Wish, listener: Listener, stop: Stop, on_clock: OnClock) -> Passage:
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

    def _opened(self, wish: Wish) -> tuple[Exchange, Any]:
        """The stream, not started, at 48 kHz or else at a rate of the device's own."""
        sounddevice = _sounddevice()
        refused: Exception | None = None
        for rate_hz in self._rates_hz(wish):
            exchange = Exchange(wish, rate_hz, sounddevice.CallbackStop)
            try:
                return exchange, self._stream(exchange)
            except (sounddevice.PortAudioError, ValueError) as error:
                refused = refused or error
                if _WRONG_RATE not in getattr(error, "args", ()):
                    break
        raise DeviceError(f"{wish.what} cannot be opened ({_short(refused)}): {_MEND}") from None

    def _rates_hz(self, wish: Wish) -> Iterator[int]:
        """48 kHz, and the rates the devices have by themselves, which are looked up only if it is refused."""
        yield SAMPLE_RATE_HZ
        sounddevice = _sounddevice()
        sides = [(self._microphone, "input", wish.hears), (self._loudspeaker, "output", wish.sounds)]
        for device, kind, used in sides:
            if used:
                yield round(sounddevice.query_devices(device, kind)["default_samplerate"])

    def _stream(self, exchange: Exchange) -> Any:
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


def _exchanged(exchange: Exchange, listener: Listener, stop: Stop, on_clock: OnClock) -> Ended:
    """Keep both queues moving until it is over."""
    polled_s = time.monotonic()
    while True:
        exchange.fill()
        exchange.pass_on(listener)
        on_clock(exchange.now_s)
        if stop():
            return Ended.STOPPED
        if exchange.finished.is_set():
            return Ended.PLAYED if exchange.all_played else Ended.LOST
        before_s, polled_s = polled_s, time.monotonic()
        if polled_s - before_s > HELD_UP_S:
            exchange.last_block_s = polled_s
        if polled_s - exchange.last_block_s > NEXT_BLOCK_S:
            return Ended.LOST
        exchange.finished.wait(_POLL_S)


def _output_latency_s(stream: Any) -> float:
    """From handing a sample over to its sound, as the device claims it, s."""
    latency = stream.latency
    return float(latency[1] if isinstance(latency, tuple) else latency)


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
