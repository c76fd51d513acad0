"""From the state to the view: what is on the page in each place, and which keys it has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cuekit.patterns.schedule import make_schedule
from cuekit.records.lessons import Lesson
from cuekit.screen.desk import Standing
from cuekit.screen.picture import picture_of
from cuekit.screen.plan import Planned
from cuekit.screen.state import State
from cuekit.screen.view import (
    BACK_KEYS,
    MAIN_KEYS,
    STOP_KEYS,
    Action,
    Field,
    Part,
    Value,
    View,
)
from cuekit.telling.phrases import Phrases

BACK = ("Escape", "b")
_TEXTS = "text."


def shown_plan(
    state: State,
    standing: Standing | None,
    cautions: tuple[str, ...],
    lesson: Lesson | None,
    words: str,
    phrases: Phrases,
) -> View:
    """What comes next, why, and the keys to hear it and to go."""
    planned = state.planned
    lines = [bout_in_words(planned, phrases)]
    if standing is not None:
        lines += standing.lines[1:]
    if words:
        lines.append(phrases.say("plan.words", code=who_of(state), words=words))
    if lesson is not None:
        lines.append(phrases.say("plan.lesson", at=f"{lesson.start:%H:%M}"))
    lead = standing.lines[0] if standing is not None else phrases.say("plan.free")
    return view_of(
        state,
        phrases,
        planned.pattern.title,
        lead,
        lines=tuple(lines),
        cautions=cautions,
        actions=(*_plan_keys(state, lesson, phrases), *anywhere(state, phrases)),
        picture=picture_of(make_schedule(planned.pattern, planned.plan), planned.marker),
    )


def bout_in_words(planned: Planned, phrases: Phrases) -> str:
    """A bout to come, in one line."""
    side = planned.pattern.side
    return phrases.say(
        "plan.bout" if planned.sounds else "plan.silent",
        skill=planned.pattern.title,
        side=phrases.say("plan.side", side=phrases.say(f"side.{side}")) if planned.pattern.side_means else "",
        beats=planned.beats,
        tempo=f"{planned.tempo_bpm:g}",
        cue=phrases.say(f"cue.{planned.level}"),
    )


def shown_settings(state: State, fields: tuple[Field, ...], phrases: Phrases) -> View:
    """What can be changed of the bout to come."""
    lead = bout_in_words(state.planned, phrases)
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *BACK), "Esc")
    return view_of(state, phrases, phrases.say("settings.title"), lead, actions=(back,), fields=fields)


def shown_bout(state: State, phrases: Phrases) -> View:
    """While it runs: the picture, and a stop key that every key presses."""
    stop = Action("stop", phrases.say("do.stop"), Part.STOP, STOP_KEYS, "")
    picture = state.picture
    going = gone = ""
    if picture is not None and picture.says:
        going, gone = phrases.say(f"bout.{picture.says}"), phrases.say("bout.gone") if picture.cued else ""
    return view_of(
        state,
        phrases,
        phrases.say("bout.title"),
        state.running,
        actions=(stop,),
        picture=picture,
        going=going,
        gone=gone,
    )


def shown_help(state: State, phrases: Phrases) -> View:
    """What the numbers are and what cannot be told, one step away from anywhere."""
    keys = ("feet", "soft", "row", "share", "tempo", "spread", "few", "not")
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *BACK, "?"), "Esc")
    lines = tuple(phrases.say(f"help_page.{key}") for key in keys)
    lead = phrases.say("help_page.lead")
    return view_of(state, phrases, phrases.say("help_page.title"), lead, lines=lines, actions=(back,))


def shown_blank(phrases: Phrases) -> View:
    """Nothing of anybody, until a key is pressed."""
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *BACK_KEYS, "Escape"), "")
    return View(
        "blank",
        phrases.language,
        phrases.say("blank.title"),
        lead=phrases.say("blank.lead"),
        actions=(back,),
        texts=page_texts(phrases),
    )


def page_texts(phrases: Phrases) -> tuple[Value, ...]:
    """The words the page needs beside those of a view."""
    found = (key for key in phrases.sentences if key.startswith(_TEXTS))
    return tuple(Value(key.removeprefix(_TEXTS), phrases.sentences[key]) for key in found)


def shown_more(state: State, lesson: Lesson | None, child_view: bool, phrases: Phrases) -> View:
    """What is seldom needed, a tile each; `child_view`: whether the child is shown a view of their own."""
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *BACK), "Esc")
    name = "child_off" if child_view else "child_on"
    of_a_learner = (
        Action("goal", phrases.say("do.goal"), Part.CHOICE, ("g",), "G"),
        Action(name, phrases.say(f"do.{name}"), Part.CHOICE, ("c",), "C"),
    )
    tiles = (
        *_seldom(state, lesson, Part.CHOICE, phrases),
        *(of_a_learner if state.code else ()),
        *anywhere(state, phrases, Part.CHOICE),
    )
    return view_of(state, phrases, phrases.say("do.more"), "", actions=(*tiles, back))


def _plan_keys(state: State, lesson: Lesson | None, phrases: Phrases) -> tuple[Action, ...]:
    def plain(name: str, key: str) -> Action:
        return Action(name, phrases.say(f"do.{name}"), Part.PLAIN, (key,), key.upper())

    of_a_learner = (plain("history", "y"), plain("next_learner", "n")) if state.code else ()
    return (
        Action("go", phrases.say("do.go"), Part.MAIN, MAIN_KEYS, "Space"),
        Action("hear", phrases.say("do.hear"), Part.PLAIN, (*BACK_KEYS, "p"), "P"),
        plain("listen", "f"),
        plain("settings", "s"),
        plain("steps", "t"),
        *of_a_learner,
        Action("learners", phrases.say("do.learners"), Part.PLAIN, BACK, "Esc"),
        more(phrases),
        *_seldom(state, lesson, Part.QUIET, phrases),
    )


def _seldom(state: State, lesson: Lesson | None, role: Part, phrases: Phrases) -> tuple[Action, ...]:
    """Checks, and the clock of the lesson."""
    checks = (
        Action("room", phrases.say("do.room"), role, ("r",), "R"),
        Action("check", phrases.say("do.check"), role, ("k",), "K"),
    )
    if not state.code:
        return checks
    words = phrases.say("do.lesson_stop" if lesson else "do.lesson_start")
    return (*checks, Action("lesson", words, role, ("l",), "L", pressed=lesson is not None))


def anywhere(state: State, phrases: Phrases, role: Part = Part.QUIET) -> tuple[Action, ...]:
    """Keys that are in most places."""
    hide = phrases.say("do.show" if state.hidden else "do.hide")
    return (
        Action("hide", hide, role, ("h",), "H", pressed=state.hidden),
        help_key(phrases, Part.TOP if role is Part.QUIET else role),
        Action("language", phrases.say("do.language"), role),
    )


def help_key(phrases: Phrases, role: Part = Part.TOP) -> Action:
    """The key to what a microphone cannot tell, one step away from everywhere."""
    return Action("help", phrases.say("do.help"), role, ("?",), "?")


def more(phrases: Phrases) -> Action:
    """The key to what is seldom needed."""
    return Action("more", phrases.say("do.more"), Part.PLAIN, ("m",), "M")


def numbered(tiles: Sequence[Action], others: Sequence[Action]) -> tuple[Action, ...]:
    """Tiles with a key each: the nine digits, then the letters that no other action has.

    Any further tile is reached by the arrow keys and the clicker, which walk from tile to tile.
    """
    taken = {key for other in others for key in other.keys}
    free = [key for key in "123456789abcdefghijklmnopqrstuvwxyz" if key not in taken]
    keys = [(key,) for key in free[: len(tiles)]] + [()] * max(0, len(tiles) - len(free))
    return tuple(
        replace(tile, keys=key, hint="".join(key).upper()) for tile, key in zip(tiles, keys, strict=True)
    )


def who_of(state: State) -> str:
    """The code to be shown; empty where codes are hidden."""
    return "" if state.hidden else state.code


def view_of(state: State, phrases: Phrases, title: str, lead: str, **rest: object) -> View:
    """A view with what all have in common: the learner, the message, the words of the page."""
    return View(
        state.at.value,
        phrases.language,
        title,
        who=who_of(state),
        lead=lead,
        message=state.message,
        texts=page_texts(phrases),
        **rest,
    )
