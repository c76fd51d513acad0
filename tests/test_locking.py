"""What leaves the laptop, locked: it opens with its passphrase only, and the passphrase is nowhere to be read."""

import getpass
import json
import os
import select
import stat
import subprocess
import sys

import pytest

from cuekit.cli import run
from cuekit.errors import RecordError, to_install
from cuekit.records.locking import check_passphrase, lock, read_whole, unlock, write_private
from cuekit.records.store import Store

SECRET = "four plain words here"
CODE = "K-07"
CONTENT = bytes(range(256)) * 5


@pytest.fixture
def pyrage():
    """The library, where it is installed."""
    return pytest.importorskip("pyrage")


@pytest.fixture(scope="module")
def locked():
    """A file locked with `SECRET`; locking takes a second, so once for all."""
    pytest.importorskip("pyrage")
    return lock(CONTENT, SECRET)


@pytest.fixture
def desk(tmp_path, monkeypatch, capsys):
    """A teacher's desk with one learner: a command and what is typed when asked; its lines."""
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path / "data"))

    def say(*arguments, typed=(), code=0):
        answers = iter(typed)
        monkeypatch.setattr(getpass, "getpass", lambda prompt: next(answers))
        assert run([str(one) for one in arguments]) == code
        assert list(answers) == []
        captured = capsys.readouterr()
        assert not any(one and one in captured.out + captured.err for one in typed)
        lines = (captured.err if code else captured.out).splitlines()
        assert code == 0 or 1 <= len(lines) <= 3
        return "\n".join(lines)

    say("learner", "add", CODE, "--skill", "gallop")
    say("count", "--learner", CODE, "--pattern", "gallop", "--run", 7, "--cue", "C4", "--help-level", "I")
    return say


def test_what_is_locked_opens_with_its_passphrase_only(locked):
    assert CONTENT[:64] not in locked
    assert unlock(locked, SECRET, "file") == CONTENT
    with pytest.raises(RecordError, match="the passphrase is wrong, or the file is damaged"):
        unlock(locked, SECRET + "!", "file")


def test_a_changed_or_cut_file_gives_nothing(locked):
    last_changed = locked[:-1] + bytes([locked[-1] ^ 1])
    for damaged in (last_changed, locked[:-1], locked[:80]):
        with pytest.raises(RecordError, match="damaged"):
            unlock(damaged, SECRET, "file")


@pytest.mark.parametrize("content", [b"", b"age-encryption.org/v1\n-> X25519 abc\n", b"{}"])
def test_what_is_not_locked_with_a_passphrase_is_told(pyrage, content):
    with pytest.raises(RecordError, match="file is not a file locked with a passphrase"):
        unlock(content, SECRET, "file")


def test_a_file_that_asks_for_too_much_work_is_refused_at_once(locked):
    """The third word of the second line is the binary logarithm of the work (age specification, scrypt)."""
    first, second, rest = locked.split(b"\n", 2)
    hard = b"\n".join([first, second.rpartition(b" ")[0] + b" 40", rest])
    with pytest.raises(RecordError, match="more work than this computer can do"):
        unlock(hard, SECRET, "file")


def test_an_accent_typed_on_another_system_is_the_same_passphrase(pyrage):
    composed, decomposed = (
        "cancio\N{LATIN SMALL LETTER N WITH TILDE}es y pasos",
        "cancion\N{COMBINING TILDE}es y pasos",
    )
    assert composed != decomposed
    assert unlock(lock(b"x", composed), decomposed, "file") == b"x"


@pytest.mark.parametrize("short", ["", "gallop", "a" * 11, "  gallop      "])
def test_a_passphrase_soon_guessed_is_refused(short):
    with pytest.raises(RecordError, match="12 characters or more"):
        check_passphrase(short)
    check_passphrase("a b c d e f g")


def test_an_export_is_locked_and_opened_again(pyrage, desk, tmp_path):
    out = tmp_path / f"{CODE}.json.age"
    told = desk("export", CODE, "--out", out, typed=[SECRET, SECRET])
    assert "Without the passphrase it opens for nobody" in told
    assert CODE.encode() not in out.read_bytes()
    assert "delete it when you no longer need it" in desk("records", "unlock", out, typed=[SECRET])
    opened = tmp_path / f"{CODE}.json"
    assert CODE in json.dumps(json.loads(opened.read_text(encoding="utf-8")))
    assert os.name == "nt" or stat.S_IMODE(opened.stat().st_mode) == 0o600


def test_a_slip_or_a_wrong_passphrase_writes_nothing(locked, desk, tmp_path):
    out = tmp_path / f"{CODE}.csv.age"
    assert "differ" in desk("export", CODE, "--out", out, typed=[SECRET, SECRET + "x"], code=6)
    assert "12 characters" in desk("export", CODE, "--out", out, typed=["gallop"], code=6)
    assert not out.exists()
    out.write_bytes(locked)
    assert "passphrase is wrong" in desk("records", "unlock", out, typed=["another four words"], code=6)
    assert not (tmp_path / f"{CODE}.csv").exists()


def test_a_locked_backup_comes_back_on_another_laptop_and_the_receipt_names_it(pyrage, desk, tmp_path):
    out = tmp_path / "stick.db.age"
    desk("records", "backup", "--out", out, typed=[SECRET, SECRET])
    assert CODE.encode() not in out.read_bytes()
    desk("records", "unlock", out, typed=[SECRET])
    other = tmp_path / "other"
    desk("records", "restore", tmp_path / "stick.db", "--data", other)
    assert desk("bouts", CODE, "--data", other) == desk("bouts", CODE)
    assert f"delete it yourself: {out}" in desk("forget", CODE, "--yes")


def test_a_copy_to_take_away_is_always_locked(desk, tmp_path):
    assert 'end the name in ".age"' in desk("records", "backup", "--out", tmp_path / "stick.db", code=6)
    told = desk("export", CODE, "--out", tmp_path / "K-07.age", code=6)
    assert '".json.age"' in told
    assert "--out FILE" in desk("records", "unlock", tmp_path / "K-07", code=6)


def test_unlocking_never_replaces_a_file(tmp_path):
    there = tmp_path / "K-07.json"
    there.write_bytes(b"mine")
    with pytest.raises(RecordError, match="is there already"):
        write_private(there, b"new")
    assert there.read_bytes() == b"mine"


def test_what_cannot_be_read_is_told(tmp_path):
    for path in (tmp_path, tmp_path / "missing.age", tmp_path / "nul\0.age"):
        with pytest.raises(RecordError):
            read_whole(path)


def test_without_the_library_one_line_names_the_part_before_anything_is_asked(desk, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyrage", None)  # as if not installed
    for arguments in (
        ("export", CODE, "--out", tmp_path / "a.csv.age"),
        ("records", "unlock", tmp_path / "a.age"),
    ):
        assert desk(*arguments, code=6) == f"cuekit: locking needs one more part: {to_install('lock')}"


def test_without_a_terminal_it_is_not_asked_in_the_open(pyrage, desk, tmp_path):
    export = [sys.executable, "-m", "cuekit", "export", CODE, "--out", str(tmp_path / "a.csv.age")]
    ran = subprocess.run(
        export, input=f"{SECRET}\n" * 2, capture_output=True, text=True, start_new_session=True
    )
    assert ran.returncode == 6
    assert "in a terminal, where it can be hidden" in ran.stderr
    assert SECRET not in ran.stdout + ran.stderr


def test_on_a_terminal_the_passphrase_is_asked_twice_and_not_shown(pyrage, desk, tmp_path):
    out = tmp_path / "a.csv.age"
    terminal, inside = pytest.importorskip("pty").openpty()
    owning = (
        "import fcntl, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); from cuekit.cli import main; main()"
    )
    command = [sys.executable, "-c", owning, "export", CODE, "--out", str(out)]
    ran = subprocess.Popen(command, stdin=inside, stdout=inside, stderr=inside, start_new_session=True)
    os.close(inside)
    shown, asked = "", 0
    while select.select([terminal], [], [], 30)[0]:
        try:
            found = os.read(terminal, 1000)
        except OSError:  # how Linux tells that the other side has gone
            break
        shown += found.decode()
        if shown.count(": ") > asked:
            asked += 1
            os.write(terminal, f"{SECRET}\n".encode())
    os.close(terminal)
    assert ran.wait(30) == 0, shown
    assert asked == 2, shown
    assert SECRET not in shown
    desk("export", CODE, "--out", tmp_path / "a.csv")
    assert unlock(out.read_bytes(), SECRET, "file") == (tmp_path / "a.csv").read_bytes()


def test_records_put_away_are_nowhere_to_be_read_and_come_back_as_they_were(pyrage, desk, tmp_path):
    desk("records", "backup")
    before, data = desk("bouts", CODE), tmp_path / "data"
    assert "Put away: 2 files locked." in desk("records", "put-away", typed=[SECRET, SECRET])
    left = [path for path in data.rglob("*") if path.is_file()]
    assert {path.suffix for path in left} == {".age"}
    assert not any(CODE.encode() in path.read_bytes() for path in left)
    assert os.name == "nt" or {stat.S_IMODE(path.stat().st_mode) for path in left} == {0o600}
    assert "put away under a passphrase" in desk("bouts", CODE, code=6)
    assert "put away" in desk("records", "where")
    assert "passphrase is wrong" in desk("records", "bring-out", typed=["another four words"], code=6)
    assert "Brought out: 2 files opened." in desk("records", "bring-out", typed=[SECRET])
    assert desk("bouts", CODE) == before
    assert "All is sound" in desk("records", "check")
    assert "lies open already" in desk("records", "bring-out", typed=[SECRET], code=6)


def test_records_that_somebody_has_open_are_not_put_away(pyrage, desk, tmp_path, monkeypatch):
    monkeypatch.setattr("cuekit.records.store_file.PATIENCE_S", 0.05)
    with Store(tmp_path / "data") as store:
        store.bouts(CODE)
        store.connection.execute("BEGIN")
        store.connection.execute("SELECT count(*) FROM entries").fetchone()
        assert "another program is using them" in desk("records", "put-away", typed=[SECRET, SECRET], code=6)
    assert "run 7" in desk("bouts", CODE)
    assert not list((tmp_path / "data").rglob("*.age"))


def test_a_backup_under_another_passphrase_is_named_and_forgetting_says_it_was_not_searched(
    pyrage, desk, tmp_path, locked
):
    desk("records", "put-away", typed=[SECRET, SECRET])
    backups = tmp_path / "data" / "backups"
    backups.mkdir()
    (backups / "records-20260101-000000-abcd-asked.db.age").write_bytes(lock(CONTENT, SECRET + " more"))
    assert "Not opened by this passphrase" in desk("records", "bring-out", typed=[SECRET])
    assert "Locked, so not searched" in desk("forget", CODE, "--yes")
