"""Bouts that could not be stored because another program held the records: a file each, taken in later.

The file carries the row as it will stand in the records, identity and all, so that taking it in twice
stores it once.
"""

from __future__ import annotations

import json
import re
import secrets
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.files.atomic import write_text
from cuekit.files.filenames import shown
from cuekit.records.bout_record import BoutRecord
from cuekit.records.record_json import from_text, to_text
from cuekit.records.store import Store
from cuekit.records.store_file import RecordsBusyError, default_folder, refusing, transaction
from cuekit.records.store_merge import take_in

FOLDER = "waiting"


def set_aside(folder: Path, bout: BoutRecord, contract: str, now: datetime) -> Path:
    """Write a bout beside the records.

    Raises:
        RecordError: it cannot be written there either.
    """
    place = folder / FOLDER
    with refusing(place):
        place.mkdir(mode=0o700, exist_ok=True)
    row_id = secrets.token_hex(8)
    row = {"id": row_id, "at": now.isoformat(), "bout": to_text(bout), "contract": contract}
    path = place / f"{row_id}.json"
    write_text(path, json.dumps(row, ensure_ascii=False), refusal=RecordError)
    return path


def take_in_waiting(store: Store) -> int:
    """Store what waits beside the records; how many bouts that were.

    Raises:
        RecordError: a waiting file cannot be read, or the records are still held.
    """
    files = sorted((store.folder / FOLDER).glob("*.json"))
    for path in files:
        try:
            row, contracts = _read(path)
        except FileNotFoundError:
            continue  # another program has just taken it in
        with refusing(store.path), transaction(store.connection):
            take_in(store.connection, [row], contracts)
        with refusing(path):
            path.unlink(missing_ok=True)
    return len(files)


def open_store(folder: Path | None = None) -> Store:
    """The records of a folder, or of the usual place, with what waited beside them taken in.

    Raises:
        RecordError: they cannot be opened.
    """
    store = Store(folder or default_folder())
    try:
        with suppress(RecordsBusyError):  # then it waits on
            take_in_waiting(store)
    except BaseException:
        store.connection.close()
        raise
    return store


def _read(path: Path) -> tuple[tuple, list[tuple[str, str]]]:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        row_id, at, text, contract = (told[key] for key in ("id", "at", "bout", "contract"))
        bout = from_text(BoutRecord, text)
        _check(row_id, at, contract)
    except FileNotFoundError:
        raise
    except (OSError, ValueError, KeyError, TypeError, RecursionError, RecordError):
        raise RecordError(f"the waiting bout {shown(path)} cannot be read: move it away to go on") from None
    row = (row_id, "bout", row_id, 1, bout.learner, at, text)
    return row, [(row_id, contract)] if contract else []


def _check(row_id: object, at: object, contract: object) -> None:
    """Whether these are as `set_aside` writes them.

    Raises:
        ValueError, TypeError, RecursionError: they are not.
    """
    if not isinstance(row_id, str) or not re.fullmatch("[0-9a-f]{16}", row_id):
        raise ValueError("no identity of a row")
    if not isinstance(at, str) or datetime.fromisoformat(at).tzinfo is None:
        raise ValueError("no moment with its offset")
    if not isinstance(contract, str) or (contract and not isinstance(json.loads(contract), dict)):
        raise ValueError("no account of what was heard")
    contract.encode("utf-8")  # half a letter cannot be stored: a UnicodeEncodeError, which is a ValueError
