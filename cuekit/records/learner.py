"""A learner: a code chosen by the teacher, never a name, and how that learner's lessons are set up.

A code begins with a letter and holds at least three characters, so that its bytes are not met by
chance in dates and numbers when all that is kept on it has been deleted and the files are searched.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from cuekit.errors import RecordError

SHORTEST_CODE, LONGEST_CODE = 3, 16
LONGEST_TEXT = 500
"""Characters a note or a restriction may have."""
SLOWEST_BPM, FASTEST_BPM = 20.0, 300.0

_CODE = re.compile(r"[A-Z][A-Z0-9]*(?:-[A-Z0-9]+)*", re.ASCII)


def parse_code(text: str) -> str:
    """The code as it is kept: capital letters, digits and single hyphens. "k-07" becomes "K-07".

    Raises:
        RecordError: it is not of that form.
    """
    code = text.strip()
    code = code.upper() if code.isascii() else code
    if not _CODE.fullmatch(code) or not SHORTEST_CODE <= len(code) <= LONGEST_CODE:
        raise RecordError(
            f"a learner's code has {SHORTEST_CODE} to {LONGEST_CODE} letters, digits and single hyphens "
            f"and begins with a letter, such as K-07; got {text[:40]!r}"
        )
    return code


def looks_like_a_name(code: str) -> bool:
    """Whether a code may be somebody's name: it holds no digit, or four letters in a row."""
    return not any(character.isdigit() for character in code) or re.search("[A-Z]{4}", code) is not None


@dataclass(frozen=True)
class Learner:
    """How one learner is taught. There is no field for a name, a birth date or a diagnosis.

    Attributes:
        code: see `parse_code`.
        skill: name of the pattern being learnt; empty where none is chosen yet.
        step: the step of the teacher's ladder, "G5"; free text, may be empty.
        own_tempo_bpm: the tempo the learner chooses without a cue, beats/min; None until found.
        cue_set: name of the tone set the learner chose; empty for the usual one.
        language: of the cue words, "en".
        ceiling_db: loudest the cue may be against the usual level, dB, 0 or less; None: no cap.
        restrictions: the teacher's own note ("no jumping until cleared"), shown, never interpreted.
        recording_allowed: False where no recording of this learner may be opened.
    """

    code: str
    skill: str = ""
    step: str = ""
    own_tempo_bpm: float | None = None
    cue_set: str = ""
    language: str = "en"
    ceiling_db: float | None = None
    restrictions: str = ""
    recording_allowed: bool = True

    def __post_init__(self) -> None:
        if parse_code(self.code) != self.code:
            raise RecordError(f"a learner's code is kept in capital letters, got {self.code!r}")
        tempo = self.own_tempo_bpm
        if tempo is not None and not SLOWEST_BPM <= tempo <= FASTEST_BPM:
            raise RecordError(f"own tempo is {SLOWEST_BPM:g} to {FASTEST_BPM:g} beats/min, got {tempo:g}")
        if self.ceiling_db is not None and not -60.0 <= self.ceiling_db <= 0.0:
            raise RecordError(f"the loudness cap must be -60 to 0 dB, got {self.ceiling_db:g}")
        if len(self.restrictions) > LONGEST_TEXT:
            raise RecordError(
                f"restrictions: at most {LONGEST_TEXT} characters, got {len(self.restrictions)}"
            )
