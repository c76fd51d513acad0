"""What was changed about a stored bout: amendments laid over it in order, the first version kept.

An amendment never touches the stored bout; `KeptBout.now` is the bout with all of them laid over it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Any

from cuekit.errors import RecordError
from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import (
    COUNTS,
    BoutRecord,
    Feet,
    HelpLevel,
    Mode,
    Numbers,
    Seen,
)
from cuekit.records.learner import LONGEST_TEXT
from cuekit.records.record_json import from_text, to_plain, to_text


@dataclass(frozen=True)
class Amendment:
    """One change to a stored bout; an empty `field` voids it.

    Attributes:
        bout: identity of the bout.
        at: when it was changed.
        field: what was changed, a key of `AMENDABLE`; empty for a void.
        old, new: as text, for the history.
        reason: why, in the teacher's words.
        struck: where the numbers were measured anew, the places of all sounds left out, 1 for the first.
    """

    bout: str
    at: datetime
    field: str
    old: str
    new: str
    reason: str
    struck: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.field and self.field not in AMENDABLE:
            known = ", ".join(AMENDABLE)
            raise RecordError(f'"{self.field[:40]}" cannot be corrected: choose one of {known}')
        if not self.reason.strip():
            raise RecordError("a correction or a void needs a reason, in a few words")
        if len(self.reason) > LONGEST_TEXT:
            raise RecordError(f"a reason may have {LONGEST_TEXT} characters, got {len(self.reason)}")

    @property
    def corrects(self) -> bool:
        """Whether something that was there was changed, not only entered (an eye mark after the bout)."""
        return bool(self.field and self.old)

    @property
    def changes(self) -> tuple[tuple[str, str, str], ...]:
        """What was changed, one thing at a time: its name, before, after; nothing for a void."""
        if self.field != NUMBERS:
            return ((self.field, self.old, self.new),) if self.field else ()
        old, new = (to_plain(from_text(Numbers, text)) for text in (self.old, self.new))
        both = [(name.replace("_", "-"), old[name], new[name]) for name in new if old[name] != new[name]]
        return tuple((name, *("" if one is None else str(one) for one in pair)) for name, *pair in both)


@dataclass(frozen=True)
class KeptBout:
    """A bout and its history.

    Attributes:
        id: identity, the same on every laptop.
        number: running number in this file, by which the teacher names it.
        stored: as it was first stored.
        amendments: in the order they were made.
    """

    id: str
    number: int
    stored: BoutRecord
    amendments: tuple[Amendment, ...] = ()

    @property
    def now(self) -> BoutRecord:
        """The bout with all corrections laid over it."""
        bout = self.stored
        for amendment in self.amendments:
            if amendment.field:
                bout = AMENDABLE[amendment.field].put(bout, amendment.new)
        return bout

    @property
    def corrections(self) -> int:
        """How many corrections were made; what was only entered later is none."""
        return sum(amendment.corrects for amendment in self.amendments)

    @property
    def struck(self) -> tuple[int, ...]:
        """Places of the sounds that are struck out now, 1 for the first."""
        made = [amendment.struck for amendment in self.amendments if amendment.field == NUMBERS]
        return made[-1] if made else ()

    @property
    def void_reason(self) -> str | None:
        """Why it was voided; None where it counts."""
        reasons = [amendment.reason for amendment in self.amendments if not amendment.field]
        return reasons[-1] if reasons else None


@dataclass(frozen=True)
class Amendable:
    """One thing of a bout that may be corrected: where it lies and how its text is read."""

    part: str
    attribute: str
    read: Callable[[str], Any]

    def get(self, bout: BoutRecord) -> str:
        """Its present value as text; empty where not entered."""
        holder = getattr(bout, self.part) if self.part else bout
        value = getattr(holder, self.attribute)
        if isinstance(value, Numbers):
            return to_text(value)
        if isinstance(value, bool):
            return _YES_NO[value]
        return "" if value is None else str(value)

    def put(self, bout: BoutRecord, text: str) -> BoutRecord:
        """The bout with the value of `text`; an empty text takes the entry away.

        Raises:
            RecordError: the text is no such value.
        """
        try:
            value = self.read(text) if text else None
        except ValueError:
            name = self.attribute.replace("_", " ")
            raise RecordError(f"{name} cannot be {text[:40]!r}{_choices(self.read)}") from None
        if not self.part:
            return replace(bout, **{self.attribute: value})
        return replace(bout, **{self.part: replace(getattr(bout, self.part), **{self.attribute: value})})


NUMBERS = "numbers"
"""All numbers of a bout at once, measured anew after sounds were struck out."""
_YES_NO = {True: "yes", False: "no"}


def _yes_no(text: str) -> bool:
    if text not in ("yes", "no"):
        raise ValueError(text)
    return text == "yes"


def _numbers(text: str) -> Numbers:
    return from_text(Numbers, text)


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        raise ValueError(text)
    return int(text)


def _choices(read: Callable[[str], Any]) -> str:
    if isinstance(read, type) and issubclass(read, StrEnum):
        return f": choose one of {', '.join(read)}"
    return ": enter yes or no" if read is _yes_no else ": enter a whole number of 0 or more"


AMENDABLE = {
    **{name.replace("_", "-"): Amendable("numbers", name, _count) for name in COUNTS},
    "heard": Amendable("numbers", "heard", Heard),
    "rhythm": Amendable("numbers", "rhythm", str),
    "lead": Amendable("eye", "lead", Side),
    "skill": Amendable("eye", "skill", Seen),
    "feet": Amendable("eye", "feet", Feet),
    "flight": Amendable("eye", "flight", Seen),
    "others": Amendable("eye", "others", _yes_no),
    "cue-level": Amendable("conditions", "cue_level", CueLevel),
    "help-level": Amendable("conditions", "help_level", HelpLevel),
    "mode": Amendable("conditions", "mode", Mode),
    "met": Amendable("", "met_by_teacher", _yes_no),
    NUMBERS: Amendable("", "numbers", _numbers),
}
"""What may be corrected, by the word the teacher uses."""
