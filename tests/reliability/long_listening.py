"""Goal R9: hours of made sound through the queue, the ear and the take, as fast as it goes.

    python -m tests.reliability.long_listening HOURS    prints what was seen, in a process of its own
"""

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from cuekit.bouts.exchange import Exchange, Wish
from cuekit.bouts.take_file import TakeFile
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.hearing.live_ear import LiveEar
from cuekit.hearing.thirds import Thirds
from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record
from tests.fake_port import BLOCK
from tests.reliability.memory import held_mb, open_files

ROUND_BLOCKS = 5625
"""A round of the track: 120 s, a whole number of blocks, so that every round is the same to the sample."""
ROUND_S = ROUND_BLOCKS * BLOCK / SAMPLE_RATE_HZ
SETTLED_S = 600.0
"""From here on nothing may grow, s."""
NEAR_S = 0.025
"""A footfall this near a true one is that one, s (MIREX onset detection)."""


@dataclass(frozen=True)
class Listened:
    """What was seen in hours of listening.

    Attributes:
        hours: of sound.
        footfalls: heard in all.
        grown_mb: memory at the end against that after ten minutes.
        files_more: open files and pipes at the end against those after ten minutes.
        waiting: most blocks that ever waited in the queue after it was emptied.
        delay_first_ms, delay_last_ms: 99th percentile of the time from a footfall to its being told, in sound
            taken in, over the ten minutes after the first ten and the last ten.
        off_ms: the middle error of the footfalls of the last round with feet, against the truth.
        off_most_ms: the 95th percentile of its size.
        drift_ms: the most a footfall of the last round differs from the same one of the sixth.
        heard_share: how many true footfalls of the last round were heard.
        lost_s: sound that went in and is not in the take on the disk.
    """

    hours: float
    footfalls: int
    grown_mb: float
    files_more: int
    waiting: int
    delay_first_ms: float
    delay_last_ms: float
    off_ms: float
    off_most_ms: float
    drift_ms: float
    heard_share: float
    lost_s: float


def made_round() -> tuple[np.ndarray, np.ndarray]:
    """Two minutes of sound and its true footfalls, s: feet, room noise, silence, clipped feet, noise."""
    rng = np.random.default_rng(9)
    moved = perform(load_pattern("gallop"), Learner(scatter_s=0.015), beats=45, seed=1)
    take = record(moved, Room(noise_below_feet_db=45.0), seed=1, after_s=0.6)
    samples = 1e-3 * rng.normal(size=ROUND_BLOCKS * BLOCK)
    samples[60 * SAMPLE_RATE_HZ : 70 * SAMPLE_RATE_HZ] = 0.0
    for start_s, gain in ((5, 1.0), (75, 30.0)):
        at = start_s * SAMPLE_RATE_HZ
        samples[at : at + take.samples.size] += gain * take.samples
    times_s = np.concatenate([take.times_s + 5, take.times_s + 75])
    return np.clip(samples, -1.0, 1.0).astype(np.float32), times_s


def listen(hours: float) -> Listened:
    """Listen in a process of its own, so that its memory is that of listening."""
    words = [sys.executable, "-m", "tests.reliability.long_listening", str(hours)]
    alone = os.environ | {"OPENBLAS_NUM_THREADS": "1"}  # as the command sets it
    done = subprocess.run(words, capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2], env=alone)
    return Listened(**json.loads(done.stdout))


def _listen_here(hours: float) -> Listened:
    samples, true_s = made_round()
    rounds = round(hours * 3600 / ROUND_S)
    ear, thirds, told, delays, marks = LiveEar(), Thirds(), [], [], []
    status, stamps = SimpleNamespace(input_overflow=False), SimpleNamespace(inputBufferAdcTime=0.0)
    with tempfile.TemporaryDirectory() as folder:
        take = TakeFile(Path(folder))
        exchange, frames, waiting = Exchange(Wish(None, hears=True, ends=False), SAMPLE_RATE_HZ, StopIteration), 0, 0

        def hear(block: np.ndarray) -> None:
            nonlocal frames
            take.write(block)
            frames += block.size
            for footfall in ear.push(thirds.push(block)):
                now_s = frames / SAMPLE_RATE_HZ
                if SETTLED_S <= now_s < 2 * SETTLED_S or now_s >= rounds * ROUND_S - SETTLED_S:
                    told.append(footfall.time_s)
                    delays.append(now_s - footfall.time_s)
                nonlocal heard
                heard += 1

        heard = 0
        for turn in range(rounds):
            if turn == round(2 * SETTLED_S / ROUND_S):
                marks.append((held_mb(), open_files()))
            for n in range(ROUND_BLOCKS):
                block = samples[n * BLOCK : (n + 1) * BLOCK, None]
                exchange.take_in(block, BLOCK, stamps, status)
                exchange.pass_on(hear)
                waiting = max(waiting, len(exchange._in))
        marks.append((held_mb(), open_files()))
        take.close()
        lost_s = rounds * ROUND_S - take.duration_s
    return _summed(hours, heard, marks, waiting, np.array(told), np.array(delays), true_s, rounds, lost_s)


def _summed(hours, heard, marks, waiting, told_s, delays_s, true_s, rounds, lost_s) -> Listened:
    """What was seen, in numbers; the first windows come before the middle of `told_s`."""
    early, late = told_s < 2 * SETTLED_S, told_s >= rounds * ROUND_S - SETTLED_S
    last, sixth = (told_s[(told_s >= at) & (told_s < at + ROUND_S)] - at for at in ((rounds - 1) * ROUND_S, 6 * ROUND_S))
    errors = last[np.abs(last[:, None] - true_s).argmin(axis=0)] - true_s
    near = np.abs(errors) < NEAR_S
    same = last.size == sixth.size
    return Listened(
        hours=hours,
        footfalls=heard,
        grown_mb=marks[-1][0] - marks[0][0],
        files_more=marks[-1][1] - marks[0][1],
        waiting=waiting,
        delay_first_ms=1000 * float(np.percentile(delays_s[early], 99)),
        delay_last_ms=1000 * float(np.percentile(delays_s[late], 99)),
        off_ms=1000 * float(np.median(errors[near])),
        off_most_ms=1000 * float(np.percentile(np.abs(errors[near]), 95)),
        drift_ms=1000 * float(np.abs(last - sixth).max()) if same else float("inf"),
        heard_share=float(near.mean()),
        lost_s=lost_s,
    )


if __name__ == "__main__":
    print(json.dumps(asdict(_listen_here(float(sys.argv[1])))))
