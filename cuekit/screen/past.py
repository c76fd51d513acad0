"""The bouts of a learner as rows of a table, the newest first, each with what can be done about it."""

from __future__ import annotations

from collections.abc import Sequence

from cuekit.drawing import svg
from cuekit.hearing.events import Heard
from cuekit.records.bout_history import AMENDABLE, NUMBERS, Amendment, KeptBout
from cuekit.records.bout_record import BoutRecord
from cuekit.records.goal_text import title_of
from cuekit.reports.report_data import ReportData
from cuekit.reports.report_plot import WIDTH, draw_progress
from cuekit.screen.view import Action, Part, Row, Value
from cuekit.telling.phrases import Phrases

MOST_ROWS = 40
PLOT_HEIGHT = 230.0
VALUE_TABLES = {
    "lead": "side",
    "skill": "seen",
    "flight": "seen",
    "feet": "how_feet",
    "others": "seen",
    "met": "seen",
    "help-level": "help",
    "cue-level": "cue",
    "mode": "mode",
}
"""Where the words of a stored value are."""


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
        title_of(bout.conditions.pattern, language=phrases.language),
        _found(kept, phrases),
        ", ".join(_value(field, AMENDABLE[field].get(bout), phrases) for field in _entered(bout)),
        " ".join(changes_of(kept, phrases)),
    )
    number = (Value("number", str(kept.number)),)
    look = Action("look", phrases.say("do.look"), Part.PLAIN, values=number)
    void = Action("void", phrases.say("do.void"), Part.PLAIN, values=number)
    return Row(cells, (look, void) if kept.void_reason is None else (look,))


def changes_of(kept: KeptBout, phrases: Phrases) -> tuple[str, ...]:
    """What was set right about a bout, one sentence each, the last one that it is void, where it is.

    What was only entered after the bout is no change.
    """
    told = [_change(one, phrases) for one in kept.amendments if one.corrects]
    void = [] if kept.void_reason is None else [phrases.say("history.void", reason=kept.void_reason)]
    return (*told, *void)


def _change(change: Amendment, phrases: Phrases) -> str:
    if change.field == NUMBERS:
        many = len(change.struck)
        key = "struck.none" if not many else "struck.one" if many == 1 else "struck.more"
        what = phrases.say(key, n=many)
    else:
        old, new = (_value(change.field, value, phrases) for value in (change.old, change.new))
        what = phrases.say("changed.what", what=phrases.say(f"field.{change.field}"), old=old, new=new)
    return phrases.say("changed.why", what=what, reason=change.reason.rstrip("."))


def _entered(bout: BoutRecord) -> tuple[str, ...]:
    """What the eye saw, of what the list shows, by the names of `AMENDABLE`."""
    return tuple(field for field in ("skill", "lead") if AMENDABLE[field].get(bout))


def _value(field: str, value: str, phrases: Phrases) -> str:
    """A stored value in words; a number or a word of the teacher as it is."""
    if not value:
        return phrases.say("changed.none")
    key = f"{VALUE_TABLES[field]}.{value.replace(' ', '_')}" if field in VALUE_TABLES else ""
    return phrases.sentences.get(key, value)


def _found(kept: KeptBout, phrases: Phrases) -> str:
    numbers = kept.now.numbers
    if numbers.heard is Heard.NOT_ENOUGH:
        return phrases.say("history.unheard")
    if numbers.longest_run is not None:
        return phrases.say("history.run", run=numbers.longest_run)
    if numbers.footfalls is not None:
        return phrases.say("history.footfalls", footfalls=numbers.footfalls)
    return ""
