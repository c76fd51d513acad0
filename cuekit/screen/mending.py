"""A stored bout being set right: which sound is chosen, which are struck out, and what was counted by eye.

Nothing is stored here; `cuekit.screen.shelf` does that once a reason was given.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

from cuekit.errors import RecordError
from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Pattern
from cuekit.records.bout_history import AMENDABLE, KeptBout
from cuekit.records.bout_record import COUNTS
from cuekit.records.keeping import numbers_of
from cuekit.records.rescoring import footfalls_of, scored_without
from cuekit.screen.view import Value
from cuekit.telling.phrases import Phrases
from cuekit.telling.scoring import Score

COUNTED = ("footfalls", "longest-run", "kept-beats")
"""What can be counted by eye, by the names of `AMENDABLE`; the last only where it was measured."""
REASONS = ("ball", "others", "count", "broken")
"""Usual reasons for a change, a key each; any other is typed."""


@dataclass(frozen=True)
class Sound:
    """One sound of a bout.

    Attributes:
        number: 1 for the first.
        heard: when and how loud.
        struck: whether it is left out.
        beat: 1 for the first; None without a place.
        short: whether it is the short one of its beat.
    """

    number: int
    heard: Footfall
    struck: bool
    beat: int | None
    short: bool


@dataclass(frozen=True, eq=False)
class Mending:
    """How far it has come.

    Attributes:
        kept: the bout.
        contract: all that was heard of it, as JSON; empty where it was counted by hand.
        pattern: of the bout, in the language of the page.
        score: without the sounds struck out; None where it was counted by hand.
        struck: places of the sounds left out.
        chosen: place of the one chosen, 1 for the first; 0 where there is none.
        counts: counted by eye, by the names of `AMENDABLE`.
    """

    kept: KeptBout
    contract: str
    pattern: Pattern
    score: Score | None
    struck: frozenset[int] = frozenset()
    chosen: int = 0
    counts: tuple[Value, ...] = ()

    @property
    def changed(self) -> bool:
        """Whether anything differs from what is kept."""
        return self.struck != frozenset(self.kept.struck) or bool(self.counts)

    @property
    def fields(self) -> tuple[str, ...]:
        """What can be counted."""
        told = json.loads(self.contract).get("kept_beats") if self.contract else None
        faded = told is not None or self.kept.now.numbers.kept_beats is not None
        return COUNTED if faded else COUNTED[:-1]

    def count(self, field: str) -> str:
        """A number as it would be kept; empty for none."""
        by_eye = [one.value for one in self.counts if one.name == field]
        if by_eye:
            return by_eye[-1]
        now = self.kept.now
        if self.score is not None and self.struck != frozenset(self.kept.struck):
            now = replace(now, numbers=numbers_of(self.score))
        return AMENDABLE[field].get(now)

    def sounds(self) -> tuple[Sound, ...]:
        """All sounds, in order of time, each with its place."""
        if self.score is None:
            return ()
        alignment = self.score.alignment
        placed = {
            footfall.time_s: place
            for footfall, place in zip(alignment.footfalls, alignment.places, strict=True)
            if place is not None
        }
        found = []
        for number, heard in enumerate(footfalls_of(self.contract), start=1):
            beat, place = placed.get(heard.time_s, (None, 0))
            number_shown = None if beat is None else beat + 1
            found.append(Sound(number, heard, number in self.struck, number_shown, bool(place)))
        return tuple(found)


def begun(kept: KeptBout, contract: str, pattern: Pattern, phrases: Phrases) -> Mending:
    """A bout as it is kept, its first sound chosen."""
    struck = frozenset(kept.struck)
    if not contract:
        return Mending(kept, "", pattern, None)
    chosen = 1 if footfalls_of(contract) else 0
    score = scored_without(contract, struck, pattern, kept.now.conditions.tempo_asked_bpm, phrases)
    return Mending(kept, contract, pattern, score, struck, chosen)


def walked(mending: Mending, by: int) -> Mending:
    """Another sound chosen, so many further; the last one is followed by the first."""
    many = len(footfalls_of(mending.contract)) if mending.contract else 0
    return replace(mending, chosen=(mending.chosen - 1 + by) % many + 1) if many else mending


def chosen(mending: Mending, number: str) -> Mending:
    """The sound of a number chosen.

    Raises:
        RecordError: there is none.
    """
    many = len(footfalls_of(mending.contract)) if mending.contract else 0
    if not (number.isascii() and number.isdigit() and len(number) < 6 and 1 <= int(number) <= many):
        raise RecordError(f"there is no sound {number[:10]} in this bout")
    return replace(mending, chosen=int(number))


def struck(mending: Mending) -> Mending:
    """The chosen sound struck out, or counted again; what is left is scored anew."""
    if mending.score is None or not mending.chosen:
        return mending
    after = mending.struck ^ {mending.chosen}
    tempo_bpm = mending.kept.now.conditions.tempo_asked_bpm
    score = scored_without(mending.contract, after, mending.pattern, tempo_bpm, mending.score.phrases)
    return replace(mending, struck=after, score=score)


def counted(mending: Mending, field: str, value: str) -> Mending:
    """A number as the eye counted it.

    Raises:
        RecordError: nothing of that name is counted, or it is no count.
    """
    if field not in mending.fields or field.replace("-", "_") not in COUNTS:
        raise RecordError(f'nothing here is called "{field[:40]}"')
    one = AMENDABLE[field]
    text = one.get(one.put(mending.kept.now, value))
    others = tuple(other for other in mending.counts if other.name != field)
    unset = replace(mending, counts=others)
    return unset if text == unset.count(field) else replace(mending, counts=(*others, Value(field, text)))
