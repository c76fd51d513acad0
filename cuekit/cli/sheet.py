"""`cuekit sheet`: paper for a lesson, made from a skill."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path

import click

from cuekit.cli.options import choose_pattern, folders_option, language_option, side_option
from cuekit.cli.record_options import Code, OneOf, data_option, now, open_store
from cuekit.errors import RecordError
from cuekit.patterns.pattern import Pattern, Side
from cuekit.records.goals import Goal
from cuekit.records.learner import Learner
from cuekit.records.store import ExportNote
from cuekit.reports.pdf import Paper, check_ending, write_page
from cuekit.reports.sheets import cards_page, data_page, footprints_page, plan_page
from cuekit.teaching.cautions import cautions_for
from cuekit.teaching.ladder import LadderStep
from cuekit.teaching.ladder_files import list_ladders, load_ladder
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
@click.option("--step", "which", metavar="STEP", help="Step of the ladder SKILL: its number or name.")
@click.option("--learner", "code", type=Code(), metavar="CODE", help="For whom; a plan needs it.")
@language_option()
@click.option("--out", "path", type=click.Path(path_type=Path), required=True, metavar="FILE.html|FILE.pdf")
@click.option("--paper", type=OneOf(Paper), default=Paper.LETTER, show_default=True, help="Paper of a PDF.")
@folders_option()
@data_option()
def command(
    kind: Sheet,
    skill: str,
    side: Side | None,
    which: str | None,
    code: str | None,
    language: str,
    path: Path,
    paper: Paper,
    folders: tuple[Path, ...],
    folder: Path | None,
) -> None:
    """Write a sheet for SKILL: HTML, which a web browser prints on any paper, or a PDF.

    With --step it is for that step of the ladder: its figure, its task, what a bout should reach. A plan is
    for the learner's own step where it is one of the ladder.
    """
    check_ending(path)
    phrases = load_phrases(language, "report")
    if kind is Sheet.PLAN and code is None:
        raise RecordError("a plan is for one learner: give --learner CODE")
    learner = _learner(code, folder) if kind is Sheet.PLAN else None
    step = _step(skill, which, learner, language, folders)
    name = skill if step is None else step.pattern
    pattern = choose_pattern(name, side=side, share=None, language=language, folders=folders)
    pages = {
        Sheet.FOOTPRINTS: lambda: footprints_page(pattern, phrases, step),
        Sheet.CARDS: lambda: cards_page(pattern, phrases, step),
        Sheet.DATA: lambda: data_page(pattern, phrases, code or "", step),
        Sheet.PLAN: lambda: _plan(learner, pattern, phrases, step, folder),
    }
    told = write_page(path, pages[kind](), paper)
    if learner is not None:  # a plan tells of the learner's goal and limits, so it is noted that it left
        with open_store(folder) as store:
            store.add(ExportNote(learner.code, now(), str(path.absolute()), "plan"))
    click.echo(told)


def _learner(code: str, folder: Path | None) -> Learner:
    with open_store(folder) as store:
        return store.learner(code).noun


def _step(
    skill: str, which: str | None, learner: Learner | None, language: str, folders: tuple[Path, ...]
) -> LadderStep | None:
    """The step asked for, else the learner's own where it is one of the ladder of that skill.

    Raises:
        PatternError: there is no such ladder, or no such step.
    """
    if which is None and (learner is None or skill not in list_ladders(folders=folders)):
        return None
    ladder = load_ladder(skill, language=language, folders=folders)
    if which is not None:
        return ladder.step(which)
    return ladder.step(learner.step) if ladder.has(learner.step) else None


def _plan(
    learner: Learner, pattern: Pattern, phrases: Phrases, step: LadderStep | None, folder: Path | None
) -> str:
    with open_store(folder) as store:
        goals = [entry.noun for entry in store.entries(Goal, learner.code)]
    open_ = [goal for goal in goals if goal.pattern == pattern.name and not goal.closed]
    cautions = cautions_for(pattern, load_phrases(phrases.language), note=learner.restrictions)
    return plan_page(learner, pattern, open_[-1] if open_ else None, cautions, phrases, step)
