"""Rooms with records in them: sound ones, and ones to which something happened."""

import json
import os
import random
import sqlite3
import tempfile
from contextlib import closing
from datetime import date
from functools import cache
from pathlib import Path

from cuekit.patterns.schedule import CueLevel
from cuekit.records.goals import Criterion, Goal, Measure
from cuekit.records.learner import Learner
from cuekit.records.record_json import to_text
from cuekit.records.store import Store
from cuekit.records.store_file import back_up, records_path
from cuekit.records.store_schema import MIGRATIONS
from tests.made_records import AT, bout

GOAL = Goal("K-07", "gallop", Measure.LONGEST_RUN, 6, Criterion(), date(2026, 3, 1), (CueLevel.C4,))


@cache
def _sound_file() -> bytes:
    """The bytes of a small records file: one learner, two bouts, one goal."""
    with tempfile.TemporaryDirectory() as folder:
        with Store(Path(folder)) as store:
            store.add(Learner("K-07", skill="gallop"))
            for run in (5, 6):
                store.add(bout(run=run))
            store.add(GOAL)
        return records_path(Path(folder)).read_bytes()


def kept(room: Path) -> None:
    """Records of K-07."""
    (room / "data").mkdir(mode=0o700)
    records_path(room / "data").write_bytes(_sound_file())
    records_path(room / "data").chmod(0o600)


def holding(content: bytes):
    """A records file of other bytes."""

    def prepare(room: Path) -> None:
        (room / "data").mkdir()
        records_path(room / "data").write_bytes(content)
        records_path(room / "data").chmod(0o600)

    return prepare


def cut(length: int):
    return holding(_sound_file()[:length])


def flipped(seed: int, flips: int):
    """A few bytes of the file changed."""
    content, rng = bytearray(_sound_file()), random.Random(seed)
    for _ in range(flips):
        content[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
    return holding(bytes(content))


def foreign(room: Path) -> None:
    """Another program's database."""
    (room / "data").mkdir()
    with closing(sqlite3.connect(records_path(room / "data"))) as connection:
        connection.execute("CREATE TABLE shopping (item)")


def newer(room: Path) -> None:
    """Records of a version to come."""
    kept(room)
    with closing(sqlite3.connect(records_path(room / "data"))) as connection:
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
        connection.execute("PRAGMA journal_mode = DELETE")


def lost_but_backed_up(room: Path) -> None:
    """The file is gone, a backup is there."""
    kept(room)
    with Store(room / "data") as store:
        back_up(store.connection, room / "data", AT, "asked")
    records_path(room / "data").unlink()


def emptied_but_backed_up(room: Path) -> None:
    """The file was emptied, as some sync programs do; a backup is there."""
    lost_but_backed_up(room)
    records_path(room / "data").write_bytes(b"")


def linked(room: Path) -> None:
    """The file is a link to one elsewhere."""
    kept(room)
    records_path(room / "data").rename(room / "elsewhere.db")
    records_path(room / "data").symlink_to(room / "elsewhere.db")


def a_folder(room: Path) -> None:
    records_path(room / "data").mkdir(parents=True)


def a_pipe(room: Path) -> None:
    (room / "data").mkdir()
    os.mkfifo(records_path(room / "data"))


def data_is_a_file(room: Path) -> None:
    (room / "data").write_bytes(b"not a folder")


def only_to_read(room: Path) -> None:
    """Records in a folder that may only be read."""
    kept(room)
    records_path(room / "data").chmod(0o444)
    (room / "data").chmod(0o555)


def with_foreign_log(room: Path) -> None:
    """A write-ahead log of something else lies beside the file."""
    kept(room)
    (room / "data" / "records.db-wal").write_bytes(random.Random(3).randbytes(9000))


def with_waiting(content: bytes):
    """A waiting bout that is none."""

    def prepare(room: Path) -> None:
        kept(room)
        (room / "data" / "waiting").mkdir()
        (room / "data" / "waiting" / "0123456789abcdef.json").write_bytes(content)

    return prepare


def waiting_by(row_id: object) -> bytes:
    """A waiting bout of that identity."""
    row = {"id": row_id, "at": "2026-03-02T09:30:00+00:00", "bout": to_text(bout()), "contract": ""}
    return json.dumps(row).encode()


def with_rubbish(room: Path) -> None:
    """Sound records, and files beside them to merge, restore or unlock."""
    kept(room)
    for name, content in {
        "empty.db": b"",
        "text.db": b"gallop\n" * 50,
        "cut.db": _sound_file()[:5000],
        "header.db": _sound_file()[:100],
        "text.age": b"gallop\n",
        "cut.age": b"age-encryption.org/v1\n-> scrypt ",
    }.items():
        (room / name).write_bytes(content)
    (room / "folder.db").mkdir()
    os.mkfifo(room / "pipe.db")
    (room / "loop.db").symlink_to("loop.db")
