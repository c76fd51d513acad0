"""The eye mark by single keys after a bout: which questions a pattern needs, and what each key does.

Pure: a terminal or a screen shows `EyeKeys.question`, hands each key to `pressed`, and at the end takes
`eye` and `help_level`. Whatever was left out stays None: not entered, and so never shown. No key means
two things, and none is a capital letter, as the arrow keys send one behind an escape.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from cuekit.patterns.pattern import Pattern, Side
from cuekit.records.bout_record import EyeMark, Feet, HelpLevel, Mode, Seen
from cuekit.teaching.cautions import demands
from cuekit.telling.phrases import Phrases

LEAVE_OUT = ("\r", "\n", " ")
"""Enter or space: the question is left out."""
BACK = ("\x7f", "\b")
"""Backspace, as terminals send it: the answer before is taken back."""
LEAVE_ALL_OUT = "q"
_ESCAPE, _SEQUENCES, _WINDOWS = "\x1b", ("[", "O"), ("\x00", "\xe0")
"""What arrow and function keys begin with: escape and one of two signs, or a sign before one more."""

Value = Side | Seen | Feet | HelpLevel


class Asked(StrEnum):
    """What is asked, in this order."""

    LEAD = "lead"
    SKILL = "skill"
    FEET = "feet"
    FLIGHT = "flight"
    HELP = "help"


_VALUES: dict[Asked, type[StrEnum]] = {
    Asked.LEAD: Side,
    Asked.SKILL: Seen,
    Asked.FEET: Feet,
    Asked.FLIGHT: Seen,
    Asked.HELP: HelpLevel,
}


@dataclass(frozen=True)
class Choice:
    """One answer: its single key, its words, and what is stored."""

    key: str
    words: str
    value: Value


@dataclass(frozen=True)
class Question:
    """One question for the eye, in words, with its answers."""

    asked: Asked
    words: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class EyeKeys:
    """How far the questions have come.

    Attributes:
        questions: all of them, in order.
        answers: given so far, one a question; None where it was left out.
        refused: the last key, where it meant nothing here; else empty.
        escape: what came of an arrow or function key that is not whole yet.
    """

    questions: tuple[Question, ...]
    answers: tuple[Choice | None, ...] = ()
    refused: str = ""
    escape: str = ""

    @property
    def question(self) -> Question | None:
        """The one to be answered now; None once all are."""
        return None if self.done else self.questions[len(self.answers)]

    @property
    def done(self) -> bool:
        """Whether all are answered or left out."""
        return len(self.answers) == len(self.questions)

    @property
    def entered(self) -> tuple[Choice, ...]:
        """The answers given, without those left out."""
        return tuple(answer for answer in self.answers if answer is not None)

    @property
    def eye(self) -> EyeMark:
        """What the eye saw; None for what was not asked or left out."""
        values = self._values()
        seen = {asked.value: values.get(asked) for asked in Asked if asked is not Asked.HELP}
        return EyeMark(**seen)

    @property
    def help_level(self) -> HelpLevel | None:
        """The help given; None where it was left out."""
        return self._values().get(Asked.HELP)

    def _values(self) -> dict[Asked, Value]:
        pairs = zip(self.questions, self.answers, strict=False)
        return {question.asked: answer.value for question, answer in pairs if answer is not None}


def eye_keys(pattern: Pattern, phrases: Phrases, mode: Mode = Mode.FEET, step_eye: str = "") -> EyeKeys:
    """The questions after a bout of a pattern, none answered yet.

    Parameters
    ----------
    pattern: what was done, in the language of the phrases, as its name and side are asked in its words.
    phrases: of the language.
    mode: what made the rhythm; hands, taps and wheels are not asked about feet, side or flight.
    step_eye: the question of the ladder's step, where the bout is of one; it is asked in place of
        whether it was the skill, as its answer is what the step is judged by.
    """
    questions = (_question(asked, pattern, phrases) for asked in _needed(pattern, mode))
    return EyeKeys(
        tuple(
            replace(one, words=step_eye) if step_eye and one.asked is Asked.SKILL else one
            for one in questions
        )
    )


def pressed(state: EyeKeys, key: str) -> EyeKeys:
    """The questions after one more key, as a terminal sends it.

    A key that means nothing here changes no answer and is told as `refused`; an arrow or function key
    is swallowed whole.
    """
    began, state = state.escape, replace(state, refused="", escape="")
    if key and (began or key == _ESCAPE or key in _WINDOWS):
        whole = _is_whole(began, key)
        if whole is not None:
            return state if whole else replace(state, escape=began + key)
    if key in BACK:
        return replace(state, answers=state.answers[:-1])
    if not key or state.done:
        return state
    key = key.lower()
    if key == LEAVE_ALL_OUT:
        left = len(state.questions) - len(state.answers)
        return replace(state, answers=(*state.answers, *([None] * left)))
    if key in LEAVE_OUT:
        return replace(state, answers=(*state.answers, None))
    found = next((choice for choice in state.question.choices if choice.key == key), None)
    return replace(state, refused=key) if found is None else replace(state, answers=(*state.answers, found))


def _is_whole(began: str, key: str) -> bool | None:
    """Whether a key ends what an arrow or function key began; None where it is a key of its own.

    A sequence ends with a letter or ~ (ECMA-48, section 5.4); on Windows a second sign ends it.
    """
    if not began or key == _ESCAPE:
        return False
    if began in _WINDOWS:
        return True
    if began == _ESCAPE:
        return False if key in _SEQUENCES else None
    return "@" <= key <= "~"


def question_lines(state: EyeKeys, phrases: Phrases) -> tuple[str, ...]:
    """The lines of the present question with its keys; how to go on stands below the first one."""
    if state.question is None:
        return (entered_line(state, phrases),)
    choices = "   ".join(f"{choice.key}  {choice.words}" for choice in state.question.choices)
    hint = () if state.answers else (phrases.say("eye.keys"),)
    wrong = (phrases.say("eye.refused", pressed=_shown(state.refused)),) if state.refused else ()
    return (*wrong, state.question.words, f"  {choices}", *hint)


def entered_line(state: EyeKeys, phrases: Phrases) -> str:
    """What was entered, in one line; nothing else is named."""
    words = [choice.words for choice in state.entered]
    return phrases.say("eye.entered", entered=", ".join(words)) if words else phrases.say("eye.nothing")


def _needed(pattern: Pattern, mode: Mode) -> Sequence[Asked]:
    """Which questions make sense: of the feet only where they made the rhythm and leave the floor."""
    on_feet = mode in (Mode.FEET, Mode.STEP)
    leaves_the_floor = on_feet and bool(demands(pattern))
    needed = {
        Asked.LEAD: on_feet and bool(pattern.side_means),
        Asked.SKILL: True,
        Asked.FEET: leaves_the_floor,
        Asked.FLIGHT: leaves_the_floor,
        Asked.HELP: True,
    }
    return [asked for asked in Asked if needed[asked]]


def _question(asked: Asked, pattern: Pattern, phrases: Phrases) -> Question:
    choices = []
    for value in _VALUES[asked]:
        name = f"eye.{asked}.{value.name.lower()}"
        choices.append(Choice(phrases.say(f"{name}.key"), phrases.say(f"{name}.words"), value))
    words = phrases.say(f"eye.{asked}.ask", skill=pattern.title, side=pattern.side_means)
    return Question(asked, words, tuple(choices))


def _shown(key: str) -> str:
    return key if key.isprintable() else f"{key!r}"[1:-1]
