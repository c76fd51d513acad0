"""`cuekit report`: the family page or the team page as one file to print."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from pathlib import Path

import click

from cuekit.cli.options import folders_option, language_option
from cuekit.cli.record_options import BOUT, Day, OneOf, code_argument, data_option, now, open_store
from cuekit.errors import RecordError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.store import ExportNote
from cuekit.reports.gathering import gathered, goal_of, step_tasks
from cuekit.reports.pdf import Paper, check_ending, write_page
from cuekit.reports.report import family_page, team_page
from cuekit.reports.report_data import Period
from cuekit.telling.phrases import load_phrases


class Audience(StrEnum):
    """For whom a page is."""

    FAMILY = "family"
    TEAM = "team"


@click.command()
@code_argument()
@click.option(
    "--for", "audience", type=OneOf(Audience), default=Audience.TEAM, show_default=True, help="For whom."
)
@click.option(
    "--goal", "number", type=BOUT, metavar="GOAL", help="Which goal; the newest open one where left out."
)
@click.option("--from", "first", type=Day(), help="First day; the goal's own where left out.")
@click.option("--to", "last", type=Day(), help="Last day; today where left out.")
@language_option()
@click.option("--out", "path", type=click.Path(path_type=Path), required=True, metavar="FILE.html|FILE.pdf")
@click.option("--given-to", default="", metavar="WHO", help="Who is given it: a role, no name; it is noted.")
@click.option("--paper", type=OneOf(Paper), default=Paper.LETTER, show_default=True, help="Paper of a PDF.")
@folders_option()
@data_option()
def command(
    code: str,
    audience: Audience,
    number: int | None,
    first: date | None,
    last: date | None,
    language: str,
    path: Path,
    given_to: str,
    paper: Paper,
    folders: tuple[Path, ...],
    folder: Path | None,
) -> None:
    """Write a page on CODE's goal: HTML, which a web browser prints on any paper, or a PDF."""
    check_ending(path)
    phrases = load_phrases(language, "report")
    with open_store(folder) as store:
        goal = goal_of(store, code, number).noun
        period = Period(first or goal.since, last or now().date())
        if period.first > period.last:
            raise RecordError(f"the page would begin on {period.first}, after its end on {period.last}")
        data = gathered(store, goal, period)
        pattern = load_pattern(goal.pattern, language=None, told_in=language, folders=folders)
        if audience is Audience.FAMILY:
            page = family_page(data, pattern, phrases, now().date())
        else:
            page = team_page(data, pattern, phrases, now().date(), step_tasks(data, language, folders))
        told = write_page(path, page, paper)
        store.add(ExportNote(code, now(), str(path.absolute()), audience.value, given_to))
    click.echo(told)
