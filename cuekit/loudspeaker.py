"""The only door to the loudspeaker.

sounddevice is imported when it is needed: its import opens the sound system and fails where PortAudio
is missing, and `cuekit --help` must not wait for either.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterable, Iterator
from types import ModuleType

import numpy as np

from cuekit.errors import DeviceError
from cuekit.sounds import SAMPLE_RATE_HZ

_LATENCY_S = 0.2  # survives a busy laptop; what is queued is dropped at once when stopped
_MEND = "cues can still be written to a file (--out FILE.wav) and recordings scored"


def play_blocks(blocks: Iterable[np.ndarray]) -> None:
    """Play mono float32 blocks at 48 kHz to the end; Ctrl-C silences at once and is passed on.

    Raises:
        DeviceError: there is no loudspeaker, or it was lost.
    """
    sounddevice = _sounddevice()
    with _quiet_driver():
        try:
            stream = sounddevice.OutputStream(
                samplerate=SAMPLE_RATE_HZ, channels=1, dtype="float32", latency=_LATENCY_S
            )
        except (sounddevice.PortAudioError, ValueError) as error:
            raise DeviceError(f"no loudspeaker can be opened ({_short(error)}): {_MEND}") from None
    try:
        stream.start()
        for block in blocks:
            stream.write(block[:, None])
        stream.stop()  # waits until what was queued has sounded
    except sounddevice.PortAudioError as error:
        raise DeviceError(f"the loudspeaker was lost while playing ({_short(error)}): {_MEND}") from None
    finally:
        stream.abort(ignore_errors=True)
        stream.close(ignore_errors=True)


def _sounddevice() -> ModuleType:
    """The sound library, imported now."""
    with _quiet_driver():
        try:
            import sounddevice
        except OSError:
            raise DeviceError(
                f"the sound library PortAudio is not installed (on Debian: apt install libportaudio2); {_MEND}"
            ) from None
    return sounddevice


@contextlib.contextmanager
def _quiet_driver() -> Iterator[None]:
    """Keep the driver's own chatter, written past Python to file descriptor 2, from the teacher."""
    sys.stderr.flush()
    kept = os.dup(2)
    try:
        with open(os.devnull, "w") as nowhere:
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _short(error: Exception) -> str:
    return str(error).split("\n")[0][:80]
