"""`cuekit patterns`: what there is, how a cycle looks, what is wrong with a file."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import click

from cuekit.cli.options import (
    choose_pattern,
    folders_option,
    language_option,
    ratio_option,
    side_option,
    tempo_option,
)
from cuekit.errors import PatternError
from cuekit.patterns.pattern import Pattern, Side, as_ratio
from cuekit.patterns.pattern_files import check_file, list_patterns, load_pattern
from cuekit.patterns.schedule import Plan, make_schedule
from cuekit.patterns.timeline import draw_cycle, pen_for

WIDTH_COLUMNS = 79


@click.group(invoke_without_command=True)
@folders_option()
@click.pass_context
def command(ctx: click.Context, folders: tuple[Path, ...]) -> None:
    """List, draw and check patterns; alone, it lists them all."""
    ctx.obj = folders
    if ctx.invoked_subcommand is None:
        click.echo(listing(folders))


@command.command()
@click.argument("name")
@side_option()
@ratio_option()
@tempo_option()
@language_option()
@folders_option()
@click.pass_obj
def show(
    group_folders: tuple[Path, ...],
    name: str,
    side: Side | None,
    share: Fraction | None,
    tempo_bpm: float | None,
    language: str,
    folders: tuple[Path, ...],
) -> None:
    """Draw one cycle of a pattern, named or in a FILE.toml, and say what is known about it."""
    places = (*folders, *group_folders)
    pattern = choose_pattern(name, side=side, share=share, language=language, folders=places)
    tempo_bpm = pattern.tempo.default if tempo_bpm is None else tempo_bpm
    make_schedule(pattern, Plan(tempo_bpm, 2 * len(pattern.beats)))  # refuses what nobody can follow
    click.echo(facts(pattern))
    click.echo()
    click.echo(draw_cycle(pattern, tempo_bpm, pen_for(sys.stdout.encoding)))


@command.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@folders_option()
@click.pass_obj
def check(group_folders: tuple[Path, ...], files: tuple[Path, ...], folders: tuple[Path, ...]) -> None:
    """Say everything that is wrong with pattern files; exit code 3 where something is."""
    problems = [problem for file in files for problem in check_file(file, folders=(*folders, *group_folders))]
    for problem in problems:
        click.echo(str(problem))
    if problems:
        click.get_current_context().exit(PatternError.exit_code)
    click.echo("no problem found")


def listing(folders: Sequence[Path]) -> str:
    """All patterns, one a line; one that cannot be used says so instead of stopping the others."""
    rows = [("NAME", "RHYTHM", "TEMPO", "SIDE", "")]
    rows += [_row(name, folders) for name in list_patterns(folders=folders)]
    widths = [max(len(row[column]) for row in rows) for column in range(4)]
    lines = [
        "  ".join([*(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=False)), row[4]])
        for row in rows
    ]
    hint = "cuekit patterns show NAME draws one. TEMPO is in beats a minute."
    return "\n".join([*(line.rstrip() for line in lines), "", hint])


def _row(name: str, folders: Sequence[Path]) -> tuple[str, str, str, str, str]:
    """One line of the list."""
    try:
        pattern = load_pattern(name, folders=folders, language=None)
    except PatternError:
        return (name, "-", "-", "-", "has a problem: cuekit patterns check shows it")
    tempo = f"{pattern.tempo.low:g}-{pattern.tempo.high:g}"
    return (name, rhythm(pattern), tempo, "R, L" if pattern.side_means else "-", pattern.title)


def rhythm(pattern: Pattern) -> str:
    """even, uneven, or mixed where most beats of a figure are even and some are not."""
    uneven = sum(beat.uneven for beat in pattern.beats)
    if not uneven:
        return "even"
    return "uneven" if 2 * uneven >= len(pattern.beats) else "mixed"


def facts(pattern: Pattern) -> str:
    """What is known about a pattern, one fact a line."""
    tempo, share = pattern.tempo, pattern.share
    lines = [f"{pattern.title} ({pattern.name})", f"one beat: {pattern.beat_means}"]
    if pattern.side_means:
        lines.append(f"side: {pattern.side.value} ({pattern.side_means})")
    lines.append(f"tempo: {tempo.default:g}, from {tempo.low:g} to {tempo.high:g} beats a minute")
    if share is not None:
        lines.append(
            f"ratio: {as_ratio(share.default)}, from {as_ratio(share.low)} to {as_ratio(share.high)}"
        )
    lines.append(f"count-in: {pattern.count_in} beats")
    if pattern.heard_when_right:
        lines.append(f"heard when right: {pattern.heard_when_right}")
    wrapped = (textwrap.fill(line, WIDTH_COLUMNS, subsequent_indent="  ") for line in lines)
    return "\n".join(wrapped)
