"""The records file: stored at once, kept through kills and full disks, refused when it is not ours."""

import io
import json
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import cuekit
from cuekit.errors import RecordError
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import Amendment
from cuekit.records.bout_record import BoutRecord, Conditions, HelpLevel, Numbers
from cuekit.records.goals import Goal, evaluate
from cuekit.records.learner import Learner, SkillTempo
from cuekit.records.lessons import Lesson
from cuekit.records.store import ExportNote, Store
from cuekit.records.store_check import check, restore, try_backup
from cuekit.records.store_file import back_up, backups_in, records_path
from cuekit.records.store_forget import _traces, forget, search
from cuekit.records.store_merge import merge
from cuekit.records.store_schema import MIGRATIONS

AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
ROOT = Path(cuekit.__file__).parent.parent


def bout(code="K-07", run=6, days=0, note=""):
    """A gallop with a tone on each footfall, alone."""
    conditions = Conditions("gallop", CueLevel.C4, HelpLevel.I)
    return BoutRecord(code, AT + timedelta(days=days), conditions, Numbers(longest_run=run), note=note)


def filled(folder, codes=("K-07", "M-12"), each=3):
    with Store(folder) as store:
        for code in codes:
            store.add(Learner(code))
            for run in range(each):
                store.add(bout(code, run), contract=json.dumps({"file": f"{code.lower()}.wav"}))
    return folder


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


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
def test_a_backup_made_during_saves_is_a_state_that_was(tmp_path):
    """R19 in small: thirty backups while another program stores; each is a whole beginning of the row."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(tmp_path)], env=environment, stdout=subprocess.PIPE, text=True
    )
    writer.stdout.readline()
    counts = []
    try:
        with Store(tmp_path) as store:
            for _ in range(30):
                backup = back_up(store.connection, tmp_path, AT, "asked")
                rows, problems = try_backup(backup, tmp_path)
                assert problems == ()
                with closing(sqlite3.connect(backup)) as copy:
                    texts = [row[0] for row in copy.execute("SELECT record FROM entries ORDER BY number")]
                runs = [json.loads(text)["numbers"]["longest_run"] for text in texts]
                assert runs == list(range(rows))
                counts.append(rows)
    finally:
        writer.kill()
        writer.communicate()
    assert counts == sorted(counts)
    assert counts[-1] > counts[0]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
def test_no_bout_that_a_command_said_was_stored_is_lost(tmp_path):
    """R5 through the whole command: saves killed at 0.5 to 1.4 times their usual length."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "CUEKIT_DATA": str(tmp_path)}
    with Store(tmp_path) as store:
        store.add(Learner("K-07", skill="hop"))
    words = [sys.executable, "-m", "cuekit", "count", "--learner", "K-07", "--run", "5"]
    start = time.perf_counter()
    subprocess.run(words, env=environment, check=True, capture_output=True)
    usual_s, rng, said, killed = time.perf_counter() - start, random.Random(7), 1, 0
    for _ in range(100):
        save = subprocess.Popen(words, env=environment, stdout=subprocess.PIPE, text=True)
        try:
            out, _ = save.communicate(timeout=usual_s * rng.uniform(0.5, 1.4))
        except subprocess.TimeoutExpired:
            save.kill()
            out, _ = save.communicate()
            killed += 1
        said += "Stored as bout" in out
    with Store(tmp_path) as store:
        assert said <= len(store.bouts("K-07")) <= 101
        assert check(store, AT).problems == ()
    assert killed >= 30


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
    """R15 in small: damage is refused in our words, or every bout is still there as it was."""
    whole = records_path(filled(tmp_path / "whole", each=20)).read_bytes()
    rng, noticed = random.Random(5), 0
    for n in range(60):
        folder = tmp_path / str(n)
        folder.mkdir()
        damaged = bytearray(whole)
        damaged[rng.randrange(len(damaged))] ^= 1 << rng.randrange(8)
        records_path(folder).write_bytes(damaged)
        try:
            with Store(folder) as store:
                bad = check(store, AT).problems
                runs = [k.stored.numbers.longest_run for code in ("K-07", "M-12") for k in store.bouts(code)]
        except RecordError:
            noticed += 1
            continue
        noticed += bool(bad)
        assert bad or len(runs) == 40
    assert noticed >= 10


FAILING_DISK = """
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdlib.h>
#include <unistd.h>
static long call, from, to;
static int fails(void) {
    if (!from) { from = atol(getenv("FAIL_FROM")); to = atol(getenv("FAIL_TO")); }
    call++;
    return call >= from && call <= to;
}
#define REAL(name) ((__typeof__(&name)) dlsym(RTLD_NEXT, #name))
ssize_t pwrite64(int f, const void *b, size_t n, off64_t o) { if (fails()) { errno = ENOSPC; return -1; } return REAL(pwrite64)(f, b, n, o); }
ssize_t pwrite(int f, const void *b, size_t n, off_t o) { if (fails()) { errno = ENOSPC; return -1; } return REAL(pwrite)(f, b, n, o); }
int fsync(int f) { if (fails()) { errno = EIO; return -1; } return REAL(fsync)(f); }
int fdatasync(int f) { if (fails()) { errno = EIO; return -1; } return REAL(fdatasync)(f); }
int ftruncate64(int f, off64_t n) { if (fails()) { errno = EIO; return -1; } return REAL(ftruncate64)(f, n); }
int rename(const char *a, const char *b) { if (fails()) { errno = ENOSPC; return -1; } return REAL(rename)(a, b); }
int link(const char *a, const char *b) { if (fails()) { errno = ENOSPC; return -1; } return REAL(link)(a, b); }
long cuekit_calls(void) { return call; }
"""

STEPS = """
import ctypes, sys
from pathlib import Path
from cuekit.errors import RecordError
from cuekit.records.store import Store
from cuekit.records.store_check import check
from tests.test_store import AT, bout
said = 0
try:
    for run in range(2):
        with Store(Path(sys.argv[1])) as store:
            store.add(bout(run=run), contract='{"footfalls":[' + ",".join(["1.2345"] * 900) + "]}")
            said += 1
            check(store, AT)
except RecordError as refusal:
    print("refused", str(refusal).count(chr(10)) + 1)
print("stored", said)
print("calls", ctypes.CDLL(None).cuekit_calls())
"""


@pytest.fixture(scope="session")
def failing_disk(tmp_path_factory):
    """A library that lets the k-th write, sync, cut or rename of a program fail."""
    compiler = shutil.which("cc")
    if not sys.platform.startswith("linux") or compiler is None:
        pytest.skip("needs a C compiler on Linux")
    folder = tmp_path_factory.mktemp("disk")
    (folder / "disk.c").write_text(FAILING_DISK)
    library = folder / "disk.so"
    subprocess.run([compiler, "-shared", "-fPIC", "-o", library, folder / "disk.c", "-ldl"], check=True)
    return library


def stored_with_failures(library, folder, first, last):
    """Run the steps with calls `first` to `last` failing; what they said."""
    failures = {"LD_PRELOAD": str(library), "FAIL_FROM": str(first), "FAIL_TO": str(last)}
    done = subprocess.run(
        [sys.executable, "-c", STEPS, str(folder)],
        env=os.environ | {"PYTHONPATH": str(ROOT)} | failures,
        capture_output=True,
        text=True,
        check=True,
    )
    return {line.split()[0]: int(line.split()[1]) for line in done.stdout.splitlines()}


@pytest.mark.parametrize("how", ["once", pytest.param("ever after", marks=pytest.mark.slow)])
def test_any_write_may_fail_and_what_was_stored_stays(tmp_path, failing_disk, how):
    """R7: each k-th write, sync, cut or rename fails; the state before is whole, the refusal short."""
    calls = stored_with_failures(failing_disk, tmp_path / "whole", 10**9, 10**9)["calls"]
    assert calls > 20
    refused = 0
    for k in range(1, calls + 1, 7 if how == "once" else 1):
        folder = tmp_path / str(k)
        said = stored_with_failures(failing_disk, folder, k, k if how == "once" else 10**9)
        refused += "refused" in said
        assert said.get("refused", 1) <= 3
        with Store(folder) as store:
            assert len(store.bouts("K-07")) - said["stored"] in (0, 1)  # the one in hand is whole or absent
            assert check(store, AT).problems == ()
        left = {path.name for path in folder.rglob("*") if path.is_file()}
        assert left <= {"records.db", "records.db-wal", "records.db-shm"}
    assert refused >= 5


WRITER = """
import sys
from pathlib import Path
from tests.test_store import bout
from cuekit.records.store import Store
with Store(Path(sys.argv[1])) as store:
    print("open", flush=True)
    for run in range(10**6):
        entry = store.add(bout(run=run), contract='{"footfalls":[' + ",".join(["1.2345"] * 60) + "]}")
        print(entry.id, flush=True)
"""


def kill_while_storing(folder, kills, rng):
    """Kill a writer at random moments; the identities it said were stored."""
    said = []
    for _ in range(kills):
        environment = os.environ | {"PYTHONPATH": str(ROOT)}
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(folder)], env=environment, stdout=subprocess.PIPE, text=True
        )
        if rng.random() < 0.9:
            writer.stdout.readline()
        time.sleep(rng.uniform(0.0, 0.12))
        writer.send_signal(signal.SIGKILL)
        out, _ = writer.communicate()
        said += [line for line in out.splitlines() if len(line) == 16]
        with Store(folder) as store:
            assert store.connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            ids = {row[0] for row in store.connection.execute("SELECT id FROM entries")}
            halves = (
                "SELECT count(*) FROM entries WHERE kind = 'bout' AND id NOT IN (SELECT bout FROM contracts)"
            )
            assert store.connection.execute(halves).fetchone() == (0,)
        assert ids.issuperset(said)
    return said


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
@pytest.mark.parametrize("kills", [20, pytest.param(500, marks=pytest.mark.slow)])
def test_no_stored_bout_is_lost_when_the_program_is_killed(tmp_path, kills):
    said = kill_while_storing(tmp_path, kills, random.Random(kills))
    assert len(said) > kills
    with Store(tmp_path) as store:
        assert check(store, AT).problems == ()
