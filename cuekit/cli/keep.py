"""`cuekit keep` scores a recording and stores the bout at once; `cuekit count` stores one counted by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import click

from cuekit.cli.options import TEMPO_BPM, choose_pattern, folders_option, tempo_option
from cuekit.cli.record_options import (
    COUNT,
    Moment,
    YesNo,
    conditions_options,
    data_option,
    eye_of,
    eye_options,
    learner_option,
    now,
    open_store,
    step_of_ladder,
)
from cuekit.errors import RecordError
from cuekit.files.filenames import shown
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.bout_record import BoutRecord, Conditions, EyeMark, Numbers, Source
from cuekit.records.keeping import heard_bouts, rules_of
from cuekit.records.learner import Learner
from cuekit.records.store import Store
from cuekit.records.store_check import newest_stored
from cuekit.records.store_file import RecordsBusyError
from cuekit.records.store_waiting import set_aside
from cuekit.telling.scoring import score_recording

_PATTERN = click.option(
    "--pattern", "name", metavar="NAME", help="The skill; the learner's own where left out."
)
_AT = click.option("--at", type=Moment(), help="When it was done; now where left out.")
_KEPT = click.option("--kept", "kept_beats", type=COUNT, help="Beats kept after the cue stopped, as counted.")
_NOTE = click.option("--note", default="", metavar="TEXT", help="Your own words; no names.")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@learner_option()
@_PATTERN
@tempo_option("Beats a minute that were asked for; leave out where the learner chose.")
@_KEPT
@conditions_options()
@eye_options()
@_AT
@_NOTE
@folders_option()
@data_option()
def keep(
    file: Path,
    code: str,
    name: str | None,
    tempo_bpm: float | None,
    folders: tuple[Path, ...],
    folder: Path | None,
    at: datetime | None,
    note: str,
    kept_beats: int | None,
    **entered: Any,
) -> None:
    """Score the recording FILE and store each bout in it at once: numbers only, never the sound.

    What you enter about the eye and the conditions is stored with each; correct one where they differ.
    """
    with open_store(folder) as store:
        learner = store.learner(code).noun
        if not learner.recording_allowed:
            raise RecordError(
                f"{code} is not to be recorded, so {file.name!r} was not opened: use cuekit count"
            )
        pattern = choose_pattern(_skill(name, learner), side=None, share=None, language="en", folders=folders)
        pattern = learner.accepting(pattern)
        score = score_recording(read_recording(file, limit_s=3600.0), pattern, tempo_bpm=tempo_bpm)
        eye, conditions = _split(entered, pattern.name, tempo_bpm, folders)
        click.echo(score.advice.summary)
        start = at or now() - timedelta(seconds=score.recording.duration_s)
        for one in heard_bouts(score):
            moment = start + timedelta(seconds=one.start_s)
            numbers = replace(one.numbers, kept_beats=kept_beats)
            bout = BoutRecord(code, moment, conditions, numbers, eye, note=note, rules=rules_of(pattern))
            click.echo(_stored(store, bout, one.contract))
    _note_what_was_left_out(conditions)


@click.command()
@learner_option()
@_PATTERN
@click.option("--footfalls", type=COUNT, help="Footfalls counted.")
@click.option("--run", "longest_run", type=COUNT, help="Most beats in a row on the pattern.")
@_KEPT
@click.option("--on-pattern", "beats_on_pattern", type=COUNT, help="Beats on the pattern.")
@click.option("--met", "met_by_teacher", type=YesNo(), help="Your own verdict.")
@click.option("--paper", is_flag=True, help="Typed in from a paper sheet.")
@click.option(
    "--tempo", "tempo_bpm", type=TEMPO_BPM, metavar="BPM", help="Beats a minute that were asked for."
)
@conditions_options()
@eye_options()
@_AT
@_NOTE
@folders_option()
@data_option()
def count(
    code: str,
    name: str | None,
    met_by_teacher: bool | None,
    paper: bool,
    tempo_bpm: float | None,
    at: datetime | None,
    note: str,
    folders: tuple[Path, ...],
    folder: Path | None,
    **entered: Any,
) -> None:
    """Store a bout that you counted, now or from a paper sheet; it is marked so."""
    counts = {
        field: entered.pop(field) for field in ("footfalls", "longest_run", "kept_beats", "beats_on_pattern")
    }
    if met_by_teacher is None and all(value is None for value in counts.values()):
        raise RecordError("nothing was counted: give --footfalls, --run, --kept, --on-pattern or --met")
    with open_store(folder) as store:
        pattern = load_pattern(_skill(name, store.learner(code).noun), folders=folders)
        eye, conditions = _split(entered, pattern.name, tempo_bpm, folders)
        source = Source.PAPER if paper else Source.COUNTED
        bout = BoutRecord(code, at or now(), conditions, Numbers(**counts), eye, source, met_by_teacher, note)
        click.echo(_stored(store, bout))
    _note_what_was_left_out(conditions)


def _stored(store: Store, bout: BoutRecord, contract: str = "") -> str:
    """Store a bout, or write it beside records that another program holds; what became of it."""
    _say_when_the_clock_is_behind(store)
    how = "" if bout.source is Source.MICROPHONE else f" ({bout.source.value})"
    try:
        return f"Stored as bout {store.add(bout, contract=contract).number} of {bout.learner}{how}."
    except RecordsBusyError:
        path = set_aside(store.folder, bout, contract, now())
        return (
            f"Another program holds the records: the bout waits in {shown(path)} and is taken in next time."
        )


def _note_what_was_left_out(conditions: Conditions) -> None:
    """Say on stderr what no goal can do without, where it was not entered."""
    entered = (("cue-level", conditions.cue_level), ("help-level", conditions.help_level))
    missing = [what for what, value in entered if value is None]
    if missing:
        how = f"cuekit correct BOUT {missing[0]} VALUE --reason TEXT"
        click.echo(f"Note: no goal counts it without its {' and '.join(missing)}: {how}", err=True)


def _say_when_the_clock_is_behind(store: Store) -> None:
    """Records are ordered by their running number too, so a clock set back loses nothing; it is told."""
    newest = newest_stored(store)
    if newest is not None and now() < newest - timedelta(minutes=2):
        last = f"{newest.astimezone():%Y-%m-%d %H:%M}"
        click.echo(f"Note: the last entry is from {last}, later than now: check the clock.")


def _skill(name: str | None, learner: Learner) -> str:
    if not (name or learner.skill):
        raise RecordError(f"which skill? Give --pattern, or cuekit learner set {learner.code} --skill gallop")
    return name or learner.skill


def _split(
    entered: dict[str, Any], pattern: str, tempo_bpm: float | None, folders: tuple[Path, ...]
) -> tuple[EyeMark, Conditions]:
    """The eye mark and the conditions of the options entered."""
    entered["step"] = step_of_ladder(entered["step"], pattern, folders)
    eye = eye_of(*(entered.pop(field) for field in ("lead", "skill", "feet", "flight", "others")))
    return eye, Conditions(pattern, tempo_asked_bpm=tempo_bpm, **entered)
