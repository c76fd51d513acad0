"""Goal R3: sound files with bytes changed, read through the program's reader in processes of their own.

    python -m tests.reliability.mutated_sounds FIRST COUNT    reads so many in this process, prints what became of them
"""

import json
import random
import signal
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from cuekit.errors import AudioError
from cuekit.hearing.soundfiles import read_recording
from tests.made_sounds import FORMATS, as_file, feet
from tests.reliability.memory import peak_mb

BATCH = 2_500
HANG_S = 2.0
KILLED_AFTER_S = 30
"""A file that takes so long ends the process, s."""


@dataclass(frozen=True)
class Reading:
    """What became of many files.

    Attributes:
        files: how many there were.
        read, refused: read as sound, and refused in words.
        escaped: anything else, each in a few words with the number of the file.
        slow: numbers of files that took longer than `HANG_S`.
        crashed: what processes that died were reading.
        peak_mb: the most memory any process took.
    """

    files: int
    read: int
    refused: int
    escaped: tuple[str, ...]
    slow: tuple[int, ...]
    crashed: tuple[str, ...]
    peak_mb: float


@cache
def seeds() -> tuple[bytes, ...]:
    """A short recording in every format and form that is read."""
    return tuple(as_file(feet(8_000, 0.6), 8_000, kind, subtype) for kind, subtype in FORMATS)


def mutated(number: int) -> bytes:
    """The number-th file: 1 to 64 bytes changed in its first 200, in the rest, or anywhere; one in eight is cut."""
    rng = random.Random(number)
    content = bytearray(rng.choice(seeds()))
    first, last = rng.choice([(0, 200), (64, len(content)), (64, len(content)), (0, len(content))])
    for _ in range(round(2 ** rng.uniform(0.0, 6.0))):
        content[rng.randrange(first, min(last, len(content)))] = rng.randrange(256)
    return bytes(content[: rng.randrange(len(content))] if rng.random() < 0.125 else content)


def read_mutated(files: int, first: int = 0, jobs: int = 2) -> Reading:
    """Read files number `first` and on, in processes of `BATCH` files each."""
    starts = range(first, first + files, BATCH)
    with ThreadPoolExecutor(jobs) as pool:
        parts = list(pool.map(lambda start: _batch(start, min(BATCH, first + files - start)), starts))
    return Reading(
        files=sum(part["files"] for part in parts),
        read=sum(part["read"] for part in parts),
        refused=sum(part["refused"] for part in parts),
        escaped=tuple(one for part in parts for one in part["escaped"]),
        slow=tuple(one for part in parts for one in part["slow"]),
        crashed=tuple(part["crashed"] for part in parts if "crashed" in part),
        peak_mb=max(part["peak_mb"] for part in parts),
    )


def _batch(first: int, count: int) -> dict:
    """What a process of its own said of its files."""
    words = [sys.executable, "-m", "tests.reliability.mutated_sounds", str(first), str(count)]
    done = subprocess.run(words, capture_output=True, text=True, cwd=Path(__file__).parents[2])
    lines = done.stdout.splitlines()
    if done.returncode == 0:
        return json.loads(lines[-1])
    died_at = lines[-1] if lines else "its start"
    nothing = {"files": count, "read": 0, "refused": 0, "escaped": [], "slow": [], "peak_mb": 0.0}
    return nothing | {"crashed": f"{died_at} (code {done.returncode})"}


def _read_here(first: int, count: int) -> dict:
    told = {"files": count, "read": 0, "refused": 0, "escaped": [], "slow": []}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take"
        for number in range(first, first + count):
            path.write_bytes(mutated(number))
            print(number, flush=True)
            signal.alarm(KILLED_AFTER_S)
            start = time.perf_counter()
            try:
                heard = read_recording(path)
                sound = heard.samples.size > 0 and bool(np.isfinite(heard.samples).all())
                told["read"] += 1
                if not sound:
                    told["escaped"].append(f"{number}: samples that are no sound")
            except AudioError:
                told["refused"] += 1
            except Exception as error:
                told["escaped"].append(f"{number}: {type(error).__name__} {str(error)[:60]}")
            if time.perf_counter() - start > HANG_S:
                told["slow"].append(number)
    return told | {"peak_mb": peak_mb()}


if __name__ == "__main__":
    print(json.dumps(_read_here(int(sys.argv[1]), int(sys.argv[2]))))
