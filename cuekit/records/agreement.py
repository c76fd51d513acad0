"""Agreement between two people, and between a person and the program, on the same bouts.

Agreements / (agreements + disagreements) x 100, bout by bout: the usual point-by-point agreement of
observation research (formula from memory). What one side did not enter is no trial of that question.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

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
    """

    first: str
    second: str
    question: str
    agreed: int
    trials: int

    @property
    def percent(self) -> float:
        """Agreements of all trials, %."""
        return 100.0 * self.agreed / self.trials


PROGRAM = "program"
QUESTIONS = ("footfalls", "met", "skill")


def agreements(observations: Sequence[Observation], bouts: Iterable[KeptBout]) -> tuple[Agreement, ...]:
    """Agreement of each pair of people, then of each person with the program's own footfall count.

    The program's count is the one first stored, before any correction.
    """
    answers: dict[str, dict[str, Observation]] = {}
    for one in observations:  # a person's later entry on a bout takes the place of the earlier
        answers.setdefault(one.observer, {})[one.bout] = one
    names = sorted(answers)
    found = [
        _compare(first, second, question, _both(answers[first], answers[second], question))
        for n, first in enumerate(names)
        for second in names[n + 1 :]
        for question in QUESTIONS
    ]
    heard = {kept.id: kept.stored.numbers.footfalls for kept in bouts if kept.stored.rules}
    for name in names:
        pairs = [(one.footfalls, heard.get(bout)) for bout, one in answers[name].items()]
        found.append(_compare(name, PROGRAM, "footfalls", pairs))
    return tuple(one for one in found if one.trials)


def _both(first: dict[str, Observation], second: dict[str, Observation], question: str) -> list[tuple]:
    return [
        (getattr(first[bout], question), getattr(second[bout], question)) for bout in first if bout in second
    ]


def _compare(first: str, second: str, question: str, pairs: Sequence[tuple]) -> Agreement:
    answered = [(a, b) for a, b in pairs if a is not None and b is not None]
    return Agreement(first, second, question, sum(a == b for a, b in answered), len(answered))
