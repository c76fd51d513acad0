"""From the state to the view: what is on the page in each place, and which keys it has."""

from __future__ import annotations

from collections.abc import Sequence

from cuekit.patterns.schedule import make_schedule
from cuekit.records.lessons import Lesson
from cuekit.screen.desk import Seat, Standing
from cuekit.screen.picture import picture_of
from cuekit.screen.plan import Planned
from cuekit.screen.state import State
from cuekit.screen.view import (
    BACK_KEYS,
    MAIN_KEYS,
    STOP_KEYS,
    Action,
    Field,
    Kind,
    Part,
    Row,
    Value,
    View,
)
from cuekit.teaching.ladder import Ladder
from cuekit.telling.phrases import Phrases

_BACK = ("Escape", "b")
_TEXTS = "text."


def shown_learners(state: State, seats: Sequence[Seat], phrases: Phrases) -> View:
    """The list of codes; one key each."""
    tiles = [
        Action(
            "choose",
            "•" * len(seat.code) if state.hidden else seat.code,
            Part.CHOICE,
            keys=_digit(number),
            hint="".join(_digit(number)),
            values=(Value("code", seat.code),),
        )
        for number, seat in enumerate(seats, start=1)
    ]
    without = Action(
        "choose", phrases.say("learners.without"), Part.CHOICE, ("0",), "0", (Value("code", ""),)
    )
    lead = phrases.say("learners.lead" if seats else "learners.empty")
    new = Field("code", phrases.say("learners.new"), Kind.TEXT, "")
    return view_of(
        state,
        phrases,
        phrases.say("learners.title"),
        lead,
        actions=(*tiles, without, _more(phrases), *_anywhere(state, phrases)),
        fields=(new,),
    )


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
        lines.append(phrases.say("plan.words", code=_who(state), words=words))
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
        actions=(*_plan_keys(state, lesson, phrases), *_anywhere(state, phrases)),
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
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *_BACK), "Esc")
    return view_of(state, phrases, phrases.say("settings.title"), lead, actions=(back,), fields=fields)


def shown_steps(state: State, ladder: Ladder, phrases: Phrases) -> View:
    """The steps of the ladder; the teacher may take any."""
    tiles = [
        Action(
            "step",
            f"{step.number}. {step.task}",
            Part.CHOICE,
            _digit(step.number),
            values=(Value("key", step.key),),
        )
        for step in ladder.steps
    ]
    other = Action("skills", phrases.say("do.patterns"), Part.PLAIN, ("t",), "T")
    back = Action("back", phrases.say("do.back"), Part.PLAIN, _BACK, "Esc")
    lead = phrases.say("steps.lead", ladder=ladder.title)
    return view_of(state, phrases, phrases.say("steps.title"), lead, actions=(*tiles, other, back))


def shown_skills(state: State, skills: Sequence[tuple[str, str]], phrases: Phrases) -> View:
    """All patterns by name and title; the teacher may take any."""
    tiles = [
        Action("skill", words, Part.CHOICE, _digit(number), "".join(_digit(number)), (Value("name", name),))
        for number, (name, words) in enumerate(skills, start=1)
    ]
    back = Action("back", phrases.say("do.back"), Part.PLAIN, _BACK, "Esc")
    return view_of(state, phrases, phrases.say("steps.skills"), "", actions=(*tiles, back))


def shown_bout(state: State, phrases: Phrases) -> View:
    """While it runs: the picture, and a stop key that every key presses."""
    stop = Action("stop", phrases.say("do.stop"), Part.STOP, STOP_KEYS, "")
    return view_of(
        state, phrases, phrases.say("bout.title"), state.running, actions=(stop,), picture=state.picture
    )


def shown_help(state: State, phrases: Phrases) -> View:
    """What the numbers are and what cannot be told, one step away from anywhere."""
    keys = ("feet", "soft", "row", "share", "tempo", "spread", "few", "not")
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *_BACK, "?"), "Esc")
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


def shown_reason(state: State, phrases: Phrases) -> View:
    """Why a bout does not count: asked before it is voided."""
    back = Action("back", phrases.say("do.back"), Part.PLAIN, ("Escape",), "Esc")
    field = Field("reason", phrases.say("set.reason"), Kind.TEXT, "")
    title = phrases.say("history.why_void", number=state.bout)
    return view_of(state, phrases, title, "", actions=(back,), fields=(field,))


def shown_history(
    state: State, lead: str, lines: tuple[str, ...], plot: str, rows: tuple[Row, ...], phrases: Phrases
) -> View:
    """Bouts so far, the newest first, the goal's plot, and the pages to print."""
    columns = [phrases.say(f"history.{key}") for key in ("number", "when", "what", "found", "seen")]
    papers = [
        Action("paper", phrases.say(f"do.{name}"), Part.PLAIN, opens=f"/paper/{name}")
        for name in ("family", "team")
    ]
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *_BACK), "Esc")
    return view_of(
        state,
        phrases,
        phrases.say("history.title"),
        lead,
        lines=lines,
        plot=plot,
        columns=(*columns, phrases.say("set.reason")),
        rows=rows,
        actions=(back, *(papers if plot else ()), *_anywhere(state, phrases)),
    )


def page_texts(phrases: Phrases) -> tuple[Value, ...]:
    """The words the page needs beside those of a view."""
    found = (key for key in phrases.sentences if key.startswith(_TEXTS))
    return tuple(Value(key.removeprefix(_TEXTS), phrases.sentences[key]) for key in found)


def shown_more(state: State, lesson: Lesson | None, phrases: Phrases) -> View:
    """What is seldom needed, a tile each."""
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *_BACK), "Esc")
    off = (Action("child_off", phrases.say("do.child_off"), Part.CHOICE),) if state.code else ()
    tiles = (*_seldom(state, lesson, Part.CHOICE, phrases), *off, *_anywhere(state, phrases, Part.CHOICE))
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
        Action("learners", phrases.say("do.learners"), Part.PLAIN, _BACK, "Esc"),
        _more(phrases),
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


def _anywhere(state: State, phrases: Phrases, role: Part = Part.QUIET) -> tuple[Action, ...]:
    """Keys that are in most places."""
    hide = phrases.say("do.show" if state.hidden else "do.hide")
    return (
        Action("hide", hide, role, ("h",), "H", pressed=state.hidden),
        Action("help", phrases.say("do.help"), role, ("?",), "?"),
        Action("language", phrases.say("do.language"), role),
    )


def _more(phrases: Phrases) -> Action:
    return Action("more", phrases.say("do.more"), Part.PLAIN, ("m",), "M")


def _digit(number: int) -> tuple[str, ...]:
    """The key of the first nine tiles."""
    return (str(number),) if number < 10 else ()


def _who(state: State) -> str:
    return "" if state.hidden else state.code


def view_of(state: State, phrases: Phrases, title: str, lead: str, **rest: object) -> View:
    """A view with what all have in common: the learner, the message, the words of the page."""
    return View(
        state.at.value,
        phrases.language,
        title,
        who=_who(state),
        lead=lead,
        message=state.message,
        texts=page_texts(phrases),
        **rest,
    )
