"""Deleting everything on a code, out of the records and out of every backup, and proving it by search.

SQLite's `DELETE` alone leaves copies in the write-ahead log and in free pages; so after it the log is
folded in and cut, and the file is written anew. Then the raw bytes of every file in the data folder are
searched for the code.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import sqlite3
from collections.abc import Iterable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from cuekit.errors import RecordError
from cuekit.records.bout_record import BoutRecord
from cuekit.records.learner import Learner
from cuekit.records.row_sums import sum_again, teach_sums
from cuekit.records.store import ExportNote, Store
from cuekit.records.store_check import TRIAL
from cuekit.records.store_file import (
    BACKUP_FOLDER,
    NEW,
    SET_ASIDE,
    backups_in,
    check_header,
    refusing,
    transaction,
)

FORGOTTEN = "(forgotten)"
"""Stands where another learner's note mentioned the code."""
_OVERLAP_BYTES = 64  # more than the longest code


@dataclass(frozen=True)
class Receipt:
    """What was deleted.

    Attributes:
        code: whose it was.
        entries: rows deleted from the records.
        notes: rows of other learners whose text mentioned the code, and no longer does.
        backups: how many backups, or files set aside by a restore, it was taken out of.
        files: how many files of the data folder were searched afterwards.
        traces: how often the code was still found in them.
        left_in: names of the files in which it was.
        exports: files written earlier, which are not in our hands.
    """

    code: str
    entries: int
    notes: int
    backups: int
    files: int
    traces: int
    left_in: tuple[str, ...]
    exports: tuple[str, ...]


def forget(store: Store, code: str, instead: Sequence[Learner | BoutRecord] = ()) -> Receipt:
    """Delete everything on a code.

    Args:
        store: the records.
        code: whose it is.
        instead: of another code, stored in its place in the same transaction.

    Raises:
        RecordError: there is nothing on that code, or a file cannot be written; run it again then.
    """
    exports = tuple(entry.noun.file for entry in store.entries(ExportNote, code))
    with refusing(store.path):
        others = [row[0] for row in store.connection.execute("SELECT DISTINCT code FROM entries")]
        if code not in others and not search(store.folder, code, others)[1]:
            raise RecordError(f"nothing is kept on {code}: cuekit learner list shows the codes")
        with transaction(store.connection):
            entries, notes = _delete(store.connection, code)
            for noun in instead:
                own = noun.code if isinstance(noun, Learner) else noun.learner
                store.insert(noun, own, own if isinstance(noun, Learner) else "")
        _leave_no_page(store.connection)
        _remove_leftovers(store.folder)
        backups = sum(_take_out(backup, code) for backup in backups_in(store.folder))
        for aside in store.folder.glob(f"{SET_ASIDE}-*.db"):
            with suppress(sqlite3.DatabaseError, RecordError):  # a damaged one is found by the search
                backups += _take_out(aside, code)
        files, found = search(store.folder, code, others)
    return Receipt(code, entries, notes, backups, files, sum(found.values()), tuple(sorted(found)), exports)


def _remove_leftovers(folder: Path) -> None:
    """Remove copies that a killed program left half made."""
    halves = (folder / BACKUP_FOLDER).glob("*.part*")
    for left in (*folder.glob(f"{TRIAL}*"), *folder.glob(f"{NEW}*"), *halves):
        if left.is_dir():
            shutil.rmtree(left)
        else:
            left.unlink()


def _take_out(file: Path, code: str) -> bool:
    """Delete a code out of a backup; whether there was anything."""
    check_header(file)
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        teach_sums(connection)
        connection.execute("PRAGMA secure_delete = ON")
        connection.execute("PRAGMA temp_store = MEMORY")
        with transaction(connection):
            deleted, changed = _delete(connection, code)
        _leave_no_page(connection)
    return bool(deleted or changed)


def search(folder: Path, code: str, others: Iterable[str] = ()) -> tuple[int, dict[str, int]]:
    """How many files a folder holds, and in which and how often their raw bytes and names hold the code.

    Both capital and small letters are searched. A longer code that is still kept and contains this one
    ("K-071" for "K-07") is no trace of it.
    """
    wanted = code.lower().encode()
    longer = [other.lower().encode() for other in others if code in other and other != code]
    files = [path for path in folder.rglob("*") if path.is_file()]
    found: dict[str, int] = {}
    for path in files:
        traces = _traces(io.BytesIO(os.fsencode(path.name)), wanted, longer)
        with path.open("rb") as file:
            traces += _traces(file, wanted, longer)
        if traces:
            found[str(path.relative_to(folder))] = traces
    return len(files), found


def _traces(file: BinaryIO, code: bytes, longer: Sequence[bytes], piece_bytes: int = 8 * 2**20) -> int:
    """How often a file holds a small-lettered code in any case, not counting where a longer one stands.

    Read in pieces, each with the end of the one before, as a file may be larger than the memory.
    """
    traces, text, done = 0, b"", False
    while not done:
        piece = file.read(piece_bytes)
        done = len(piece) < piece_bytes
        counted = max(len(text) - _OVERLAP_BYTES, 0)  # what begins before it was counted with its piece
        text += piece.lower()
        last = len(text) if done else len(text) - _OVERLAP_BYTES
        at = text.find(code, counted)
        while -1 < at < last:
            traces += not any(_covered(text, at, code, other) for other in longer)
            at = text.find(code, at + 1)
        text = text[-2 * _OVERLAP_BYTES :]
    return traces


def _covered(text: bytes, at: int, code: bytes, longer: bytes) -> bool:
    """Whether a longer code stands round the code at that place."""
    first = max(at + len(code) - len(longer), 0)
    return longer in text[first : at + len(longer)]


def _delete(connection: sqlite3.Connection, code: str) -> tuple[int, int]:
    """Delete a learner's rows and take the code out of other texts, in a transaction of the caller."""
    own = "SELECT id FROM entries WHERE code = ?"
    connection.execute(f"DELETE FROM contracts WHERE bout IN ({own})", (code,))
    deleted = connection.execute("DELETE FROM entries WHERE code = ?", (code,)).rowcount
    return deleted, _take_out_of_texts(connection, code)


def _leave_no_page(connection: sqlite3.Connection) -> None:
    """Fold the log in and cut it, and write the file anew."""
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.execute("VACUUM")
    busy, *_ = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    if busy:
        raise RecordError("another program is using the records: close it and run forget again to finish")


def _take_out_of_texts(connection: sqlite3.Connection, code: str) -> int:
    """Replace the code in what other learners' rows say; a longer code that contains it stays."""
    pattern = re.compile(rf"(?<![A-Za-z0-9-]){re.escape(code)}(?![A-Za-z0-9]|-[A-Za-z0-9])", re.IGNORECASE)
    changed = 0
    for table, key, column in (("entries", "number", "record"), ("contracts", "bout", "contract")):
        like = f"SELECT {key}, {column} FROM {table} WHERE {column} LIKE ?"
        for row, text in connection.execute(like, (f"%{code}%",)).fetchall():
            clean = pattern.sub(FORGOTTEN, text)
            if clean != text:
                connection.execute(f"UPDATE {table} SET {column} = ? WHERE {key} = ?", (clean, row))
                sum_again(connection, table, key, row)
                changed += 1
    return changed
