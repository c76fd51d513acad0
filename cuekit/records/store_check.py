"""Is the records file sound, can it be brought back, and bringing it back.

A backup counts only after a trial restore: it is copied, opened, checked and every row is read.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.files.filenames import shown
from cuekit.records.record_json import from_text
from cuekit.records.row_sums import CONTRACT_SUM, ENTRY_SUM
from cuekit.records.store import KINDS, Store
from cuekit.records.store_file import (
    SET_ASIDE,
    back_up,
    backups_in,
    check_header,
    connect,
    migrate,
    records_path,
    refusing,
)
from cuekit.records.store_moving import held_alone

TRIAL = "trial-"
"""Begins the name of a folder in which a copy is tried."""


@dataclass(frozen=True)
class Report:
    """What a check found.

    Attributes:
        entries: rows that could be read.
        problems: each one sentence; empty where all is sound.
        backups: how many there are.
        restored: rows that came back in the trial restore of a fresh backup.
    """

    entries: int
    problems: tuple[str, ...]
    backups: int
    restored: int


def check(store: Store, now: datetime) -> Report:
    """Check the pages of the open file, and bring a fresh backup of it back on trial, where each row is read.

    Raises:
        RecordError: it cannot be read at all.
    """
    with refusing(store.path):
        problems = list(_page_problems(store.connection))
        entries = count(store.connection)
        fresh = back_up(store.connection, store.folder, now, "trial")
        try:
            restored, trial_problems = try_backup(fresh, store.folder)
        finally:
            fresh.unlink()
    problems += [f"the trial restore says: {problem}" for problem in trial_problems]
    if restored != entries and not problems:
        problems.append(f"the trial restore gave {restored} rows of {entries}")
    if os.name == "posix" and store.path.stat().st_mode & 0o077:
        problems.append("other accounts of this computer may read the file")
    return Report(entries, tuple(problems), len(backups_in(store.folder)), restored)


def unseen_since(store: Store, day: datetime) -> tuple[str, ...]:
    """Codes of which nothing was stored since a day: to be asked whether they are still needed."""
    sql = "SELECT code FROM entries GROUP BY code HAVING max(stored_at) < ? ORDER BY code"
    with refusing(store.path):
        return tuple(row[0] for row in store.connection.execute(sql, (day.astimezone(UTC).isoformat(),)))


def newest_stored(store: Store) -> datetime | None:
    """When the last entry was stored; None in an empty file."""
    with refusing(store.path):
        row = store.connection.execute(
            "SELECT stored_at FROM entries ORDER BY number DESC LIMIT 1"
        ).fetchone()
    return datetime.fromisoformat(row[0]) if row else None


def problems_of(connection: sqlite3.Connection) -> tuple[str, ...]:
    """What is wrong with a file: its pages, its links, and rows that are no nouns of ours."""
    found = list(_page_problems(connection))
    entries = f"SELECT number, kind, record, sum = {ENTRY_SUM} FROM entries"
    for number, kind, text, whole in connection.execute(entries):
        if not whole:
            found.append(f"entry {number} is not as it was stored")
            continue
        try:
            from_text(KINDS[kind], text)
        except (RecordError, KeyError):
            found.append(f"entry {number} cannot be read")
    altered = f"SELECT count(*) FROM contracts WHERE sum <> {CONTRACT_SUM}"
    (contracts,) = connection.execute(altered).fetchone()
    found += [f"what was heard of {contracts} bouts is not as it was stored"] if contracts else []
    return tuple(found[:20])


def _page_problems(connection: sqlite3.Connection) -> tuple[str, ...]:
    """What is wrong with the pages and the links of a file, whatever its rows say."""
    found = [row[0] for row in connection.execute("PRAGMA integrity_check(5)") if row[0] != "ok"]
    broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    return (*found, f"{len(broken)} links between rows are broken") if broken else tuple(found)


def count(connection: sqlite3.Connection) -> int:
    """How many rows a file has."""
    return connection.execute("SELECT count(*) FROM entries").fetchone()[0]


@contextmanager
def copied(file: Path, folder: Path) -> Iterator[Path]:
    """A copy of a records file, with its write-ahead log, in a folder of its own that goes afterwards.

    The file itself is only read: SQLite would write beside it, or into it, by merely opening it.

    Raises:
        RecordError: it is no records file of ours.
    """
    with refusing(file), tempfile.TemporaryDirectory(dir=folder, prefix=TRIAL) as place:
        check_header(file)
        copy = Path(place) / "copy.db"
        for side in ("", "-wal"):
            with suppress(FileNotFoundError):
                shutil.copyfile(file.with_name(file.name + side), copy.with_name(copy.name + side))
        yield copy


def try_backup(backup: Path, folder: Path) -> tuple[int, tuple[str, ...]]:
    """Bring a backup back on trial within a folder: rows that came back, and what is wrong with them.

    One of an older version is read as it would be after its migration.

    Raises:
        RecordError: it is no backup of ours.
    """
    with copied(backup, folder) as copy, closing(connect(copy)) as connection:
        migrate(connection)
        return count(connection), problems_of(connection)


def restore(folder: Path, backup: Path, now: datetime) -> tuple[int, Path | None]:
    """Put a backup in the place of the records; what was there is kept under a dated name.

    Returns:
        Rows brought back, and where the old file lies now (None where there was none).

    Raises:
        RecordError: the backup is not sound, or another program has the records open; nothing was changed.
    """
    path, aside = records_path(folder), None
    with refusing(path):
        folder.mkdir(parents=True, mode=0o700, exist_ok=True)
    entries, problems = try_backup(backup, folder)
    if problems:
        raise RecordError(f"{shown(backup.name)} is not sound ({problems[0]}): choose another backup")
    with refusing(path):
        with copied(backup, folder) as copy, closing(sqlite3.connect(copy)) as source:
            whole = back_up(source, folder, now, "restored")
        with held_alone(path):
            # The file itself goes first: killed after it, we leave nothing that is taken for older records.
            for side in ("", "-wal", "-shm"):
                old = path.with_name(path.name + side)
                if old.exists():
                    moved = old.rename(old.with_name(f"{SET_ASIDE}-{now:%Y%m%d-%H%M%S}-{old.name}"))
                    aside = aside or moved
            whole.replace(path)
    return entries, aside
