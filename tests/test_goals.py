"""Goals are counted as one would by hand, and what cannot count never does."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.errors import RecordError
from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import Amendment, KeptBout
from cuekit.records.bout_record import BoutRecord, Conditions, EyeMark, HelpLevel, Mode, Numbers, Seen, Source
from cuekit.records.goal_steps import countable, goal_of_step
from cuekit.records.goal_text import goal_text
from cuekit.records.goals import Criterion, Goal, Measure, Uncounted, evaluate, running
from cuekit.records.learner import Learner, Tolerances, looks_like_a_name, parse_code
from cuekit.records.lessons import Lesson, month_minutes, month_owed
from cuekit.records.record_json import from_text, to_text
from cuekit.teaching.ladder_files import list_ladders, load_ladder
from cuekit.telling.phrases import load_phrases

MONDAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
YES = EyeMark(lead=Side.RIGHT, skill=Seen.YES)
GOAL = Goal("K-07", "gallop", Measure.LONGEST_RUN, 6, Criterion(4, 5, 3), MONDAY.date(), (CueLevel.C4,))


def kept(number, day, run=8, *, cue=CueLevel.C4, help_level=HelpLevel.I, eye=YES, amendments=(), **more):
    at = MONDAY + timedelta(days=day, minutes=number)
    mode = more.pop("mode", Mode.FEET)
    numbers = Numbers(more.pop("heard", Heard.CLEAR), longest_run=run)
    bout = BoutRecord("K-07", at, Conditions("gallop", cue, help_level, mode), numbers, eye, **more)
    return KeptBout(str(number), number, bout, amendments)


def bouts(*days):
    """A text a day, one letter a bout: m(et), x (missed), f(ull help), u(nheard), o(thers' feet), v(oid), ?(no eye mark)."""
    rows, number = [], 0
    kinds = {
        "m": {},
        "x": {"run": 3},
        "f": {"help_level": HelpLevel.FP},
        "u": {"heard": Heard.NOT_ENOUGH},
        "o": {"eye": EyeMark(skill=Seen.YES, others=True)},
        "?": {"eye": EyeMark()},
    }
    for day, letters in enumerate(days):
        for letter in letters:
            number += 1
            void = (Amendment(str(number), MONDAY, "", "", "void", "bell rang"),) if letter == "v" else ()
            rows.append(kept(number, day, amendments=void, **kinds.get(letter, {})))
    return rows


def standing(*days, goal=GOAL):
    (found,) = evaluate(goal, bouts(*days)).standings
    return found.last_met, found.last_of, found.last_days, found.reached_on is not None


@pytest.mark.parametrize(
    ("days", "hand_count"),
    [
        (["mm", "mx", "m"], (4, 5, 3, True)),
        (["mmm", "xm"], (4, 5, 2, False)),  # four of five, on two days: three are needed
        (["mmmmm"], (5, 5, 1, False)),
        (["mm", "m", "m"], (4, 4, 3, False)),  # four bouts are not yet five
        (["mm", "mx", "m", "xxxx"], (1, 5, 1, True)),  # reached once, lost since: both are told
        (["mxx", "mxx", "mm"], (3, 5, 2, False)),
        (["mf", "mv", "mu", "mo?x"], (4, 5, 4, True)),
        (["ffff", "ffff", "ffff"], (0, 0, 0, False)),
        ([], (0, 0, 0, False)),
    ],
)
def test_four_of_five_on_three_days_as_by_hand(days, hand_count):
    assert standing(*days) == hand_count


def test_running_four_of_five():
    judged = evaluate(GOAL, bouts("mmx", "mmm", "fx")).judged
    assert running(judged, 5) == (1, 2, 2, 3, 4, 4, 3)


@pytest.mark.parametrize(
    ("letter", "why"),
    [
        ("f", Uncounted.FULL_HELP),
        ("u", Uncounted.UNHEARD),
        ("o", Uncounted.OTHERS),
        ("v", Uncounted.VOID),
        ("?", Uncounted.NO_EYE),
    ],
)
def test_what_cannot_count_is_named_with_its_reason(letter, why):
    (judged,) = evaluate(GOAL, bouts(letter)).judged
    assert (judged.met, judged.why) == (None, why)


@given(st.lists(st.text("mxfuov?", max_size=6), max_size=6))
def test_full_help_unheard_void_and_others_feet_never_change_a_goal(days):
    clean = ["".join(c for c in day if c in "mx") for day in days]
    assert standing(*days) == standing(*clean)


@given(st.lists(st.text("mx", max_size=6), max_size=6), st.integers(1, 5), st.integers(1, 3))
def test_reached_exactly_when_some_window_fulfils_the_words(days, met, on):
    rule = Criterion(max(met, on), 5, on)
    flat = [(letter, day) for day, letters in enumerate(days) for letter in letters]
    windows = [flat[n : n + 5] for n in range(len(flat) - 4)]
    hits = [[day for letter, day in window if letter == "m"] for window in windows]
    by_hand = any(len(hit) >= rule.met and len(set(hit)) >= rule.days for hit in hits)
    goal = Goal("K-07", "gallop", Measure.LONGEST_RUN, 6, rule, MONDAY.date(), (CueLevel.C4,))
    assert standing(*days, goal=goal)[3] is by_hand


def test_other_conditions_are_no_bouts_of_the_goal():
    others = [
        kept(1, 0, cue=CueLevel.C5),
        kept(2, 0, mode=Mode.CLAP),
        kept(3, 0, help_level=HelpLevel.PP),
        kept(4, -1),
    ]
    assert evaluate(GOAL, others).judged == ()


def test_a_level_that_was_not_entered_is_asked_for_and_never_guessed():
    judged = evaluate(GOAL, [kept(1, 0, cue=None), kept(2, 0, help_level=None)]).judged
    assert [one.why for one in judged] == [Uncounted.NO_CUE, Uncounted.NO_HELP]


def test_each_side_is_counted_for_itself_and_a_side_not_entered_for_none():
    both = Goal(
        "K-07",
        "gallop",
        Measure.LONGEST_RUN,
        6,
        Criterion(2, 2, 1),
        MONDAY.date(),
        (CueLevel.C4,),
        sides=tuple(Side),
    )
    left, unknown = EyeMark(lead=Side.LEFT, skill=Seen.YES), EyeMark(skill=Seen.YES)
    found = evaluate(both, [kept(1, 0), kept(2, 0), kept(3, 0, eye=left), kept(4, 0, eye=unknown)])
    assert [(s.side, s.last_met, s.reached_on is not None) for s in found.standings] == [
        (Side.RIGHT, 2, True),
        (Side.LEFT, 1, False),
    ]
    assert [j.why for j in found.uncounted] == [Uncounted.NO_SIDE]
    assert not found.reached


def test_the_teachers_verdict_stands_and_a_correction_is_judged_anew():
    assert evaluate(GOAL, [kept(1, 0, run=3, met_by_teacher=True)]).judged[0].met is True
    by_hand = Amendment("1", MONDAY, "longest-run", "5", "6", "soft sound restored by eye")
    assert evaluate(GOAL, [kept(1, 0, run=5, amendments=(by_hand,))]).judged[0].met is True
    unheard = kept(1, 0, run=6, heard=Heard.NOT_ENOUGH, source=Source.COUNTED)
    assert evaluate(GOAL, [unheard]).judged[0].met is True


def test_an_eye_that_says_no_is_missed_whatever_was_heard():
    assert evaluate(GOAL, [kept(1, 0, eye=EyeMark(skill=Seen.NO))]).judged[0].met is False


@pytest.mark.parametrize("bad", [(5, 4, 1), (4, 5, 0), (2, 5, 3), (1, 51, 1)])
def test_a_criterion_that_cannot_be_is_refused(bad):
    with pytest.raises(RecordError, match="such as 4 of 5 on 3 days"):
        Criterion(*bad)


def test_a_goal_with_full_help_is_refused():
    with pytest.raises(RecordError, match="leave FP out"):
        Goal(
            "K-07",
            "gallop",
            Measure.LONGEST_RUN,
            6,
            Criterion(),
            MONDAY.date(),
            (CueLevel.C4,),
            help_levels=(HelpLevel.FP,),
        )


@pytest.mark.parametrize(
    "noun", [GOAL, kept(1, 0).stored, Learner("K-07", own_tempo_bpm=100.0), Lesson("K-07", MONDAY, 25)]
)
def test_nouns_come_back_from_text_equal(noun):
    assert from_text(type(noun), to_text(noun)) == noun


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
        lambda x: st.lists(x) | st.dictionaries(st.text(), x),
    )
)
def test_whatever_stands_in_a_file_only_our_own_refusal_leaves(value):
    import json

    with pytest.raises(RecordError):
        from_text(Goal, json.dumps(value))


@pytest.mark.parametrize("half", [r"\ud800", r"\udc00x", r"ok\udfff"])
def test_half_a_letter_that_no_file_can_hold_is_refused(half):
    with pytest.raises(RecordError, match="half a letter"):
        from_text(Learner, f'{{"code": "K-07", "words": "{half}"}}')
    assert from_text(Learner, r'{"code": "K-07", "words": "\ud83d\ude00"}').words == "\U0001f600"


@given(st.text())
def test_a_code_is_taken_or_refused_in_our_words(text):
    try:
        code = parse_code(text)
    except RecordError:
        with pytest.raises(RecordError, match="such as K-07"):
            parse_code(text)
        return
    assert parse_code(code.lower()) == code
    assert code.isascii()
    assert 3 <= len(code) <= 16


@pytest.mark.parametrize(
    ("code", "name"), [("K-07", False), ("M12", False), ("MARIA", True), ("ANNA-2", True), ("ABC", True)]
)
def test_a_code_that_may_be_a_name_is_noticed(code, name):
    assert looks_like_a_name(code) is name


def test_month_total_right_by_hand():
    """Story 29: 25 + 30 minutes in March, 20 in April, one missed with 25 owed."""
    days = [(0, 25, 0), (7, 30, 0), (14, 0, 25), (31, 20, 0)]
    lessons = [Lesson("K-07", MONDAY + timedelta(days=d), m, owed_min=o) for d, m, o in days]
    assert month_minutes(lessons, 2026, 3) == 55
    assert month_minutes(lessons, 2026, 4) == 20
    assert month_owed(lessons, 2026, 3) == 25
    assert Lesson("K-07", MONDAY).stopped_at(MONDAY + timedelta(minutes=24, seconds=40)) == 25


@pytest.mark.parametrize("name", list_ladders())
def test_each_step_that_can_be_counted_is_a_goal_that_says_the_same(name):
    ladder = load_ladder(name)
    counted = [step for step in ladder.steps if countable(step)]
    assert counted
    for step in counted:
        goal = goal_of_step(step, Learner("K-07"), MONDAY.date())
        assert (goal.at_least, goal.cue_levels, goal.pattern) == (
            step.target.count,
            (step.level,),
            step.pattern,
        )
        assert (goal.criterion.met, goal.criterion.of, goal.criterion.days) == (4, 5, step.days_needed)
        assert goal.eye_needed is (step.target.judge == "both")
        assert str(step.target.count) in goal_text(goal, ladder.title, load_phrases("en", "report"))
    for step in set(ladder.steps) - set(counted):
        with pytest.raises(RecordError, match="by the eye alone"):
            goal_of_step(step, Learner("K-07"), MONDAY.date())


def test_a_goal_of_a_step_has_the_learners_own_steadiness():
    step = next(one for one in load_ladder("hop").steps if one.target.spread_percent and countable(one))
    shaky = Learner("K-07", tolerances=Tolerances(spread_percent=30.0))
    assert (
        goal_of_step(step, Learner("K-07"), MONDAY.date()).spread_at_most_percent
        == step.target.spread_percent
    )
    assert goal_of_step(step, shaky, MONDAY.date()).spread_at_most_percent == 30.0


def test_goals_are_taken_from_a_ladder_as_typed(tmp_path, monkeypatch, cuekit_says):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    assert cuekit_says("learner", "add", "K-07", "--skill", "gallop").code == 0
    shown = cuekit_says("goal", "templates", "K-07").out
    assert "gallop-alone: Condition: with a tone on each footfall, alone." in shown
    taken = cuekit_says("goal", "take", "K-07", "gallop-alone", "--since", "2026-03-01")
    assert taken.code == 0
    for run_ in (6, 7, 2):
        say = ("--run", run_, "--cue", "C4", "--help-level", "I", "--skill", "yes", "--at", "2026-03-02")
        assert cuekit_says("count", "--learner", "K-07", *say).code == 0
    assert "Met of the last 5, bout by bout: 1, 2, 2." in cuekit_says("goal", "list", "K-07").out
    assert cuekit_says("goal", "take", "K-07", "no-such").code == 3
