"""Turn the fetched sounds into the material of both parts.

    python -m tests.hearing.build_material            both parts, 48 kHz
    python -m tests.hearing.build_material --training development and training part, 16 kHz, more rooms

Takes some minutes, once: the rooms are simulated here.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import tempfile
from concurrent.futures import ProcessPoolExecutor
from math import gcd
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from tests.hearing import balls, fetch, rooms, sources
from tests.hearing.levels import peak_20ms_rms
from tests.hearing.material import CONTACT_LEAD_S, Material, Sound, material_file, save_material
from tests.hearing.onsets import contact_onset_s

FOOT_LENGTH_S = 0.5
FOOT_FADE_S = 0.01
FOREFOOT_SILENT_S = 0.0028
"""Every `start_ms` of `sources` was chosen at least this long before the forefoot lands, s."""

TRAINING_RATE_HZ = 16000
TRAINING_ROOMS_PER_PLAN = 3
SEEDS = {sources.DEVELOPMENT: 11, sources.UNTOUCHED: 12}
CHILD_SPEED = 1.38
"""An adult voice played this much faster has the pitch and formants of a child's, roughly."""


def resampled(samples: NDArray[np.float32], from_hz: float, to_hz: int) -> NDArray[np.float32]:
    """Return the sound at another sample rate (polyphase filter)."""
    source = round(from_hz)
    shared = gcd(source, to_hz)
    return resample_poly(samples, to_hz // shared, source // shared).astype(np.float32)


def foot_sound(source: sources.FootSource, clip: sources.FootClip, rate_hz: int) -> Sound:
    """Return a clip that starts `CONTACT_LEAD_S` before contact, at a 20 ms level of 0.1.

    Sound from before the contact is silenced, so that a clip with a noisy floor
    does not announce itself; 10 ms fade at the end.
    """
    samples, from_hz = fetch.read_sound(source.package, clip.path, clip.member)
    samples = samples[round(clip.start_ms / 1000.0 * from_hz) :]
    onset = contact_onset_s(samples, from_hz, FOREFOOT_SILENT_S if clip.start_ms else 0.0)
    keep = min(FOOT_LENGTH_S, (clip.keep_ms or 1e6) / 1000.0)
    first, last = round(onset * from_hz), min(len(samples), round((onset + keep) * from_hz))
    kept = samples[first:last].astype(np.float32)
    fade = min(len(kept) // 3, round(FOOT_FADE_S * from_hz))
    kept[-fade:] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)
    lead = np.zeros(round(CONTACT_LEAD_S * from_hz), dtype=np.float32)
    lead_s = len(lead) / from_hz
    sound = resampled(np.concatenate([lead, kept]), from_hz, rate_hz)
    shift = round((CONTACT_LEAD_S - lead_s) * rate_hz)
    sound = np.concatenate([np.zeros(max(0, shift), dtype=np.float32), sound[max(0, -shift) :]])
    return Sound(source.name, sound * np.float32(0.1 / peak_20ms_rms(sound, rate_hz)))


def recorded(parts: tuple[str, ...], kind: str, rate_hz: int) -> tuple[Sound, ...]:
    """Return the recorded sounds of one kind, pauses trimmed, each source up to its limit."""
    found = []
    for source in sources.SOUND_SOURCES:
        if source.part not in parts or source.kind != kind:
            continue
        total_s = 0.0
        for samples, from_hz in fetch.matching_sounds(source):
            sound = trimmed(resampled(samples, from_hz * source.speed, rate_hz), rate_hz)
            if len(sound) < 0.03 * rate_hz or total_s > source.limit_s:
                continue
            total_s += len(sound) / rate_hz
            found.append(Sound(source.name, sound))
    return tuple(found)


def trimmed(sound: NDArray[np.float32], rate_hz: int) -> NDArray[np.float32]:
    """Cut silence (40 dB under the peak) from both ends and scale the peak to 0.5."""
    loud = np.nonzero(np.abs(sound) > 0.01 * np.abs(sound).max())[0]
    if loud.size == 0:
        return sound[:0]
    pad = round(0.01 * rate_hz)
    cut = sound[max(0, loud[0] - pad) : loud[-1] + pad]
    return (cut * (0.5 / np.abs(cut).max())).astype(np.float32)


def spoken(part: str, texts: tuple[str, ...], rate_hz: int, speed: float = 1.0) -> tuple[Sound, ...]:
    """Return the texts spoken by each synthetic voice of the part."""
    said = []
    for voice in sources.FLITE_VOICES[part]:
        for text in texts:
            samples, from_hz = _flite(voice, text)
            said.append(Sound(f"flite {voice}", trimmed(resampled(samples, from_hz * speed, rate_hz), rate_hz)))
    return tuple(said)


def _flite(voice: str, text: str) -> tuple[NDArray[np.float32], int]:
    folders = [fetch.package_folder(package) for package in sources.FLITE_PACKAGES]
    libraries = [str(path) for folder in folders for path in folder.glob("usr/lib/*-linux-gnu*")]
    environment = dict(os.environ, LD_LIBRARY_PATH=":".join(libraries))
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "said.wav"
        command = [str(folders[0] / "usr/bin/flite"), "-voice", voice, "-t", text, "-o", str(out)]
        subprocess.run(command, env=environment, check=True, capture_output=True)
        return fetch.read_audio(out)


def build_rooms(part: str, rate_hz: int, per_plan: int) -> tuple[rooms.Room, ...]:
    """Simulate the rooms of a part on two processes."""
    rng = np.random.default_rng(SEEDS[part] if per_plan == 1 else SEEDS[part] + 100)
    plans = [rooms.varied_plan(plan, rng) if (k or part == sources.UNTOUCHED) else plan
             for plan in rooms.PLANS for k in range(per_plan)]
    generators = [np.random.default_rng(seed) for seed in rng.integers(2**31, size=len(plans))]
    with ProcessPoolExecutor(2) as pool:
        return tuple(pool.map(rooms.build_room, plans, generators, [rate_hz] * len(plans)))


def build(part: str, rate_hz: int, rooms_per_plan: int = 1, also: tuple[str, ...] = ()) -> Material:
    """Return all material of one part, with the recorded sounds of others beside it."""
    parts = (part, *also)
    feet = tuple(foot_sound(source, clip, rate_hz)
                 for source in sources.FOOT_SOURCES if source.part in parts for clip in source.clips)
    adults = recorded(parts, "adult", rate_hz) + spoken(part, sources.LESSON_SENTENCES, rate_hz)
    children = recorded(parts, "child", rate_hz) + spoken(part, sources.LESSON_SENTENCES, rate_hz, CHILD_SPEED)
    bounces = recorded(parts, "ball", rate_hz) + balls.modelled_bounces(part, rate_hz, SEEDS[part])
    words = spoken(part, sources.CUE_WORDS, rate_hz)
    return Material(part, rate_hz, feet, adults, children, bounces, recorded(parts, "whistle", rate_hz),
                    words, recorded(parts, "other", rate_hz), build_rooms(part, rate_hz, rooms_per_plan))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--training", action="store_true", help="16 kHz material with more sounds and rooms")
    training = parser.parse_args().training
    fetch.fetch_packages()
    jobs = [(sources.DEVELOPMENT, TRAINING_RATE_HZ, TRAINING_ROOMS_PER_PLAN, (sources.TRAINING,))] if training else [
        (part, 48000, 1, ()) for part in sources.PARTS]
    for part, rate_hz, per_plan, also in jobs:
        file = material_file(part, rate_hz)
        save_material(build(part, rate_hz, per_plan, also), file)
        print(f"{file.name}: {file.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
