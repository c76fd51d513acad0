"""A small group that takes turns: whose turn it is, and the next one in one action."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from cuekit.errors import RecordError
from cuekit.records.learner import Learner
from cuekit.records.nameless import BEGINNING
from cuekit.records.store import Store
from cuekit.records.store_file import refusing


@dataclass(frozen=True)
class Roster:
    """Codes in the order in which they take turns, and the place of the one whose turn it is."""

    codes: tuple[str, ...]
    place: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.place < len(self.codes) or len(set(self.codes)) < len(self.codes):
            raise RecordError(f"a group needs at least one code, each once; got {', '.join(self.codes)}")

    @property
    def turn(self) -> str:
        """The code whose turn it is."""
        return self.codes[self.place]

    def next(self) -> Roster:
        """It is the turn of the next one; after the last comes the first."""
        return replace(self, place=(self.place + 1) % len(self.codes))

    def previous(self) -> Roster:
        """It is the turn of the one before."""
        return replace(self, place=(self.place - 1) % len(self.codes))

    def turn_of(self, code: str) -> Roster:
        """It is the turn of a code.

        Raises:
            RecordError: the code is not in the group.
        """
        if code not in self.codes:
            raise RecordError(f"{code} is not in this group: {', '.join(self.codes)}")
        return replace(self, place=self.codes.index(code))


def roster_of(store: Store, codes: Sequence[str], now: datetime) -> Roster:
    """The group of the codes given, in their order; of none, today's learners, the last one first.

    Today's are those of whom a bout or a lesson was stored since midnight; where nobody was seen today it
    is everybody, those seen last before the others.

    Raises:
        RecordError: a code is not in the records, or there is no learner at all.
    """
    if codes:
        return Roster(tuple(store.learner(code).noun.code for code in codes))
    known = [entry.noun.code for entry in store.entries(Learner)]
    known = sorted(code for code in known if not code.startswith(BEGINNING))
    if not known:
        raise RecordError("no learners yet: begin with cuekit learner add K-07")
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    seen = last_seen(store)
    by_last = sorted(known, key=lambda code: seen.get(code, datetime.min.replace(tzinfo=UTC)), reverse=True)
    today = [code for code in by_last if code in seen and seen[code] >= midnight]
    return Roster(tuple(today or by_last))


def last_seen(store: Store) -> dict[str, datetime]:
    """When a bout or a lesson of each code was last stored."""
    sql = (
        "SELECT code, stored_at FROM entries WHERE number IN "
        "(SELECT max(number) FROM entries WHERE kind IN ('bout', 'lesson') GROUP BY code)"
    )
    with refusing(store.path):
        return {code: datetime.fromisoformat(at) for code, at in store.connection.execute(sql)}
