"""Goals R8, R10 and R11: a bout under way that is killed, stopped, loses sound or its device.

    python -m tests.reliability.broken_recordings listen WORDS...    `cuekit listen` on a made sound card
"""

import json
import multiprocessing
import os
import random
import signal
import struct
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import numpy as np

import cuekit.bouts.sound_card as sound_card
from cuekit.bouts.audio_port import Ended, SlipKind, unwatched
from cuekit.bouts.exchange import Exchange, Wish
from cuekit.bouts.live import BoutEnd, Course
from cuekit.bouts.session import bout_alone
from cuekit.bouts.take_file import TakeFile, left_takes
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.learner import Learner
from cuekit.records.store import Store
from cuekit.simulation.simulate import Learner as MadeLearner
from cuekit.simulation.simulate import perform
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.telling.phrases import load_phrases
from tests.fake_port import BLOCK, FakePort, Faults

ROOT = Path(__file__).parents[2]
LATER_S = time.time() + 3600
BOUT_S = 60.0
SOUND = "sound.npy"


@dataclass(frozen=True)
class KilledTakes:
    """What is left of recordings whose program was killed.

    Attributes:
        kills: how many.
        recorded_s: how long each had recorded by its own account, the shortest and the longest, s.
        most_lost_s: of what had been recorded, the most that is not on the disk, s.
        unread: recordings that were not found again, or could not be read.
    """

    kills: int
    recorded_s: tuple[float, float]
    most_lost_s: float
    unread: int


def kill_while_recording(kills: int, seed: int) -> KilledTakes:
    """Kill a recording of up to 60 s at a random moment of it, as fast as the disk takes it."""
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        rows = [_kill_one(Path(folder) / str(n), rng.uniform(0.1, BOUT_S)) for n in range(kills)]
    lost = [acknowledged - left for acknowledged, left in rows if left is not None]
    said = [acknowledged for acknowledged, _ in rows]
    return KilledTakes(kills, (min(said), max(said)), max(lost, default=float("inf")), kills - len(lost))


def _kill_one(folder: Path, at_s: float) -> tuple[float, float | None]:
    """Seconds said to be recorded, and seconds found again."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.reliability.broken_recordings"])
    reader, writer = context.Pipe(duplex=False)
    child = context.Process(target=_record_without_end, args=(folder, writer))
    child.start()
    writer.close()
    frames = 0
    while frames < at_s * SAMPLE_RATE_HZ:
        frames = struct.unpack("q", os.read(reader.fileno(), 8))[0]
    child.kill()
    child.join()
    while part := os.read(reader.fileno(), 8):  # what it said between the decision and its death
        frames = struct.unpack("q", part)[0]
    reader.close()
    left = left_takes(folder, now_s=LATER_S)
    if len(left) != 1:
        return frames / SAMPLE_RATE_HZ, None
    return frames / SAMPLE_RATE_HZ, read_recording(left[0].path).duration_s


def _record_without_end(folder: Path, writer) -> None:
    take, block = TakeFile(folder), (0.1 * np.random.default_rng(0).normal(size=BLOCK)).astype(np.float32)
    for n in range(1, 10**6):
        take.write(block)
        os.write(writer.fileno(), struct.pack("q", n * BLOCK))


@dataclass(frozen=True)
class StoppedTakes:
    """What became of bouts stopped by Ctrl-C.

    Attributes:
        stops: how many.
        stored: those whose bout was stored, with exit code 130.
        before_start: those stopped before the first block was taken in: nothing to store.
        while_scoring: those stopped after the bout had ended: its recording is kept, and found at the next start.
        most_lost_s: the most that was taken in and is not in the stored bout, s.
        wrong: all others, each in a few words.
    """

    stops: int
    stored: int
    before_start: int
    while_scoring: int
    most_lost_s: float
    wrong: tuple[str, ...]


def stop_while_recording(stops: int, seed: int) -> StoppedTakes:
    """Ctrl-C at a random moment of a bout of up to 60 s that a learner's records take."""
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with Store(folder / "data") as store:
            store.add(Learner("K-07", skill="gallop"))
        np.save(folder / SOUND, galloping(BOUT_S))
        rows = [_stop_one(folder, rng.random()) for _ in range(stops)]
    kinds = [kind for kind, _ in rows]
    lost = [lost_s for kind, lost_s in rows if kind == "stored"]
    known = ("stored", "before start", "while scoring")
    return StoppedTakes(
        stops, *(kinds.count(kind) for kind in known), max(lost, default=0.0), tuple(kind for kind in kinds if kind not in known)
    )  # fmt: skip


def _stop_one(folder: Path, share: float) -> tuple[str, float]:
    """How one bout ended, and what was lost of it, s."""
    takes, noted = folder / "takes", folder / "frames"
    noted.write_text("0")
    with Store(folder / "data") as store:
        before = {one.id for one in store.bouts("K-07")}
    words = ["gallop", "--learner", "K-07", "--longest", str(int(BOUT_S)), "--data", str(folder / "data"), "--takes", str(takes)]
    child = subprocess.Popen(
        [sys.executable, "-m", "tests.reliability.broken_recordings", "listen", str(noted), *words],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=ROOT,
    )  # fmt: skip
    while int(noted.read_text() or 0) < share * BOUT_S * SAMPLE_RATE_HZ and child.poll() is None:
        time.sleep(0.001)
    child.send_signal(signal.SIGINT)
    said, _ = child.communicate(timeout=120)
    taken_s = int(noted.read_text()) / SAMPLE_RATE_HZ
    left = left_takes(takes, now_s=LATER_S)
    with Store(folder / "data") as store:
        new = [one.id for one in store.bouts("K-07") if one.id not in before]
        stored = [json.loads(store.contract(one))["recording"]["duration_s"] for one in new]
    for one in left:
        one.path.unlink()
    if child.returncode not in (130, 0) or "Traceback" in said:
        return f"ended with {child.returncode}: {said[-200:]}", 0.0
    if new and not left:
        return "stored", taken_s - stored[-1]
    if taken_s == 0.0 and not left:
        return "before start", 0.0
    if left and not new and abs(left[0].duration_s - taken_s) < 0.05:
        return "while scoring", 0.0
    return f"{len(new)} stored, {len(left)} left after {taken_s:.1f} s: {said[-100:]}", 0.0


class NotingPort(FakePort):
    """A made card that notes in a file how much it has given."""

    def __init__(self, child: np.ndarray, noted: Path) -> None:
        super().__init__(child=child)
        self._noted, self._given = noted.open("r+b", buffering=0), 0

    def _run(self, cue, listener, stop, on_clock):
        def noting(block: np.ndarray) -> None:
            listener(block)
            self._given += block.size
            os.pwrite(self._noted.fileno(), b"%d" % self._given, 0)

        return super()._run(cue, noting, stop, on_clock)


def _listen(noted: Path, words: list[str]) -> int:
    """The command as it is, on a made card."""
    port = NotingPort(np.load(noted.with_name(SOUND)), noted)
    sound_card.SoundCard = lambda: port  # before any command takes it from there
    from cuekit.cli import run

    return run(["listen", *words])


def galloping(seconds: float, seed: int = 1) -> np.ndarray:
    """So many seconds of a gallop in a quiet room, 48 kHz."""
    beats = int(seconds * load_pattern("gallop").tempo.default / 60)
    moved = perform(load_pattern("gallop"), MadeLearner(scatter_s=0.015), beats=beats, seed=seed)
    return record(moved, Room(noise_below_feet_db=45.0), seed=seed).samples.astype(np.float32)


@dataclass(frozen=True)
class Gaps:
    """What became of gaps in a recording.

    Attributes:
        gaps: how many bouts with one each.
        reported: those that were told of.
        across: intervals measured across one.
    """

    gaps: int
    reported: int
    across: int


def lose_sound(gaps: int, seed: int) -> Gaps:
    """A device that drops 20 to 400 ms of a bout somewhere, and owns up."""
    rng, sound, reported, across = random.Random(seed), galloping(12.0), 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(gaps):
            faults = Faults(overflow_s=rng.uniform(0.3, 11.0), dropped_s=rng.uniform(0.02, 0.4))
            done = bout_of(FakePort(child=sound, faults=faults), Path(folder))
            slips = [slip for slip in done.bout.passage.slips if slip.kind is SlipKind.LOST_INPUT]
            at_s = f"{slips[0].frame / SAMPLE_RATE_HZ:.1f}" if slips else "never"
            reported += any(at_s in note for note in done.verdict.notes)
            for slip in slips:
                gap_s = slip.frame / SAMPLE_RATE_HZ
                across += sum(_spans(bout, gap_s) for bout in done.verdict.score.alignment.bouts)
            done.take.discard()
    return Gaps(gaps, reported, across)


def _spans(bout, gap_s: float) -> bool:
    """Whether a bout holds footfalls of both sides: those after a gap were put seconds later."""
    return bout.start_s <= gap_s < bout.end_s


def bout_of(port, folder: Path):
    """One bout without a cue, judged."""
    phrases = load_phrases("en")
    return bout_alone(port, folder, load_pattern("gallop"), Course(longest_s=60.0), phrases, lambda footfall: None, lambda: False)


@dataclass(frozen=True)
class LostDevices:
    """What became of bouts whose device was lost.

    Attributes:
        losses: how many.
        longest_s: the longest from the loss to the end of the bout, s.
        kept: bouts of which all sound before the loss is in the take.
        told: bouts whose end was told with its reason.
    """

    losses: int
    longest_s: float
    kept: int
    told: int


def lose_device(moments: int, seed: int) -> LostDevices:
    """A device that is gone, or gives zeros only, from a random moment on; and one that stops calling."""
    rng, sound, rows = random.Random(seed), galloping(12.0), []
    with tempfile.TemporaryDirectory() as folder:
        for n in range(moments):
            at_s = rng.uniform(0.5, 11.0)
            faults = Faults(lost_s=at_s) if n % 2 else Faults(zeros_s=at_s)
            done = bout_of(FakePort(child=sound, faults=faults), Path(folder))
            took_s = done.bout.passage.recorded / SAMPLE_RATE_HZ - at_s
            told = done.bout.end in (BoutEnd.LOST, BoutEnd.DEAD) and bool(done.bout.trouble)
            rows.append((took_s, done.take.duration_s >= at_s - BLOCK / SAMPLE_RATE_HZ, told))
            done.take.discard()
    with ThreadPoolExecutor(10) as pool:
        rows += pool.map(_stops_calling, [rng.uniform(0.0, 0.5) for _ in range(moments)])
    return LostDevices(
        len(rows), max(row[0] for row in rows), sum(row[1] for row in rows), sum(row[2] for row in rows)
    )


def _stops_calling(after_s: float) -> tuple[float, bool, bool]:
    """The card's own loop, whose driver falls silent: how long until it ends, whether all is passed on, and why."""
    exchange = Exchange(Wish(None, hears=True, ends=False), SAMPLE_RATE_HZ, StopIteration)
    status, stamps = SimpleNamespace(input_overflow=False), SimpleNamespace(inputBufferAdcTime=0.0)
    heard, given, silent_since = [], [0], [0.0]

    def driver() -> None:
        until_s = time.monotonic() + after_s
        while time.monotonic() < until_s or not given[0]:
            exchange.take_in(np.zeros((BLOCK, 1), np.float32), BLOCK, stamps, status)
            given[0] += 1
            time.sleep(0.01)
        silent_since[0] = time.monotonic()

    thread = threading.Thread(target=driver)
    thread.start()
    ended = sound_card._exchanged(exchange, heard.append, lambda: False, unwatched)
    took_s = time.monotonic() - silent_since[0]
    thread.join()
    return took_s, len(heard) == given[0], ended is Ended.LOST and "disconnected" in exchange.passage(ended).lost


if __name__ == "__main__":
    sys.exit(_listen(Path(sys.argv[2]), sys.argv[3:]))
