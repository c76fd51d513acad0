"""The bouts of a learner as rows of a table, the newest first, each with what can be done about it."""

from __future__ import annotations

from collections.abc import Sequence

from cuekit.drawing import svg
from cuekit.errors import PatternError
from cuekit.hearing.events import Heard
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.bout_history import KeptBout
from cuekit.reports.report_data import ReportData
from cuekit.reports.report_plot import WIDTH, draw_progress
from cuekit.screen.view import Action, Part, Row, Value
from cuekit.telling.phrases import Phrases

MOST_ROWS = 40
PLOT_HEIGHT = 230.0


def rows_of(bouts: Sequence[KeptBout], phrases: Phrases) -> tuple[Row, ...]:
    """The newest bouts; what was not entered is left empty."""
    return tuple(_row(kept, phrases) for kept in reversed(bouts[-MOST_ROWS:]))


def goal_plot(report: ReportData, pages: Phrases) -> str:
    """The goal's dots, each side below the other; `pages` are the report's phrases."""
    goal, standings = report.goal, report.evaluation.standings
    drawn = [draw_progress(one, goal.measure, goal.at_least, pages, PLOT_HEIGHT) for one in standings]
    placed = [
        one.replace("<svg ", f'<svg y="{n * PLOT_HEIGHT:g}" width="{WIDTH:g}" height="{PLOT_HEIGHT:g}" ', 1)
        for n, one in enumerate(drawn)
    ]
    size = f"0 0 {WIDTH:g} {PLOT_HEIGHT * len(drawn):g}"
    return svg.element("svg", *placed, xmlns="http://www.w3.org/2000/svg", viewBox=size)


def _row(kept: KeptBout, phrases: Phrases) -> Row:
    bout = kept.now
    cells = (
        str(kept.number),
        f"{bout.at:%Y-%m-%d %H:%M}",
        _what(bout.conditions.pattern, phrases),
        _found(kept, phrases),
        bout.eye.skill.value if bout.eye.skill else "",
        phrases.say("history.void", reason=kept.void_reason) if kept.void_reason is not None else "",
    )
    if kept.void_reason is not None:
        return Row(cells)
    void = Action("void", phrases.say("do.void"), Part.PLAIN, values=(Value("number", str(kept.number)),))
    return Row(cells, (void,))


def _what(name: str, phrases: Phrases) -> str:
    """The skill in words; its name where its pattern is no longer there."""
    try:
        return load_pattern(name, language=phrases.language).title
    except PatternError:
        return name


def _found(kept: KeptBout, phrases: Phrases) -> str:
    numbers = kept.now.numbers
    if numbers.heard is Heard.NOT_ENOUGH:
        return phrases.say("history.unheard")
    if numbers.longest_run is not None:
        return phrases.say("history.run", run=numbers.longest_run)
    if numbers.footfalls is not None:
        return phrases.say("history.footfalls", footfalls=numbers.footfalls)
    return ""
