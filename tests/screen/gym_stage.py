"""A gym with a made sound card: what is played is heard, a child's feet are made, and a browser shows the page."""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

RATE_HZ = 48_000
SCRIPT = Path(__file__).parents[1] / "audio_server.sh"
LOUD = 10
"""Of 32768: from here on something sounds."""


class NoCardError(Exception):
    """There is nothing to make a sound card with."""


@contextmanager
def made_card() -> Iterator[Card]:
    """A sound card of its own, for one file of tests.

    Raises:
        NoCardError: PulseAudio is not installed.
    """
    if not all(shutil.which(name) for name in ("pulseaudio", "pactl", "pacat", "parec")):
        raise NoCardError("needs PulseAudio for a made sound card")
    told = subprocess.run(["sh", SCRIPT, "start"], capture_output=True, text=True, check=True).stdout
    environment = dict(re.findall(r"(PULSE_\w+)='([^']*)'", told))
    card = Card(environment)
    try:
        yield card
    finally:
        card.quiet()
        subprocess.run(["sh", SCRIPT, "stop"], env=os.environ | environment, capture_output=True)


class Card:
    """A loudspeaker whose sound the microphone hears.

    Parameters:
        environment: of programs that are to use it.

    Attributes:
        last_s: when something sounded last, by the clock of the computer; 0 for never.
        first_s: when it began, since `listen_anew`.
        heard: all that was heard, in pieces.
        offset_s: when its first sample sounded, by the piece that came soonest; the way here of some ms is in it.
    """

    def __init__(self, environment: dict[str, str]) -> None:
        self.environment = environment
        self.last_s = self.first_s = 0.0
        self.offset_s = math.inf
        self.heard: list[np.ndarray] = []
        self._players: list[subprocess.Popen] = []
        told_soon = ("--device=room.monitor", "--latency-msec=10")
        self._monitor = self._run("parec", *told_soon, stdout=subprocess.PIPE)
        self._watcher = threading.Thread(target=self._watch, daemon=True)
        self._watcher.start()

    def listen_anew(self) -> None:
        """Forget what sounded."""
        self.last_s = self.first_s = 0.0

    def wait_for_sound(self, limit_s: float = 10.0) -> float:
        """When something began to sound, since `listen_anew`, s.

        Raises:
            AssertionError: nothing did.
        """
        over_s = time.time() + limit_s
        while not self.first_s:
            assert time.time() < over_s, "nothing sounded"
            time.sleep(0.005)
        return self.first_s

    def play(self, samples: np.ndarray) -> None:
        """Play in the room, beside all else; mono at 48 kHz."""
        player = self._run("pacat", "--device=room", stdin=subprocess.PIPE)
        self._players.append(player)
        sound = (32767 * np.clip(samples, -1.0, 1.0)).astype("<i2").tobytes()
        threading.Thread(target=_poured, args=(player, sound), daemon=True).start()

    def hush(self) -> None:
        """End all that is played here, and wait until it has died away; then listen anew."""
        for process in self._players:
            process.terminate()
            process.wait()
        self._players.clear()
        while time.time() - self.last_s < 0.3:
            time.sleep(0.02)
        self.listen_anew()

    def microphones(self) -> list[str]:
        """Programs that record now, but for the one that watches."""
        listed = subprocess.run(
            ["pactl", "list", "source-outputs"], env=os.environ | self.environment, capture_output=True, text=True
        ).stdout
        return [name for name in re.findall(r'application\.process\.binary = "([^"]*)"', listed) if name != "pacat"]

    def quiet(self) -> None:
        """End all that is played, and watch no more."""
        self.hush()
        self._monitor.terminate()
        self._monitor.wait()
        self._watcher.join()
        self._monitor.stdout.close()

    def _run(self, name: str, *arguments: str, **pipes: int) -> subprocess.Popen:
        form = [f"--rate={RATE_HZ}", "--format=s16le", "--channels=1"]
        return subprocess.Popen([name, *form, *arguments], env=os.environ | self.environment, **pipes)

    def _watch(self) -> None:
        samples = 0
        while chunk := self._monitor.stdout.read(480):
            now_s = time.time()
            heard = np.frombuffer(chunk[: len(chunk) // 2 * 2], "<i2")
            self.heard.append(heard)
            samples += heard.size
            self.offset_s = min(self.offset_s, now_s - samples / RATE_HZ)
            if np.abs(heard.astype(np.int32)).max(initial=0) > LOUD:
                self.last_s = time.time()
                self.first_s = self.first_s or self.last_s


def _poured(player: subprocess.Popen, sound: bytes) -> None:
    try:
        player.stdin.write(sound)
        player.stdin.close()
    except OSError:
        pass  # it was ended before
