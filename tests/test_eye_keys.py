"""The eye mark after a bout, one key a question: what is asked of which skill, and what each key does."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.records.bout_record import EyeMark, Feet, HelpLevel, Mode, Seen
from cuekit.records.eye_keys import (
    BACK,
    LEAVE_ALL_OUT,
    LEAVE_OUT,
    entered_line,
    eye_keys,
    pressed,
    question_lines,
)
from cuekit.teaching.ladder_files import load_ladder
from cuekit.telling.phrases import load_phrases

EN, ES = load_phrases("en"), load_phrases("es")
ARROWS = ["\x1b[A", "\x1b[C", "\x1b[D", "\x1bOD", "\x1bOP", "\x1b[3~", "\x1b[15~", "\xe0P", "\x00;"]


def begun(pattern="gallop", phrases=EN, mode=Mode.FEET):
    return eye_keys(load_pattern(pattern, language=phrases.language), phrases, mode)


def after(state, keys):
    """The questions after a row of keys."""
    for key in keys:
        state = pressed(state, key)
    return state


def asked(pattern, mode=Mode.FEET):
    return [question.asked.value for question in begun(pattern, mode=mode).questions]


def test_five_keys_say_all_that_only_the_eye_knows():
    state = after(begun(), "rysyv")
    assert state.done
    assert state.eye == EyeMark(Side.RIGHT, Seen.YES, Feet.SAME_AHEAD, Seen.YES)
    assert state.help_level is HelpLevel.V
    assert entered_line(state, EN) == ("Entered: right, skill: yes, same foot ahead, in the air, V a word.")


def test_the_same_five_in_spanish():
    state = after(begun(phrases=ES), "dsmsv")
    assert state.eye == EyeMark(Side.RIGHT, Seen.YES, Feet.SAME_AHEAD, Seen.YES)
    assert entered_line(state, ES).startswith("Anotado: derecha, habilidad: sí")


@pytest.mark.parametrize(
    ("pattern", "questions"),
    [
        ("gallop", ["lead", "skill", "feet", "flight", "help"]),
        ("hop", ["lead", "skill", "feet", "flight", "help"]),
        ("jump", ["skill", "feet", "flight", "help"]),
        ("walk", ["lead", "skill", "help"]),
    ],
)
def test_only_what_makes_sense_for_the_skill_is_asked(pattern, questions):
    assert asked(pattern) == questions


def test_stepping_in_place_is_done_with_the_feet_and_clapping_is_not():
    assert asked("gallop", Mode.STEP) == asked("gallop")
    assert asked("gallop", Mode.CLAP) == asked("gallop", Mode.PUSH) == ["skill", "help"]


def test_at_a_step_of_a_ladder_its_own_question_is_asked_for_the_skill():
    step = load_ladder("gallop").step("step-and-close")
    state = after(eye_keys(load_pattern(step.pattern), EN, step_eye=step.eye), "r")
    assert question_lines(state, EN)[0] == "Did the same foot stay in front?"
    assert pressed(state, "y").eye.skill is Seen.YES


@pytest.mark.parametrize("leave", LEAVE_OUT)
def test_what_is_left_out_is_not_entered_and_not_told(leave):
    state = after(begun(), [leave, "n", leave, leave, leave])
    assert state.eye == EyeMark(skill=Seen.NO)
    assert state.help_level is None
    assert entered_line(state, EN) == "Entered: skill: no."


def test_not_seen_is_an_answer_and_not_a_question_left_out():
    assert after(begun(), ["\n", "x", LEAVE_ALL_OUT]).eye == EyeMark(skill=Seen.NOT_SEEN)


def test_q_leaves_all_the_rest_out():
    state = after(begun(), ["l", LEAVE_ALL_OUT])
    assert state.done
    assert state.eye == EyeMark(lead=Side.LEFT)
    assert entered_line(after(begun(), LEAVE_ALL_OUT), EN) == "Nothing entered."


@pytest.mark.parametrize("back", BACK)
def test_backspace_takes_the_last_answer_back_even_the_very_last(back):
    assert after(begun(), ["r", back, "l", LEAVE_ALL_OUT]).eye.lead is Side.LEFT
    whole = after(begun(), "rysyi")
    assert after(whole, [back, "f"]).help_level is HelpLevel.FP
    assert after(begun(), [back, back, "r"]).eye.lead is Side.RIGHT


def test_a_key_that_means_nothing_is_told_and_changes_nothing():
    state = after(begun(), "rk")
    assert state.answers == after(begun(), "r").answers
    assert question_lines(state, EN)[0] == "k is no answer here."
    assert pressed(state, "y").refused == ""


@pytest.mark.parametrize("arrow", ARROWS)
@pytest.mark.parametrize("phrases", [EN, ES], ids=["en", "es"])
def test_an_arrow_or_function_key_is_no_answer_to_anything(arrow, phrases):
    """They send a letter behind an escape, which would be "derecha" or "PP" if read by itself."""
    for before in ("", "\n", "\n\n\n\n"):
        state = after(begun(phrases=phrases), before)
        assert after(state, arrow).answers == state.answers
        assert after(state, arrow).escape == ""


def test_escape_alone_swallows_no_answer():
    assert after(begun(), "\x1br").eye.lead is Side.RIGHT


def test_capital_letters_count_too():
    assert after(begun(), "RYSYI") == after(begun(), "rysyi")


def test_each_question_shows_its_keys_and_the_first_one_how_to_go_on():
    first = question_lines(begun(), EN)
    assert first[0] == "Right or left: leading foot?"
    assert "r  right" in first[1]
    assert "Enter leaves it out" in first[2]
    assert len(question_lines(after(begun(), "r"), EN)) == 2
    assert question_lines(after(begun(), "q"), EN) == ("Nothing entered.",)


@pytest.mark.parametrize("pattern", list_patterns())
@pytest.mark.parametrize("phrases", [EN, ES], ids=["en", "es"])
def test_no_key_has_two_meanings(pattern, phrases):
    for question in begun(pattern, phrases).questions:
        keys = [choice.key for choice in question.choices]
        assert len(set(keys)) == len(keys)
        assert all(len(key) == 1 and key == key.lower() for key in keys)
        assert not {*keys} & {*LEAVE_OUT, *BACK, LEAVE_ALL_OUT}


KEYS = st.lists(st.one_of(st.sampled_from([*"rlynxts12ivgmpfdq \n\x7f\x1b[O"]), st.characters()), max_size=40)


@given(KEYS)
def test_whatever_is_pressed_the_answers_are_those_of_the_questions(keys):
    state = after(begun(), keys)
    assert len(state.answers) <= len(state.questions)
    for question, answer in zip(state.questions, state.answers, strict=False):
        assert answer is None or answer in question.choices
    assert (state.question is None) == state.done
