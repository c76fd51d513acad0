"""Taking in the records of another laptop: rows are known by their identity, so nothing is doubled."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.files.filenames import shown
from cuekit.records.row_sums import ADD_CONTRACT, ADD_ENTRY
from cuekit.records.store import Store
from cuekit.records.store_check import copied, problems_of
from cuekit.records.store_file import connect, migrate, refusing, transaction

_COLUMNS = "id, kind, about, version, code, stored_at, record"


@dataclass(frozen=True)
class Merged:
    """What a merge brought.

    Attributes:
        entries: rows that were new here.
        known: rows that were here already.
        bouts: bouts among the new ones.
        codes: codes that were new here; a code forgotten here comes back this way and is named.
    """

    entries: int
    known: int
    bouts: int
    codes: tuple[str, ...]


def merge(store: Store, other: Path) -> Merged:
    """Take in all rows of another records file, whole or not at all; the other file is only read.

    One of an older version is read as it would be after its migration.

    Raises:
        RecordError: it is no sound records file.
    """
    with copied(other, store.folder) as copy, closing(connect(copy)) as source:
        migrate(source)
        problems = problems_of(source)
        if problems:
            raise RecordError(f"{shown(other.name)} is not sound ({problems[0]}): nothing was taken in")
        rows = source.execute(f"SELECT {_COLUMNS} FROM entries ORDER BY number").fetchall()
        contracts = source.execute("SELECT bout, contract FROM contracts").fetchall()
    with refusing(store.path), transaction(store.connection):
        return take_in(store.connection, rows, contracts)


def take_in(connection: sqlite3.Connection, rows: list[tuple], contracts: list[tuple]) -> Merged:
    """Insert the rows that are not here yet, with their contracts; within a transaction of the caller."""
    here = {row[0] for row in connection.execute("SELECT id FROM entries")}
    codes = {row[0] for row in connection.execute("SELECT DISTINCT code FROM entries")}
    new = [row for row in rows if row[0] not in here]
    connection.executemany(ADD_ENTRY, new)
    fresh = {row[0] for row in new}
    connection.executemany(ADD_CONTRACT, [one for one in contracts if one[0] in fresh])
    bouts = sum(row[1] == "bout" for row in new)
    return Merged(len(new), len(rows) - len(new), bouts, tuple(sorted({row[4] for row in new} - codes)))
