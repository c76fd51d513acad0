"""The records as a teacher uses them, from the command line; story numbers are those of the trade page."""

import csv
import json
import os
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest

import cuekit
from cuekit.cli import run
from cuekit.cli.records import asked
from cuekit.records.store import Store
from cuekit.records.store_file import records_path
from tests.made_desk import ALONE, counted, demo

ROOT = Path(cuekit.__file__).parent.parent


def test_a_recording_is_scored_and_stored_at_once_and_no_sound_is_kept(desk):
    desk("learner", "add", "K-07", "--skill", "skip")
    summary, stored = desk("keep", demo("skip-clear"), "--learner", "K-07", *ALONE)
    assert "clear long-short" in summary
    assert stored.startswith("Stored as bout ")
    assert {p.suffix for p in desk.folder.rglob("*") if p.is_file()} <= {".db", ".db-wal", ".db-shm"}
    with Store(desk.folder) as store:
        (kept,) = store.bouts("K-07")
        contract = json.loads(store.contract(kept.id))
    assert kept.stored.numbers.rhythm == "uneven"
    assert len(contract["footfalls"]) == kept.stored.numbers.footfalls
    assert contract["recording"]["file"] == ""  # a file's name may hold a child's


def test_a_learner_who_is_not_to_be_recorded_is_not(desk, tmp_path):
    desk("learner", "add", "K-07", "--recording", "no")
    refusal = desk("keep", tmp_path / "not-there.wav", "--learner", "K-07", "--pattern", "skip", code=6)
    assert "not to be recorded" in refusal[0]
    counted(desk, "K-07", 6, day="2026-03-02")


def test_the_view_for_the_child_is_hidden_and_shown_again(desk):
    desk("learner", "add", "K-07", "--child-view", "no")
    assert "  view for the child: not shown" in desk("learner", "show", "K-07")
    desk("learner", "set", "K-07", "--child-view", "yes")
    assert not any("view for the child" in line for line in desk("learner", "show", "K-07"))


def test_a_wrong_pattern_stores_nothing(desk):
    desk("learner", "add", "K-07")
    desk("keep", demo("skip-clear"), "--learner", "K-07", "--pattern", "skp", code=3)
    assert desk("bouts", "K-07") == ["No bouts of K-07 yet."]


def test_story_11_nothing_lost_and_readable_in_a_spreadsheet(desk, tmp_path):
    desk("learner", "add", "K-07", "--skill", "skip")
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    words = [sys.executable, "-m", "cuekit", "keep", str(demo("skip-clear")), "--learner", "K-07"]
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=True)
    killed = subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    killed.kill()
    killed.wait()
    assert "Stored as bout" in done.stdout
    desk("count", "--learner", "K-07", "--run", 5, "--note", "=SUM(A1)")
    desk("export", "K-07", "--out", tmp_path / "k.csv")
    rows = list(csv.DictReader((tmp_path / "k.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["counted by"] for row in rows] == ["microphone", "counted"]
    assert rows[1]["note"] == "'=SUM(A1)"  # opens as text, not as a formula
    desk("export", "K-07", "--out", tmp_path / "k.json")
    everything = json.loads((tmp_path / "k.json").read_text(encoding="utf-8"))
    assert (len(everything["bout"]), len(everything["heard"]), len(everything["export"])) == (2, 1, 2)


def test_story_14_the_machine_is_corrected_and_both_versions_are_kept(desk):
    desk("learner", "add", "K-07")
    desk("goal", "add", "K-07", "--pattern", "gallop", "--at-least", 6, "--met", 1, "--of", 1, "--days", 1,
         "--cue", "C4", "--since", "2026-03-01")  # fmt: skip
    number = counted(desk, "K-07", 5, day="2026-03-02")
    assert "0 of the last 1 bouts met" in desk("goal", "list", "K-07")[1]
    desk("correct", number, "longest-run", 6, "--reason", "soft sound restored by eye")
    assert "1 of the last 1 bouts met" in desk("goal", "list", "K-07")[1]
    listed = desk("bouts", "K-07")
    assert "run 6" in listed[0]
    assert "longest-run 5 -> 6: soft sound restored by eye" in listed[1]
    desk("void", number, "--reason", "bell rang")
    goal = desk("goal", "list", "K-07")
    assert "No bout counts yet" in goal[1]
    assert f"bout {number} does not count: void" in goal[2]
    assert "is void already" in desk("void", number, "--reason", "again", code=6)[0]
    assert "cannot be" in desk("correct", number, "lead", "up", "--reason", "x", code=6)[0]


def test_story_14_sounds_that_were_not_the_childs_are_struck_out_and_the_bout_measured_anew(desk):
    desk("learner", "add", "K-07", "--skill", "skip")
    number = desk("keep", demo("skip-clear"), "--learner", "K-07", *ALONE)[-1].split()[3]
    heard = desk("sounds", number)
    before = len(heard)
    leads = [line.split()[0] for line in heard if "short" not in line]
    assert [line.split("dB  ")[1] for line in heard[:3]] == ["beat 1", "beat 1, short", "beat 2"]
    desk("strike", number, *leads[3:5], "--reason", "the adult stepped in")
    with Store(desk.folder) as store:
        (kept,) = store.bouts("K-07")
    assert kept.stored.numbers.footfalls == before
    assert kept.now.numbers.footfalls == before - 2
    assert kept.now.numbers.complete_beats < kept.stored.numbers.complete_beats
    assert kept.corrections == 1
    assert any(
        f"footfalls {before} -> {before - 2}: the adult stepped in" in line for line in desk("bouts", "K-07")
    )
    assert "there is no sound 999" in desk("strike", number, 999, "--reason", "x", code=6)[0]
    desk("strike", number, *range(1, before - 2), "--reason", "two people")
    with Store(desk.folder) as store:
        assert store.bouts("K-07")[0].now.numbers.heard == "not enough"


def test_what_a_goal_cannot_do_without_is_asked_for(desk, capsys):
    desk("learner", "add", "K-07", "--skill", "skip")
    counting = ["count", "--learner", "K-07", "--run", "5"]
    assert run([*counting, "--cue", "C4"]) == 0
    assert capsys.readouterr().err == (
        "Note: no goal counts it without its help-level: cuekit correct BOUT help-level VALUE --reason TEXT\n"
    )
    assert run([*counting, *ALONE]) == 0
    assert capsys.readouterr().err == ""


def test_story_26_twenty_alternating_bouts_stay_with_their_codes(desk):
    codes = ["K-07", "M-12", "T-03", "R-21"]
    for code in codes:
        desk("learner", "add", code, "--skill", "gallop")
    for n in range(20):
        desk("count", "--learner", codes[n % 4], "--run", n)
    for place, code in enumerate(codes):
        runs = [int(line.split("run ")[1].split()[0]) for line in desk("bouts", code)]
        assert runs == list(range(place, 20, 4))
    assert len(desk("learner", "list", *codes[:2])) == 2


def test_story_27_two_counts_of_ten_bouts(desk):
    desk("learner", "add", "K-07", "--skill", "hop")
    for n in range(10):
        number = desk("count", "--learner", "K-07", "--footfalls", 10 + n)[0].split()[3]
        desk("observe", number, "--by", "A", "--footfalls", 10 + n, "--met", "yes")
        desk("observe", number, "--by", "B", "--footfalls", 10 + n + (n >= 7), "--met", "yes")
    today = f"{datetime.now():%Y-%m-%d}"
    assert desk("agreement", "K-07") == [
        f"A and B, footfalls: 7 of 10, 70 % ({today})",
        f"A and B, met: 10 of 10, 100 % ({today})",
    ]
    desk("goal", "add", "K-07", "--at-least", 3, "--cue", "C4")
    desk("report", "K-07", "--out", desk.folder.parent / "team.html")
    page = (desk.folder.parent / "team.html").read_text(encoding="utf-8")
    assert f"A and B, footfalls counted: 7 of 10, 70 % ({today})" in page


def test_story_29_month_total_right_by_hand(desk):
    desk("learner", "add", "K-07")
    desk("lesson", "add", "K-07", "--start", "2026-03-02T09:00", "--minutes", 25, "--place", "gym half")
    shared = ("--minutes", 30, "--group", 3, "--place", "hallway", "--equipment", "tape line, ribbon")
    desk("lesson", "add", "K-07", "--start", "2026-03-09T09:00", *shared)
    missed = desk(
        "lesson", "add", "K-07", "--start", "2026-03-16T09:00", "--missed", "assembly", "--owed", 25
    )
    desk("lesson", "add", "K-07", "--start", "2026-04-02T09:00", "--minutes", 20)
    listed = desk("lesson", "list", "K-07", "--month", "2026-03")
    assert listed[-1] == "2026-03: 55 minutes, 25 owed."
    assert "2026-03-09 09:00  30 min  group of 3  hallway  tape line, ribbon" in listed[1]
    assert "one-on-one" in listed[0]
    assert "missed: assembly" in listed[2]
    desk("lesson", "edit", missed[0].split()[1], "--minutes", 10, "--owed", 15)
    assert desk("lesson", "list", "K-07", "--month", "2026-03")[-1] == "2026-03: 65 minutes, 15 owed."
    desk("lesson", "start", "K-07")
    assert "is running" in desk("lesson", "start", "K-07", code=6)[0]
    assert "0 minutes" in desk("lesson", "stop", "K-07")[0]


def test_scenario_3_a_deaf_learner_by_direction_without_sound(desk):
    desk("learner", "add", "T-03", "--skill", "slide")
    visual = ("--cue", "C4", "--cue-kind", "visual", "--help-level", "I", "--skill", "yes")
    desk("goal", "add", "T-03", "--at-least", 6, "--met", 2, "--of", 2, "--days", 1, "--cue", "C4",
         "--side", "right", "--side", "left", "--since", "2026-03-01")  # fmt: skip
    for side, run_ in (("right", 8), ("left", 4), ("right", 8), ("left", 4)):
        counted(desk, "T-03", run_, day="2026-03-02", pattern="slide", extra=(*visual, "--side", side))
    goal = desk("goal", "list", "T-03")
    assert "Right: 2 of the last 2 bouts met" in goal[1]
    assert "Left: 0 of the last 2 bouts met" in goal[2]
    with Store(desk.folder) as store:
        assert {kept.now.conditions.cue_kind for kept in store.bouts("T-03")} == {"visual"}
    out = desk.folder.parent / "t-03.html"
    desk("report", "T-03", "--out", out)
    html = out.read_text(encoding="utf-8")
    for side, dots in (("Right", "2 at or over"), ("Left", "0 at or over")):
        assert f"{side}. Dots by date for 2 bouts: {dots}" in html
    for row in ("<td>right</td><td>2</td>", "<td>left</td><td>2</td>"):
        assert row in html


def test_scenario_10_the_paper_sheet_of_a_day_with_a_substitute(desk):
    desk("learner", "add", "C-11", "--skill", "hop")
    desk(
        "goal",
        "add",
        "C-11",
        "--at-least",
        3,
        "--met",
        2,
        "--of",
        2,
        "--days",
        1,
        "--cue",
        "C0",
        "--since",
        "2026-03-01",
    )
    for kind in ("plan", "data"):  # on paper for the day without the teacher
        desk("sheet", kind, "hop", "--learner", "C-11", "--out", desk.folder.parent / f"{kind}.html")
    plan = (desk.folder.parent / "plan.html").read_text(encoding="utf-8")
    assert "PP some physical" in plan
    assert "keeps the rhythm of the" in plan
    with_help = ("--paper", "--cue", "C0", "--help-level", "PP", "--skill", "yes", "--side", "right")
    numbers = [counted(desk, "C-11", 4, day="2026-03-02", pattern="hop", extra=with_help) for _ in range(2)]
    assert all("(paper)" in line for line in desk("bouts", "C-11"))
    assert "No bout counts yet" in desk("goal", "list", "C-11")[1]  # PP is not independent
    for number, count in zip(numbers, (4, 5), strict=True):
        desk("observe", number, "--by", "P1", "--footfalls", 4)
        desk("observe", number, "--by", "T1", "--footfalls", count)
    assert desk("agreement", "C-11") == ["P1 and T1, footfalls: 1 of 2, 50 % (2026-03-02)"]
    desk("lesson", "add", "C-11", "--start", "2026-03-02", "--missed", "teacher away", "--owed", 20)
    assert desk("lesson", "list", "C-11", "--month", "2026-03")[-1].endswith("20 owed.")


def test_beats_kept_after_the_cue_are_stored_with_a_recording(desk):
    desk("learner", "add", "K-07", "--skill", "skip")
    desk("keep", demo("skip-clear"), "--learner", "K-07", "--cue", "C1", "--kept", 7)
    assert "kept 7" in desk("bouts", "K-07")[0]


@pytest.mark.parametrize(
    "words",
    [
        ("bouts", "K 07"),
        ("bouts", "K-99"),
        ("correct", "99", "lead", "right", "--reason", "x"),
        ("count", "--learner", "K-07", "--run", "nan"),
        ("count", "--learner", "K-07", "--run", "1_0"),
        ("count", "--learner", "K-07", "--run", "5", "--at", "2026-02-30"),
        ("count", "--learner", "K-07"),
        ("goal", "add", "K-07", "--at-least", "0", "--cue", "C4"),
        ("goal", "add", "K-07", "--at-least", "6", "--cue", "C9"),
        ("goal", "add", "K-07", "--pattern", "gallop", "--at-least", "6", "--cue", "C4", "--met", "6"),
        ("goal", "close", "99"),
        ("lesson", "stop", "K-07"),
        ("lesson", "list", "K-07", "--month", "March"),
        ("export", "K-07", "--out", "k.doc"),
        ("merge", "not-there.db"),
        ("records", "restore"),
        ("observe", "99", "--by", "A", "--footfalls", "3"),
        ("forget", "../K-07", "--yes"),
    ],
    ids=" ".join,
)
def test_wrong_use_is_refused_in_three_lines_and_changes_nothing(desk, words):
    desk("learner", "add", "K-07")
    before = records_path(desk.folder).read_bytes()
    desk(*words, code=(2, 6))  # wrong use of an option, or a refusal of the records
    assert records_path(desk.folder).read_bytes() == before


def test_the_question_before_a_deletion_tells_a_code_mistyped_from_one_that_is_known():
    assert asked("K-07", 3, known=True) == "Delete everything on K-07 for good, bouts: 3?"
    assert asked("K-70", 0, known=False).startswith("K-70 is not in these records.")
