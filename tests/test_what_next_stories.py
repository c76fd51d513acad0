"""What to try next, from made recordings to the next step, as the trade tells it: stories and scenarios by
their numbers on the trade page."""

import json

import pytest

from tests.made_desk import bout_maker, desk_with

ALONE = ("--cue", "C4", "--help-level", "I")


@pytest.fixture
def made(tmp_path):
    return bout_maker(tmp_path, beats=12)


@pytest.fixture
def desk(tmp_path, monkeypatch, cuekit_says):
    return desk_with("M-12", tmp_path / "data", monkeypatch, cuekit_says)


def heard(desk, path, pattern, *more):
    """The contract of a recording scored against a pattern."""
    return json.loads(desk("score", path, "--pattern", pattern, "--json", *more))


def kept(desk, path, pattern, step, day, *more):
    return desk(
        *("keep", path, "--learner", "M-12", "--pattern", pattern, "--step", step),
        *(*ALONE, "--at", f"2026-03-{day:02d}", *more),
    )


def one_side(beats):
    """No hop on the second side."""
    return frozenset((beat, 1) for beat in range(1, beats, 2))


def test_story_6_the_audible_fault_with_its_other_explanation(desk, made):
    limping = made("skip", not_made=one_side(12))
    fault = heard(desk, limping, "skip")["fault"]
    assert fault["id"] == "every-other-short-not-heard"
    assert "not made, or not heard" in fault["may_also_be"]
    assert "Which side?" in fault["ask"]
    assert heard(desk, limping, "gallop-switch-2")["fault"] is None


def test_story_6_what_helps_with_it_is_one_command_away(desk):
    assert "Teach that side alone." in desk("ladder", "skip", "--fault", "every-other-short-not-heard")


def test_story_8_a_side_is_never_shown_that_was_not_entered_and_sides_are_apart(desk, made):
    for day in (2, 3):
        for seed in (1, 2):
            path = made("gallop", seed=seed)
            kept(desk, path, "gallop", "gallop-alone", day, "--side", "right")
    assert "Up: met in 4 of the last 4 bouts on 2 days" in desk("next", "M-12")
    kept(desk, made("gallop"), "gallop", "gallop-alone", 4, "--side", "left")
    said = desk("next", "M-12")
    assert "Hold: met in 1 of 1 bouts so far" in said
    assert "Gallop, left" in said
    kept(desk, made("gallop"), "gallop", "gallop-alone", 5)
    assert "left" not in desk("next", "M-12")
    assert "right" not in desk("bouts", "M-12", "--last", "1")


def test_story_14_a_sound_restored_by_eye_changes_the_next_step(desk, made):
    path = made("gallop", beats=9, not_made=frozenset({(4, 1)}))
    stored = kept(desk, path, "gallop", "gallop-alone", 2)
    number = next(word for word in stored.split()[::-1] if word.strip(".:").isdigit()).strip(".:")
    assert "met in 0 of 1 bouts" in desk("next", "M-12")
    desk("correct", number, "longest-run", "9", "--reason", "one soft sound restored by eye")
    assert "met in 1 of 1 bouts" in desk("next", "M-12")
    desk("void", number, "--reason", "the bell rang")
    assert "Not counted: 1" in desk("next", "M-12")


def test_story_19_a_planned_switch_is_no_fault_and_no_pause(desk, made):
    planned = made("gallop-switch-8", beats=16)
    as_planned, unplanned = heard(desk, planned, "gallop-switch-8"), heard(desk, planned, "gallop")
    assert (as_planned["fault"], as_planned["pauses"], as_planned["missed"]) == (None, [], [])
    assert as_planned["rhythm"] == "uneven"
    assert len(unplanned["pauses"]) + len(unplanned["missed"]) == 1


def test_story_19_a_slide_with_a_turn_the_same(desk, made):
    planned = made("slide-half-turn", beats=16)
    as_planned, unplanned = heard(desk, planned, "slide-half-turn"), heard(desk, planned, "slide")
    assert (as_planned["fault"], as_planned["pauses"]) == (None, [])
    assert len(unplanned["pauses"]) + len(unplanned["missed"]) == 1  # 1.5 beats; a pause is over 1.6


def test_story_21_tapping_is_a_full_result_and_said_as_tapping(desk, made):
    for seed in (1, 2):
        kept(desk, made("gallop", seed=seed), "gallop", "gallop-say-and-clap", 2, "--mode", "tap")
    assert "Hold: met in 2 of 2 bouts so far" in desk("next", "M-12")
    assert desk("bouts", "M-12").count(" tap ") == 2


@pytest.mark.parametrize(
    ("pattern", "how", "fault"),
    [
        ("hop", {}, None),
        ("jump", {"landing_spread_s": 0.06}, "split-landing"),
        ("jump", {}, None),
        ("leap", {}, None),
    ],
)
def test_story_23_hop_jump_and_leap_by_their_own_rules(desk, made, pattern, how, fault):
    found = heard(desk, made(pattern, **how), pattern)["fault"]
    assert (found and found["id"]) == fault


def test_story_23_an_even_run_has_no_long_gap(desk, made):
    run = made("run", beats=18, tempo_bpm=160.0)
    assert heard(desk, run, "leap", "--tempo", "160")["fault"]["id"] == "no-air-gap"


def test_scenario_1_long_short_for_5_then_even(desk, made):
    found = heard(desk, made("gallop", beats=14, even_from_beat=6), "gallop")
    assert found["fault"]["id"] == "changed-to-even"
    assert "long-short for 6 beats, then even" in found["summary"]
    assert "stop line" in found["summary"]


def test_scenario_2_a_one_sided_skip_is_named_and_gone_when_the_hops_are_heard(desk, made):
    assert (
        heard(desk, made("skip", not_made=one_side(12)), "skip")["fault"]["id"]
        == "every-other-short-not-heard"
    )
    assert heard(desk, made("skip", short_db=-6.0), "skip")["fault"] is None  # the microphone moved nearer


def test_scenario_4_long_short_tapped_and_pushed_climbs_the_same_ladder(desk, made):
    desk("learner", "set", "M-12", "--skill", "gallop")
    for day in (2, 3):
        for seed in (1, 2):
            path = made("gallop", seed=seed)
            kept(desk, path, "gallop", "gallop-say-and-clap", day, "--mode", "push")
    assert "Up: met in 4 of the last 4 bouts on 2 days" in desk("next", "M-12")
    assert "It is a full result." in " ".join(desk("ladder", "--for", "wheelchair").split())


def test_scenario_5_the_note_comes_first_and_short_bouts_are_too_few_to_say(desk, made):
    desk("learner", "set", "M-12", "--restrictions", "no jumping until cleared")
    assert 'Your note on this child: "no jumping until cleared"' in desk("next", "M-12", "--ladder", "walk")
    short = heard(desk, made("step-touch", beats=4), "step-touch")
    assert short["fault"] is None
    assert "too few to say" in short["summary"]


@pytest.mark.parametrize(
    "pattern", ["gallop-switch-8", "gallop-switch-4", "gallop-switch-2", "gallop-hop-2", "gallop-hop-1"]
)
def test_scenario_8_no_rung_of_the_bridge_has_its_planned_gap_called_a_fault(desk, made, pattern):
    found = heard(desk, made(pattern, beats=16), pattern)
    assert (found["fault"], found["pauses"]) == (None, [])
    assert found["rhythm"] == "uneven"


def test_scenario_8_at_one_and_one_the_eye_is_asked(desk, made):
    kept(desk, made("gallop-hop-1", beats=16), "gallop-hop-1", "gallop-to-skip-one-and-one", 2)
    assert "Waiting for your eye mark" in desk("next", "M-12")
    assert "cannot prove a skip" in desk("ladder", "gallop-to-skip", "--step", "one-and-one")
