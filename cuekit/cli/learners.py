"""`cuekit learner`: codes and how each is set up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from cuekit.cli.options import TEMPO_BPM, Decimal, SideChoice, folders_option, side_option
from cuekit.cli.record_options import (
    STEP_HELP,
    Code,
    YesNo,
    all_of,
    code_argument,
    data_option,
    open_store,
    step_of_ladder,
    still_needed,
    tell_of_copies,
)
from cuekit.cues.tones import tone_set_names
from cuekit.errors import RecordError
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.learner import NO_OTHERS, Learner, Tolerances, looks_like_a_name
from cuekit.records.own_tempo import own_tempo, with_own_tempo

_SETTINGS = {
    "skill": click.option("--skill", metavar="PATTERN", help="What is being learnt, such as gallop."),
    "step": click.option("--step", metavar="STEP", help=STEP_HELP),
    "own_tempo_bpm": click.option(
        "--own-tempo", "own_tempo_bpm", type=TEMPO_BPM, help="Tempo without a cue."
    ),
    "words": click.option(
        "--words", metavar="TEXT", help="What every adult says, in your own words; printed on the plan."
    ),
    "cue_set": click.option(
        "--sound", "cue_set", type=click.Choice(tone_set_names(), case_sensitive=False),
        help="Which sounds the learner chose.",
    ),
    "language": click.option("--language", metavar="CODE", help="Language of the cue words."),
    "ceiling_db": click.option(
        "--ceiling", "ceiling_db", type=Decimal(-60, 0, "dB"), help="Loudest cue against the usual level."
    ),
    "restrictions": click.option("--restrictions", metavar="TEXT", help="Your own note, shown at the start."),
    "recording_allowed": click.option(
        "--recording", "recording_allowed", type=YesNo(), help="Whether recordings may be opened."
    ),
    "child_view": click.option(
        "--child-view", "child_view", type=YesNo(), help="Whether the gym screen shows the child a view."
    ),
}
_LIMIT, _SHARE = Decimal(1, 100, "%"), Decimal(5, 50, "%")
_TOLERANCES = {
    "spread_percent": click.option(
        "--spread", "spread_percent", type=_LIMIT, help="Most the beats may vary, where a step asks, %."
    ),
    "tempo_within_percent": click.option(
        "--tempo-within", "tempo_within_percent", type=_LIMIT, help="How far off the cue's tempo, %."
    ),
    "beat_within_percent": click.option(
        "--beat-within", "beat_within_percent", type=_LIMIT, help="How far an even beat may be off, %."
    ),
    "short_share_from_percent": click.option(
        "--short-from", "short_share_from_percent", type=_SHARE, help="Least short share of a beat, %."
    ),
    "short_share_to_percent": click.option(
        "--short-to", "short_share_to_percent", type=_SHARE, help="Most short share of a beat, %."
    ),
}


def _without(**usual: Any) -> Callable[[Learner], Learner]:
    return lambda learner: replace(learner, **usual)


CLEARED = {
    "own-tempo": _without(own_tempo_bpm=None, own_tempi=()),
    "words": _without(words=""),
    "sound": _without(cue_set=""),
    "ceiling": _without(ceiling_db=None),
    "restrictions": _without(restrictions=""),
    "tolerances": _without(tolerances=NO_OTHERS),
}
"""What can be set back to the usual, by the word of its option; tolerances all at once."""

_OF_SIDE = click.option("--side", type=SideChoice(), metavar="SIDE", help="Side of which --own-tempo is.")


_OPTIONS = all_of((*_SETTINGS.values(), *_TOLERANCES.values()))


@click.group()
def command() -> None:
    """Learners: a code each, never a name, and how each is set up."""


@command.command()
@code_argument()
@_OPTIONS
@_OF_SIDE
@click.option("--sure", is_flag=True, help="The code is no name, whatever it looks like.")
@folders_option()
@data_option()
def add(
    code: str,
    sure: bool,
    side: Side | None,
    folders: tuple[Path, ...],
    folder: Path | None,
    **settings: Any,
) -> None:
    """Begin to keep records on CODE, such as K-07."""
    if looks_like_a_name(code) and not sure:
        raise RecordError(
            f"{code} looks like a name: take a code with a number, such as K-07.\n"
            "If it is no name and no initials of one, say it again with --sure."
        )
    with open_store(folder) as store:
        if store.entries(Learner, code):
            raise RecordError(f"{code} is there already: cuekit learner set {code} changes it")
        store.add(_changed(Learner(code), side, settings, folders))
        tell_of_copies(store.folder)
    click.echo(f"{code} added.")


@command.command("set")
@code_argument()
@_OPTIONS
@_OF_SIDE
@click.option(
    "--clear",
    "cleared",
    type=click.Choice([*CLEARED]),
    multiple=True,
    help="Set back to the usual; repeat it.",
)
@folders_option()
@data_option()
def set_(
    code: str,
    side: Side | None,
    cleared: tuple[str, ...],
    folders: tuple[Path, ...],
    folder: Path | None,
    **settings: Any,
) -> None:
    """Change how CODE is set up; what is not named stays."""

    def change(learner: Learner) -> Learner:
        for name in cleared:
            learner = CLEARED[name](learner)
        return _changed(learner, side, settings, folders)

    with open_store(folder) as store:
        store.change(code, change)
        click.echo("\n".join(told(store.learner(code).noun)))


@command.command()
@code_argument()
@data_option()
def show(code: str, folder: Path | None) -> None:
    """Show how CODE is set up."""
    with open_store(folder) as store:
        click.echo("\n".join(told(store.learner(code).noun)))


@command.command()
@code_argument()
@click.option("--pattern", "name", metavar="NAME", help="The skill; the learner's own where left out.")
@side_option()
@data_option()
def tempo(code: str, name: str | None, side: Side | None, folder: Path | None) -> None:
    """Find CODE's own tempo from three bouts without a cue on one day, and keep it for that skill.

    With --side it is that of bouts whose eye mark names this foot or direction. Where the eye marks of all
    three name one, it is kept for that side, and for the skill as long as that has none.
    """
    with open_store(folder) as store:
        learner = store.learner(code).noun
        skill = name or learner.skill
        found = own_tempo(store.bouts(code), skill, side) if skill else None
        if found is None:
            what = f" of {skill} {side or ''}".rstrip() if skill else ""
            raise RecordError(
                f"no day of {code} has three bouts{what} without a cue yet: keep three with --cue C0"
            )
        store.change(code, lambda now: with_own_tempo(now, found))
    doubt = "" if found.settled else ", not settled: the three bouts differ by more than 15 %"
    which = f"{skill} {found.side or ''}".strip()
    click.echo(f"Own tempo of {code}, {which}: {found.bpm:.0f} beats/min ({found.day}){doubt}. Kept.")


@command.command("list")
@click.argument("codes", type=Code(), nargs=-1)
@data_option()
def list_(codes: tuple[str, ...], folder: Path | None) -> None:
    """List learners with their bouts; of a group only, where CODES are given."""
    with open_store(folder) as store:
        counts = store.bout_counts()
        learners = [entry.noun for entry in store.entries(Learner)]
        reminder = still_needed(store)
    shown = sorted((one for one in learners if not codes or one.code in codes), key=lambda one: one.code)
    if not shown:
        click.echo("No learners yet: begin with cuekit learner add K-07.")
    for one in shown:
        own_bpm = one.tempo_bpm(one.skill)
        tempo = "" if own_bpm is None else f"{own_bpm:.0f}/min"
        bouts = counts.get(one.code, 0)
        told_bouts = f"{bouts:>5} {'bout ' if bouts == 1 else 'bouts'}"
        line = f"{one.code:<16} {told_bouts}  {one.skill:<16} {one.step:<6} {tempo}"
        click.echo(line.rstrip())
    for line in reminder:
        click.echo(line)


def told(learner: Learner) -> list[str]:
    """The lines that show one learner; what was not entered is not shown."""
    rows = [
        ("skill", learner.skill),
        ("step", learner.step),
        ("own tempo", ", ".join(_tempi(learner))),
        ("words", learner.words),
        ("sound", learner.cue_set),
        ("language", learner.language),
        ("loudness cap", "" if learner.ceiling_db is None else f"{learner.ceiling_db:g} dB"),
        ("recording", "" if learner.recording_allowed else "NO RECORDING: count by hand with cuekit count"),
        ("view for the child", "" if learner.child_view else "not shown"),
        ("accepted", ", ".join(_tolerated(learner.tolerances))),
        ("restrictions", learner.restrictions),
    ]
    return [learner.code, *(f"  {name}: {value}" for name, value in rows if value)]


def _tempi(learner: Learner) -> list[str]:
    """Each tempo with its skill and side; one of any skill last."""
    own = [(f"{one.pattern} {one.side or ''}".strip(), one.bpm) for one in learner.own_tempi]
    own += [] if learner.own_tempo_bpm is None else [("", learner.own_tempo_bpm)]
    return [f"{skill} {bpm:g} beats/min".strip() for skill, bpm in own]


def _tolerated(limits: Tolerances) -> list[str]:
    rows = (
        ("short share from {:g} %", limits.short_share_from_percent),
        ("short share to {:g} %", limits.short_share_to_percent),
        ("an even beat within {:g} %", limits.beat_within_percent),
        ("spread to {:g} %", limits.spread_percent),
        ("tempo within {:g} %", limits.tempo_within_percent),
    )
    return [text.format(value) for text, value in rows if value is not None]


def _changed(
    learner: Learner, side: Side | None, settings: dict[str, Any], folders: tuple[Path, ...]
) -> Learner:
    """The learner with what was given; an own tempo is that of the skill named, or else being learnt.

    Raises:
        PatternError: there is no such skill.
    """
    given = _given(settings)
    if given.get("skill"):
        load_pattern(given["skill"], folders=folders)
    if given.get("step"):
        given["step"] = step_of_ladder(given["step"], given.get("skill", learner.skill), folders)
    tempo_bpm = given.pop("own_tempo_bpm", None)
    limits = {name: given.pop(name) for name in _TOLERANCES if name in given}
    changed = replace(learner, **given, tolerances=replace(learner.tolerances, **limits))
    return changed if tempo_bpm is None else changed.with_tempo(changed.skill, tempo_bpm, side)


def _given(settings: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in settings.items() if value is not None}
