"""`cuekit sheet`: paper for a lesson, made from a skill."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path

import click

from cuekit.cli.options import choose_pattern, folders_option, side_option
from cuekit.cli.record_options import Code, OneOf, data_option, open_store
from cuekit.errors import RecordError
from cuekit.patterns.pattern import Pattern, Side
from cuekit.records.goals import Goal
from cuekit.reports.pdf import Paper, check_ending, write_page
from cuekit.reports.sheets import cards_page, data_page, footprints_page, plan_page
from cuekit.teaching.cautions import cautions_for
from cuekit.telling.phrases import Phrases, load_phrases


class Sheet(StrEnum):
    """What is printed."""

    FOOTPRINTS = "footprints"
    CARDS = "cards"
    DATA = "data"
    PLAN = "plan"


@click.command()
@click.argument("kind", type=OneOf(Sheet), metavar="footprints|cards|data|plan")
@click.argument("skill")
@side_option()
@click.option("--learner", "code", type=Code(), metavar="CODE", help="For whom; a plan needs it.")
@click.option("--language", default="en", show_default=True, metavar="en|es", help="Language of the sheet.")
@click.option("--out", "path", type=click.Path(path_type=Path), required=True, metavar="FILE.html|FILE.pdf")
@click.option("--paper", type=OneOf(Paper), default=Paper.LETTER, show_default=True, help="Paper of a PDF.")
@folders_option()
@data_option()
def command(
    kind: Sheet,
    skill: str,
    side: Side | None,
    code: str | None,
    language: str,
    path: Path,
    paper: Paper,
    folders: tuple[Path, ...],
    folder: Path | None,
) -> None:
    """Write a sheet for SKILL: HTML, which a web browser prints on any paper, or a PDF."""
    check_ending(path)
    phrases = load_phrases(language, "report")
    pattern = choose_pattern(skill, side=side, share=None, language=language, folders=folders)
    pages = {
        Sheet.FOOTPRINTS: lambda: footprints_page(pattern, phrases),
        Sheet.CARDS: lambda: cards_page(pattern, phrases),
        Sheet.DATA: lambda: data_page(pattern, phrases, code or ""),
        Sheet.PLAN: lambda: _plan(code, pattern, phrases, folder),
    }
    click.echo(write_page(path, pages[kind](), paper))


def _plan(code: str | None, pattern: Pattern, phrases: Phrases, folder: Path | None) -> str:
    if code is None:
        raise RecordError("a plan is for one learner: give --learner CODE")
    with open_store(folder) as store:
        learner = store.learner(code).noun
        goals = [entry.noun for entry in store.entries(Goal, code)]
    open_ = [goal for goal in goals if goal.pattern == pattern.name and not goal.closed]
    cautions = cautions_for(pattern, load_phrases(phrases.language), note=learner.restrictions)
    return plan_page(learner, pattern, open_[-1] if open_ else None, cautions, phrases)
