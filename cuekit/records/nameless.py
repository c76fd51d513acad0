"""Bouts kept for their numbers after everything that tells whose they were is gone.

Destroying records may mean to destroy them, or to take away what identifies the child (34 CFR 300.611 in
general terms; local rules come first). What stays is under a code drawn by chance that nobody has been
given: conditions, numbers and eye marks of the bouts that count. Days are counted from a day that never
was a lesson, so that neither calendar nor clock leads back; no note, sound, goal, lesson or setting stays.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import BoutRecord

FIRST_DAY = datetime(2000, 1, 1, tzinfo=UTC)
"""Stands for the day of the first bout."""
BEGINNING = "NOBODY-"
OWN_PATTERN = "own"
"""Stands for the name of a pattern of the teacher's own."""
_KNOWN_STEP = re.compile(r"(probe )?[a-z]+(-[a-z0-9]+)*|[A-Z]\d{1,2}", re.ASCII)


def drawn_code() -> str:
    """A code that says nothing of anybody."""
    return BEGINNING + secrets.token_hex(4).upper()


def nameless(bouts: Sequence[KeptBout], code: str, patterns: Collection[str]) -> tuple[BoutRecord, ...]:
    """The bouts that count, as they stand after corrections, under another code.

    Args:
        bouts: of one learner, in order of time.
        code: the code drawn for them.
        patterns: names of the shipped ones; the name of a teacher's own may tell whose it is.
    """
    counting = [kept.now for kept in bouts if kept.void_reason is None]
    return tuple(
        replace(
            bout,
            learner=code,
            at=FIRST_DAY + timedelta(days=(bout.day - counting[0].day).days, minutes=number),
            conditions=replace(
                bout.conditions,
                pattern=bout.conditions.pattern if bout.conditions.pattern in patterns else OWN_PATTERN,
                step=_told_step(bout.conditions.step),
            ),
            note="",
        )
        for number, bout in enumerate(counting)
    )


def _told_step(step: str) -> str:
    """The step where it is one of a ladder; the teacher's own words may name somebody."""
    return step if _KNOWN_STEP.fullmatch(step) else ""
