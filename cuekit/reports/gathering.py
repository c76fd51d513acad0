"""A report's numbers gathered from the records."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.records.agreement import Observation, agreements
from cuekit.records.goals import Goal, verdicts_by_ear
from cuekit.records.lessons import Lesson
from cuekit.records.step_choice import StepChoice
from cuekit.records.store import Entry, Store
from cuekit.reports.report_data import Period, ReportData, report_data
from cuekit.teaching.ladder_files import list_ladders, load_ladder


def gathered(store: Store, goal: Goal, period: Period) -> ReportData:
    """All that a page on a goal shows of one period."""
    bouts = store.bouts(goal.learner)
    seen = [entry.noun for entry in store.entries(Observation, goal.learner)]
    lessons = [entry.noun for entry in store.entries(Lesson, goal.learner)]
    by_ear = verdicts_by_ear(goal, bouts)
    inside = [lesson for lesson in lessons if period.holds(lesson.start.date())]
    return report_data(
        goal,
        bouts,
        period,
        agreements=agreements(seen, [one for one in bouts if period.holds(one.now.day)], by_ear),
        choices=[entry.noun for entry in store.entries(StepChoice, goal.learner)],
        minutes=sum(lesson.minutes or 0 for lesson in inside),
        owed=sum(lesson.owed_min for lesson in inside),
        places=[lesson.place for lesson in inside],
    )


def step_tasks(data: ReportData, language: str, folders: Sequence[Path] = ()) -> dict[str, str]:
    """What a learner is asked to do at each step that a page tells of, by its name, in a language."""
    named = {one.step for one in (*data.steps, *data.choices)} | {one.proposed for one in data.choices}
    names = list_ladders(folders=folders) if named else ()
    ladders = [load_ladder(name, language=language, folders=folders) for name in names]
    return {
        step.key: f"{ladder.title} {step.number}: {step.task}"
        for ladder in ladders
        for step in ladder.steps
        if step.key in named
    }


def goal_of(store: Store, code: str, number: int | None = None) -> Entry[Goal]:
    """A learner's goal of a number; None for the newest open one.

    Raises:
        RecordError: there is none.
    """
    store.learner(code)
    found = [entry for entry in store.entries(Goal, code) if number in (None, entry.number)]
    chosen = [entry for entry in found if number is not None or not entry.noun.closed]
    if not chosen:
        which = "open goal" if number is None else f"goal {number}"
        raise RecordError(
            f"{code} has no {which}: cuekit goal list {code} shows them, cuekit goal add sets one"
        )
    return chosen[-1]
