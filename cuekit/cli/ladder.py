"""`cuekit ladder`: the steps of a skill, what to say and look at, what helps, what to mind."""

from __future__ import annotations

from pathlib import Path

import click

from cuekit.cli.options import language_option
from cuekit.errors import PatternError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.pattern_syntax import shown_value
from cuekit.teaching.cautions import cautions_for
from cuekit.teaching.ladder import Ladder
from cuekit.teaching.ladder_files import check_ladder, list_ladders, load_ladder
from cuekit.teaching.ladder_page import (
    adaptation_lines,
    caution_lines,
    command_lines,
    fault_lines,
    ladder_lines,
    ladders_listed,
    step_lines,
    support_lines,
)
from cuekit.teaching.supports import (
    check_supports,
    is_supports,
    load_adaptations,
    supports_for_pattern,
)
from cuekit.telling.phrases import Phrases, load_phrases

_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)


@click.command()
@click.argument("skill", required=False)
@click.option("--step", "which", metavar="N", help="One step in full, by its number or name.")
@click.option("--fault", metavar="ID", help="What helps with something that was heard, such as clipped.")
@click.option("--for", "who", metavar="WHOM", help="What may help whom, such as deaf or wheelchair.")
@click.option("--note", default="", metavar="TEXT", help="Your own limit for this child; it is shown first.")
@click.option(
    "--own",
    "folders",
    type=_FOLDER,
    multiple=True,
    metavar="FOLDER",
    help="A folder of your own ladders and supports.",
)
@click.option(
    "--check",
    "file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Say what is wrong with a file of your own: a ladder, or what helps.",
)
@language_option()
def command(
    skill: str | None,
    which: str | None,
    fault: str | None,
    who: str | None,
    note: str,
    folders: tuple[Path, ...],
    file: Path | None,
    language: str,
) -> None:
    """Show the steps of SKILL, or all ladders where it is left out."""
    if file is not None:
        _check(file, folders)
        return
    phrases = load_phrases(language)
    if who is not None:
        _tell(_adaptation(who, phrases))
    elif skill is None:
        ladders = [_ladder(name, phrases, folders) for name in list_ladders(folders=folders)]
        _tell(ladders_listed(ladders, phrases))
    elif fault is not None:
        _tell(_helps(skill, fault, phrases, folders))
    elif which is not None:
        _tell(_step(skill, which, note, phrases, folders))
    else:
        _tell(ladder_lines(_ladder(skill, phrases, folders), phrases))


def _ladder(name: str, phrases: Phrases, folders: tuple[Path, ...]) -> Ladder:
    return load_ladder(name, language=phrases.language, folders=folders)


def _step(skill: str, which: str, note: str, phrases: Phrases, folders: tuple[Path, ...]) -> list[str]:
    """A step with its words and its cautions."""
    ladder = _ladder(skill, phrases, folders)
    step = ladder.step(which)
    pattern = load_pattern(step.pattern, folders=folders, language=None)
    supports = supports_for_pattern(step.pattern, language=phrases.language, folders=folders)
    cautions = cautions_for(pattern, phrases, note=note)
    parts = (
        step_lines(ladder, step, phrases),
        command_lines(step, pattern, phrases),
        support_lines(supports, phrases),
        caution_lines(cautions, phrases),
    )
    return [line for part in parts for line in (*part, "")][:-1]


def _helps(skill: str, fault: str, phrases: Phrases, folders: tuple[Path, ...]) -> list[str]:
    """What helps with a fault of a skill or pattern."""
    supports = supports_for_pattern(skill, language=phrases.language, folders=folders)
    found = supports.for_fault(fault)
    if not found:
        known = ", ".join(sorted({support.fault for support in supports.faults}))
        raise PatternError(
            f"nothing is known to help with {shown_value(fault)} in {skill}: choose one of {known}"
        )
    return fault_lines(found, phrases)


def _adaptation(who: str, phrases: Phrases) -> list[str]:
    rows = {row.id: row for row in load_adaptations(phrases.language)}
    if who not in rows:
        raise PatternError(f"no adaptation {shown_value(who)}: choose one of {', '.join(rows)}")
    return adaptation_lines(rows[who], phrases)


def _check(file: Path, folders: tuple[Path, ...]) -> None:
    problems = check_supports(file) if is_supports(file) else check_ladder(file, folders=folders)
    _tell([str(problem) for problem in problems] or ["no problem found"])
    if problems:
        click.get_current_context().exit(PatternError.exit_code)


def _tell(lines: list[str]) -> None:
    click.echo("\n".join(lines))
