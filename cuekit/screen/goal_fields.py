"""What can be set of a goal, as fields of the page; whatever is set, the goal stays one that can be met."""

from __future__ import annotations

from dataclasses import replace

from cuekit.errors import RecordError
from cuekit.patterns.pattern import Pattern, Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import HelpLevel
from cuekit.records.goals import Criterion, Goal
from cuekit.screen.view import Field, Kind, Option
from cuekit.telling.phrases import Phrases

MOST_BEATS, MOST_BOUTS = 60, 20
_LEVELS = (CueLevel.C5, CueLevel.C4, CueLevel.C3, CueLevel.C2, CueLevel.C1)
_HELP = tuple(level for level in HelpLevel if level is not HelpLevel.FP)
"""Bouts with full physical help never count as met."""
_EACH = "each"


def goal_fields(goal: Goal, pattern: Pattern, phrases: Phrases) -> tuple[Field, ...]:
    """The fields: what a bout must reach, how often, and under which conditions it counts."""
    say, rule = phrases.say, goal.criterion

    def number(name: str, value: int, most: int) -> Field:
        return Field(name, say(f"set.{name}"), Kind.NUMBER, str(value), 1, most, 1)

    def choice(name: str, value: str, options: tuple[Option, ...]) -> Field:
        return Field(name, say(f"set.{name}"), Kind.CHOICE, value, options=options)

    levels = tuple(Option(level.value, say(f"cue.{level}")) for level in _LEVELS)
    helps = tuple(Option(level.value, say(f"help.{level}")) for level in _HELP)
    sides = (Option("", say("set.side_any")), *(Option(one.value, say(f"side.{one}")) for one in Side))
    sides += (Option(_EACH, say("set.side_each")),)
    side = _EACH if len(goal.sides) > 1 else (goal.sides[0].value if goal.sides else "")
    return (
        number("at_least", goal.at_least, max(MOST_BEATS, goal.at_least)),
        number("met", rule.met, MOST_BOUTS),
        number("of", rule.of, MOST_BOUTS),
        number("days", rule.days, MOST_BOUTS),
        choice("goal_cue", goal.cue_levels[0].value, levels),
        choice("goal_help", goal.help_levels[0].value, helps),
        *((choice("goal_side", side, sides),) if pattern.side_means else ()),
        Field("eye", say("set.eye"), Kind.SWITCH, "true" if goal.eye_needed else "false"),
    )


def changed_goal(goal: Goal, name: str, value: str) -> Goal:
    """The goal with one thing set, as the page sends it.

    Raises:
        RecordError: there is no such thing, or it cannot have that value.
    """
    try:
        match name:
            case "at_least":
                return replace(goal, at_least=_number(value, MOST_BEATS))
            case "met" | "of" | "days":
                return replace(goal, criterion=_criterion(goal.criterion, name, _number(value, MOST_BOUTS)))
            case "goal_cue":
                return replace(goal, cue_levels=(CueLevel(value),))
            case "goal_help":
                return replace(goal, help_levels=(HelpLevel(value),))
            case "goal_side":
                return replace(goal, sides=tuple(Side) if value == _EACH else (Side(value),) if value else ())
            case "eye" if value in ("true", "false"):
                return replace(goal, eye_needed=value == "true")
    except ValueError:
        pass
    raise RecordError(f'"{name[:40]}" of a goal cannot be "{value[:40]}": choose another')


def _criterion(rule: Criterion, name: str, number: int) -> Criterion:
    """The criterion with one number set; the others give way, so that days <= met <= bouts."""
    if name == "of":
        met = min(rule.met, number)
        return Criterion(met, number, min(rule.days, met))
    if name == "met":
        return Criterion(number, max(rule.of, number), min(rule.days, number))
    met = max(rule.met, number)
    return Criterion(met, max(rule.of, met), number)


def _number(text: str, most: int) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 4 and 1 <= int(text) <= most):
        raise ValueError(text)
    return int(text)
