"""The records as a lesson on the screen needs them: who is here, what comes next, what was done.

The records are opened for each question and closed again, so that the command line, another program and
a crash find them whole at any moment.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from cuekit.bouts.preparing import learner_to_record, lesson_cautions
from cuekit.bouts.storing import keep_own_tempo
from cuekit.errors import RecordError
from cuekit.patterns.pattern import Pattern
from cuekit.records.learner import Learner, looks_like_a_name, parse_code
from cuekit.records.lessons import Lesson
from cuekit.records.own_tempo import OwnTempo, own_tempo
from cuekit.records.roster import Roster, roster_of
from cuekit.records.standing import climb_of, ladder_of
from cuekit.records.step_choice import StepChoice
from cuekit.records.store import Entry, Store
from cuekit.records.store_waiting import open_store
from cuekit.screen.shelf import Shelf
from cuekit.teaching.ladder import Ladder
from cuekit.teaching.ladder_files import list_ladders
from cuekit.teaching.progress_text import say_decision
from cuekit.teaching.progression import Decision, decide
from cuekit.telling.phrases import Phrases


@dataclass(frozen=True)
class Seat:
    """A learner as the list shows it: the code, and the skill being learnt."""

    code: str
    skill: str


@dataclass(frozen=True, eq=False)
class Standing:
    """What is proposed to a learner.

    Attributes:
        ladder: being climbed.
        decision: the step to do next, and why.
        lines: the same in words.
        waiting: numbers of bouts whose eye mark was not entered.
    """

    ladder: Ladder
    decision: Decision
    lines: tuple[str, ...]
    waiting: tuple[int, ...]


class Desk:
    """The records behind the screen.

    Parameters:
        folder: where they lie; None for the usual place.
        now: the clock.

    Attributes:
        shelf: what was done and is kept.
    """

    def __init__(self, folder: Path | None, now: Callable[[], datetime]) -> None:
        self._folder, self.now = folder, now
        self.shelf = Shelf(self._open, now)

    def roster(self) -> tuple[Seat, ...]:
        """All learners by their codes."""
        with self._open() as store:
            learners = [entry.noun for entry in store.entries(Learner)]
        return tuple(Seat(one.code, one.skill) for one in sorted(learners, key=lambda one: one.code))

    def next_after(self, code: str) -> str:
        """Whose turn it is after a learner: of those seen today by their codes; of all where it is one."""
        with self._open() as store:
            today = {*roster_of(store, (), self.now()).codes, code}
        codes = today if len(today) > 1 else {seat.code for seat in self.roster()}
        return Roster(tuple(sorted(codes))).turn_of(code).next().turn

    def learner(self, code: str) -> Learner:
        """The settings of a learner."""
        with self._open() as store:
            return store.learner(code).noun

    def recordable(self, code: str) -> Learner:
        """The learner, where recording is allowed.

        Raises:
            RecordError: it is not.
        """
        with self._open() as store:
            return learner_to_record(store, code)

    def add(self, text: str, phrases: Phrases) -> str:
        """Begin a learner; the code as it is kept.

        Raises:
            RecordError: it is no code, may be a name, or there is such a learner.
        """
        code = parse_code(text)
        if looks_like_a_name(code):
            raise RecordError(phrases.say("refused.name", code=code))
        with self._open() as store:
            if store.entries(Learner, code):
                raise RecordError(phrases.say("refused.there", code=code))
            store.add(Learner(code, language=phrases.language))
        return code

    def keep_settings(self, code: str, cue_set: str) -> None:
        """Keep the sounds that the child chose."""
        with self._open() as store:
            store.change(code, lambda learner: replace(learner, cue_set=cue_set))

    def let_child_view(self, code: str, *, shown: bool) -> None:
        """Whether this child is shown a view of their own, from now on."""
        with self._open() as store:
            store.change(code, lambda learner: replace(learner, child_view=shown))

    def note_own_tempo(self, code: str, pattern: Pattern) -> OwnTempo | None:
        """Keep the learner's own tempo in a skill where enough bouts without a cue show it; else None."""
        with self._open() as store:
            found = own_tempo(store.bouts(code), pattern.name)
            if found is not None:
                keep_own_tempo(store, found, code)
        return found

    def standing(self, code: str, phrases: Phrases) -> Standing | None:
        """What comes next for a learner; None where no ladder is being climbed yet."""
        with self._open() as store:
            learner = store.learner(code).noun
            try:
                ladder = ladder_of(store, code, learner.skill, language=phrases.language)
            except RecordError:
                return None
            found = climb_of(store, code, ladder)
        decision = decide(found.events, ladder)
        return Standing(ladder, decision, tuple(say_decision(decision, ladder, phrases)), found.waiting)

    def climb(self, code: str, name: str) -> bool:
        """Begin the ladder of a skill, where there is one of that name; whether there is."""
        if name not in list_ladders():
            return False
        with self._open() as store:
            store.change(code, lambda learner: replace(learner, skill=name))
        return True

    def choose_step(self, code: str, ladder: Ladder, step: str) -> None:
        """The teacher's own choice of a step; it stands over the proposal."""
        with self._open() as store:
            proposed = decide(climb_of(store, code, ladder).events, ladder).to.key
            store.add(StepChoice(code, self.now(), ladder.step(step).key, proposed, ""))
            store.change(code, lambda learner: replace(learner, skill=ladder.name))

    def cautions(self, pattern: Pattern, code: str, phrases: Phrases) -> tuple[str, ...]:
        """What to mind: once a lesson, and the teacher's own note each time."""
        if not code:
            return lesson_cautions(pattern, phrases, None, None, self.now())
        with self._open() as store:
            return lesson_cautions(pattern, phrases, store.learner(code).noun, store, self.now())

    def lesson(self, code: str) -> Lesson | None:
        """The lesson that runs; None where none does."""
        entry = self._running(code)
        return entry.noun if entry else None

    def start_or_stop_lesson(self, code: str) -> None:
        """Begin a lesson, or end the one that runs."""
        running = self._running(code)
        with self._open() as store:
            if running is None:
                store.add(Lesson(code, self.now()))
            else:
                minutes = running.noun.stopped_at(self.now())
                store.add(replace(running.noun, minutes=minutes), about=running.about)

    def _running(self, code: str) -> Entry[Lesson] | None:
        with self._open() as store:
            running = [entry for entry in store.entries(Lesson, code) if entry.noun.minutes is None]
        return running[-1] if running else None

    def _open(self) -> Store:
        return open_store(self._folder)
