"""The records looked after: forgotten, handed on, merged, mended, from the command line."""

from datetime import UTC, datetime, timedelta

from cuekit.records.learner import Learner
from cuekit.records.store import Store
from cuekit.records.store_file import records_path
from cuekit.shipped import shipped_folder
from tests.made_desk import ALONE, counted, demo


def test_forget_asks_then_leaves_nothing_and_says_what_it_cannot_reach(desk, tmp_path):
    desk("learner", "add", "K-07", "--skill", "skip")
    desk("keep", demo("skip-clear"), "--learner", "K-07")
    desk("export", "K-07", "--out", tmp_path / "k-07.csv")
    desk("records", "backup")
    receipt = desk("forget", "K-07", "--yes")
    assert receipt[0].startswith("Deletion receipt for K-07")
    assert any(line.strip().startswith("0 traces found in") for line in receipt)
    assert any("k-07.csv" in line for line in receipt)
    assert not any(b"k-07" in p.read_bytes().lower() for p in desk.folder.rglob("*") if p.is_file())
    assert "nothing is kept" in desk("forget", "K-07", "--yes", code=6)[0]


def test_forget_names_the_files_it_could_not_clean(desk):
    desk("learner", "add", "K-07")
    (desk.folder / "set-aside.db").write_bytes(b"broken K-07")
    assert "1 traces of K-07 are left in set-aside.db" in desk("forget", "K-07", "--yes", code=6)[0]


def test_identifiers_alone_can_be_taken_away_and_the_numbers_stay(desk, tmp_path):
    """What stays tells how the bouts went, never whose they were or when."""
    desk("learner", "add", "K-07", "--restrictions", "no jumping until cleared")
    desk("goal", "add", "K-07", "--pattern", "gallop", "--at-least", 6, "--cue", "C4")
    desk("lesson", "add", "K-07", "--start", "2026-03-02", "--minutes", 25)
    for day, run_ in (("2026-03-02", 5), ("2026-03-02", 6), ("2026-03-09", 8)):
        own = (*ALONE, "--note", "with the green scarf", "--step", "gallop-alone")
        number = counted(desk, "K-07", run_, day=day, extra=own)
    desk("correct", number, "longest-run", 9, "--reason", "soft sound restored")
    own = desk.folder.parent / "own"
    own.mkdir()
    text = (shipped_folder("patterns") / "gallop.toml").read_text(encoding="utf-8")
    (own / "star-gallop.toml").write_text(
        text.replace('name = "gallop"', 'name = "star-gallop"'), encoding="utf-8"
    )
    theirs = ("--pattern", "star-gallop", "--patterns", own, "--run", 7, "--at", "2026-03-16")
    desk("count", "--learner", "K-07", *theirs)
    desk("void", counted(desk, "K-07", 1, day="2026-03-09"), "--reason", "bell")
    desk("records", "backup")
    receipt = desk("forget", "K-07", "--yes", "--keep-numbers")
    stays = next(line for line in receipt if "4 bouts stay as NOBODY-" in line)
    assert any(line.strip().startswith("0 traces found in") for line in receipt)
    drawn = stays.split(" as ")[1].split(":")[0]
    assert [line.split()[0] for line in desk("learner", "list")] == [drawn]
    with Store(desk.folder) as store:
        bouts = [kept.now for kept in store.bouts(drawn)]
        rows = store.connection.execute("SELECT kind, code FROM entries").fetchall()
    assert [bout.numbers.longest_run for bout in bouts] == [5, 6, 9, 7]
    days = ["2000-01-01", "2000-01-01", "2000-01-08", "2000-01-15"]
    assert [f"{bout.day}" for bout in bouts] == days
    assert {bout.conditions.step for bout in bouts} == {"gallop-alone", ""}
    assert [bout.conditions.pattern for bout in bouts] == ["gallop"] * 3 + ["own"]
    assert sorted(rows) == [("bout", drawn)] * 4 + [("learner", drawn)]
    raw = b"".join(path.read_bytes() for path in desk.folder.rglob("*") if path.is_file())
    for word in (b"K-07", b"k-07", b"scarf", b"jumping", b"star", b"2026-03"):
        assert word not in raw.replace(b"records-2026", b""), word
    assert "nothing is kept" in desk("forget", "K-07", "--yes", "--keep-numbers", code=6)[0]


def test_who_was_given_what_when_and_why_is_listed(desk, tmp_path):
    """34 CFR 300.614 in general terms: the name of the party, the date, the purpose."""
    desk("learner", "add", "K-07")
    desk("learner", "add", "M-12")
    assert desk("records", "given") == ["Nothing left the records yet."]
    desk("export", "K-07", "--out", tmp_path / "k.json", "--to", "the new school", "--for", "transfer")
    desk("goal", "add", "M-12", "--pattern", "gallop", "--at-least", 6, "--cue", "C4")
    desk("report", "M-12", "--out", tmp_path / "m.html", "--for", "family", "--given-to", "parents")
    desk("sheet", "plan", "gallop", "--learner", "M-12", "--out", tmp_path / "plan.html")
    desk("sheet", "footprints", "gallop", "--learner", "M-12", "--out", tmp_path / "feet.html")
    first, second, third = desk("records", "given")
    assert first.startswith(f"{datetime.now():%Y-%m-%d}")
    told = [part.strip() for part in first.split("  ") if part.strip()]
    assert told[1:] == ["K-07", "the new school", "transfer", str(tmp_path / "k.json")]
    assert "parents  family" in second
    assert third.endswith("plan.html")
    assert len(desk("records", "given", "M-12")) == 2


def test_two_laptops_are_merged(desk, tmp_path, monkeypatch):
    desk("learner", "add", "K-07")
    counted(desk, "K-07", 6, day="2026-03-02")
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path / "other"))
    desk("learner", "add", "K-07")
    counted(desk, "K-07", 7, day="2026-03-01")
    assert "1 of them bouts" in desk("merge", records_path(desk.folder))[0]
    assert [line.split("run ")[1].split()[0] for line in desk("bouts", "K-07")] == ["7", "6"]


def test_a_bout_is_never_lost_while_another_program_holds_the_records(desk, monkeypatch):
    monkeypatch.setattr("cuekit.records.store_file.PATIENCE_S", 0.05)
    desk("learner", "add", "K-07", "--skill", "skip")
    with Store(desk.folder) as other:
        other.connection.execute("BEGIN IMMEDIATE")
        said = desk("keep", demo("skip-clear"), "--learner", "K-07")[-1]
        assert "is taken in next time" in said
        assert desk("bouts", "K-07") == ["No bouts of K-07 yet."]
    assert len(desk("bouts", "K-07")) == 1
    assert len(desk("bouts", "K-07")) == 1
    assert not list((desk.folder / "waiting").iterdir())
    assert len(desk("sounds", desk("bouts", "K-07")[0].split()[0])) > 20


def test_a_clock_set_back_is_told_and_nothing_is_lost(desk):
    with Store(desk.folder, now=lambda: datetime.now(UTC) + timedelta(days=2)) as store:
        store.add(Learner("K-07", skill="hop"))
    note, stored = desk("count", "--learner", "K-07", "--run", 5)
    assert note.endswith("later than now: check the clock.")
    assert stored.startswith("Stored as bout")
    assert len(desk("bouts", "K-07")) == 1


def test_it_is_asked_whether_old_records_are_still_needed(desk):
    with Store(desk.folder, now=lambda: datetime(2020, 1, 1, tzinfo=UTC)) as store:
        store.add(Learner("K-07"))
    desk("learner", "add", "M-12")
    assert "Nothing new for a year: K-07. " in desk("records", "check")[-1]
    assert "Nothing new for a year: K-07. " in desk("learner", "list")[-1]
    desk("forget", "K-07", "--yes")
    assert [line.split()[0] for line in desk("learner", "list")] == ["M-12"]


def test_a_damaged_file_is_said_and_a_backup_brought_back(desk):
    desk("learner", "add", "K-07")
    desk("records", "backup")
    path = records_path(desk.folder)
    path.write_bytes(path.read_bytes()[:5000])
    desk("records", "check", code=6)
    assert "came back" in desk("records", "restore")[0]
    assert "All is sound" in desk("records", "check")[0]
    assert list(desk.folder.glob("set-aside-*"))


def test_a_backup_is_brought_to_a_new_laptop(desk, tmp_path, monkeypatch):
    desk("learner", "add", "K-07")
    counted(desk, "K-07", 6, day="2026-03-02")
    made = desk("records", "backup")[0].split(": ")[0]
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path / "new" / "laptop"))
    assert "2 rows came back" in desk("records", "restore", made)[0]
    assert len(desk("bouts", "K-07")) == 1
    monkeypatch.setenv("CUEKIT_DATA", str(desk.folder))
    records_path(desk.folder).unlink()
    assert "are missing" in desk("bouts", "K-07", code=6)[0]
