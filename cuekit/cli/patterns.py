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
from cuekit.telling.phrases import Phrases, load_phrases, phrases_for_words

WIDTH_COLUMNS = 79


@click.group(invoke_without_command=True)
@language_option()
@folders_option()
@click.pass_context
def command(ctx: click.Context, language: str, folders: tuple[Path, ...]) -> None:
    """List, draw and check patterns; alone, it lists them all."""
    ctx.obj = folders
    if ctx.invoked_subcommand is None:
        click.echo(listing(folders, load_phrases(language)))


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
    phrases = phrases_for_words(language)
    click.echo(facts(pattern, phrases))
    click.echo()
    click.echo(draw_cycle(pattern, tempo_bpm, phrases.say, pen_for(sys.stdout.encoding)))


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


def listing(folders: Sequence[Path], phrases: Phrases) -> str:
    """All patterns, one a line; one that cannot be used says so instead of stopping the others."""
    rows = [tuple(phrases.say(f"patterns.{name}").upper() for name in ("name", "rhythm", "tempo", "side"))]
    rows = [(*rows[0], "")] + [_row(name, folders, phrases) for name in list_patterns(folders=folders)]
    widths = [max(len(row[column]) for row in rows) for column in range(4)]
    lines = [
        "  ".join([*(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=False)), row[4]])
        for row in rows
    ]
    return "\n".join([*(line.rstrip() for line in lines), "", phrases.say("patterns.hint")])


def _row(name: str, folders: Sequence[Path], phrases: Phrases) -> tuple[str, str, str, str, str]:
    """One line of the list."""
    try:
        pattern = load_pattern(name, folders=folders, language=None, told_in=phrases.language)
    except PatternError:
        return (name, "-", "-", "-", phrases.say("patterns.problem"))
    tempo = f"{pattern.tempo.low:g}-{pattern.tempo.high:g}"
    sides = phrases.say("patterns.sides") if pattern.side_means else "-"
    return (name, phrases.say(f"patterns.is_{rhythm(pattern)}"), tempo, sides, pattern.title)


def rhythm(pattern: Pattern) -> str:
    """even, uneven, or mixed where most beats of a figure are even and some are not."""
    uneven = sum(beat.uneven for beat in pattern.beats)
    if not uneven:
        return "even"
    return "uneven" if 2 * uneven >= len(pattern.beats) else "mixed"


def facts(pattern: Pattern, phrases: Phrases) -> str:
    """What is known about a pattern, one fact a line."""
    tempo, share, say = pattern.tempo, pattern.share, phrases.say
    lines = [f"{pattern.title} ({pattern.name})", say("patterns.beat_is", beat=pattern.beat_means)]
    if pattern.side_means:
        side = say(f"patterns.{pattern.side}")
        lines.append(say("patterns.side_is", side=side, means=pattern.side_means))
    lines.append(say("patterns.tempo_is", default=tempo.default, low=tempo.low, high=tempo.high))
    if share is not None:
        ratios = {name: as_ratio(getattr(share, name)) for name in ("default", "low", "high")}
        lines.append(say("patterns.ratio_is", **ratios))
    lines.append(say("patterns.count_in_is", beats=pattern.count_in))
    if pattern.heard_when_right:
        lines.append(say("patterns.heard_is", heard=pattern.heard_when_right))
    wrapped = (textwrap.fill(line, WIDTH_COLUMNS, subsequent_indent="  ") for line in lines)
    return "\n".join(wrapped)
