"""After a bout: the one sentence, the feet drawn, the questions for the eye, and what the child sees."""

from __future__ import annotations

from collections.abc import Iterator

from cuekit.records.eye_keys import LEAVE_ALL_OUT, Question
from cuekit.screen.show import help_key, view_of
from cuekit.screen.state import State, Told
from cuekit.screen.view import BACK_KEYS, MAIN_KEYS, Action, ChildPicture, Part, Value, View
from cuekit.telling.child_view import ChildView
from cuekit.telling.phrases import Phrases


def shown_told(state: State, phrases: Phrases) -> View:
    """The one sentence, the bout drawn, and the questions for the eye, one key each."""
    told = state.told
    question = told.eye.question if told.eye is not None else None
    return view_of(
        state,
        phrases,
        phrases.say("told.title"),
        told.lines[0],
        lines=(*(line.strip() for line in told.lines[1:]), _kept(told.numbers, phrases)),
        asked=phrases.say("told.eye", question=question.words) if question else "",
        actions=_eye_keys(question, phrases) if question else _after(state, phrases),
        drawing=told.feet,
    )


def shown_child(state: State, child: ChildView, phrases: Phrases) -> View:
    """Pictures for the child; any of the keys goes back."""
    back = Action("back", phrases.say("do.back"), Part.PLAIN, (*MAIN_KEYS, *BACK_KEYS, "Escape"), "")
    pictures = ChildPicture(child.filled, child.pictures, child.words)
    return view_of(state, phrases, phrases.say("child.title"), "", actions=(back,), child=pictures)


def _eye_keys(question: Question, phrases: Phrases) -> tuple[Action, ...]:
    """The answers, one key each; the big key leaves the question out."""
    answers = (
        Action("eye", one.words, Part.CHOICE, (one.key,), one.key.upper(), (Value("key", one.key),))
        for one in question.choices
    )
    return (
        *answers,
        Action("leave_out", phrases.say("do.leave_out"), Part.MAIN, MAIN_KEYS, "Space"),
        Action("take_back", phrases.say("do.take_back"), Part.PLAIN, ("Backspace",), "←"),
        Action("leave_all", phrases.say("do.leave_all"), Part.PLAIN, (LEAVE_ALL_OUT,), LEAVE_ALL_OUT.upper()),
        _replay(phrases),
        Action("child", phrases.say("do.child"), Part.PLAIN),
        Action("back", phrases.say("do.back"), Part.PLAIN, ("Escape",), "Esc"),
        help_key(phrases),
    )


def _after(state: State, phrases: Phrases) -> tuple[Action, ...]:
    """Keys once nothing more is asked."""
    keys = [
        Action(
            "back",
            phrases.say("do.back" if state.told.earlier else "do.next"),
            Part.MAIN,
            (*MAIN_KEYS, "Escape"),
            "Space",
        ),
        _replay(phrases),
        Action("go", phrases.say("do.again"), Part.PLAIN, ("a",), "A"),
        Action("child", phrases.say("do.child"), Part.PLAIN, ("c",), "C"),
    ]
    if state.told.numbers:
        keys += [*_of_a_kept_bout(state.told, phrases)]
    return (
        *keys,
        Action("paper", phrases.say("do.print"), Part.PLAIN, opens="/paper/bout"),
        help_key(phrases),
    )


def _of_a_kept_bout(told: Told, phrases: Phrases) -> Iterator[Action]:
    """What can be done about a bout that is kept; of several at once, each is found in the list."""
    if len(told.numbers) == 1:
        values = (Value("number", str(told.numbers[0])),)
        yield Action("mend", phrases.say("do.mend"), Part.PLAIN, ("x",), "X")
        yield Action("void", phrases.say("do.void"), Part.PLAIN, ("v",), "V", values)
    yield Action("ask_again", phrases.say("do.ask_again"), Part.PLAIN, ("e",), "E")
    if not told.earlier:
        yield Action("take_back", phrases.say("do.take_back"), Part.QUIET, ("Backspace",))
    yield Action("history", phrases.say("do.history"), Part.PLAIN, ("y",), "Y")


def _replay(phrases: Phrases) -> Action:
    return Action("replay", phrases.say("do.replay"), Part.PLAIN, BACK_KEYS, "Page Up")


def _kept(numbers: tuple[int, ...], phrases: Phrases) -> str:
    if not numbers:
        return phrases.say("told.not_stored")
    return phrases.say("told.stored", numbers=", ".join(map(str, numbers)))
