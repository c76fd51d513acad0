"""A goal as a family reads it: what the child does, how, and when it is reached; no words of a plan."""

from __future__ import annotations

from cuekit.records.goal_text import counted, cues, helps
from cuekit.records.goals import Goal
from cuekit.telling.phrases import Phrases


def plain_goal(goal: Goal, skill: str, phrases: Phrases) -> str:
    """The goal in three or four short sentences.

    Args:
        goal: the goal.
        skill: title of the pattern, "Gallop".
        phrases: the sentences of the report.
    """
    spread, rule = goal.spread_at_most_percent, goal.criterion
    does = phrases.say(
        f"plain.{goal.measure}",
        code=goal.learner,
        skill=skill.lower(),
        mode=phrases.say(f"mode.{goal.mode}"),
        n=goal.at_least,
    )
    parts = [
        does,
        phrases.say("plain.how", cue=cues(goal, phrases), help=helps(goal, phrases)),
        "" if spread is None else phrases.say("goal.spread", spread=f"{spread:g}"),
        _sides_told(goal, phrases),
        phrases.say(
            "plain.reached", met=rule.met, of=rule.of, days=counted("day_different", rule.days, phrases)
        ),
    ]
    return " ".join(part for part in parts if part)


def _sides_told(goal: Goal, phrases: Phrases) -> str:
    """On which sides; empty where they are not kept apart."""
    if len(goal.sides) == 1:
        return phrases.say("plain.one_side", side=phrases.say(f"side.{goal.sides[0]}"))
    return phrases.say("plain.each_side") if goal.sides else ""
