"""`cuekit lesson`: service minutes, from start and stop or typed in, and the month's total."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from cuekit.cli.options import Whole
from cuekit.cli.record_options import (
    BOUT,
    MINUTES,
    Moment,
    all_of,
    code_argument,
    data_option,
    now,
    open_store,
)
from cuekit.errors import RecordError
from cuekit.records.lessons import Lesson, month_minutes, month_owed
from cuekit.records.store import Entry, Store

_PLACE = click.option("--place", metavar="TEXT", help="Where.")
_EQUIPMENT = click.option("--equipment", metavar="TEXT", help="What was used.")
_GROUP = click.option(
    "--group", type=Whole(1, 40), metavar="N", help="How many were taught together; 1 alone."
)
_MINUTES = click.option("--minutes", type=MINUTES, help="Minutes given.")
_MISSED = click.option("--missed", metavar="TEXT", help="Why no lesson was given.")
_OWED = click.option("--owed", "owed_min", type=MINUTES, help="Minutes to be made up.")
_START = click.option("--start", type=Moment(), help="When it began.")
_TYPED_IN = all_of((_START, _MINUTES, _PLACE, _EQUIPMENT, _GROUP, _MISSED, _OWED))


@click.group()
def command() -> None:
    """Service minutes: start, stop, edit, and the total of a month."""


@command.command()
@code_argument()
@_PLACE
@_EQUIPMENT
@_GROUP
@data_option()
def start(code: str, folder: Path | None, **entered: Any) -> None:
    """Start a lesson with CODE now."""
    with open_store(folder) as store:
        store.learner(code)
        running = _running(store, code)
        if running is not None:
            raise RecordError(f"lesson {running.number} of {code} is running: cuekit lesson stop {code}")
        entry = store.add(Lesson(code, now(), **_given(entered)))
    click.echo(f"Lesson {entry.number} with {code} began at {entry.noun.start:%H:%M}.")


@command.command()
@code_argument()
@_MINUTES
@data_option()
def stop(code: str, minutes: int | None, folder: Path | None) -> None:
    """Stop the running lesson with CODE now."""
    with open_store(folder) as store:
        entry = _running(store, code)
        if entry is None:
            raise RecordError(f"no lesson with {code} is running: cuekit lesson start {code}")
        given = entry.noun.stopped_at(now()) if minutes is None else minutes
        store.add(replace(entry.noun, minutes=given), about=entry.about)
    click.echo(f"Lesson {entry.number} with {code}: {given} minutes.")


@command.command()
@code_argument()
@_TYPED_IN
@data_option()
def add(code: str, start: datetime | None, minutes: int | None, folder: Path | None, **entered: Any) -> None:
    """Type in a lesson that was given, or one that was missed, with the minutes owed."""
    if minutes is None and not entered["missed"]:
        raise RecordError("give --minutes, or --missed with the reason")
    with open_store(folder) as store:
        store.learner(code)
        entry = store.add(Lesson(code, start or now(), minutes or 0, **_given(entered)))
    click.echo(f"Lesson {entry.number} with {code}: {entry.noun.minutes} minutes.")


@command.command()
@click.argument("number", type=BOUT, metavar="LESSON")
@_TYPED_IN
@data_option()
def edit(number: int, folder: Path | None, **entered: Any) -> None:
    """Change a LESSON; what was there before is kept."""
    with open_store(folder) as store:
        found = [one for one in store.entries(Lesson) if one.number == number]
        if not found:
            raise RecordError(f"no lesson {number}: cuekit lesson list CODE shows them with their numbers")
        entry = store.add(replace(found[0].noun, **_given(entered)), about=found[0].about)
    click.echo(f"Lesson {number}: {_told(entry)}")


@command.command("list")
@code_argument()
@click.option("--month", metavar="YYYY-MM", help="Only this month; this one's total where left out.")
@data_option()
def list_(code: str, month: str | None, folder: Path | None) -> None:
    """List the lessons of CODE and the minutes of the month."""
    year, number = _month(month) if month else (now().year, now().month)
    with open_store(folder) as store:
        store.learner(code)
        entries = store.entries(Lesson, code)
    for entry in sorted(entries, key=lambda one: one.noun.start):
        if not month or (entry.noun.start.year, entry.noun.start.month) == (year, number):
            click.echo(f"{entry.number:>5}  {_told(entry)}")
    lessons = [entry.noun for entry in entries]
    given, owed = month_minutes(lessons, year, number), month_owed(lessons, year, number)
    click.echo(f"{year}-{number:02d}: {given} minutes{f', {owed} owed' if owed else ''}.")


def _running(store: Store, code: str) -> Entry[Lesson] | None:
    return next((one for one in store.entries(Lesson, code) if one.noun.minutes is None), None)


def _told(entry: Entry[Lesson]) -> str:
    lesson = entry.noun
    minutes = "running" if lesson.minutes is None else f"{lesson.minutes} min"
    group = "one-on-one" if lesson.group == 1 else f"group of {lesson.group}"
    parts = [f"{lesson.start:%Y-%m-%d %H:%M}", minutes, group, lesson.place, lesson.equipment]
    parts += [f"missed: {lesson.missed}"] if lesson.missed else []
    return "  ".join(part for part in [*parts, f"owed {lesson.owed_min}" if lesson.owed_min else ""] if part)


def _month(text: str) -> tuple[int, int]:
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", text, re.ASCII):
        raise RecordError(f"--month is written 2026-03, got {text[:20]!r}")
    return int(text[:4]), int(text[5:])


def _given(entered: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in entered.items() if value is not None}
