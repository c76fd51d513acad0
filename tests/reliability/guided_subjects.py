"""What files grown by the fuzzer are read by (`tests.reliability.guided`), and the files they grow from."""

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from cuekit.errors import AudioError, PatternError, RecordError
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern_files import check_file, load_pattern
from cuekit.records.record_json import from_text, to_text
from cuekit.records.store import KINDS, Store
from cuekit.records.store_waiting import take_in_waiting
from cuekit.shipped import shipped_folder
from cuekit.teaching.ladder_files import SHIPPED, load_ladder
from tests.reliability.fuzz import STORED
from tests.reliability.mutated_sounds import seeds

WAITING = {"id": "0123456789abcdef", "at": "2026-03-02T09:30:00+00:00", "bout": STORED[0], "contract": "{}"}


@dataclass(frozen=True)
class Subject:
    """A parser of files.

    Attributes:
        read: takes the bytes of a file in, or refuses them as it should; anything else is a find.
        seeds: files to grow from.
        longest: bytes of a file.
    """

    read: Callable[[bytes], None]
    seeds: tuple[bytes, ...]
    longest: int = 4_096


def subjects(folder: Path) -> dict[str, Subject]:
    """All of them; files and records lie in the folder."""
    store = Store(folder / "data")
    (store.folder / "waiting").mkdir()
    lines = tuple(bytes([n]) + text.encode() for text in STORED for n in range(len(KINDS)))
    return {
        "pattern file": Subject(partial(pattern_file, folder / "gallop.toml"), _all_in(shipped_folder("patterns"))),
        "ladder file": Subject(partial(ladder_file, folder / "hop.toml"), _all_in(SHIPPED), 8_192),
        "record line": Subject(record_line, lines),
        "waiting file": Subject(partial(waiting_file, store), (json.dumps(WAITING).encode(),)),
        "sound file": Subject(partial(sound_file, folder / "take.wav"), seeds(), 16_384),
    }


def _all_in(folder: Path) -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted(folder.glob("*.toml")))


def pattern_file(path: Path, data: bytes) -> None:
    """A pattern file is used, or its problems are named."""
    path.write_bytes(data)
    try:
        assert load_pattern(path).beats
    except PatternError:
        assert check_file(path)


def ladder_file(path: Path, data: bytes) -> None:
    """A ladder is used, or refused."""
    path.write_bytes(data)
    with suppress(PatternError):
        assert load_ladder(path).steps


def record_line(data: bytes) -> None:
    """A line of the records, its kind told by the first byte, is a noun or refused; a noun is written as it was read."""
    kind = sorted(KINDS)[data[0] % len(KINDS)] if data else "bout"
    try:
        noun = from_text(KINDS[kind], data[1:].decode("utf-8", "surrogateescape"))
    except RecordError:
        return
    assert from_text(KINDS[kind], to_text(noun)) == noun


def waiting_file(store: Store, data: bytes) -> None:
    """A bout that waits is taken in, or its file is refused and stays."""
    path = store.folder / "waiting" / "0123456789abcdef.json"
    path.write_bytes(data)
    try:
        take_in_waiting(store)
    except RecordError:
        path.unlink()
    assert not path.exists()
    store.connection.execute("DELETE FROM contracts")
    store.connection.execute("DELETE FROM entries")


def sound_file(path: Path, data: bytes) -> None:
    """A sound file is read as sound, or refused."""
    path.write_bytes(data)
    try:
        heard = read_recording(path)
    except AudioError:
        return
    assert heard.duration_s > 0
    assert np.isfinite(heard.samples).all()
