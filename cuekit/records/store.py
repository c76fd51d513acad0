"""The records: nouns in, nouns out, each stored the moment it is added.

A row is never changed. What can be edited (a learner's settings, a goal, a lesson) is stored as a newer
version about the same thing; what happened (a bout, a correction) is stored once.
"""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Generic, TypeVar

from cuekit.errors import RecordError
from cuekit.files.filenames import shown
from cuekit.records.agreement import Observation
from cuekit.records.bout_history import Amendment, KeptBout
from cuekit.records.bout_record import BoutRecord
from cuekit.records.goals import Goal
from cuekit.records.learner import LONGEST_TEXT, Learner
from cuekit.records.lessons import Lesson
from cuekit.records.record_json import from_text, to_text
from cuekit.records.row_sums import ADD_CONTRACT, ADD_ENTRY, CONTRACT_SUM, ENTRY_SUM
from cuekit.records.step_choice import StepChoice, StopSeen
from cuekit.records.store_file import open_file, records_path, refusing, transaction
from cuekit.records.store_schema import MIGRATIONS


@dataclass(frozen=True)
class ExportNote:
    """That something on a learner left the records: when, to which file, why, and to whom it was given."""

    learner: str
    at: datetime
    file: str
    purpose: str = ""
    given_to: str = ""

    def __post_init__(self) -> None:
        if max(len(self.purpose), len(self.given_to)) > LONGEST_TEXT:
            raise RecordError(f"why, and to whom: at most {LONGEST_TEXT} characters each")


KINDS = {
    "learner": Learner,
    "bout": BoutRecord,
    "amendment": Amendment,
    "observation": Observation,
    "goal": Goal,
    "lesson": Lesson,
    "choice": StepChoice,
    "stop": StopSeen,
    "export": ExportNote,
}
"""Names of the nouns in the file."""
_NAME_OF = {noun: name for name, noun in KINDS.items()}

Noun = TypeVar("Noun")


@dataclass(frozen=True)
class Entry(Generic[Noun]):
    """A stored noun.

    Attributes:
        id: identity of this row, the same on every laptop.
        number: running number in this file of the first version, by which the teacher names the thing.
        about: identity of the thing of which this is a version.
        version: 1 and up.
        noun: the thing itself.
    """

    id: str
    number: int
    about: str
    version: int
    noun: Noun


class Store:
    """An open records file. Use it in a `with` block.

    Parameters:
        folder: the data folder.
        now: the clock, for the time a row was stored.
        migrations: the schema; only tests give another.

    Raises:
        RecordError: from every method, where the file cannot be used.
    """

    def __init__(
        self,
        folder: Path,
        *,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        migrations: Sequence[str] = MIGRATIONS,
    ) -> None:
        self.folder = folder
        self.path = records_path(folder)
        self._now = now
        self.connection: sqlite3.Connection = open_file(folder, migrations=migrations)

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.connection.close()

    def add(self, noun: Any, *, code: str = "", about: str = "", contract: str = "") -> Entry:
        """Store one noun; it is on the disk when this returns.

        Args:
            noun: one of `KINDS`.
            code: whose it is, where the noun does not say so itself.
            about: identity of the thing this is a newer version of; empty for a new thing.
            contract: of a bout, all that was heard as JSON.
        """
        if isinstance(noun, Learner):
            code = about = noun.code  # one set of settings a code, on every laptop
        owner = code or noun.learner
        with refusing(self.path), transaction(self.connection):
            return self.insert(noun, owner, about, contract)

    def insert(self, noun: Any, owner: str, about: str = "", contract: str = "") -> Entry:
        """The same as `add` within a transaction of the caller, whose it is told by `owner`."""
        row_id = secrets.token_hex(8)
        highest = (
            "SELECT coalesce(max(version), 0) + 1 FROM entries WHERE code = ? AND kind = ? AND about = ?"
        )
        kind = _NAME_OF[type(noun)]
        (version,) = self.connection.execute(highest, (owner, kind, about or row_id)).fetchone()
        row = (row_id, kind, about or row_id, version, owner, self._now().isoformat(), to_text(noun))
        number = self.connection.execute(ADD_ENTRY, row).lastrowid
        if contract:
            self.connection.execute(ADD_CONTRACT, (row_id, contract))
        return Entry(row_id, number, about or row_id, version, noun)

    def entries(self, noun: type[Noun], code: str | None = None) -> list[Entry[Noun]]:
        """Newest versions of all things of a kind, of one learner or of all, in the order first stored."""
        sql = f"SELECT id, number, about, version, record, sum = {ENTRY_SUM} FROM entries WHERE kind = ?"
        values = [_NAME_OF[noun]]
        if code is not None:
            sql, values = f"{sql} AND code = ?", [*values, code]
        with refusing(self.path):
            rows = self.connection.execute(f"{sql} ORDER BY version, stored_at, number", values).fetchall()
        newest: dict[str, tuple] = {}
        for row_id, number, about, version, text, whole in rows:
            self._check(whole, f"entry {number}")
            first = newest[about][1] if about in newest else number
            newest[about] = (row_id, first, about, version, text)
        return [Entry(*row[:4], from_text(noun, row[4])) for row in newest.values()]

    def learner(self, code: str) -> Entry[Learner]:
        """The settings of one learner.

        Raises:
            RecordError: there is no such code.
        """
        found = self.entries(Learner, code)
        if not found:
            raise RecordError(f"no learner {code} in the records: begin with cuekit learner add {code}")
        return found[-1]

    def change(self, code: str, how: Callable[[Learner], Learner]) -> None:
        """Change a learner's settings as they are now, so that no other program's change is set back.

        Raises:
            RecordError: there is no such code.
        """
        with refusing(self.path), transaction(self.connection):
            learner = self.learner(code).noun
            changed = how(learner)
            if changed != learner:
                self.insert(changed, code, code)

    def bouts(self, code: str) -> list[KeptBout]:
        """All bouts of a learner with their history, in order of time."""
        history: dict[str, list[Amendment]] = {}
        for entry in sorted(self.entries(Amendment, code), key=lambda entry: (entry.noun.at, entry.number)):
            history.setdefault(entry.noun.bout, []).append(entry.noun)
        bouts = [
            KeptBout(entry.id, entry.number, entry.noun, tuple(history.get(entry.id, ())))
            for entry in self.entries(BoutRecord, code)
        ]
        return sorted(bouts, key=lambda kept: (kept.stored.at, kept.number))

    def bout(self, number: int) -> KeptBout:
        """The bout of a running number.

        Raises:
            RecordError: there is none.
        """
        with refusing(self.path):
            sql = "SELECT code FROM entries WHERE number = ? AND kind = 'bout'"
            row = self.connection.execute(sql, (number,)).fetchone()
        if row is None:
            raise RecordError(f"no bout {number}: cuekit bouts CODE lists them with their numbers")
        return next(kept for kept in self.bouts(row[0]) if kept.number == number)

    def contract(self, bout: str) -> str | None:
        """All that was heard of a bout, as JSON; None where no recording was scored."""
        with refusing(self.path):
            sql = f"SELECT contract, sum = {CONTRACT_SUM} FROM contracts WHERE bout = ?"
            row = self.connection.execute(sql, (bout,)).fetchone()
        if row is not None:
            self._check(row[1], "what was heard of a bout")
        return row[0] if row else None

    def _check(self, whole: int, what: str) -> None:
        """Refuse a row that is not as it was stored."""
        if not whole:
            raise RecordError(
                f"the records {shown(self.path)} are damaged: {what} is not as it was stored.\n"
                "Look with: cuekit records check. Bring back a backup with: cuekit records restore."
            )

    def bout_counts(self) -> dict[str, int]:
        """How many bouts each code has."""
        sql = "SELECT code, count(*) FROM entries WHERE kind = 'bout' GROUP BY code"
        with refusing(self.path):
            return dict(self.connection.execute(sql).fetchall())
