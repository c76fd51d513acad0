"""The records file: stored at once, kept through kills and full disks, refused when it is not ours."""

import io
import json
import os
import re
import shutil
import signal
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.errors import RecordError
from cuekit.records.bout_history import Amendment
from cuekit.records.goals import Goal, evaluate
from cuekit.records.learner import Learner, SkillTempo
from cuekit.records.lessons import Lesson
from cuekit.records.store import ExportNote, Store
from cuekit.records.store_check import check, restore
from cuekit.records.store_file import back_up, backups_in, records_path
from cuekit.records.store_forget import _traces, forget, search
from cuekit.records.store_merge import merge
from cuekit.records.store_schema import MIGRATIONS
from tests.made_records import AT, bout, filled
from tests.reliability.damaged_stores import damage
from tests.reliability.failing_disk import can_fail, fail_everywhere
from tests.reliability.killed_saves import back_up_while_storing, kill_commands, kill_while_storing

killing = pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")


def test_what_is_stored_comes_back_equal(tmp_path):
    with Store(tmp_path / "data") as store:
        kept = store.add(bout(note="first try"), contract='{"footfalls": []}')
    with Store(tmp_path / "data") as store:
        (again,) = store.bouts("K-07")
        assert again.stored == bout(note="first try")
        assert store.contract(kept.id) == '{"footfalls": []}'


@pytest.mark.skipif(os.name == "nt", reason="rights of a POSIX file")
def test_only_the_owner_can_read_the_records(tmp_path):
    filled(tmp_path / "data")
    assert (tmp_path / "data").stat().st_mode & 0o777 == 0o700
    assert {p.stat().st_mode & 0o777 for p in (tmp_path / "data").glob("records.db*")} == {0o600}


def test_settings_keep_their_newest_version_and_their_history(tmp_path):
    with Store(tmp_path) as store:
        store.add(Learner("K-07", skill="gallop"))
        store.add(Learner("K-07", skill="skip"))
        assert [(e.version, e.noun.skill) for e in store.entries(Learner)] == [(2, "skip")]
        assert store.connection.execute("SELECT count(*) FROM entries").fetchone() == (2,)


def test_a_correction_and_a_void_are_laid_over_the_bout_and_change_no_row(tmp_path):
    with Store(tmp_path) as store:
        entry = store.add(bout(run=5))
        store.add(
            Amendment(entry.id, AT, "longest-run", "5", "6", "one soft sound restored by eye"), code="K-07"
        )
        store.add(Amendment(entry.id, AT, "", "", "void", "another child ran past"), code="K-07")
        (kept,) = store.bouts("K-07")
    assert (kept.stored.numbers.longest_run, kept.now.numbers.longest_run) == (5, 6)
    assert (kept.corrections, kept.void_reason) == (1, "another child ran past")


def test_two_instances_write_at_once_and_nothing_is_lost(tmp_path):
    with Store(tmp_path) as one, Store(tmp_path) as two:
        for run in range(20):
            (one if run % 2 else two).add(bout(run=run))
        assert [k.stored.numbers.longest_run for k in one.bouts("K-07")] == list(range(20))


def test_a_locked_file_is_said_in_one_line(tmp_path, monkeypatch):
    monkeypatch.setattr("cuekit.records.store_file.PATIENCE_S", 0.05)
    with Store(tmp_path) as one, Store(tmp_path) as two:
        one.connection.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordError, match="another program is using them"):
            two.add(bout())


def refused_unchanged(folder, match):
    path = records_path(folder)
    before = path.read_bytes()
    with pytest.raises(RecordError, match=match):
        Store(folder)
    assert path.read_bytes() == before
    assert not list(folder.glob("records.db-*"))


def test_records_of_a_newer_version_are_refused_and_not_a_byte_changes(tmp_path):
    filled(tmp_path)
    with closing(sqlite3.connect(records_path(tmp_path))) as connection:
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
        connection.execute("PRAGMA journal_mode = DELETE")
    refused_unchanged(tmp_path, "newer version")


def test_somebody_elses_database_is_refused(tmp_path):
    with closing(sqlite3.connect(records_path(tmp_path))) as connection:
        connection.execute("CREATE TABLE shopping (item)")
    refused_unchanged(tmp_path, "not a records file of cuekit")


@pytest.mark.parametrize(
    ("content", "match"), [(b"", "is empty: its records are lost"), (b"PK\3\4" * 99, "not a records file")]
)
def test_an_empty_or_foreign_file_is_refused(tmp_path, content, match):
    records_path(tmp_path).write_bytes(content)
    refused_unchanged(tmp_path, match)


def test_a_link_is_refused(tmp_path):
    filled(tmp_path / "a")
    (tmp_path / "b").mkdir()
    records_path(tmp_path / "b").symlink_to(records_path(tmp_path / "a"))
    with pytest.raises(RecordError, match="not an ordinary file"):
        Store(tmp_path / "b")


def test_lost_records_are_never_started_afresh_in_silence(tmp_path):
    with Store(filled(tmp_path)) as store:
        report = check(store, AT)
        assert (report.problems, report.restored) == ((), report.entries)
        backup = back_up(store.connection, tmp_path, AT, "asked")
    records_path(tmp_path).unlink()
    with pytest.raises(RecordError, match="missing, but records-2026"):
        Store(tmp_path)
    assert restore(tmp_path, backup, AT) == (report.entries, None)
    with Store(tmp_path) as store:
        assert len(store.bouts("K-07")) == 3


def test_an_older_file_is_backed_up_before_it_is_migrated(tmp_path):
    filled(tmp_path)
    newer = (*MIGRATIONS, "CREATE TABLE later (id INTEGER) STRICT")
    with Store(tmp_path, migrations=newer) as store:
        assert store.connection.execute("SELECT count(*) FROM later").fetchone() == (0,)
        assert len(store.bouts("K-07")) == 3
    (backup,) = backups_in(tmp_path)
    assert f"-v{len(MIGRATIONS)}" in backup.name
    assert restore(tmp_path, backup, AT)[0] == 8
    with Store(tmp_path) as store:
        assert len(store.bouts("M-12")) == 3


def test_a_migration_that_fails_leaves_the_old_file_readable(tmp_path):
    filled(tmp_path)
    broken = (*MIGRATIONS, "CREATE TABLE later (id INTEGER) STRICT; CREATE TABLE nonsense (")
    with pytest.raises(RecordError):
        Store(tmp_path, migrations=broken)
    with Store(tmp_path) as store:
        assert len(store.bouts("K-07")) == 3


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS) + 1))
def test_a_file_of_every_released_version_opens_and_says_what_it_said(tmp_path, version):
    """R13: files written by each version as it was released, never made anew."""
    shutil.copy(Path(__file__).parent / "stores" / f"version-{version}.db", records_path(tmp_path))
    with Store(tmp_path) as store:
        assert check(store, AT).problems == ()
        kept = store.bouts("K-07")
        assert [one.stored.numbers.longest_run for one in kept] == [5, 6, 8]
        assert [one.now.numbers.longest_run for one in kept] == [6, 6, 8]
        assert kept[1].void_reason == "bell"
        assert store.learner("K-07").noun.tempo_bpm("gallop") == 100.0
        assert store.learner("K-07").noun.tempo_bpm("skip") is None
        (goal,) = store.entries(Goal, "K-07")
        assert evaluate(goal.noun, kept).standings[0].last_met == 1
        assert store.entries(Lesson, "K-07")[0].noun.minutes == 25


def test_the_own_tempo_of_an_older_file_becomes_that_of_the_skill_being_learnt(tmp_path):
    """Version 1 knew one own tempo a learner; the file as it was lies in the backups, and comes back."""
    shutil.copy(Path(__file__).parent / "stores" / "version-1.db", records_path(tmp_path))
    before = records_path(tmp_path).read_bytes()
    with Store(tmp_path) as store:
        learner = store.learner("K-07").noun
        assert (learner.skill, learner.own_tempo_bpm, learner.own_tempi) == (
            "gallop",
            None,
            (SkillTempo("gallop", 100.0),),
        )
    (backup,) = backups_in(tmp_path)
    with closing(sqlite3.connect(backup)) as old:
        assert old.execute("PRAGMA user_version").fetchone() == (1,)
        (text,) = old.execute("SELECT record FROM entries WHERE kind = 'learner'").fetchone()
        assert json.loads(text)["own_tempo_bpm"] == 100.0
    assert len(backup.read_bytes()) == len(before)
    restore(tmp_path, backup, AT)
    with Store(tmp_path) as store:
        assert store.learner("K-07").noun == learner
    (tmp_path / "other").mkdir()
    with Store(tmp_path / "other") as store:
        assert merge(store, backup).bouts == 3, "another laptop may have an older version"
        assert store.learner("K-07").noun == learner


@killing
def test_a_backup_made_during_saves_is_a_state_that_was(tmp_path):
    """R19 in small: backed up while another program stores; each is a whole beginning of the row."""
    backed_up = back_up_while_storing(tmp_path / "here", tmp_path / "elsewhere", 100)
    assert backed_up.wrong == ()
    assert list(backed_up.rows) == sorted(backed_up.rows)
    assert backed_up.restored == backed_up.rows[-1]
    assert len(backed_up.rows) > 2


@pytest.mark.slow
@killing
def test_no_bout_that_a_command_said_was_stored_is_lost(tmp_path):
    """R5 in small, through the whole command."""
    killed = kill_commands(tmp_path, 60, seed=7)
    assert killed.kept, killed
    assert killed.kills >= 18
    assert killed.said >= 10


def test_forgetting_leaves_no_byte_of_the_code(tmp_path):
    codes = [f"P-{n:03d}" for n in range(40)] + ["K-07", "K-071"]
    filled(tmp_path, codes, each=25)
    with Store(tmp_path) as store:
        store.add(bout("M-12", note="held hands with k-07"))
        store.add(ExportNote("K-07", AT, "k-07.csv"))
        back_up(store.connection, tmp_path, AT, "asked")
        assert sum(search(tmp_path, "K-07", codes)[1].values()) > 50
        receipt = forget(store, "K-07")
        assert (receipt.entries, receipt.notes, receipt.backups, receipt.traces) == (27, 1, 1, 0)
        assert receipt.exports == ("k-07.csv",)
        raw = [
            p.read_bytes().replace(b"K-071", b"").replace(b"k-071", b"")
            for p in tmp_path.rglob("*")
            if p.is_file()
        ]
        assert not any(b"k-07" in one.lower() for one in raw)
        assert len(store.bouts("K-071")) == 25
        assert store.bouts("M-12")[0].stored.note == "held hands with (forgotten)"
    with Store(tmp_path) as store, pytest.raises(RecordError, match="nothing is kept on K-07"):
        forget(store, "K-07")


def test_forgetting_reaches_what_a_restore_set_aside(tmp_path):
    with Store(filled(tmp_path)) as store:
        backup = back_up(store.connection, tmp_path, AT, "asked")
    _, aside = restore(tmp_path, backup, AT)
    assert b"K-07" in aside.read_bytes()
    with Store(tmp_path) as store:
        receipt = forget(store, "K-07")
        assert (receipt.backups, receipt.traces) == (2, 0)
        assert len(store.bouts("M-12")) == 3
    assert b"K-07" not in aside.read_bytes()
    assert not any(b"k-07" in path.read_bytes().lower() for path in tmp_path.rglob("*") if path.is_file())


def test_the_search_finds_what_is_there(tmp_path):
    (tmp_path / "left.txt").write_bytes(b"\0k-07\0 K-071 K-07")
    assert search(tmp_path, "K-07", ["K-071"]) == (1, {"left.txt": 2})


@given(
    st.lists(st.sampled_from([b"k-07", b"K-07", b"K-071", b"xK-07", b"AK-07", b".", b"0" * 70]), max_size=12),
    st.integers(130, 200),
)
def test_the_search_counts_the_same_however_the_file_is_cut(parts, piece_bytes):
    text = b"".join(parts)
    plain = re.sub(b"ak-07|k-071", b"", text.lower()).count(b"k-07")
    assert _traces(io.BytesIO(text), b"k-07", [b"ak-07", b"k-071"], piece_bytes) == plain


def test_two_laptops_are_merged_without_doubles(tmp_path):
    filled(tmp_path / "a", ["K-07"])
    filled(tmp_path / "b", ["K-07", "T-03"])
    with Store(tmp_path / "a") as store:
        before = {path.name: path.read_bytes() for path in (tmp_path / "b").iterdir()}
        first = merge(store, records_path(tmp_path / "b"))
        assert {path.name: path.read_bytes() for path in (tmp_path / "b").iterdir()} == before  # only read
        assert (first.bouts, first.codes) == (6, ("T-03",))
        again = merge(store, records_path(tmp_path / "b"))
        assert (again.entries, again.known) == (0, 8)
        assert len(store.bouts("K-07")) == 6
        assert store.learner("K-07").noun == Learner("K-07")


def test_a_flipped_byte_is_noticed_or_does_no_harm(tmp_path):
    """R15 in small: damage is refused in our words, or every bout is still there as it was, to the number."""
    damaged = damage(tmp_path, flips=80, seed=1)
    assert damaged.altered == ()
    assert (damaged.long, damaged.touched) == (0, 0)
    assert damaged.noticed >= 30
    assert damaged.harmless >= 20


def test_a_number_altered_in_the_file_is_not_told_as_if_it_had_been_stored(tmp_path):
    filled(tmp_path, ["K-07"])
    path = records_path(tmp_path)
    content = path.read_bytes()
    assert content.count(b'"longest_run":2') == 1
    path.write_bytes(content.replace(b'"longest_run":2', b'"longest_run":6'))
    with Store(tmp_path) as store:
        with pytest.raises(RecordError, match="entry 4 is not as it was stored"):
            store.bouts("K-07")
        assert "entry 4 is not as it was stored" in check(store, AT).problems[0]


@pytest.mark.skipif(not can_fail(), reason="needs a C compiler on Linux")
@pytest.mark.parametrize(("ever_after", "every"), [(False, 14), pytest.param(True, 5, marks=pytest.mark.slow)])
def test_any_write_may_fail_and_what_was_stored_stays(tmp_path, ever_after, every):
    """R7 in small: the k-th write, sync, cut or rename fails; the state before is whole, the refusal short."""
    failed = fail_everywhere(tmp_path, ever_after=ever_after, every=every)
    assert failed.wrong == ()
    assert failed.places > 20
    assert failed.refused >= 5


@killing
@pytest.mark.parametrize("kills", [20, pytest.param(120, marks=pytest.mark.slow)])
def test_no_stored_bout_is_lost_when_the_program_is_killed(tmp_path, kills):
    """R6 in small; `python -m tests.reliability --only R5 R6` kills 500 and 2,000 times."""
    killed = kill_while_storing(tmp_path, kills, seed=kills)
    assert killed.kept, killed
    assert killed.said > kills
