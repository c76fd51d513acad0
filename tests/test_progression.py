"""Up, hold, down and branch: the rules of the ladders, each with the counts it cites."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.patterns.schedule import CueLevel
from cuekit.teaching.ladder import Change
from cuekit.teaching.ladder_files import load_ladder
from cuekit.teaching.progress_text import say_decision
from cuekit.teaching.progression import Move, Outcome, Override, StopSign, Why, changed_last, decide, is_lost
from cuekit.telling.phrases import load_phrases

GALLOP = load_ladder("gallop")
MONDAY = date(2026, 3, 2)
ALONE, SOFTER = "gallop-alone", "gallop-softer"


def bouts(marks, day=0, step=ALONE, **conditions):
    """Bouts of one day: "+" met, "-" missed."""
    return [Outcome(MONDAY + timedelta(days=day), step, mark == "+", **conditions) for mark in marks]


def said(events, ladder=GALLOP):
    return " ".join(say_decision(decide(events, ladder), ladder, load_phrases()))


def test_five_of_five_on_two_days_goes_up():
    decision = decide(bouts("+++") + bouts("++", day=1), GALLOP)
    assert (decision.move, decision.to.key) == (Move.UP, SOFTER)
    assert said(bouts("+++") + bouts("++", day=1)) == (
        "Up: met in 5 of the last 5 bouts on 2 days. Next: Gallop alone; the sound is softer."
    )


def test_four_of_five_on_one_day_needs_one_more_day():
    assert decide(bouts("++-++"), GALLOP).move is Move.ONE_MORE_DAY
    assert said(bouts("++-++")).startswith("One more day: met in 4 of the last 5 bouts on 1 of 2 days.")


def test_three_of_five_holds():
    assert decide(bouts("+-+-+"), GALLOP).move is Move.HOLD
    assert said(bouts("+-+-+")).startswith("Hold: met in 3 of the last 5 bouts; 4 are needed.")


def test_one_of_five_goes_down_and_undoes_what_was_new():
    decision = decide(bouts("--+--"), GALLOP)
    assert (decision.move, decision.to.key, decision.why) == (Move.DOWN, "gallop-with-a-hoop", Why.RARELY_MET)
    assert said(bouts("--+--")).startswith("Down: met in 1 of the last 5 bouts. Give the help back.")


def test_three_misses_running_go_down_although_two_of_five_were_met():
    decision = decide(bouts("++---"), GALLOP)
    assert (decision.move, decision.why, decision.counts.met) == (Move.DOWN, Why.MISSES, 2)


def test_a_stop_sign_goes_down_whatever_was_met():
    events = [*bouts("++"), *bouts("++", day=1), StopSign(MONDAY + timedelta(days=1), "pain")]
    assert decide(events, GALLOP).why is Why.STOP_SIGN
    assert "Follow your school's plan first." in said(events)


def test_a_stop_sign_at_the_step_before_does_not_follow_the_learner():
    events = [*bouts("++", step=SOFTER), StopSign(MONDAY, "no"), *bouts("+-+", day=1)]
    assert decide(events, GALLOP).move is Move.HOLD


def test_an_annual_goal_step_needs_a_third_day():
    goal = "gallop-count-in-only"
    two = bouts("++", step=goal) + bouts("++", day=1, step=goal)
    assert decide(two, GALLOP).move is Move.ONE_MORE_DAY
    assert decide(two + bouts("+", day=2, step=goal), GALLOP).move is Move.UP


def test_two_weeks_at_a_step_change_the_support_not_the_task():
    events = bouts("+-") + bouts("-+", day=7) + bouts("-", day=14)
    assert decide(events, GALLOP).move is Move.BRANCH
    assert decide(events[:-1] + bouts("-", day=13), GALLOP).move is Move.HOLD


def test_full_help_unheard_and_void_bouts_count_neither_way():
    helped = bouts("+++", help_level="FP") + bouts("-----", counted=False)
    unjudged = [Outcome(MONDAY, ALONE, None)]
    events = bouts("+-+-+") + helped + unjudged
    counts = decide(events, GALLOP).counts
    assert (counts.met, counts.tried, counts.not_counted) == (3, 5, 9)
    assert "Not counted: 9" in said(events)


def test_three_in_a_row_on_one_day_allow_one_probe():
    assert decide(bouts("-+++"), GALLOP).probe
    assert not decide(bouts("-++") + bouts("+", day=1), GALLOP).probe
    probed = bouts("-+++") + bouts("-", step=SOFTER, probe=True)
    assert decide(probed, GALLOP).step.key == ALONE


def test_the_teachers_choice_stands_and_counting_starts_afresh():
    events = (
        bouts("+++")
        + bouts("++", day=1)
        + [Override(MONDAY + timedelta(days=1), "gallop-other-foot", "asked")]
    )
    decision = decide(events, GALLOP)
    assert (decision.move, decision.step.key) == (Move.START, "gallop-other-foot")
    after = decide(events + bouts("+-", day=2, step="gallop-other-foot"), GALLOP)
    assert (after.counts.met, after.counts.tried) == (1, 2)


def test_what_was_changed_last_is_undone_before_the_ladder_is():
    events = bouts("++", cue_level=CueLevel.C4) + bouts("---", day=1, cue_level=CueLevel.C3)
    decision = decide(events, GALLOP)
    assert (decision.undo, decision.to.key) == ((Change.CUE,), ALONE)
    assert "Give the sound back." in said(events)


def test_two_things_changed_at_once_are_named():
    events = bouts("++", cue_level=CueLevel.C4, help_level="G") + bouts(
        "---", 1, cue_level=CueLevel.C3, help_level="I"
    )
    assert changed_last(events, GALLOP) == (Change.CUE, Change.SUPPORT)
    assert "More than one thing was changed at once (the sound, the help)" in said(events)


def test_a_change_of_tempo_too_small_to_notice_is_none():
    """rhythm.md 5: changes below 2.5 % are not noticed."""
    for tempo_bpm, changed in ((102.0, ()), (104.0, (Change.TEMPO,)), (96.0, (Change.TEMPO,))):
        events = bouts("++", tempo_bpm=100.0) + bouts("--", day=1, tempo_bpm=tempo_bpm)
        assert changed_last(events, GALLOP) == changed


def test_right_and_left_are_counted_apart():
    right = bouts("++", side="right") + bouts("++", day=1, side="right")
    assert decide(bouts("---", side="left") + right, GALLOP).move is Move.UP
    assert decide(right + bouts("---", day=1, side="left"), GALLOP).move is Move.DOWN


def test_at_the_ends_of_the_ladder_it_says_so():
    top, foot = GALLOP.steps[-1], GALLOP.steps[0]
    assert "the top of this ladder" in said(bouts("++", step=top.key) + bouts("++", 1, step=top.key))
    assert "Make it easier: Fewer beats" in said(bouts("---", step=foot.key))


def test_nothing_stored_starts_at_the_first_step():
    assert said([]).startswith("Start here: Listen")


def test_a_skill_that_is_suddenly_gone_stops_and_reports():
    had = bouts("++-") + bouts("++", day=2)
    assert decide(had + bouts("---", day=5), GALLOP).move is Move.STOP
    assert said(had + bouts("---", day=5)).startswith("Stop and report: this was met before")
    easier = bouts("---", day=5, step="gallop-with-a-hoop")
    assert decide(had + easier, GALLOP).move is Move.STOP


@pytest.mark.parametrize(
    ("had", "now"),
    [
        (bouts("+-+-+") + bouts("-+", 2), bouts("---", 5)),  # it came and went before
        (bouts("+++++"), bouts("---", 5)),  # one day only
        (bouts("++") + bouts("++", 2), bouts("--", 5)),  # two tries are too few
        (bouts("++") + bouts("++", 2), bouts("--+", 5)),
        (bouts("++") + bouts("++", 2), bouts("---", 5, SOFTER)),  # a harder step
        (
            bouts("++", cue_level=CueLevel.C4) + bouts("++", 2, cue_level=CueLevel.C4),
            bouts("---", 5, cue_level=CueLevel.C1),
        ),
        (bouts("++", help_level="PP") + bouts("++", 2, help_level="PP"), bouts("---", 5, help_level="I")),
        (bouts("++") + bouts("++", 2), bouts("---", 5, help_level="FP")),
    ],
)
def test_what_is_no_sudden_loss(had, now):
    assert not is_lost(had + now, GALLOP)


MARKS = st.lists(
    st.tuples(st.booleans(), st.integers(0, 20), st.sampled_from(["", "I", "FP"]), st.booleans()), max_size=30
)


@given(MARKS)
def test_what_does_not_count_changes_no_decision_but_the_branch(marks):
    rows = sorted(marks, key=lambda row: row[1])
    events = [
        Outcome(MONDAY + timedelta(days=d), ALONE, met, None, level, counted=c) for met, d, level, c in rows
    ]
    counting = [event for event in events if event.counts]
    both = decide(events, GALLOP), decide(counting, GALLOP)
    if Move.BRANCH not in {one.move for one in both} and counting:
        assert both[0].move is both[1].move
    assert both[0].counts.met == both[1].counts.met


@given(MARKS)
def test_up_always_rests_on_four_met_and_two_days(marks):
    rows = sorted(marks, key=lambda row: row[1])
    events = [
        Outcome(MONDAY + timedelta(days=d), ALONE, met, None, level, counted=c) for met, d, level, c in rows
    ]
    decision = decide(events, GALLOP)
    window = [event for event in events if event.counts][-5:]
    met = [event for event in window if event.met]
    if decision.move is Move.UP:
        assert len(met) >= 4
        assert len({event.day for event in met}) >= 2
    if decision.move is Move.DOWN:
        assert len(met) <= 1 or not any(event.met for event in window[-3:])
