"""The raw material of one part, at one sample rate, ready to be mixed with numpy.

    python -m tests.hearing.build_material

makes it; this module only holds, saves and loads it, so that scenes can be
mixed on a machine that has numpy and scipy and one .npz file.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.hearing.rooms import Room

CONTACT_LEAD_S = 0.003
"""Every foot clip starts this long before its contact, s."""


@dataclass(frozen=True)
class Sound:
    """A dry recorded or synthesised sound; `source` names where it came from."""

    source: str
    samples: NDArray[np.float32]


@dataclass(frozen=True)
class Material:
    """All sounds of one part. Foot clips: contact at `CONTACT_LEAD_S`, equal 20 ms level.

    `others` (doors, claps, laughter) are for training scenes only.
    """

    part: str
    sample_rate_hz: int
    feet: tuple[Sound, ...]
    adults: tuple[Sound, ...]
    children: tuple[Sound, ...]
    balls: tuple[Sound, ...]
    whistles: tuple[Sound, ...]
    words: tuple[Sound, ...]
    others: tuple[Sound, ...]
    rooms: tuple[Room, ...]

    def foot_sources(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(foot.source for foot in self.feet))

    def feet_of(self, source: str) -> tuple[Sound, ...]:
        return tuple(foot for foot in self.feet if foot.source == source)


KINDS = ("feet", "adults", "children", "balls", "whistles", "words", "others")
PLACES = ("feet", "mouths", "speakers", "far")


def cache_folder() -> Path:
    """Return the folder that holds fetched and built material."""
    return Path(os.environ.get("CUEKIT_HEARING_CACHE", Path(__file__).parent / ".cache"))


def material_file(part: str, sample_rate_hz: int) -> Path:
    return cache_folder() / f"material-{part}-{sample_rate_hz}.npz"


def save_material(material: Material, file: Path) -> None:
    """Write the material as 16-bit audio with one scale each and a JSON index."""
    audio: list[NDArray[np.int16]] = []
    index: list[list[object]] = []

    def add(label: str, source: str, samples: NDArray[np.float32]) -> None:
        scale = float(np.abs(samples).max()) or 1.0
        audio.append(np.round(samples / scale * 32767.0).astype(np.int16))
        index.append([label, source, len(samples), scale])

    for kind in KINDS:
        for sound in getattr(material, kind):
            add(kind, sound.source, sound.samples)
    for number, room in enumerate(material.rooms):
        for place in PLACES:
            for response in getattr(room, place):
                add(f"room/{number}/{place}", room.name, response)
    head = {"part": material.part, "sample_rate_hz": material.sample_rate_hz, "index": index,
            "rooms": [[r.name, r.rt60_s, list(r.distances_m)] for r in material.rooms]}
    file.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(file, audio=np.concatenate(audio), head=np.array(json.dumps(head)))


def read_material(file: Path) -> Material:
    """Read what `save_material` wrote."""
    with np.load(file) as stored:
        head = json.loads(str(stored["head"]))
        audio = stored["audio"]
    groups: dict[str, list[Sound]] = {}
    at = 0
    for label, source, length, scale in head["index"]:
        samples = audio[at : at + length].astype(np.float32) * np.float32(scale / 32767.0)
        groups.setdefault(label, []).append(Sound(source, samples))
        at += length
    rooms = []
    for number, (name, rt60_s, distances) in enumerate(head["rooms"]):
        places = [tuple(s.samples for s in groups[f"room/{number}/{place}"]) for place in PLACES]
        rooms.append(Room(name, rt60_s, np.array(distances), *places))
    return Material(head["part"], head["sample_rate_hz"],
                    *(tuple(groups.get(kind, ())) for kind in KINDS), rooms=tuple(rooms))


@lru_cache(maxsize=4)
def load_material(part: str, sample_rate_hz: int = 48000) -> Material:
    """Return the built material, or say how to build it."""
    file = material_file(part, sample_rate_hz)
    if not file.exists():
        raise FileNotFoundError(
            f"{file.name} is not in {file.parent}: run `python -m tests.hearing.build_material` first")
    return read_material(file)
