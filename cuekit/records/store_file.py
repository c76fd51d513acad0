"""The one file of the records: where it lies, whether it is ours, opening, migrating, backing up.

Durability: write-ahead log with `synchronous=FULL`, so that a stored bout survives a killed program and
a power cut; `secure_delete` so that deleted rows are overwritten. The file is made under another name
and takes its place complete, so an empty file is never ours and always a loss worth saying.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
import stat
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.files.filenames import shown
from cuekit.files.places import data_place
from cuekit.records.row_sums import teach_sums
from cuekit.records.store_schema import APPLICATION_ID, MIGRATIONS

FILE_NAME = "records.db"
PUT_AWAY = f"{FILE_NAME}.age"
"""The records while they are locked with a passphrase, see `cuekit.records.put_away`."""
BACKUP_FOLDER = "backups"
SET_ASIDE = "set-aside"
"""Begins the name of records that a restored backup took the place of."""
NEW = ".new-"
"""Begins the name of a file that is being made."""
PATIENCE_S = 5.0
"""How long another program may hold the file before we give up, s."""
_MAGIC = b"SQLite format 3\0"
_HEADER_BYTES = 100


class RecordsBusyError(RecordError):
    """Another program holds the records longer than we wait."""


def default_folder() -> Path:
    """Where the records lie unless told otherwise.

    Raises:
        RecordError: there is no home folder.
    """
    folder = data_place()
    if folder is None:
        raise RecordError("there is no home folder for the records: say where with --data FOLDER")
    return folder


def records_path(folder: Path) -> Path:
    """The records file of a data folder."""
    return folder / FILE_NAME


def backups_in(folder: Path) -> list[Path]:
    """Dated backups of a data folder, oldest first."""
    return sorted((folder / BACKUP_FOLDER).glob("records-*.db"))


def open_file(folder: Path, *, migrations: Sequence[str] = MIGRATIONS) -> sqlite3.Connection:
    """Open the records of a folder, made or migrated if need be.

    Raises:
        RecordError: the file is not ours, damaged, empty, from a newer version, lost while backups
            exist, or cannot be written.
    """
    path = records_path(folder)
    with refusing(path):
        _private_folder(folder)
        if not os.path.lexists(path):
            _refuse_to_start_afresh(folder)
            _create(path, migrations)
        version = check_header(path, len(migrations))
        if version < len(migrations):
            with closing(connect(path)) as connection:
                back_up(connection, folder, datetime.now(), f"v{version}")
        opened = path.stat()
        connection = connect(path)
        try:
            migrate(connection, migrations)
            _refuse_if_moved(path, opened)
            _private_files(path)
        except BaseException:
            connection.close()
            raise
        return connection


def _refuse_if_moved(path: Path, opened: os.stat_result) -> None:
    """Refuse a file that was moved away while it was opened: what is stored in it would not be found again.

    Raises:
        RecordsBusyError: it is not the one that lies there now.
    """
    try:
        same = os.path.samestat(path.stat(), opened)
    except FileNotFoundError:
        same = False
    if not same:
        raise RecordsBusyError(f"the records {shown(path)} were just moved by another program: try again")


def check_header(path: Path, newest: int = len(MIGRATIONS)) -> int:
    """Schema version of a records file, read without opening it as a database, so no byte changes.

    Raises:
        RecordError: it is a link, somebody else's, empty, no records of ours, or from a newer version.
    """
    found = path.lstat()
    if not stat.S_ISREG(found.st_mode):
        raise RecordError(f"{shown(path)} is not an ordinary file: move it away, or use --data FOLDER")
    if hasattr(os, "geteuid") and found.st_uid not in (os.geteuid(), 0):
        raise RecordError(f"{shown(path)} belongs to another account: use --data FOLDER")
    with path.open("rb") as file:
        header = file.read(_HEADER_BYTES)
    if not header:
        raise RecordError(
            f"{shown(path)} is empty: its records are lost.\n"
            "Bring back a backup with: cuekit records restore. Or move the file away to start afresh."
        )
    if header[:16] != _MAGIC or int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise RecordError(
            f"{shown(path)} is not a records file of cuekit: nothing was changed; use --data FOLDER"
        )
    version = int.from_bytes(header[60:64], "big")
    if version > newest:
        raise RecordError(
            f"{shown(path)} was made by a newer version of cuekit: nothing was changed; update cuekit"
        )
    return version


def connect(path: Path) -> sqlite3.Connection:
    """A connection with our settings; every change is an explicit transaction."""
    connection = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
    try:
        _set(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _set(connection: sqlite3.Connection) -> None:
    teach_sums(connection)
    for setting in (
        f"busy_timeout = {1000 * PATIENCE_S:.0f}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "secure_delete = ON",
        "foreign_keys = ON",
        "temp_store = MEMORY",
        "trusted_schema = OFF",
    ):
        connection.execute(f"PRAGMA {setting}")


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """A change that is made whole or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


@contextmanager
def refusing(path: Path) -> Iterator[None]:
    """Tell what SQLite or the system says in words of ours."""
    try:
        yield
    except sqlite3.OperationalError as problem:
        kind = RecordsBusyError if "locked" in str(problem) else RecordError
        raise kind(f"cannot use the records {shown(path)}: {_reason(str(problem))}") from None
    except sqlite3.DatabaseError as problem:
        raise RecordError(
            f"the records {shown(path)} are damaged ({problem}): they were left as they are.\n"
            "Look with: cuekit records check. Bring back a backup with: cuekit records restore."
        ) from None
    except OSError as problem:
        reason = problem.strerror or "no reason given"
        raise RecordError(f"cannot use the records {shown(path)}: {reason}; use --data FOLDER") from None


def back_up(connection: sqlite3.Connection, folder: Path, now: datetime, why: str) -> Path:
    """Copy the records through SQLite's own backup call to a dated file, whole or not at all.

    Raises:
        sqlite3.Error, OSError: it could not be written.
    """
    (folder / BACKUP_FOLDER).mkdir(mode=0o700, exist_ok=True)
    goal = folder / BACKUP_FOLDER / f"records-{now:%Y%m%d-%H%M%S}-{secrets.token_hex(2)}-{why}.db"
    temporary = goal.with_suffix(".part")
    _new_private(temporary)
    try:
        with closing(sqlite3.connect(temporary)) as copy:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        _force_to_disk(temporary)
        temporary.replace(goal)
    finally:
        _discard(temporary)
    return goal


def _create(path: Path, migrations: Sequence[str]) -> None:
    """Make the file complete under another name; whoever is first to put it in place wins."""
    temporary = path.with_name(f"{NEW}{secrets.token_hex(4)}.db")
    _new_private(temporary)
    try:
        with closing(sqlite3.connect(temporary, isolation_level=None)) as connection:
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            migrate(connection, migrations)
        _force_to_disk(temporary)
        with suppress(FileExistsError):
            if os.name == "nt":
                temporary.rename(path)  # never replaces on Windows
            else:
                os.link(temporary, path)  # the step that never replaces elsewhere
    finally:
        _discard(temporary)


def migrate(connection: sqlite3.Connection, migrations: Sequence[str] = MIGRATIONS) -> None:
    """Take a file up to the newest schema, all steps in one transaction.

    Raises:
        sqlite3.Error: it could not be; the file is as it was.
    """
    if _version(connection) == len(migrations):
        return
    teach_sums(connection)
    with transaction(connection):
        version = _version(connection)  # another instance may have been faster
        for step in migrations[version:]:
            for statement in step.split(";"):
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {max(version, len(migrations))}")
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # so that the header tells the version


def _version(connection: sqlite3.Connection) -> int:
    return connection.execute("PRAGMA user_version").fetchone()[0]


def _refuse_to_start_afresh(folder: Path) -> None:
    """Never begin an empty file where records have been."""
    if (folder / PUT_AWAY).exists():
        raise RecordError(
            f"the records of {shown(folder)} are put away under a passphrase.\n"
            "Bring them out with: cuekit records bring-out"
        )
    left = [*backups_in(folder), *folder.glob(f"{FILE_NAME}-wal"), *folder.glob(f"{SET_ASIDE}-*")]
    if left:
        raise RecordError(
            f"the records of {shown(folder)} are missing, but {shown(left[-1].name)} is there.\n"
            "Bring back a backup with: cuekit records restore. Or move the folder away to start afresh."
        )


def _private_folder(folder: Path) -> None:
    """Make the folder, readable by its owner only; one that is there keeps its rights."""
    if not folder.is_dir():
        folder.mkdir(parents=True, mode=0o700)


def _private_files(path: Path) -> None:
    """SQLite gives its side files the rights of the main one."""
    if os.name != "nt":
        path.chmod(0o600)


def _new_private(path: Path) -> None:
    os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))


def _discard(path: Path) -> None:
    """Remove a temporary database and what SQLite may have left beside it."""
    for side in ("", "-journal", "-wal", "-shm"):
        path.with_name(path.name + side).unlink(missing_ok=True)


def _force_to_disk(path: Path) -> None:
    descriptor = os.open(path, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


_REASONS = (
    ("locked", "another program is using them: close it and try again"),
    ("full", "the disk is full: make room and try again"),
    ("readonly", "they may only be read: use --data FOLDER"),
    ("unable to open", "the file cannot be opened there: use --data FOLDER"),
    ("disk I/O", "the disk did not take or give the data: check the disk and try again"),
)


def _reason(problem: str) -> str:
    return next((mend for sign, mend in _REASONS if sign in problem), problem)
