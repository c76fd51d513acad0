"""The records themselves under a passphrase while nobody works with them: put away, and brought out again.

While a lesson runs they lie open, as SQLite needs them; in between, the file and each of its backups are
locked as files that leave the laptop are (`cuekit.records.locking`). A file that was deleted may still be
found on some disks by those who know how, so the encryption of the whole disk comes first.
"""

from __future__ import annotations

import os
from contextlib import closing
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.files.atomic import replacing
from cuekit.files.filenames import shown
from cuekit.records.locking import (
    ENDING,
    LARGEST_BYTES,
    check_passphrase,
    lock,
    read_whole,
    unlock,
    write_private,
)
from cuekit.records.store_file import (
    BACKUP_FOLDER,
    PUT_AWAY,
    SET_ASIDE,
    backups_in,
    check_header,
    connect,
    records_path,
    refusing,
)


def put_away(folder: Path, passphrase: str) -> int:
    """Lock the records and their backups, and remove the open files; how many were locked.

    Each open file goes only after its locked one is on the disk and has been opened on trial.

    Raises:
        RecordError: another program has them open, one is too large, the passphrase is too short, or a file
            cannot be written; what was not locked by then is still open.
    """
    check_passphrase(passphrase)
    path = records_path(folder)
    with refusing(path):
        check_header(path)
        with closing(connect(path)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")  # refused while anybody else has it open
            connection.execute("BEGIN EXCLUSIVE")
            _lock_into(folder / PUT_AWAY, connection.serialize(), passphrase)
            if os.name != "nt":
                path.unlink()
        path.unlink(missing_ok=True)  # Windows removes no open file
    others = [*backups_in(folder), *folder.glob(f"{SET_ASIDE}-*.db")]
    for other in others:
        _lock_into(other.with_name(other.name + ENDING), read_whole(other), passphrase)
        other.unlink()
    return 1 + len(others)


def bring_out(folder: Path, passphrase: str) -> tuple[int, tuple[Path, ...]]:
    """Open the records and their backups again.

    Returns:
        How many files were opened, and backups that another passphrase was put on.

    Raises:
        RecordError: nothing is put away, records lie open already, or the passphrase is wrong; nothing was
            changed.
    """
    path, locked = records_path(folder), folder / PUT_AWAY
    if path.exists():
        raise RecordError(f"{shown(path)} lies open already: nothing was changed")
    if not locked.exists():
        raise RecordError(f"no records are put away in {shown(folder)}: cuekit records where")
    _open_from(locked, path, passphrase)
    backups = (folder / BACKUP_FOLDER).glob(f"records-*.db{ENDING}")
    left, opened = [], 1
    for other in sorted([*backups, *folder.glob(f"{SET_ASIDE}-*.db{ENDING}")]):
        try:
            _open_from(other, other.with_suffix(""), passphrase)
            opened += 1
        except RecordError:
            left.append(other)
    return opened, tuple(left)


def _lock_into(goal: Path, content: bytes, passphrase: str) -> None:
    """Lock into a file, opened on trial before it is written."""
    if len(content) > LARGEST_BYTES:
        raise RecordError(f"{shown(goal.name)} would be over {LARGEST_BYTES // 2**20} MB: too large to lock")
    locked = lock(content, passphrase)
    if unlock(locked, passphrase, shown(goal.name)) != content:
        raise RecordError(f"{shown(goal.name)} did not open again: nothing was removed")
    with replacing(goal, refusal=RecordError) as temporary:
        temporary.chmod(0o600)
        temporary.write_bytes(locked)


def _open_from(locked: Path, goal: Path, passphrase: str) -> None:
    write_private(goal, unlock(read_whole(locked), passphrase, shown(locked.name)))
    locked.unlink()
