"""`cuekit bouts`, `correct`, `void`, `observe` and `agreement`: what is stored, and setting it right."""

from __future__ import annotations

from pathlib import Path

import click

from cuekit.cli.options import Whole
from cuekit.cli.record_options import (
    BOUT,
    COUNT,
    OneOf,
    YesNo,
    code_argument,
    data_option,
    now,
    open_store,
    reason_option,
)
from cuekit.errors import RecordError
from cuekit.hearing.events import Heard
from cuekit.records import correcting
from cuekit.records.agreement import Observation, agreements
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import BoutRecord, Seen, Source
from cuekit.records.goals import Goal, verdicts_by_ear


@click.command()
@code_argument()
@click.option("--last", type=Whole(1, 9999, "bouts"), metavar="N", help="Only the last N.")
@data_option()
def bouts(code: str, last: int | None, folder: Path | None) -> None:
    """List the bouts of CODE, oldest first, with what was changed since."""
    with open_store(folder) as store:
        store.learner(code)
        kept = store.bouts(code)[-(last or 0) :]
    click.echo("\n".join(line for one in kept for line in told(one)) if kept else f"No bouts of {code} yet.")


@click.command()
@click.argument("number", type=BOUT, metavar="BOUT")
@click.argument("field", metavar="WHAT")
@click.argument("value", metavar="VALUE")
@reason_option()
@data_option()
def correct(number: int, field: str, value: str, reason: str, folder: Path | None) -> None:
    """Correct one thing of a stored BOUT; what was there before is kept.

    WHAT is one of footfalls, longest-run, kept-beats, beats-on-pattern, lead, skill, feet, flight, others,
    cue-level, help-level, mode, heard, met. An empty VALUE takes the entry away.
    """
    with open_store(folder) as store:
        made = correcting.correct(store, store.bout(number), field, value, reason, now())
    old, new = made.old or "(not entered)", made.new or "(not entered)"
    click.echo(f"Bout {number}: {field} {old} -> {new}. Both are kept.")


@click.command()
@click.argument("number", type=BOUT, metavar="BOUT")
@reason_option()
@data_option()
def void(number: int, reason: str, folder: Path | None) -> None:
    """Let a stored BOUT count no longer; it stays in the list with the reason."""
    with open_store(folder) as store:
        correcting.void(store, store.bout(number), reason, now())
    click.echo(f"Bout {number} is void: {reason}")


@click.command()
@click.argument("number", type=BOUT, metavar="BOUT")
@click.option(
    "--by", "observer", required=True, metavar="ID", help="Who counted: a letter or number, no name."
)
@click.option("--footfalls", type=COUNT, help="Footfalls counted.")
@click.option("--met", type=YesNo(), help="Whether the target was reached.")
@click.option(
    "--skill", type=OneOf(Seen), metavar="yes|no|not-seen", help="Whether it was the skill, by eye."
)
@data_option()
def observe(
    number: int,
    observer: str,
    footfalls: int | None,
    met: bool | None,
    skill: Seen | None,
    folder: Path | None,
) -> None:
    """Enter what one person counted and saw of a BOUT, for agreement."""
    if footfalls is None and met is None and skill is None:
        raise RecordError("nothing was observed: give --footfalls, --met or --skill")
    with open_store(folder) as store:
        kept = store.bout(number)
        code = kept.stored.learner
        store.add(Observation(kept.id, code, observer.upper(), now(), footfalls, met, skill))
    click.echo(f"Stored what {observer.upper()} saw of bout {number}.")


@click.command()
@code_argument()
@data_option()
def agreement(code: str, folder: Path | None) -> None:
    """Tell how often two people, and a person and the program, said the same, and on which days.

    Whether a bout was met is asked of the program by the newest open goal, by ear alone.
    """
    with open_store(folder) as store:
        store.learner(code)
        seen = [entry.noun for entry in store.entries(Observation, code)]
        kept = store.bouts(code)
        goals = [entry.noun for entry in store.entries(Goal, code) if not entry.noun.closed]
        found = agreements(seen, kept, verdicts_by_ear(goals[-1], kept) if goals else {})
    for one in found:
        first, last = (day.isoformat() for day in one.days)
        days = first if first == last else f"{first} to {last}"
        said = f"{one.agreed} of {one.trials}, {one.percent:.0f} % ({days})"
        click.echo(f"{one.first} and {one.second}, {one.question}: {said}")
    if not found:
        click.echo(f"No bout of {code} was counted twice yet: cuekit observe BOUT --by A --footfalls 12")


def told(kept: KeptBout) -> list[str]:
    """The lines of one bout; what was not entered is a dash."""
    bout, done = kept.now, kept.now.conditions
    levels = f"cue {done.cue_level or '-'}  help {done.help_level or '-'}  {bout.eye.lead or '-':<5}"
    seen = f"eye {bout.eye.skill or '-'}"
    line = f"{kept.number:>5}  {bout.at:%Y-%m-%d %H:%M}  {done.pattern:<16} {done.mode:<5} {levels}"
    lines = [f"{line} {seen:<12} {found(bout)}".rstrip()]
    for one in kept.amendments:
        lines += [
            f"       {what} {old or '-'} -> {new or '-'}: {one.reason}" for what, old, new in one.changes
        ]
    return [*lines, f"       VOID: {kept.void_reason}"] if kept.void_reason is not None else lines


def found(bout: BoutRecord) -> str:
    """What was heard or counted, with who counted."""
    numbers = bout.numbers
    parts = [
        f"run {numbers.longest_run}" if numbers.longest_run is not None else "",
        f"kept {numbers.kept_beats}" if numbers.kept_beats is not None else "",
        f"{numbers.footfalls} footfalls" if numbers.footfalls is not None else "",
        "" if bout.met_by_teacher is None else f"teacher: {'met' if bout.met_by_teacher else 'missed'}",
    ]
    marks = [
        "" if bout.source is Source.MICROPHONE else f" ({bout.source.value})",
        "" if numbers.heard is Heard.CLEAR else f" ({numbers.heard.value})",
    ]
    return ", ".join(part for part in parts if part) + "".join(marks)
