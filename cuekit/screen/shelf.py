"""What was done and is kept, as the screen needs it: bouts and what was set right, goals, printed pages.

Only what belongs to the learner on the screen is ever touched.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime

from cuekit.bouts.live_verdict import Verdict
from cuekit.bouts.storing import store_live
from cuekit.errors import RecordError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records import correcting
from cuekit.records.bout_history import AMENDABLE, KeptBout
from cuekit.records.bout_record import BoutRecord, Conditions
from cuekit.records.goal_steps import proposed
from cuekit.records.goals import Evaluation, Goal, evaluate
from cuekit.records.keeping import heard_bouts, rules_of
from cuekit.records.standing import ladder_of
from cuekit.records.store import ExportNote, Store
from cuekit.reports.gathering import gathered, goal_of
from cuekit.reports.report import family_page, team_page
from cuekit.reports.report_data import Period, ReportData
from cuekit.screen.mending import Mending, begun
from cuekit.teaching.ladder import LadderStep
from cuekit.telling.phrases import load_phrases
from cuekit.telling.scoring import Score

PAPERS = {"family": family_page, "team": team_page}
ENTERED = "entered after the bout"


@dataclass(frozen=True, eq=False)
class History:
    """What was done so far: bouts in order of time, and the goal's numbers where there is a goal."""

    bouts: tuple[KeptBout, ...]
    report: ReportData | None


@dataclass(frozen=True, eq=False)
class Goals:
    """What a learner's goal is, and what it could be.

    Attributes:
        now: the newest open goal and where it stands; None where there is none.
        steps: of the ladder being climbed, each with the goal it asks for.
    """

    now: Evaluation | None
    steps: tuple[tuple[LadderStep, Goal], ...]


class Shelf:
    """The bouts and goals behind the screen.

    Parameters:
        open_: opens the records; they are closed again after each question.
        now: the clock.
    """

    def __init__(self, open_: Callable[[], Store], now: Callable[[], datetime]) -> None:
        self._open, self.now = open_, now

    def store(self, verdict: Verdict, code: str, conditions: Conditions) -> tuple[int, ...]:
        """Store a live bout now; its numbers."""
        with self._open() as store:
            return store_live(store, verdict, code, conditions, self.now())

    def store_recording(self, score: Score, code: str, conditions: Conditions) -> tuple[int, ...]:
        """Store each bout of a recording; their numbers."""
        with self._open() as store:
            numbers, pattern = [], score.alignment.pattern
            for one in heard_bouts(score):
                bout = BoutRecord(code, self.now(), conditions, one.numbers, rules=rules_of(pattern))
                numbers.append(store.add(bout, contract=one.contract).number)
            return tuple(numbers)

    def enter(self, code: str, numbers: tuple[int, ...], field: str, new: str) -> None:
        """Lay what the eye saw over bouts of a learner; empty takes it away again."""
        with self._open() as store:
            for number in numbers:
                kept = _own(store, code, number)
                if AMENDABLE[field].get(kept.now) != new:
                    correcting.correct(store, kept, field, new, ENTERED, self.now())

    def void(self, code: str, number: int, reason: str) -> None:
        """Let a bout of a learner count no longer.

        Raises:
            RecordError: the learner has no such bout, it is void already, or no reason was given.
        """
        with self._open() as store:
            correcting.void(store, _own(store, code, number), reason, self.now())

    def mending(self, code: str, number: int, language: str) -> Mending:
        """A bout of a learner as it is kept, to be looked at again or set right.

        Raises:
            RecordError: the learner has no such bout.
            PatternError: its pattern is no longer there.
        """
        with self._open() as store:
            kept = _own(store, code, number)
            pattern = correcting.pattern_of(store, kept, language=language)
            return begun(kept, store.contract(kept.id) or "", pattern, load_phrases(language))

    def mend(self, code: str, mending: Mending, reason: str) -> None:
        """Keep what was set right, beside what was there; each thing by itself.

        Raises:
            RecordError: nothing was changed, or no reason was given.
        """
        number = mending.kept.number
        with self._open() as store:
            kept = _own(store, code, number)
            if mending.struck != frozenset(kept.struck):
                correcting.strike(store, kept, mending.struck, reason, self.now())
            for one in mending.counts:
                kept = _own(store, code, number)
                if AMENDABLE[one.name].get(kept.now) != one.value:
                    correcting.correct(store, kept, one.name, one.value, reason, self.now())

    def history(self, code: str) -> History:
        """What was done so far."""
        with self._open() as store:
            bouts = tuple(store.bouts(code))
            goal = _goal_of(store, code)
            return History(bouts, None if goal is None else gathered(store, goal, self._period(goal)))

    def goals(self, code: str, language: str) -> Goals:
        """The goal, and those that the ladder proposes."""
        with self._open() as store:
            learner, goal = store.learner(code).noun, _goal_of(store, code)
            now = None if goal is None else evaluate(goal, store.bouts(code))
            try:
                ladder = ladder_of(store, code, learner.skill, language=language)
            except RecordError:
                return Goals(now, ())
            return Goals(now, proposed(ladder, learner, self._today))

    def set_goal(self, goal: Goal) -> None:
        """Keep a goal; it begins today."""
        with self._open() as store:
            store.learner(goal.learner)
            store.add(replace(goal, since=self._today))

    def close_goal(self, code: str) -> None:
        """End the newest open goal; it stays in the records.

        Raises:
            RecordError: there is none.
        """
        with self._open() as store:
            entry = goal_of(store, code)
            store.add(replace(entry.noun, closed=True), about=entry.about)

    def paper(self, code: str, name: str, language: str) -> str:
        """A printable page on a learner's goal, as HTML; that it left the records is noted.

        Raises:
            RecordError: there is no such page, or no goal.
        """
        if name not in PAPERS:
            raise RecordError("there is no such page")
        phrases = load_phrases(language, "report")
        with self._open() as store:
            goal = goal_of(store, code).noun
            pattern = load_pattern(goal.pattern, language=language)
            page = PAPERS[name](gathered(store, goal, self._period(goal)), pattern, phrases, self._today)
            store.add(ExportNote(code, self.now(), "on the screen", name))
        return page

    @property
    def _today(self) -> date:
        return self.now().date()

    def _period(self, goal: Goal) -> Period:
        return Period(min(goal.since, self._today), self._today)


def _own(store: Store, code: str, number: int) -> KeptBout:
    """A bout of this learner.

    Raises:
        RecordError: there is none of that number.
    """
    kept = next((one for one in store.bouts(code) if one.number == number), None)
    if kept is None:
        raise RecordError(f"this learner has no bout {number}: choose one in the list")
    return kept


def _goal_of(store: Store, code: str) -> Goal | None:
    """The newest open goal."""
    try:
        return goal_of(store, code).noun
    except RecordError:
        return None
