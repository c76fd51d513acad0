"""`cuekit goal`: a measurable goal, and where it stands by the stored bouts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from cuekit.cli.options import SideChoice, Whole, folders_option
from cuekit.cli.record_options import (
    BOUT,
    PERCENT,
    Day,
    OneOf,
    YesNo,
    code_argument,
    data_option,
    now,
    open_store,
)
from cuekit.errors import RecordError
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import HelpLevel, Mode
from cuekit.records.goal_steps import goal_of_step, proposed
from cuekit.records.goal_text import goal_text, running_text, standing_text, title_of
from cuekit.records.goals import Criterion, Goal, Measure, evaluate
from cuekit.records.learner import Learner
from cuekit.records.store import Entry, Store
from cuekit.teaching.ladder import Ladder
from cuekit.teaching.ladder_files import load_ladder
from cuekit.telling.phrases import load_phrases


@click.group()
def command() -> None:
    """Goals: condition, behaviour, criterion, how measured."""


@command.command()
@code_argument()
@click.option("--pattern", "name", metavar="NAME", help="The skill; the learner's own where left out.")
@click.option("--measure", type=OneOf(Measure), default=Measure.LONGEST_RUN, show_default=True)
@click.option("--at-least", type=Whole(1, 999), required=True, metavar="N", help="What a bout must reach.")
@click.option("--met", type=Whole(1, 50), default=4, show_default=True, help="How many bouts must be met.")
@click.option("--of", type=Whole(1, 50), default=5, show_default=True, help="Out of how many in a row.")
@click.option("--days", type=Whole(1, 50), default=2, show_default=True, help="On how many different days.")
@click.option(
    "--cue", "cue_levels", type=OneOf(CueLevel), multiple=True, required=True, help="Cue level; repeat it."
)
@click.option(
    "--help-level", "help_levels", type=OneOf(HelpLevel), multiple=True, default=("I",), show_default=True
)
@click.option("--mode", type=OneOf(Mode), default="feet", show_default=True)
@click.option(
    "--side", "sides", type=SideChoice(), multiple=True, help="Each side that must reach it; repeat it."
)
@click.option(
    "--eye", "eye_needed", type=YesNo(), default=True, show_default="yes", help="Whether the eye must say so."
)
@click.option("--spread", "spread_at_most_percent", type=PERCENT, help="Steadiness a bout must have.")
@click.option("--since", type=Day(), help="The first day that counts; today where left out.")
@click.option("--review", type=Day(), help="The day of the review.")
@click.option("--note", default="", metavar="TEXT")
@folders_option()
@data_option()
def add(
    code: str,
    name: str | None,
    met: int,
    of: int,
    days: int,
    since: date | None,
    cue_levels: tuple[CueLevel, ...],
    help_levels: tuple[HelpLevel, ...],
    sides: tuple[Side, ...],
    folders: tuple[Path, ...],
    folder: Path | None,
    **rest: object,
) -> None:
    """Set a goal for CODE and show it in words."""
    with open_store(folder) as store:
        skill = name or store.learner(code).noun.skill
        if not skill:
            raise RecordError(f"which skill? Give --pattern, or cuekit learner set {code} --skill gallop")
        pattern = load_pattern(skill, folders=folders)
        goal = Goal(
            code,
            pattern.name,
            criterion=Criterion(met, of, days),
            since=since or now().date(),
            cue_levels=tuple(dict.fromkeys(cue_levels)),
            help_levels=tuple(dict.fromkeys(help_levels)),
            sides=tuple(dict.fromkeys(sides)),
            **rest,
        )
        entry = store.add(goal)
    click.echo(f"Goal {entry.number}: {goal_text(goal, pattern.title, load_phrases('en', 'report'))}")


_LADDER = click.option(
    "--ladder", "name", metavar="SKILL", help="Which ladder; the learner's skill if left out."
)


@command.command()
@code_argument()
@_LADDER
@folders_option()
@data_option()
def templates(code: str, name: str | None, folders: tuple[Path, ...], folder: Path | None) -> None:
    """Show the steps of a ladder as goals for CODE, in full words; cuekit goal take sets one."""
    with open_store(folder) as store:
        learner = store.learner(code).noun
    ladder, phrases = _ladder(learner, name, folders), load_phrases("en", "report")
    for step, goal in proposed(ladder, learner, now().date()):
        click.echo(f"{step.key}: {goal_text(goal, title_of(goal.pattern, folders), phrases)}")


@command.command()
@code_argument()
@click.argument("which", metavar="STEP")
@_LADDER
@click.option("--since", type=Day(), help="The first day that counts; today where left out.")
@click.option("--review", type=Day(), help="The day of the review.")
@folders_option()
@data_option()
def take(
    code: str,
    which: str,
    name: str | None,
    since: date | None,
    review: date | None,
    folders: tuple[Path, ...],
    folder: Path | None,
) -> None:
    """Set the goal that a STEP of a ladder asks for."""
    with open_store(folder) as store:
        learner = store.learner(code).noun
        step = _ladder(learner, name, folders).step(which)
        entry = store.add(replace(goal_of_step(step, learner, since or now().date()), review=review))
    title = title_of(entry.noun.pattern, folders)
    click.echo(f"Goal {entry.number}: {goal_text(entry.noun, title, load_phrases('en', 'report'))}")


def _ladder(learner: Learner, name: str | None, folders: tuple[Path, ...]) -> Ladder:
    if not (name or learner.skill):
        raise RecordError(f"which ladder? Give --ladder, or cuekit learner set {learner.code} --skill gallop")
    return load_ladder(name or learner.skill, folders=folders)


@command.command("list")
@code_argument()
@folders_option()
@data_option()
def list_(code: str, folders: tuple[Path, ...], folder: Path | None) -> None:
    """Show the goals of CODE and where each stands."""
    phrases = load_phrases("en", "report")
    with open_store(folder) as store:
        store.learner(code)
        goals = store.entries(Goal, code)
        bouts = store.bouts(code)
    for entry in goals:
        evaluation = evaluate(entry.noun, bouts)
        title = title_of(entry.noun.pattern, folders)
        closed = " (closed)" if entry.noun.closed else ""
        click.echo(f"Goal {entry.number}{closed}: {goal_text(entry.noun, title, phrases)}")
        for standing in evaluation.standings:
            parts = [make(evaluation, standing, phrases) for make in (standing_text, running_text)]
            click.echo(f"  {_capital(' '.join(part for part in parts if part))}")
        for judged in evaluation.uncounted:
            click.echo(
                f"  bout {judged.kept.number} does not count: {phrases.say(f'uncounted.{judged.why}')}"
            )
    if not goals:
        click.echo(f"No goal for {code} yet: cuekit goal add {code} --at-least 6 --cue C4")


@command.command()
@click.argument("number", type=BOUT, metavar="GOAL")
@data_option()
def close(number: int, folder: Path | None) -> None:
    """Close a goal; it stays in the records."""
    with open_store(folder) as store:
        entry = _goal(store, number)
        store.add(replace(entry.noun, closed=True), about=entry.about)
    click.echo(f"Goal {number} is closed.")


def _goal(store: Store, number: int) -> Entry[Goal]:
    for entry in store.entries(Goal):
        if entry.number == number:
            return entry
    raise RecordError(f"no goal {number}: cuekit goal list CODE shows them with their numbers")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
