"""Goals R13, R14 and R15: records damaged, old or from the future, and a learner deleted out of many."""

import random
import shutil
import sqlite3
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.records.learner import Learner
from cuekit.records.store import Store
from cuekit.records.store_check import check
from cuekit.records.store_file import back_up, backups_in, records_path
from cuekit.records.store_forget import forget
from cuekit.records.store_schema import MIGRATIONS
from tests.made_records import AT, bout, filled, heard

STORES = Path(__file__).parents[1] / "stores"
CODES = ("K-07", "M-12")


@dataclass(frozen=True)
class Damaged:
    """What became of records with damage done to the file.

    Attributes:
        tried: how many files.
        noticed: those that were refused, or in which a check found a problem.
        harmless: those in which every row and number is as before.
        altered: those in which a row or number is missing or another one, and nothing was said.
        long: refusals of more than three lines or 600 characters.
        touched: refused files that were changed.
    """

    tried: int
    noticed: int
    harmless: int
    altered: tuple[str, ...]
    long: int
    touched: int


def damage(folder: Path, flips: int, seed: int) -> Damaged:
    """One bit of one byte changed, so many times; the file cut at twenty places; the file emptied."""
    whole = records_path(filled(folder / "whole", CODES, each=20)).read_bytes()
    with Store(folder / "whole") as store:
        true = _all_of(store)
    rng, told = random.Random(seed), []
    for _ in range(flips):
        content, at = bytearray(whole), rng.randrange(len(whole))
        content[at] ^= 1 << rng.randrange(8)
        told.append(_looked_at(folder / "damaged", bytes(content), true, f"byte {at}"))
    for part in range(20):
        told.append(_looked_at(folder / "damaged", whole[: len(whole) * part // 20], true, f"cut at {part}/20"))
    refusals = [one for one in told if one.refusal]
    return Damaged(
        tried=len(told),
        noticed=sum(one.noticed for one in told),
        harmless=sum(not one.noticed and not one.altered for one in told),
        altered=tuple(one.what for one in told if one.altered and not one.noticed),
        long=sum(one.refusal.count("\n") > 2 or len(one.refusal) > 600 for one in refusals),
        touched=sum(one.touched for one in refusals),
    )


@dataclass(frozen=True)
class _Look:
    what: str
    noticed: bool
    altered: bool
    refusal: str
    touched: bool


def _looked_at(folder: Path, content: bytes, true: list, what: str) -> _Look:
    """Open, check and read a damaged file."""
    folder.mkdir()
    records_path(folder).write_bytes(content)
    records_path(folder).chmod(0o600)
    noticed, altered, refusal = False, False, ""
    try:
        with Store(folder) as store:
            noticed = bool(check(store, AT).problems)
            altered = _all_of(store) != true
    except RecordError as error:
        noticed, refusal = True, str(error)
    touched = records_path(folder).read_bytes() != content
    shutil.rmtree(folder)
    return _Look(what, noticed, altered, refusal, touched)


def _all_of(store: Store) -> list:
    """Every number of every bout, and what was heard of it."""
    rows = [kept for code in CODES for kept in store.bouts(code)]
    return [(kept.stored, store.contract(kept.id)) for kept in rows]


@dataclass(frozen=True)
class Forgotten:
    """What became of a learner deleted out of many.

    Attributes:
        learners, bouts: how many there were.
        before: traces of the code in the files before.
        traces: those found afterwards, with the records open and closed.
        others: bouts of the others that are gone.
        took_s: how long the deletion took, s.
    """

    learners: int
    bouts: int
    before: int
    traces: int
    others: int
    took_s: float


def forget_one_of(folder: Path, learners: int, each: int) -> Forgotten:
    """Delete a learner whose code stands in a backup and in another's note too; all bytes are searched here."""
    codes = [f"Q{n:03d}-X" for n in range(learners - 1)] + ["K-07"]
    with Store(folder) as store:
        for code in codes:
            store.add(Learner(code, skill="gallop"))
            for run in range(each):
                store.add(bout(code, run, note="next to k-07" if run == 0 else ""), contract=heard(30))
        back_up(store.connection, folder, AT, "asked")
        before = _traces(folder)
        start = time.perf_counter()
        forget(store, "K-07")
        took_s = time.perf_counter() - start
        traces = _traces(folder)
        left = sum(store.bout_counts().values())
    traces += _traces(folder)
    return Forgotten(learners, learners * each, before, traces, (learners - 1) * each - left, took_s)


def _traces(folder: Path) -> int:
    """How often the code stands in the bytes of all files, in any case."""
    return sum(path.read_bytes().lower().count(b"k-07") for path in folder.rglob("*") if path.is_file())


@dataclass(frozen=True)
class Versions:
    """What became of records of each version.

    Attributes:
        released: versions of which there is a file.
        opened: those that opened, passed the check and kept their bouts.
        backed_up: older ones of which a backup was made first.
        future_unchanged: whether the one from the future was refused and not a byte of it changed.
    """

    released: int
    opened: int
    backed_up: int
    future_unchanged: bool


def open_versions(folder: Path) -> Versions:
    """Open the file of every version released, and one from a version to come."""
    opened = backed_up = 0
    for version in range(1, len(MIGRATIONS) + 1):
        place = folder / str(version)
        place.mkdir()
        shutil.copy(STORES / f"version-{version}.db", records_path(place))
        with Store(place) as store:
            opened += not check(store, AT).problems and len(store.bouts("K-07")) == 3
        backed_up += bool(backups_in(place))
    return Versions(len(MIGRATIONS), opened, backed_up, _future_unchanged(folder / "future"))


def _future_unchanged(folder: Path) -> bool:
    path = records_path(filled(folder))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
        connection.execute("PRAGMA journal_mode = DELETE")
    before = {one.name: one.read_bytes() for one in folder.iterdir()}
    try:
        Store(folder).connection.close()
    except RecordError:
        return {one.name: one.read_bytes() for one in folder.iterdir()} == before
    return False
