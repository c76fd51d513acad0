"""Agreement between two people, and between a person and the program, on the same bouts.

Agreements / (agreements + disagreements) x 100, bout by bout: the usual point-by-point agreement of
observation research (formula from memory). What one side did not enter is no trial of that question.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from types import MappingProxyType

from cuekit.errors import RecordError
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import Seen


@dataclass(frozen=True)
class Observation:
    """What one person counted and saw of a bout, without talking to another.

    Attributes:
        bout: identity of the bout.
        learner: the code.
        observer: initials or a number, not a name.
        at: when it was entered.
        footfalls: counted.
        met: whether the target was reached, by eye and count.
        skill: whether it was the skill.
    """

    bout: str
    learner: str
    observer: str
    at: datetime
    footfalls: int | None = None
    met: bool | None = None
    skill: Seen | None = None

    def __post_init__(self) -> None:
        if not 1 <= len(self.observer) <= 8 or not self.observer.isalnum():
            raise RecordError(
                f"an observer is 1 to 8 letters or digits, such as A; got {self.observer[:20]!r}"
            )


@dataclass(frozen=True)
class Agreement:
    """How often two said the same.

    Attributes:
        first, second: who; the program is "program".
        question: "footfalls", "met" or "skill".
        agreed: times they agreed.
        trials: times both answered.
        days: first and last day of those bouts.
    """

    first: str
    second: str
    question: str
    agreed: int
    trials: int
    days: tuple[date, date]

    @property
    def percent(self) -> float:
        """Agreements of all trials, %."""
        return 100.0 * self.agreed / self.trials


PROGRAM = "program"
QUESTIONS = ("footfalls", "met", "skill")


def agreements(
    observations: Sequence[Observation],
    bouts: Iterable[KeptBout],
    met_by_program: Mapping[str, bool] = MappingProxyType({}),
) -> tuple[Agreement, ...]:
    """Agreement of each pair of people, then of each person with the program.

    Args:
        observations: of one learner; those on other bouts are left out.
        bouts: of that learner; the program's count is the one first stored, before any correction.
        met_by_program: its own verdicts by the identity of the bout, `goals.verdicts_by_ear`.
    """
    kept = {one.id: one for one in bouts}
    heard = {one.id: one.stored.numbers.footfalls for one in kept.values() if one.stored.rules}
    answers: dict[str, dict[str, Observation]] = {}
    for one in observations:  # a person's later entry on a bout takes the place of the earlier
        if one.bout in kept:
            answers.setdefault(one.observer, {})[one.bout] = one
    names = sorted(answers)

    def of(name: str, question: str) -> Answers:
        return {bout: getattr(one, question) for bout, one in answers[name].items()}

    sides = [
        (a, b, q, of(a, q), of(b, q)) for n, a in enumerate(names) for b in names[n + 1 :] for q in QUESTIONS
    ]
    for name in names:
        sides.append((name, PROGRAM, "footfalls", of(name, "footfalls"), heard))
        sides.append((name, PROGRAM, "met", of(name, "met"), met_by_program))

    found = (_compare(*side, lambda bout: kept[bout].now.day) for side in sides)
    return tuple(one for one in found if one is not None)


Answers = Mapping[str, object]
"""What one side says of each bout, by its identity; None where nothing."""


def _compare(
    first: str, second: str, question: str, one: Answers, other: Answers, day: Callable[[str], date]
) -> Agreement | None:
    """How often two sides agree; None where no bout was answered by both."""
    both = [bout for bout, said in one.items() if said is not None and other.get(bout) is not None]
    if not both:
        return None
    days = [day(bout) for bout in both]
    agreed = sum(one[bout] == other[bout] for bout in both)
    return Agreement(first, second, question, agreed, len(both), (min(days), max(days)))
