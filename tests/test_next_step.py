"""`cuekit next`: from stored bouts to the next step, as a teacher uses it (story 7 and scenarios 2, 5, 8)."""

from datetime import UTC, date, datetime

import pytest

from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import Amendment, KeptBout
from cuekit.records.bout_record import BoutRecord, Conditions, EyeMark, HelpLevel, Numbers, Seen
from cuekit.records.ladder_records import climb, met, outcome_of
from cuekit.records.step_choice import StepChoice
from cuekit.records.store import Store
from cuekit.teaching.ladder_files import load_ladder

GALLOP, SKIP, JUMP, LEAP = (load_ladder(name) for name in ("gallop", "skip", "jump", "leap"))
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def bout(step, run_length=8, eye=None, help_level=HelpLevel.I, at=AT, lead=None, teacher=None, **numbers):
    return BoutRecord(
        "K-07",
        at,
        Conditions("gallop", CueLevel.C4, help_level, step=step, tempo_asked_bpm=100.0),
        Numbers(longest_run=run_length, **numbers),
        EyeMark(lead=lead, skill=eye),
        met_by_teacher=teacher,
    )


@pytest.mark.parametrize(
    ("ladder", "record", "fault", "expected"),
    [
        (GALLOP, bout("gallop-alone", 6), "", True),
        (GALLOP, bout("gallop-alone", 5), "", False),
        (GALLOP, bout("gallop-alone", None), "", None),
        (GALLOP, bout("gallop-alone", 3, teacher=True), "", True),
        (GALLOP, bout("gallop-other-foot", 6), "", None),
        (GALLOP, bout("gallop-other-foot", 6, Seen.YES), "", True),
        (GALLOP, bout("gallop-other-foot", 6, Seen.NO), "", False),
        (GALLOP, bout("gallop-other-foot", 6, Seen.NOT_SEEN), "", None),
        (GALLOP, bout("gallop-other-foot", 5), "", False),
        (GALLOP, bout("gallop-step-and-close", 2, Seen.YES), "", True),
        (GALLOP, bout("gallop-listen", 8, Seen.YES), "", None),
        (GALLOP, bout("gallop-count-in-only", 8, tempo_bpm=109.0), "", True),
        (GALLOP, bout("gallop-count-in-only", 8, tempo_bpm=112.0), "", False),
        (JUMP, bout("jump-six-in-a-row", 6, spread_percent=14.0), "", True),
        (JUMP, bout("jump-six-in-a-row", 6, spread_percent=16.0), "", False),
        (JUMP, bout("jump-six-in-a-row", 6), "split-landing", False),
        (LEAP, bout("leap-say-and-clap", 8), "", True),
        (LEAP, bout("leap-say-and-clap", 8), "no-air-gap", False),
    ],
)
def test_a_bout_is_met_by_the_steps_own_target_and_eye_mark(ladder, record, fault, expected):
    step = ladder.step(record.conditions.step)
    assert met(step, record, fault) is expected


@pytest.mark.parametrize(
    ("kept", "counts"),
    [
        (KeptBout("a", 1, bout("gallop-alone")), True),
        (KeptBout("a", 1, bout("gallop-alone", help_level=HelpLevel.FP)), False),
        (KeptBout("a", 1, bout("gallop-alone", heard=Heard.NOT_ENOUGH)), False),
        (KeptBout("a", 1, bout("gallop-alone"), (Amendment("a", AT, "", "", "void", "bell rang"),)), False),
        (
            KeptBout("a", 1, bout("gallop-alone"), (Amendment("a", AT, "others", "", "yes", "para ran"),)),
            False,
        ),
        (KeptBout("a", 1, bout("gallop-alone", lead=Side.LEFT)), True),
    ],
)
def test_full_help_unheard_void_and_other_feet_count_neither_way(kept, counts):
    assert outcome_of(kept, GALLOP).counts is counts


def test_a_correction_changes_what_counts_and_the_stored_bout_stays():
    stored = KeptBout("a", 1, bout("gallop-alone", 5))
    fixed = KeptBout("a", 1, stored.stored, (Amendment("a", AT, "longest-run", "5", "6", "restored by eye"),))
    assert outcome_of(stored, GALLOP).met is False
    assert outcome_of(fixed, GALLOP).met is True
    assert fixed.stored.numbers.longest_run == 5


def test_bouts_of_no_step_and_of_other_ladders_are_left_out():
    rows = [KeptBout(key, n, bout(key)) for n, key in enumerate(["", "G5", "skip-alone", "gallop-alone"])]
    assert [event.step for event in climb(GALLOP, rows).events] == ["gallop-alone"]


@pytest.fixture
def desk(desk):
    """A teacher's desk with one learner: a command in, what it says out."""

    def say(*arguments, code=0):
        return "".join(f"{line}\n" for line in desk(*arguments, code=code))

    say("learner", "add", "K-07")
    say.folder = desk.folder
    return say


def keep(desk, step, *runs, day="2026-03-02", skill="gallop", more=("--skill", "yes")):
    """Bouts of a day counted by hand, with these longest runs."""
    for minute, longest in enumerate(runs):
        desk(
            *("count", "--learner", "K-07", "--pattern", skill, "--run", longest, "--step", step),
            *("--cue", "C4", "--help-level", "I", "--at", f"{day}T09:{minute:02d}", *more),
        )


def test_story_7_up_one_more_day_hold_and_down_each_with_its_counts(desk):
    keep(desk, "gallop-alone", 6, 7, 8, 6)
    assert "One more day: met in 4 of the last 4 bouts on 1 of 2 days." in desk("next", "K-07")
    keep(desk, "gallop-alone", 9, day="2026-03-03")
    assert "Up: met in 5 of the last 5 bouts on 2 days." in desk("next", "K-07")
    keep(desk, "gallop-alone", 3, 4, day="2026-03-04")
    assert "Hold: met in 3 of the last 5 bouts" in desk("next", "K-07")
    keep(desk, "gallop-alone", 3, day="2026-03-05")
    said = desk("next", "K-07")
    assert "Down: 3 misses in a row (2 of the last 5 met). Give the help back." in said
    assert "cuekit ladder gallop --step 5" in said


def test_story_7_the_teacher_overrides_in_one_action_and_it_is_stored(desk):
    keep(desk, "gallop-alone", 6, 7, 8, 6, 6)
    said = desk("next", "K-07", "--choose", "other-foot", "--reason", "she asked for it")
    assert "Your choice: Gallop with the other foot in front" in said
    assert "8/12  gallop-other-foot" in desk("next", "K-07", "--ladder", "gallop")
    with Store(desk.folder) as store:
        (entry,) = store.entries(StepChoice, "K-07")
    assert (entry.noun.proposed, entry.noun.reason) == ("gallop-alone", "she asked for it")


def test_bouts_kept_without_a_step_are_told_of_as_they_count_on_none(desk):
    keep(desk, "", 6, 7, 8)
    keep(desk, "", 6, skill="jump")  # of another ladder
    said = desk("next", "K-07", "--ladder", "gallop")
    assert said.startswith("Start here")
    assert "Bouts without a step count on no ladder: 3. Keep them with --step." in said
    keep(desk, "gallop-alone", 6, day="2026-03-03")
    assert "Los intentos sin escalón no cuentan en ninguna escalera: 3." in desk("next", "K-07", "--language", "es")


def test_a_stop_sign_goes_down_and_is_stored(desk):
    keep(desk, "gallop-alone", 6, 7)
    assert "Down: a stop sign was seen." in desk("next", "K-07", "--stop-sign", "knee hurts")


def test_what_is_lost_all_at_once_stops_and_reports(desk):
    keep(desk, "gallop-alone", 6, 7)
    keep(desk, "gallop-alone", 6, 8, day="2026-03-04")
    keep(desk, "gallop-alone", 0, 1, 0, day="2026-03-09")
    assert desk("next", "K-07").startswith("Stop and report: this was met before")


def test_scenario_2_one_sided_skip_climbs_from_the_weak_side_to_both(desk):
    keep(desk, "skip-other-side-at-a-rail", 4, 4, 4, skill="skip")
    keep(desk, "skip-other-side-at-a-rail", 4, 4, day="2026-03-03", skill="skip", more=("--skill", "no"))
    assert "Hold: met in 3 of the last 5 bouts" in desk("next", "K-07")
    keep(desk, "skip-other-side-at-a-rail", 4, 4, 4, 4, day="2026-03-04", skill="skip")
    assert "One more day: met in 4 of the last 5 bouts on 1 of 2 days." in desk("next", "K-07")
    keep(desk, "skip-other-side-at-a-rail", 4, day="2026-03-05", skill="skip")
    assert "Up: met in 5 of the last 5 bouts on 2 days. Next: Walk and put in a hop" in desk("next", "K-07")


def test_scenario_5_the_teachers_note_comes_first_and_nothing_is_forbidden(desk):
    desk("learner", "set", "K-07", "--restrictions", "no jumping until cleared")
    said = desk("next", "K-07", "--ladder", "jump").splitlines()
    assert said[0] == 'Your note on this child: "no jumping until cleared"'
    assert said[2].startswith("Start here: Bend and straighten")


def test_scenario_8_at_the_end_of_the_bridge_the_eye_is_asked(desk):
    keep(desk, "gallop-to-skip-one-and-one", 8, 8, skill="gallop-hop-1", more=())
    said = desk("next", "K-07")
    assert "Waiting for your eye mark: bout" in said
    assert "Not counted: 2" in said


def test_a_probe_is_kept_as_one_and_moves_nobody(desk):
    keep(desk, "gallop-alone", 6, 7, 8)
    assert "one try of the next step is fine" in desk("next", "K-07")
    keep(desk, "probe gallop-softer", 2, day="2026-03-03")
    assert "gallop-alone" in desk("next", "K-07")


def test_in_spanish(desk):
    keep(desk, "gallop-alone", 6, 7)
    assert "Seguir igual: logrado en 2 de 2 intentos" in desk("next", "K-07", "--language", "es")


def test_without_a_step_it_says_how_to_begin(desk):
    assert "name one with --ladder (gallop," in desk("next", "K-07", code=6)


def test_the_choices_leave_with_the_learner(desk):
    desk("next", "K-07", "--ladder", "gallop", "--choose", "alone")
    with Store(desk.folder) as store:
        assert len(store.entries(StepChoice, "K-07")) == 1
    desk("forget", "K-07", "--yes")
    with Store(desk.folder) as store:
        assert store.entries(StepChoice) == []


def test_days_are_those_of_the_place_where_the_bout_was_done():
    late = datetime.fromisoformat("2026-03-02T20:00:00-08:00")
    assert outcome_of(KeptBout("a", 1, bout("gallop-alone", at=late)), GALLOP).day == date(2026, 3, 2)
