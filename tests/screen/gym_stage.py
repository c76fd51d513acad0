"""A gym with a made sound card: what is played is heard, a child's feet are made, and a browser shows the page."""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Plan, make_schedule
from cuekit.records.store_waiting import open_store
from cuekit.simulation.simulate import follow
from cuekit.simulation.simulate_rooms import Room, record

RATE_HZ = 48_000
TEMPO_BPM, BEATS = 100, 8
SCHEDULE = make_schedule(load_pattern("gallop"), Plan(TEMPO_BPM, BEATS, CueLevel.C4))
"""What a made child follows."""
AFTER_CUE_S, QUIET_S = 1.5, 3.0
"""A bout ends so long after the cue, or after the last footfall."""
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


HAS_FOCUS = """words => {
    const here = document.activeElement;
    const told = [here, ...(here.labels ?? [])].map(one => one.textContent);
    return here.matches("button, a, input, select") && told.some(text => text.includes(words));
}"""
"""Whether the key or field that has the keyboard bears these words."""


@dataclass(eq=False)
class Gym:
    """A program, its card, and the page in a browser.

    Attributes:
        card: see `gym_stage.Card`.
        folder: of the program's records and takes.
        running: the program.
        page: of playwright.
        asked: addresses the page asked for.
        complaints: of the browser's console.
    """

    card: object
    folder: object
    running: object
    page: object
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def press(self, *keys):
        """Keys of the keyboard, one after the other."""
        for key in keys:
            self.page.keyboard.press(key)

    def type(self, words):
        """Type into the field in focus, and send it."""
        self.page.keyboard.type(words)
        self.press("Enter")

    def reach(self, words):
        """Go with Tab to what bears the words (or the label)."""
        for _ in range(60):
            if self.page.evaluate(HAS_FOCUS, words):
                return
            self.press("Tab")
        raise AssertionError(f"no Tab leads to {words}")

    def sees(self, view, limit_s=15.0):
        """Wait for a view."""
        self.page.wait_for_selector(f'body[data-view="{view}"]', timeout=1000 * limit_s)

    def says(self, words, limit_s=10.0):
        """Wait until the page says so, anywhere."""
        self.page.wait_for_function("words => document.body.innerText.includes(words)", arg=words, timeout=1000 * limit_s)

    def start(self):
        """Back to the list of learners, from wherever a try ended."""
        self.card.hush()
        for _ in range(8):
            if self.page.evaluate("document.body.dataset.view") == "learners":
                return
            self.press("Escape")
            self.page.wait_for_timeout(150)
        raise AssertionError("Escape does not lead back to the learners")

    def choose(self, code):
        """Choose a learner by the digit on the tile."""
        self.start()
        tile = self.page.locator(f'.choices .key:has-text("{code}")')
        self.press(tile.locator("kbd").inner_text())
        self.sees("plan")
        self.says(code)

    def set_beats(self, beats):
        """Change how long a bout is, and come back."""
        self.press("s")
        self.sees("settings")
        self.reach("Beats")
        while self.page.evaluate("document.activeElement.id") != "field-beats":
            self.press("Tab")
        self.press("Control+a")
        self.type(str(beats))
        self.leave_settings()
        self.says(f"{beats} beats")

    def leave_settings(self):
        """Back to the plan; the first Escape may only leave a field."""
        self.press("Escape")
        self.page.wait_for_timeout(300)
        if self.page.evaluate("document.body.dataset.view") == "settings":
            self.press("Escape")
        self.sees("plan")

    def bout(self, child):
        """Go, with a made child who hears the cue; when the sentence is there and when the bout ended, s."""
        done = follow(SCHEDULE, child, seed=1)
        take = record(done, Room(noise_below_feet_db=50.0), seed=1)
        self.card.hush()
        self.press("Space")
        self.sees("bout")
        began_s = self.card.wait_for_sound()
        self.card.play(take.samples)
        self.sees("told", limit_s=30.0)
        told_s = time.time()
        ended_s = began_s + min(SCHEDULE.end_s + AFTER_CUE_S, take.times_s[-1] + QUIET_S)
        return told_s, ended_s

    def mark(self, *keys):
        """Answer the questions for the eye, a key each."""
        for key in keys:
            asked = self.page.inner_text("#choices")
            self.press(key)
            self.page.wait_for_function("asked => document.getElementById('choices').innerText !== asked", arg=asked)

    def bouts(self, code):
        """What is kept."""
        with open_store(self.folder / "data") as store:
            return store.bouts(code)

    def cuekit(self, *arguments):
        """Another command on the same records; what it prints."""
        command = [sys.executable, "-m", "cuekit", *arguments, "--data", str(self.folder / "data")]
        return subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout


def opened_gym(card, chromium, folder, running):
    """The page of a program that runs, in a browser of its own; one only, closed afterwards."""
    context = chromium.new_context(viewport={"width": 1366, "height": 768})
    page = context.new_page()
    made = Gym(card, folder, running, page)
    page.on("console", lambda told: told.type in ("error", "warning") and made.complaints.append(told.text))
    page.on("pageerror", lambda error: made.complaints.append(str(error)))
    page.on("request", lambda request: made.asked.append(request.url))
    page.goto(running.address)
    made.sees("learners")
    yield made
    context.close()
