"""Options and types of the commands that keep records."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any

import click

from cuekit.cli.options import Code, Decimal, Decorator, SideChoice, Whole
from cuekit.cli.options import data_option as data_option
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_syntax import shown_value
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import CueKind, EyeMark, Feet, HelpLevel, Mode, Seen
from cuekit.records.copied_folder import advice
from cuekit.records.ladder_records import PROBE
from cuekit.records.store import Store
from cuekit.records.store_check import unseen_since
from cuekit.records.store_waiting import open_store as open_store
from cuekit.teaching.ladder_files import key_of_step, list_ladders

REMIND_AFTER_DAYS = 365
"""After so long without anything new, it is asked whether records are still needed (proposal)."""

COUNT = Whole(0, 9999)
MINUTES = Whole(0, 24 * 60, "minutes")
PERCENT = Decimal(0, 100, "%")
BOUT = Whole(1, 999_999_999)
"""A bout by the number that `cuekit bouts` shows."""


STEP_HELP = "Step of the skill's ladder: its number or name, such as gallop-alone."


class OneOf(click.ParamType):
    """One of the words of a list, in any case; the first letters will do where they are plain."""

    def __init__(self, words: type[StrEnum]) -> None:
        self.words = words
        self.name = "|".join(words)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> StrEnum:
        """The word."""
        wanted = _spaced(str(value))
        known = {_spaced(word.value): word for word in self.words}
        close = [word for text, word in known.items() if wanted and text.startswith(wanted)]
        if wanted in known or len(close) == 1:
            return known.get(wanted) or close[0]
        self.fail(f"expected one of {', '.join(self.words)}, got {shown_value(value)}", param, ctx)


def _spaced(text: str) -> str:
    return " ".join(text.lower().replace("-", " ").split())


class YesNo(click.ParamType):
    """yes or no."""

    name = "yes|no"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> bool:
        """Whether it is yes."""
        if isinstance(value, bool):
            return value
        if value.lower() not in ("yes", "no"):
            self.fail(f"expected yes or no, got {shown_value(value)}", param, ctx)
        return value.lower() == "yes"


class Day(click.ParamType):
    """A day, 2026-03-02."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """The day."""
        if isinstance(value, date):
            return value
        try:
            if re.fullmatch(r"\d{4}-\d\d-\d\d", value, re.ASCII):
                return date.fromisoformat(value)
        except ValueError:
            pass
        self.fail(f"expected a day such as 2026-03-02, got {shown_value(value)}", param, ctx)


class Moment(click.ParamType):
    """A day, or a day and a time where the teacher is: 2026-03-02 or 2026-03-02T09:30."""

    name = "YYYY-MM-DD[THH:MM]"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime:
        """The moment with the offset from UTC of this computer's place."""
        if isinstance(value, datetime):
            return value
        try:
            if re.fullmatch(r"\d{4}-\d\d-\d\d([T ]\d\d:\d\d)?", value, re.ASCII):
                moment = datetime.fromisoformat(value)
                noon = datetime.combine(moment.date(), time(12))
                return (moment if len(value) > 10 else noon).astimezone()
        except (ValueError, OverflowError, OSError):
            pass
        self.fail(f"expected 2026-03-02 or 2026-03-02T09:30, got {shown_value(value)}", param, ctx)


def still_needed(store: Store) -> list[str]:
    """The question whether records of which nothing was stored for long are still needed; no line of none."""
    unseen = unseen_since(store, now() - timedelta(days=REMIND_AFTER_DAYS))
    told = f"Nothing new for a year: {', '.join(unseen)}. Still needed? cuekit forget CODE deletes."
    return [told] if unseen else []


def now() -> datetime:
    """The present moment with its offset from UTC."""
    return datetime.now().astimezone()


def step_of_ladder(typed: str, skill: str, folders: tuple[Path, ...] = ()) -> str:
    """The key of the step typed; a teacher's own word stays, and is told on stderr."""
    before = PROBE if typed.startswith(PROBE) else ""
    key = key_of_step(typed.removeprefix(before), skill, folders=folders) if typed else ""
    if key is None:
        ladder = f"cuekit ladder {skill}" if skill in list_ladders(folders=folders) else "cuekit ladder"
        click.echo(f"Note: {shown_value(typed)} is no step of a ladder, only a word: {ladder}", err=True)
        return typed
    return before + key


def code_argument() -> Decorator:
    """CODE, as `code`."""
    return click.argument("code", type=Code())


def learner_option() -> Decorator:
    """--learner, as `code`."""
    return click.option(
        "--learner", "code", type=Code(), required=True, metavar="CODE", help="Whose bout it is."
    )


def reason_option() -> Decorator:
    """--reason, as `reason`."""
    return click.option("--reason", required=True, metavar="TEXT", help="Why, in a few words; it is kept.")


def tell_of_copies(folder: Path) -> None:
    """Say on stderr where the records lie in a folder that another program copies away."""
    for line in advice(folder):
        click.echo(line, err=True)


_CONDITIONS = (
    click.option(
        "--cue", "cue_level", type=OneOf(CueLevel), metavar="C5..C0", help="What there was to hear."
    ),
    click.option("--help-level", type=OneOf(HelpLevel), metavar="I|V|G|M|PP|FP", help="Help given."),
    click.option("--mode", type=OneOf(Mode), default="feet", show_default=True, help="What made the rhythm."),
    click.option("--cue-kind", type=OneOf(CueKind), metavar="sound|visual|touch", help="How the cue came."),
    click.option("--step", default="", metavar="STEP", help=STEP_HELP),
)
_EYE = (
    click.option(
        "--side", "lead", type=SideChoice(), metavar="SIDE",
        help="Leading or hopping foot, or direction, as seen.",
    ),
    click.option(
        "--skill", type=OneOf(Seen), metavar="yes|no|not-seen", help="Whether it was the skill, by eye."
    ),
    click.option("--feet", type=OneOf(Feet), help="How the feet went, by eye."),
    click.option(
        "--flight", type=OneOf(Seen), metavar="yes|no|not-seen", help="Whether there was air, by eye."
    ),
    click.option(
        "--others", type=YesNo(), help="Whether other feet sounded too: then it counts neither way."
    ),
)


def conditions_options() -> Decorator:
    """--cue, --help-level, --mode, --cue-kind, --step."""
    return all_of(_CONDITIONS)


def eye_options() -> Decorator:
    """--side, --skill, --feet, --flight, --others; taken together by `eye_of`."""
    return all_of(_EYE)


def eye_of(
    lead: Side | None, skill: Seen | None, feet: Feet | None, flight: Seen | None, others: bool | None
) -> EyeMark:
    """The eye mark of the options."""
    return EyeMark(lead, skill, feet, flight, others)


def all_of(options: Sequence[Decorator]) -> Decorator:
    """One decorator for options that stand together, in the order in which help shows them."""

    def decorate(command: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate
