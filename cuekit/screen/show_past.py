"""Views of what is kept: the bouts so far, one of them being set right, and the goal."""

from __future__ import annotations

from cuekit.patterns.pattern import Pattern
from cuekit.records.goal_text import goal_text, standing_text, title_of
from cuekit.records.goals import Evaluation, Goal
from cuekit.screen.goal_fields import goal_fields
from cuekit.screen.mending import REASONS, Mending
from cuekit.screen.shelf import Goals
from cuekit.screen.show import BACK, anywhere, help_key, numbered, view_of, who_of
from cuekit.screen.sounds_plot import draw_sounds
from cuekit.screen.state import State
from cuekit.screen.view import BACK_KEYS, MAIN_KEYS, Action, Field, Kind, Part, Row, Value, View
from cuekit.teaching.ladder import LadderStep
from cuekit.telling.phrases import Phrases

_HIGHEST = 999


def shown_history(
    state: State, lead: str, lines: tuple[str, ...], plot: str, rows: tuple[Row, ...], phrases: Phrases
) -> View:
    """Bouts so far, the newest first, the goal's plot, and the pages to print."""
    columns = [phrases.say(f"history.{key}") for key in ("number", "when", "what", "found", "seen")]
    papers = [
        Action("paper", phrases.say(f"do.{name}"), Part.PLAIN, opens=f"/paper/{name}")
        for name in ("family", "team")
    ]
    back = Action("back", phrases.say("do.back"), Part.MAIN, (*MAIN_KEYS, *BACK), "Esc")
    goal = Action("goal", phrases.say("do.goal"), Part.PLAIN, ("g",), "G")
    return view_of(
        state,
        phrases,
        phrases.say("history.title"),
        lead,
        lines=lines,
        plot=plot,
        columns=(*columns, phrases.say("history.changed")),
        rows=rows,
        actions=(back, goal, *(papers if plot else ()), *anywhere(state, phrases)),
    )


def shown_mend(state: State, mending: Mending, phrases: Phrases) -> View:
    """A bout being set right: its sounds, one of them chosen, and what was counted by eye."""
    number, sounds = mending.kept.number, mending.sounds()
    many = len(mending.struck)
    lines = [phrases.say("struck.one" if many == 1 else "struck.more", n=many)] if many else []
    heard = mending.score is not None
    title = phrases.say("mend.title", number=number)
    return view_of(
        state,
        phrases,
        title,
        _sound_in_words(mending, phrases) if sounds else phrases.say("mend.by_hand"),
        lines=(*([mending.score.advice.summary] if heard else []), *lines),
        fields=tuple(_count_field(mending, field, phrases) for field in mending.fields),
        actions=(*_mending_keys(mending, phrases), *_ways_out(mending, phrases)),
        drawing=draw_sounds(mending, title) if sounds else "",
    )


def _mending_keys(mending: Mending, phrases: Phrases) -> tuple[Action, ...]:
    """Walk along the sounds, and strike the chosen one out."""
    if not mending.chosen:
        return ()
    out = mending.chosen in mending.struck
    return (
        Action("sound_before", phrases.say("do.sound_before"), Part.PLAIN, ("ArrowLeft", *BACK_KEYS), "←"),
        Action("strike", phrases.say("do.strike"), Part.PLAIN, ("Space", "x"), "Space", pressed=out),
        Action("sound_on", phrases.say("do.sound_on"), Part.PLAIN, ("ArrowRight", "PageDown"), "→"),
    )


def _ways_out(mending: Mending, phrases: Phrases) -> tuple[Action, ...]:
    number = (Value("number", str(mending.kept.number)),)
    void = Action("void", phrases.say("do.void"), Part.PLAIN, ("v",), "V", number)
    return (
        Action("mended", phrases.say("do.mended"), Part.MAIN, ("Enter",), "Enter"),
        *((void,) if mending.kept.void_reason is None and mending.score is None else ()),
        Action("back", phrases.say("do.back"), Part.PLAIN, BACK, "Esc"),
        help_key(phrases),
    )


def _sound_in_words(mending: Mending, phrases: Phrases) -> str:
    """Which sound is chosen, and where it stands."""
    sounds = mending.sounds()
    one = sounds[mending.chosen - 1]
    if one.struck:
        where = phrases.say("mend.struck")
    elif one.beat is None:
        where = phrases.say("mend.nowhere")
    else:
        where = phrases.say("mend.short" if one.short else "mend.lead", beat=one.beat)
    return phrases.say("mend.sound", number=one.number, many=len(sounds), where=where)


def _count_field(mending: Mending, field: str, phrases: Phrases) -> Field:
    label = phrases.say(f"mend.{field}")
    return Field(field, label, Kind.NUMBER, mending.count(field), 0, _HIGHEST, 1)


def shown_reason(state: State, phrases: Phrases) -> View:
    """Why a bout is changed or does not count: asked before it is done."""
    back = Action("back", phrases.say("do.back"), Part.PLAIN, ("Escape",), "Esc")
    tiles = [
        Action("because", phrases.say(f"reason.{key}"), Part.CHOICE, values=(Value("key", key),))
        for key in REASONS
    ]
    field = Field("reason", phrases.say("set.reason"), Kind.TEXT, "")
    title = phrases.say("history.why_void" if state.mending is None else "mend.why", number=state.bout)
    return view_of(state, phrases, title, "", actions=(*numbered(tiles, (back,)), back), fields=(field,))


def shown_goal(state: State, goals: Goals, phrases: Phrases, pages: Phrases) -> View:
    """The goal and where it stands, and those that the ladder proposes; `pages` are the report's phrases."""
    close = Action("goal_close", phrases.say("do.goal_close"), Part.PLAIN, ("x",), "X")
    others = (
        *((close,) if goals.now else ()),
        Action("back", phrases.say("do.back"), Part.PLAIN, BACK, "Esc"),
    )
    tiles = [_goal_tile(step, goal, phrases, pages) for step, goal in goals.steps]
    lead = phrases.say("goal.none") if goals.now is None else ""
    return view_of(
        state,
        phrases,
        phrases.say("goal.title"),
        lead,
        lines=_goal_lines(goals.now, state, pages) if goals.now else (),
        asked=phrases.say("goal.choose") if tiles else "",
        actions=(*numbered(tiles, others), *others),
    )


def shown_goal_set(state: State, goal: Goal, pattern: Pattern, phrases: Phrases, pages: Phrases) -> View:
    """A goal being set, in full words."""
    actions = (
        Action("goal_keep", phrases.say("do.goal_keep"), Part.MAIN, MAIN_KEYS, "Space"),
        Action("back", phrases.say("do.back"), Part.PLAIN, (*BACK, *BACK_KEYS), "Esc"),
    )
    return view_of(
        state,
        phrases,
        phrases.say("goal.set"),
        "",
        lines=(_words_of(goal, state, pages),),
        fields=goal_fields(goal, pattern, phrases),
        actions=actions,
    )


def standing_lines(now: Evaluation, pages: Phrases) -> tuple[str, ...]:
    """Where a goal stands, a sentence for each side; `pages` are the report's phrases."""
    standings = (standing_text(now, one, pages) for one in now.standings)
    return tuple(one[:1].upper() + one[1:] for one in standings)


def _goal_lines(now: Evaluation, state: State, pages: Phrases) -> tuple[str, ...]:
    return (_words_of(now.goal, state, pages), *standing_lines(now, pages))


def _words_of(goal: Goal, state: State, pages: Phrases) -> str:
    """The goal in full; the code only where codes are shown."""
    words = goal_text(goal, title_of(goal.pattern, language=pages.language), pages)
    return words if who_of(state) else words.replace(goal.learner, "•" * len(goal.learner))


def _goal_tile(step: LadderStep, goal: Goal, phrases: Phrases, pages: Phrases) -> Action:
    words = phrases.say(
        "goal.tile",
        task=step.task,
        n=goal.at_least,
        measure=pages.say(f"measure.{goal.measure}"),
    )
    return Action("goal_step", words, Part.CHOICE, values=(Value("key", step.key),))
