"""Time and memory for scoring a file of three hours, as a teacher who left the recorder on would have.

The file is the demo's gallops again and again, with pauses and a little noise, at 44.1 kHz. It is scored by the
command itself in a process of its own, whose peak memory is read from /proc (Linux only).
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile
import soxr

RATE_HZ, HOURS, PAUSE_S = 44_100, 3.0, 20.0
BOUTS = ("gallop-even", "gallop-noisy")
LOOK_EVERY_S = 0.05
GOAL_S, GOAL_MB = 60.0, 400.0
DEMO = Path(__file__).resolve().parents[2] / "demo_audio"


def three_hours() -> str:
    """What it took, in one line beside the goals."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "three hours.wav"
        write_long(file, HOURS)
        took_s, cpu_s, peak_mb = scored(file)
    return (f"3 h at 44.1 kHz: {took_s:.0f} s ({cpu_s:.0f} s of processor time; goal {GOAL_S:.0f} s), "
            f"peak {peak_mb:.0f} MB (goal {GOAL_MB:.0f} MB)")


def write_long(file: Path, hours: float) -> None:
    """Write gallops, pauses and noise, block by block."""
    rng = np.random.default_rng(0)
    bouts = []
    for name in BOUTS:
        samples, rate_hz = soundfile.read(DEMO / f"{name}.flac", dtype="float32", always_2d=True)
        bouts.append(soxr.resample(samples[:, 0], rate_hz, RATE_HZ))
    once = np.concatenate([*bouts, np.zeros(round(PAUSE_S * RATE_HZ), np.float32)])
    left = round(hours * 3600 * RATE_HZ)
    with soundfile.SoundFile(file, "w", RATE_HZ, 1, "PCM_16") as out:
        while left > 0:
            block = (once + 1e-3 * rng.standard_normal(once.size, np.float32))[:left]
            out.write(block)
            left -= block.size


def scored(file: Path) -> tuple[float, float, float]:
    """Score a file by the command; seconds, processor seconds and peak memory in MB."""
    command = [sys.executable, "-m", "cuekit", "score", str(file), "--pattern", "gallop", "--longest", "240"]
    before, start = os.times(), time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    peak_kb = 0
    while process.poll() is None:
        peak_kb = max(peak_kb, peak_of(process.pid))
        time.sleep(LOOK_EVERY_S)
    if process.returncode:
        raise SystemExit(process.stderr.read().decode())
    after = os.times()
    cpu_s = after.children_user - before.children_user + after.children_system - before.children_system
    return time.monotonic() - start, cpu_s, peak_kb / 1024


def peak_of(pid: int) -> int:
    """Most memory a process has held so far, kB; 0 once it is gone."""
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0
    return int(status.split("VmHWM:")[1].split()[0]) if "VmHWM:" in status else 0
