"""A goal and its standing in plain words, from the report's sentences of one language."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from cuekit.errors import CuekitError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.goals import Evaluation, Goal, Standing, running
from cuekit.telling.phrases import Phrases

RUNNING_SHOWN = 16
"""Bouts of which the running count is told, the last ones."""


def goal_text(goal: Goal, skill: str, phrases: Phrases) -> str:
    """Condition, behaviour, criterion and how it is measured, in full sentences.

    Args:
        goal: the goal.
        skill: title of the pattern, "Gallop".
        phrases: the sentences of the report.
    """
    spread, days = goal.spread_at_most_percent, counted("day_different", goal.criterion.days, phrases)
    parts = [
        phrases.say("goal.condition", cue=cues(goal, phrases), help=helps(goal, phrases)),
        phrases.say(
            f"goal.behaviour.{goal.measure}",
            code=goal.learner,
            skill=skill.lower(),
            mode=phrases.say(f"mode.{goal.mode}"),
            each=_sides(goal, phrases),
            n=goal.at_least,
        ),
        "" if spread is None else phrases.say("goal.spread", spread=f"{spread:g}"),
        phrases.say("goal.criterion", met=goal.criterion.met, of=goal.criterion.of, days=days),
        phrases.say("goal.measured_eye" if goal.eye_needed else "goal.measured"),
    ]
    return " ".join(part for part in parts if part)


def _sides(goal: Goal, phrases: Phrases) -> str:
    """On which sides the criterion is to be reached; empty where they are not kept apart."""
    if not goal.sides:
        return ""
    if len(goal.sides) > 1:
        return phrases.say("goal.each_side", sides=phrases.say("side.each"))
    return phrases.say("goal.one_side", side=phrases.say(f"side.{goal.sides[0]}"))


def standing_text(evaluation: Evaluation, standing: Standing, phrases: Phrases) -> str:
    """Where a goal stands on one side: "4 of the last 5 bouts met, on 2 days (3 needed)"."""
    rule = evaluation.goal.criterion
    side = "" if standing.side is None else phrases.say(f"side.{standing.side}") + ": "
    if not standing.counted:
        return side + phrases.say("standing.none")
    text = phrases.say(
        "standing.last",
        met=standing.last_met,
        of=standing.last_of,
        days=counted("day", standing.last_days, phrases),
        need_met=rule.met,
        need_of=rule.of,
        need_days=counted("day", rule.days, phrases),
    )
    if standing.reached_on is not None:
        text += " " + phrases.say("standing.reached", day=standing.reached_on.isoformat())
    return side + text


def running_text(evaluation: Evaluation, standing: Standing, phrases: Phrases) -> str:
    """How many of each five in a row were met, for the last bouts; empty where nothing counts."""
    of = evaluation.goal.criterion.of
    counts = running(standing.counted, of)[-RUNNING_SHOWN:]
    return phrases.say("standing.running", of=of, counts=", ".join(map(str, counts))) if counts else ""


def title_of(pattern: str, folders: Sequence[Path] = (), language: str = "en") -> str:
    """Title of a stored pattern's name; the name itself where its file is no longer there."""
    try:
        return load_pattern(pattern, language=language, folders=folders).title
    except CuekitError:
        return pattern.capitalize()


def cues(goal: Goal, phrases: Phrases) -> str:
    """The cue levels of a goal in words."""
    return joined([phrases.say(f"cue.{level}") for level in goal.cue_levels], phrases)


def helps(goal: Goal, phrases: Phrases) -> str:
    """The help levels of a goal in words."""
    return joined([phrases.say(f"help.{level}") for level in goal.help_levels], phrases)


def counted(what: str, n: int, phrases: Phrases) -> str:
    """A number with its word: "1 day", "3 days"."""
    return phrases.say(f"count.{what}.one" if n == 1 else f"count.{what}.more", n=n)


def joined(words: Sequence[str], phrases: Phrases) -> str:
    """Words as one: "a, b or c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {phrases.say('word.or')} {words[-1]}"
