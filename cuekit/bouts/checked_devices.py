"""Delays of equipment that was checked, remembered by the pair of devices.

What is remembered is the delay beyond the computer's own buffers: that belongs to the devices, while
the buffers differ from take to take. A wireless delay is not remembered, as it differs each time too.
"""

from __future__ import annotations

import datetime
import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path

from cuekit.bouts.equipment import Check, Problem
from cuekit.errors import RecordError
from cuekit.files.atomic import write_text
from cuekit.files.places import state_place

FOLDER_NAMED_BY = "CUEKIT_STATE"
_FILE = "checked-devices.json"
_MOST_BYTES, _MOST_PAIRS = 256_000, 200


@dataclass(frozen=True)
class CheckedPair:
    """A loudspeaker and a microphone with what is known of them.

    Attributes:
        loudspeaker, microphone: as the system calls them.
        beyond_buffers_s: delay beside the buffers, s.
        plus_minus_s: how sure it is, s.
        checked: the day.
    """

    loudspeaker: str
    microphone: str
    beyond_buffers_s: float
    plus_minus_s: float
    checked: datetime.date


def checks_folder() -> Path:
    """Where checks are remembered: the folder named by CUEKIT_STATE, else the usual place.

    Raises:
        RecordError: there is no home folder, and none is named.
    """
    named = os.environ.get(FOLDER_NAMED_BY)
    place = Path(named) if named else state_place()
    if place is None:
        raise RecordError("there is no home folder to remember checks in: say where with --state FOLDER")
    return place


def remember(
    folder: Path, loudspeaker: str, microphone: str, check: Check, day: datetime.date
) -> CheckedPair | None:
    """Remember an accepted check in place of an earlier one; None, and the earlier one is forgotten,
    where there is nothing that would hold next time.

    Raises:
        RecordError: the folder cannot be written to.
    """
    others = tuple(pair for pair in checked_pairs(folder) if not _is(pair, loudspeaker, microphone))
    new = None
    if check.beyond_buffers_s is not None and check.plus_minus_s is not None and not _changes(check):
        new = CheckedPair(loudspeaker, microphone, check.beyond_buffers_s, check.plus_minus_s, day)
    rows = [
        asdict(pair) | {"checked": pair.checked.isoformat()} for pair in (*others, *((new,) if new else ()))
    ]
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as problem:
        raise RecordError(f"the check cannot be remembered in {folder}: {problem.strerror}") from None
    text = json.dumps({"pairs": rows[-_MOST_PAIRS:]}, ensure_ascii=False, indent=1)
    write_text(folder / _FILE, text + "\n", refusal=RecordError)
    return new


def recall(folder: Path, loudspeaker: str, microphone: str) -> CheckedPair | None:
    """The check of a pair; None where there is none."""
    found = [pair for pair in checked_pairs(folder) if _is(pair, loudspeaker, microphone)]
    return found[-1] if found else None


def checked_pairs(folder: Path) -> tuple[CheckedPair, ...]:
    """All pairs remembered; none where the file is missing or spoilt: a check is made again in seconds."""
    try:
        with (folder / _FILE).open("rb") as file:
            rows = json.loads(file.read(_MOST_BYTES))["pairs"]
        return tuple(_pair(row) for row in rows)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return ()


def _pair(row: dict) -> CheckedPair:
    beyond_s, plus_minus_s = float(row["beyond_buffers_s"]), float(row["plus_minus_s"])
    if not (abs(beyond_s) < 1.0 and 0.0 < plus_minus_s < 0.1):
        raise ValueError("a delay out of bounds")
    day = datetime.date.fromisoformat(row["checked"])
    return CheckedPair(str(row["loudspeaker"]), str(row["microphone"]), beyond_s, plus_minus_s, day)


def _is(pair: CheckedPair, loudspeaker: str, microphone: str) -> bool:
    return (pair.loudspeaker, pair.microphone) == (loudspeaker, microphone)


def _changes(check: Check) -> bool:
    return Problem.WIRELESS in check.problems
