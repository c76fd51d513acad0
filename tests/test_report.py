"""The printed pages: every count by hand, only what was entered, one page for a family, safe to open."""

import re
import time
from dataclasses import replace
from datetime import timedelta

import pytest

from cuekit.cli import run
from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.agreement import Agreement
from cuekit.records.bout_history import Amendment
from cuekit.records.bout_record import EyeMark, HelpLevel, Mode, Seen, Source
from cuekit.records.goals import Criterion, Goal, Measure
from cuekit.records.learner import Learner
from cuekit.records.step_choice import StepChoice
from cuekit.records.store import Store
from cuekit.reports.plain_goal import plain_goal
from cuekit.reports.report import family_page
from cuekit.reports.report_data import report_data
from cuekit.teaching.ladder_files import load_ladder
from tests.made_report import EN, GOAL, MONDAY, QUARTER, kept, page, read, void, words


def test_story_12_thirty_bouts_counted_by_hand():
    """Ten days of three: days 1-5 all missed; days 6-9 met, met, missed; day 10 met, missed, met.

    The last five are met, missed (day 9), met, missed, met (day 10): 3 of 5 on 2 days. No five in a row
    hold four met on three days: met, met, missed, met, met lie on two.
    """
    letters = ["xxx"] * 5 + ["mmx"] * 4 + ["mxm"]
    bouts = [
        kept(3 * d + n, d, 8 if c == "m" else 3) for d, row in enumerate(letters) for n, c in enumerate(row)
    ]
    html = page(bouts)
    text = words(html)
    assert "3 of the last 5 bouts met, on 2 days (4 of 5 on 3 days needed)." in text
    assert "first reached" not in text
    assert "Alone (no help): 10 of 30 bouts met." in text
    assert "What this cannot show" in text
    circles = [attributes for tag, attributes in read(html).attributes if tag == "circle"]
    assert sorted(circle["fill"] for circle in circles) == ["#000000"] * 10 + ["#ffffff"] * 20


@pytest.mark.parametrize(
    ("sides", "told"),
    [((), ""), ((Side.LEFT,), " Side: left."), ((Side.RIGHT, Side.LEFT), " Right and left count apart.")],
)
def test_a_family_reads_the_goal_without_the_words_of_a_plan(sides, told):
    text = plain_goal(replace(GOAL, sides=sides), "Gallop", EN)
    assert text == (
        "K-07 keeps the rhythm of the gallop, with the feet, for 6 beats in a row. "
        f"It is done with a tone on each footfall or with softer tones, alone or with a word of help.{told} The goal "
        "is reached when 4 of 5 bouts in a row do so, on at least 3 different days. A bout is one try. An adult can "
        "count it too."
    )


def test_the_cue_levels_drawn_are_told_in_words_and_no_others():
    text = words(page([kept(1, 0), kept(2, 1)], make=family_page))
    assert "C4: tones." in text
    assert "C3: softer tones." not in text


def test_the_day_the_criterion_was_first_reached_stays_told():
    bouts = [kept(n, n, 8) for n in range(5)] + [kept(9, 9, 1)]
    assert "The criterion was first reached on 2026-03-06." in words(page(bouts))


def test_story_13_cue_and_help_apart_and_full_help_never_met():
    bouts = [
        kept(1, 0), kept(2, 0, 3), kept(3, 0, help_level=HelpLevel.V), kept(4, 1, help_level=HelpLevel.FP),
        kept(5, 1, help_level=HelpLevel.FP), kept(6, 1, cue=CueLevel.C3),
    ]  # fmt: skip
    data = report_data(GOAL, bouts, QUARTER)
    rows = {(g.cue_level, g.help_level): (g.level.bouts, g.met, g.judged) for g in data.groups}
    assert rows == {
        ("C4", "I"): (2, 1, 2),
        ("C4", "V"): (1, 1, 1),
        ("C4", "FP"): (2, 0, 0),
        ("C3", "I"): (1, 1, 1),
    }
    text = words(page(bouts))
    assert "Alone (no help): 2 of 3 bouts met." in text
    assert "With help: 1 of 1 bouts met." in text
    assert "full physical help: 2" in text


def test_scenario_9_quarters_end_for_six(tmp_path, monkeypatch):
    """Three bouts only; a cue change in the middle; four void; three more: six pages, fast, right, no names."""
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path / "data"))
    lots = [(n, n // 3, 4 + n // 4) for n in range(36)]
    pupils = {
        "K-07": [kept(n, n, code="K-07") for n in range(3)],
        "M-12": [kept(n, d, r, cue=CueLevel.C4 if d < 6 else CueLevel.C3, code="M-12") for n, d, r in lots],
        "T-03": [kept(n, d, r, code="T-03", amendments=void(n, "bell rang") if n in (2, 9, 10, 30) else ()) for n, d, r in lots],
        "R-21": [], "D-05": [kept(1, 0, code="D-05")], "B-09": [kept(n, d, r, code="B-09") for n, d, r in lots],
    }  # fmt: skip
    with Store(tmp_path / "data") as store:
        for code, bouts in pupils.items():
            store.add(Learner(code))
            store.add(
                Goal(
                    code,
                    "gallop",
                    Measure.LONGEST_RUN,
                    6,
                    Criterion(4, 5, 3),
                    QUARTER.first,
                    (CueLevel.C4, CueLevel.C3),
                )
            )
            for one in bouts:
                entry = store.add(one.stored)
                for change in one.amendments:
                    store.add(Amendment(entry.id, change.at, "", "", "void", change.reason), code=code)
    pages, start = {}, time.perf_counter()
    for code in pupils:
        out = tmp_path / f"{code}.html"
        assert run(["report", code, "--to", "2026-05-31", "--out", str(out)]) == 0
        pages[code] = words(out.read_text(encoding="utf-8"))
    assert time.perf_counter() - start < 6 * 3.0
    assert "Not enough to report change" in pages["K-07"]
    assert "Before (2026" not in pages["K-07"]
    assert "softer tones alone not entered 18 6" in pages["M-12"]
    assert "tones alone not entered 18 6" in pages["M-12"]
    assert (
        "(tones, alone) Before (2026-03-02 to 2026-03-04) and after (2026-03-05 to 2026-03-07)"
        in pages["M-12"]
    )
    assert pages["T-03"].count("bell rang") == 4
    assert "tones alone not entered 32 12" in pages["T-03"]
    assert "No bout counts yet" in pages["R-21"]
    assert "<figure" not in pages["R-21"]  # no empty drawing with a legend for nothing
    assert "Not enough to report change" not in pages["B-09"]
    for code, text in pages.items():
        assert set(re.findall(r"\b[A-Z]-\d\d\b", text)) == {code}


@pytest.mark.parametrize("bouts", [6, 60, 200, 500])
def test_a_missed_bout_is_seen_to_be_open_however_many_there_are(bouts):
    """The rim of a small ring must leave the middle white, and a dot must not be smaller than a ring."""
    rows = [kept(n, n // 6, 8 if n % 2 else 3) for n in range(bouts)]
    circles = [a for tag, a in read(page(rows)).attributes if tag == "circle"]
    rings = [a for a in circles if a["fill"] == "#ffffff"]
    (dot,), (ring,) = {a["r"] for a in circles if a["fill"] != "#ffffff"}, {a["r"] for a in rings}
    assert dot == ring
    assert {float(a["stroke-width"]) for a in rings}.pop() <= 0.4 * float(ring) + 0.05
    assert len(circles) == bouts


def test_what_was_only_entered_later_is_no_correction():
    """A bout is stored at once and its eye mark laid over it; only a change of what was there is a correction."""
    entered = Amendment("1", MONDAY, "skill", "", "yes", "entered after the bout")
    bout = kept(1, 0, eye=EyeMark(), amendments=(entered,))
    assert bout.corrections == 0
    text = words(page([bout]))
    assert "Corrections" not in text
    assert "Alone (no help): 1 of 1 bouts met." in text
    changed = replace(entered, old="yes", new="no", reason="looked again")
    twice = replace(bout, amendments=(entered, changed))
    assert "Corrections: 1." in words(page([twice]))
    assert "1 skill yes no looked again" in words(page([twice]))


def test_left_and_right_are_shown_only_where_entered():
    text = words(page([kept(1, 0), kept(2, 1)]))
    assert "right" not in text
    assert "left" not in text
    sided = words(page([kept(1, 0, eye=EyeMark(lead=Side.LEFT, skill=Seen.YES))]))
    assert "left" in sided
    assert "right" not in sided


def test_a_change_is_told_with_what_repeats_alone_do():
    bouts = [kept(3 * d + n, d, (3 if d < 3 else 7) + n) for d in range(6) for n in range(3)]
    text = words(page(bouts))
    assert "the middle value went from 4 to 8 beats in a row" in text
    assert "In 100 % of all pairs the later bout was the higher one" in text
    assert "Two bouts of one day may differ by 2.8 for this learner" in text  # 1.96 * sqrt(2) * 1
    assert "Tau-U" not in text


def test_voids_corrections_agreement_minutes_and_paper_are_told():
    fixed = (Amendment("2", MONDAY, "longest-run", "5", "6", "soft sound restored"),)
    bouts = [
        kept(1, 0, amendments=void(1, "bell rang")),
        kept(2, 0, 5, amendments=fixed),
        kept(3, 0, source=Source.PAPER),
    ]
    text = words(
        page(
            bouts,
            agreements=[Agreement("A", "program", "footfalls", 9, 10, (MONDAY.date(), MONDAY.date()))],
            minutes=55,
            owed=25,
        )
    )
    assert "1 2026-03-02 bell rang" in text
    assert "Corrections: 1." in text
    assert "2 longest-run 5 6 soft sound restored" in text
    assert "A and program, footfalls counted: 9 of 10, 90 % (2026-03-02)" in text
    assert "55 minutes given, 25 to be made up." in text
    assert "Typed in from paper: 1." in text
    assert "Counted by the teacher" not in text  # none was


def at_step(bout, step):
    done = replace(bout.stored.conditions, step=step)
    return replace(bout, stored=replace(bout.stored, conditions=done))


def test_the_steps_are_told_in_order_a_step_taken_up_again_twice():
    steps = ["gallop-contact", "gallop-contact", "gallop-alone", "gallop-contact", "gallop-alone"]
    bouts = [at_step(kept(n, n, 8 if n != 2 else 2), step) for n, step in enumerate(steps)]
    bouts[1] = replace(bouts[1], amendments=void(1, "bell"))
    chosen = StepChoice("K-07", MONDAY, "gallop-alone", "gallop-contact", "a good day")
    text = words(page(bouts, choices=[chosen, replace(chosen, at=MONDAY - timedelta(days=90))]))
    assert "gallop-contact 2026-03-02 2026-03-02 1 1 of 1" in text
    assert "gallop-alone 2026-03-04 2026-03-04 1 0 of 1" in text
    assert "gallop-contact 2026-03-05 2026-03-05 1 1 of 1" in text
    assert text.count("2026-03-02: the teacher chose «gallop-alone» over «gallop-contact». “a good day”") == 1
    assert "the teacher chose" not in words(page(bouts))


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_step_is_told_by_its_task_in_the_language_of_the_page(tmp_path, monkeypatch, language):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path / "data"))
    with Store(tmp_path / "data") as store:
        store.add(Learner("K-07"))
        store.add(GOAL)
        for number, step in enumerate(("gallop-alone", "my own step")):
            store.add(at_step(kept(number, number), step).stored)
    out = tmp_path / "team.html"
    asked = ["report", "K-07", "--to", "2026-05-31", "--language", language, "--out", str(out)]
    assert run(asked) == 0
    text, ladder = words(out.read_text(encoding="utf-8")), load_ladder("gallop", language=language)
    step = ladder.step("gallop-alone")
    assert f"{ladder.title} {step.number}: {step.task} 2026-03-02" in text
    assert "my own step 2026-03-03" in text


def test_the_baseline_is_what_was_stored_before_the_goal_began_under_each_set_of_conditions():
    before = [kept(n, -10, run) for n, run in enumerate((2, 3, 4))]
    before.append(kept(9, -9, 7, cue=CueLevel.C5))
    text = words(page([*before, kept(20, 3, 8)]))
    baseline = text[text.index("Before the goal (baseline)") : text.index("Every bout that counts")]
    assert "Over 1 day (3 bouts, with a tone on each footfall, alone)" in baseline
    assert "middle value of 3 beats in a row (range 2 to 4)" in baseline
    assert "(range 7 to 7)" in baseline
    assert "(range 8 to 8)" not in baseline
    assert "Alone (no help): 1 of 1 bouts met." in text, "the baseline is no bout of the goal"
    assert "so there is no baseline" in words(page([kept(20, 3, 8)]))


def test_a_baseline_of_three_bouts_on_three_days_is_what_the_period_is_compared_with():
    before = [kept(3 * d + n, d - 20, 2 + n) for d in range(3) for n in range(3)]
    after = [kept(50 + 3 * d + n, d, 7 + n) for d in range(3) for n in range(3)]
    text = words(page([*before, *after]))
    assert "Before (2026-02-10 to 2026-02-12) and after (2026-03-02 to 2026-03-04)" in text
    assert "from 3 to 8 beats in a row" in text
    few = words(page([*before[:-1], *after]))
    assert "Not enough to report change" in few


def test_claps_are_a_row_of_their_own_named_so_and_no_bout_of_a_goal_for_feet():
    clapped = [kept(n, n, 9) for n in range(2)]
    done = [replace(one.stored, conditions=replace(one.stored.conditions, mode=Mode.CLAP)) for one in clapped]
    clapped = [replace(one, stored=bout) for one, bout in zip(clapped, done, strict=True)]
    text = words(page([*clapped, kept(9, 3, 7)]))
    assert "clapping tones alone not entered 2 2 - 9 9-9" in text
    assert "with the feet tones alone not entered 1 1 1 of 1 7 7-7" in text
    assert "clapping" not in words(page([kept(9, 3, 7)]))


def test_places_and_bouts_heard_with_some_doubt_are_told():
    doubt = kept(1, 0)
    unsure = replace(doubt.stored, numbers=replace(doubt.stored.numbers, heard=Heard.SOME_DOUBT))
    bouts = [replace(doubt, stored=unsure), kept(2, 1)]
    text = words(page(bouts, make=family_page, places=["gym half", "", "hallway", "gym half"]))
    assert "Places: gym half, hallway." in text
    assert "Heard with some doubt: 1." in text
    plain = words(page([kept(2, 1)], make=family_page))
    assert "Places" not in plain
    assert "doubt" not in plain


def test_the_running_count_is_that_of_a_hand():
    met = [True, False, True, True, True, True, False]
    bouts = [kept(n, n, 8 if one else 2) for n, one in enumerate(met)]
    assert "Met of the last 5, bout by bout: 1, 1, 2, 3, 4, 4, 4." in words(page(bouts))


def test_what_bouts_of_one_day_differ_by_is_told_where_there_are_repeats():
    """Each day 3, 4, 5: standard deviation within days 1, so 1.96 * sqrt(2) = 2.8."""
    text = words(page([kept(3 * d + n, d, 3 + n) for d in range(2) for n in range(3)]))
    assert "tones alone not entered 6 2 0 of 6 4 3-5 2.8" in text
    assert "1 1 1 of 1 8 8-8 -" in words(page([kept(1, 0)]))
    assert "3 1 0 of 3 4 3-5 -" in words(page([kept(n, 0, 3 + n) for n in range(3)])), (
        "two repeats are too few"
    )
