"""Views in which one of several is chosen: a learner, a step, a skill."""

from __future__ import annotations

from collections.abc import Sequence

from cuekit.screen.desk import Seat
from cuekit.screen.show import BACK, anywhere, more, numbered, view_of
from cuekit.screen.state import State
from cuekit.screen.view import Action, Field, Kind, Part, Value, View
from cuekit.teaching.ladder import Ladder
from cuekit.telling.phrases import Phrases


def shown_learners(state: State, seats: Sequence[Seat], phrases: Phrases) -> View:
    """The list of codes; one key each."""
    tiles = [
        Action(
            "choose",
            "•" * len(seat.code) if state.hidden else seat.code,
            Part.CHOICE,
            values=(Value("code", seat.code),),
        )
        for seat in seats
    ]
    none = (Value("code", ""),)
    without = Action("choose", phrases.say("learners.without"), Part.CHOICE, ("0",), "0", none)
    others = (without, more(phrases), *anywhere(state, phrases))
    lead = phrases.say("learners.lead" if seats else "learners.empty")
    new = Field("code", phrases.say("learners.new"), Kind.TEXT, "")
    title = phrases.say("learners.title")
    return view_of(state, phrases, title, lead, actions=(*numbered(tiles, others), *others), fields=(new,))


def shown_steps(state: State, ladder: Ladder, phrases: Phrases) -> View:
    """The steps of the ladder; the teacher may take any."""
    tiles = [
        Action("step", f"{step.number}. {step.task}", Part.CHOICE, values=(Value("key", step.key),))
        for step in ladder.steps
    ]
    other = Action("skills", phrases.say("do.patterns"), Part.PLAIN, ("t",), "T")
    others = (other, _back(phrases))
    lead = phrases.say("steps.lead", ladder=ladder.title)
    title = phrases.say("steps.title")
    return view_of(state, phrases, title, lead, actions=(*numbered(tiles, others), *others))


def shown_skills(state: State, skills: Sequence[tuple[str, str]], phrases: Phrases) -> View:
    """All patterns by name and title; the teacher may take any."""
    tiles = [Action("skill", words, Part.CHOICE, values=(Value("name", name),)) for name, words in skills]
    others = (_back(phrases),)
    title = phrases.say("steps.skills")
    return view_of(state, phrases, title, "", actions=(*numbered(tiles, others), *others))


def _back(phrases: Phrases) -> Action:
    return Action("back", phrases.say("do.back"), Part.PLAIN, BACK, "Esc")
