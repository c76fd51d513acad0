"""One sentence, what the microphone cannot know, what to try: for every learner, honest and short."""

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.hearing.events import Heard
from cuekit.patterns.pattern_files import list_patterns
from cuekit.simulation.simulate import Rest
from cuekit.telling.advice import MOST_WORDS, advise
from cuekit.telling.phrases import load_phrases
from tests.bouts import hearing, moves, score_of, scored, train

SCORES_AND_LABELS = re.compile(
    r"score|poor|bad|weak|immature|abnormal|delay|grade|percentile|/100|out of 100|left foot|right foot",
    re.IGNORECASE,
)
learners = st.fixed_dictionaries(
    {
        "beats": st.integers(1, 40),
        "seed": st.integers(0, 10_000),
        "scatter_s": st.floats(0.0, 0.08),
        "timekeeper_s": st.floats(0.0, 0.05),
        "drift_percent": st.integers(-30, 30),
        "miss_short": st.sampled_from([0.0, 0.2, 0.6, 1.0]),
        "miss_lead": st.sampled_from([0.0, 0.1, 0.5]),
        "extra_per_min": st.sampled_from([0.0, 20.0, 80.0]),
        "landing_spread_s": st.sampled_from([0.0, 0.06, 0.1]),
        "long_share": st.sampled_from([None, 0.5, 0.56, 0.75, 0.86]),
        "rests": st.sampled_from([(), (Rest(3, 2.0),), (Rest(2, 6.0),)]),
    }
)


def words(text):
    return len(text.split())


# One sentence


@given(name=st.sampled_from(list_patterns()), learner=learners)
@settings(max_examples=150, deadline=None)
def test_whatever_was_done_the_sentence_has_at_most_25_words_and_no_grade(name, learner):
    advice = scored(name, **learner).advice
    assert 3 <= words(advice.summary) <= MOST_WORDS == 25
    assert SCORES_AND_LABELS.search(advice.summary) is None
    assert "nan" not in advice.summary.lower()
    assert re.search(r"\d|No footfalls", advice.summary)  # how much was heard
    assert len(advice.next_steps) == 1
    assert advice.summary.lower().endswith(f"{advice.next_steps[0].lower().rstrip('.')}.")


FAULTS = sorted({key.split(".")[1] for key in load_phrases().sentences if key.startswith("fault.")})
LONGEST = dict.fromkeys(
    re.findall(
        r"{(\w+)}", " ".join(text for key, text in load_phrases().sentences.items() if "fault." in key)
    ),
    "100",
)


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_fits_the_sentence_after_the_longest_count(fault):
    phrases = load_phrases()
    spoken = [phrases.say(f"fault.{fault}.{part}", **LONGEST) for part in ("short", "next")]
    counts = [phrases.say("heard.count", beats=100), phrases.say("heard.footfalls", footfalls=100)]
    for count in counts:
        assert words(f"{count}{phrases.say('heard.doubt')}: {spoken[0]}. {spoken[1]}.") <= MOST_WORDS


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_comes_with_its_other_explanation_and_a_question_for_the_eye(language, fault):
    phrases = load_phrases(language)
    for part in ("heard", "may_also_be", "ask"):
        assert phrases.say(f"fault.{fault}.{part}", **LONGEST).strip()
    assert phrases.say(f"fault.{fault}.ask", **LONGEST).rstrip().endswith(("?", "."))


# Good bouts


@pytest.mark.parametrize(
    ("name", "finding"),
    [
        ("gallop", "12 beats heard: clear long-short, steady."),
        ("skip", "12 beats heard: clear long-short, steady."),
        ("walk", "12 beats heard: even and steady."),
        ("hop", "12 beats heard: even and steady."),
        ("leap", "12 beats heard: the long gap in the air was heard."),
        ("gallop-switch-2", "12 beats heard: the planned pattern was kept."),
        ("walk-gallop-walk", "12 beats heard: the planned pattern was kept."),
        ("walk-freeze", "12 beats heard: even and steady."),
        ("gallop-switch-4", "12 beats heard: clear long-short, steady."),
    ],
)
def test_count_plain_finding_and_one_next_thing(name, finding):
    advice = scored(name, scatter_s=0.012).advice
    assert advice.summary == f"{finding} Same again, sound softer."
    assert (advice.fault, advice.other_faults) == (None, ())


def test_a_planned_change_that_is_not_judged_is_not_said_to_be_kept():
    """Gallops without the turn of the figure: what is between the turns was long-short, and that is all."""
    summary = score_of(moves("gallop", beats=32, scatter_s=0.012).footfalls, "slide-half-turn").advice.summary
    assert "was kept" not in summary


# Nothing that was not heard


def test_no_footfalls_is_a_result_of_its_own():
    advice = score_of([], "gallop").advice
    assert advice.summary == "No footfalls heard. Move the microphone nearer, or quiet the room."
    assert advice.fault is None


@pytest.mark.parametrize(("count", "said"), [(1, "Only 1 clear footfall:"), (4, "Only 4 clear footfalls:")])
def test_too_few_footfalls_are_too_few_to_say(count, said):
    advice = score_of(train(0.6, times=12)[:count], "walk").advice
    assert advice.summary.startswith(f"{said} too few to say.")
    assert advice.fault is None


def test_poor_hearing_has_no_verdict_however_clear_the_rhythm_seems():
    performance = moves("gallop", long_share=0.5)
    score = score_of(performance.footfalls, "gallop")
    unsure = hearing(performance.footfalls, Heard.NOT_ENOUGH)
    advice = advise(unsure, score.alignment, score.measures, load_phrases())
    assert advice.summary.startswith("Could not hear the feet well enough to say.")
    assert (advice.fault, advice.other_faults) == (None, ())


def test_doubt_in_the_hearing_is_said_in_the_sentence():
    performance = moves("gallop")
    score = score_of(performance.footfalls, "gallop")
    advice = advise(
        hearing(performance.footfalls, Heard.SOME_DOUBT), score.alignment, score.measures, load_phrases()
    )
    assert advice.summary.startswith("12 beats heard, some doubt: clear long-short")


@pytest.mark.parametrize("name", ["gallop", "skip", "walk", "hop"])
@pytest.mark.parametrize("beats", [3, 5])
def test_few_beats_get_no_plain_word_but_the_advice_to_go_on(name, beats):
    summary = scored(name, beats=beats, scatter_s=0.01).advice.summary
    assert "too few" in summary
    assert not re.search("clear long-short|even and steady", summary)


@given(
    name=st.sampled_from(["walk", "hop", "march", "gallop", "skip"]),
    seed=st.integers(0, 3000),
    scatter_s=st.floats(0.03, 0.07),
)
@settings(max_examples=60, deadline=None)
def test_an_unclear_rhythm_is_never_praised(name, seed, scatter_s):
    score = scored(name, beats=8, seed=seed, scatter_s=scatter_s, long_share=0.56)
    if score.measures.rhythm == "unclear":
        assert not re.search("clear long-short|even and steady|: even\\.|kept", score.advice.summary)


@pytest.mark.parametrize("name", ["gallop", "slide", "skip"])
def test_nearly_even_is_never_praised_as_long_short(name):
    score = scored(name, beats=16, long_share=0.56, scatter_s=0.005)
    assert score.measures.rhythm == "nearly even"
    assert "not clearly long-short" in score.advice.summary


def test_a_figure_half_kept_is_not_called_kept():
    walked = moves("walk", beats=32, scatter_s=0.04, tempo_bpm=112)
    assert "was kept" not in score_of(walked.footfalls, "walk-gallop-walk").advice.summary


@pytest.mark.parametrize(("on", "kept"), [(15, True), (14, False)])
def test_a_figure_is_kept_from_three_beats_in_four_on(on, kept):
    score = scored("walk-gallop-walk", beats=24, scatter_s=0.01)
    measures = replace(score.measures, beats_on_pattern=on, judged_beats=20)
    said = advise(score.hearing, score.alignment, measures, load_phrases()).summary
    assert ("the planned pattern was kept" in said) == kept


# What the microphone cannot know


@pytest.mark.parametrize(
    ("name", "skill", "two_feet"),
    [("gallop", True, False), ("slide", True, False), ("skip", True, False), ("walk", False, False), ("hop", False, True), ("jump", False, True), ("hop-hop-jump", False, True), ("leap", False, False)],
)  # fmt: skip
def test_what_it_cannot_tell_depends_on_the_pattern(name, skill, two_feet):
    said = " ".join(scored(name).advice.cannot_tell)
    assert ("they sound the same" in said) is skill
    assert ("one foot from two" in said) is two_feet
    assert "which foot landed" in said
    assert "who made the sounds" in said


@pytest.mark.parametrize(("name", "lost"), [("gallop", (4, 1)), ("hop", (4, 0))])
def test_a_missing_sound_was_not_made_or_not_heard(name, lost):
    score = scored(name, not_made=frozenset({lost}))
    assert "whether a missing sound was not made or not heard" not in scored(name).advice.cannot_tell
    assert "whether a missing sound was not made or not heard" in score.advice.cannot_tell


def test_one_fault_for_the_teacher_and_the_others_on_request():
    advice = scored("gallop", beats=16, long_share=0.5, rests=(Rest(6, 2.0),)).advice
    assert advice.fault.id == "even-for-uneven"
    assert "stopped" in [fault.id for fault in advice.other_faults]
    assert "paused" not in advice.summary


def test_loud_landings_are_not_rewarded():
    soft = moves("gallop", scatter_s=0.012)
    loud = [replace(footfall, level_db=footfall.level_db + 20.0) for footfall in soft.footfalls]
    assert score_of(loud, "gallop").advice == score_of(soft.footfalls, "gallop").advice
