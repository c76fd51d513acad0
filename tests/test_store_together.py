"""Two programs at the records at once, the screen and a command say: nothing is lost between them."""

import multiprocessing
import os
import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest

from cuekit.errors import RecordError
from cuekit.records.store import Store
from cuekit.records.store_check import TRIAL, copied, restore
from cuekit.records.store_file import RecordsBusyError, back_up, records_path
from cuekit.records.store_forget import forget
from cuekit.records.store_waiting import open_store, set_aside
from tests.made_records import AT, bout, filled

CONTEXT = multiprocessing.get_context("spawn")
posix = pytest.mark.skipif(os.name == "nt", reason="an open file cannot be moved there")


def store_some(folder, code, count, pipe):
    """Open, store one bout and close, so many times, as each command does; identities go into the pipe."""
    for run in range(count):
        while True:
            try:
                with open_store(folder) as store:
                    kept = store.add(bout(code, run), contract="{}")
            except RecordError as refusal:  # told, so the teacher tries again
                if "try again" not in str(refusal) and "restore" not in str(refusal):
                    raise
                continue
            break
        pipe.send(kept.id)
    pipe.close()


def started(work, *arguments):
    reader, writer = CONTEXT.Pipe(duplex=False)
    child = CONTEXT.Process(target=work, args=(*arguments, writer))
    child.start()
    writer.close()
    return child, reader


def all_of(reader):
    """What comes through a pipe until its end."""
    found = []
    while True:
        try:
            found.append(reader.recv())
        except EOFError:
            return found


def ids_in(path):
    with copied(path, path.parent) as copy, closing(sqlite3.connect(copy)) as connection:
        return {row[0] for row in connection.execute("SELECT id FROM entries")}


@pytest.mark.slow
def test_two_programs_store_hundreds_of_bouts_and_none_is_lost(tmp_path):
    filled(tmp_path, each=0)
    running = [started(store_some, tmp_path, code, 300) for code in ("K-07", "M-12")]
    said = {one for _, reader in running for one in all_of(reader)}
    assert len(said) == 600
    assert said <= ids_in(records_path(tmp_path))
    for child, _ in running:
        child.join()


def set_ceilings(folder, pipe):
    for ceiling_db in range(-30, 0):
        with Store(folder) as store:
            store.change("K-07", lambda learner, to=float(ceiling_db): replace(learner, ceiling_db=to))
    pipe.close()


def test_two_programs_change_one_learner_and_neither_sets_the_other_back(tmp_path):
    filled(tmp_path, each=0)
    child, reader = started(set_ceilings, tmp_path)
    for number in range(30):
        with Store(tmp_path) as store:
            store.change("K-07", lambda learner, to=f"note {number}": replace(learner, restrictions=to))
    assert all_of(reader) == []
    child.join()
    with Store(tmp_path) as store:
        learner = store.learner("K-07")
    assert (learner.version, learner.noun.ceiling_db, learner.noun.restrictions) == (61, -1.0, "note 29")


@posix
@pytest.mark.slow
def test_what_is_stored_while_a_backup_is_brought_back_is_in_the_records_or_in_what_was_set_aside(tmp_path):
    filled(tmp_path)
    with Store(tmp_path) as store:
        backup = back_up(store.connection, tmp_path, AT, "asked")
    child, reader = started(store_some, tmp_path, "K-07", 150)
    restored = 0
    while child.is_alive():
        try:
            restore(tmp_path, backup, AT.replace(year=2000 + restored))
            restored += 1
        except RecordsBusyError:
            continue
    files = [records_path(tmp_path), *tmp_path.glob("set-aside-*.db")]
    assert restored >= 3
    assert set(all_of(reader)) <= set().union(*map(ids_in, files))


def hold_open(folder, pipe):
    with Store(folder) as store:
        store.bouts("K-07")
        pipe.send("open")
        pipe.close()
        multiprocessing.parent_process().join(30)


@posix
def test_no_backup_is_brought_back_under_a_program_that_has_the_records_open(tmp_path):
    filled(tmp_path)
    with Store(tmp_path) as store:
        backup = back_up(store.connection, tmp_path, AT, "asked")
    child, reader = started(hold_open, tmp_path)
    assert reader.recv() == "open"
    before = records_path(tmp_path).read_bytes()
    with pytest.raises(RecordsBusyError, match="another program has the records .* open: close it"):
        restore(tmp_path, backup, AT)
    assert records_path(tmp_path).read_bytes() == before
    child.kill()
    child.join()
    restore(tmp_path, backup, AT)


def take_in(folder, pipe):
    for _ in range(40):
        with open_store(folder):
            pass
    pipe.send("done")
    pipe.close()


def test_bouts_that_wait_are_taken_in_once_by_two_programs(tmp_path):
    filled(tmp_path, each=0)
    running = [started(take_in, tmp_path) for _ in range(2)]
    for run in range(60):
        set_aside(tmp_path, bout(run=run), "{}", AT)
    assert [all_of(reader) for _, reader in running] == [["done"], ["done"]]
    for child, _ in running:
        child.join()
    with open_store(tmp_path) as store:
        assert sorted(kept.stored.numbers.longest_run for kept in store.bouts("K-07")) == list(range(60))


def test_forgetting_reaches_what_a_killed_check_left(tmp_path):
    filled(tmp_path)
    (tmp_path / f"{TRIAL}x1").mkdir()
    (tmp_path / f"{TRIAL}x1" / "copy.db").write_bytes(records_path(tmp_path).read_bytes())
    (tmp_path / "backups").mkdir()
    (tmp_path / "backups" / "records-20260302-093000-ab12-asked.part").write_bytes(b"K-07")
    with Store(tmp_path) as store:
        assert forget(store, "K-07").traces == 0
    assert list(tmp_path.glob(f"{TRIAL}*")) == []
