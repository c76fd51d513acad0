"""A learner: a code chosen by the teacher, never a name, and how that learner's lessons are set up.

A code begins with a letter and holds at least three characters, so that its bytes are not met by
chance in dates and numbers when all that is kept on it has been deleted and the files are searched.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from cuekit.errors import RecordError
from cuekit.patterns.pattern import USUAL, Accepted, Pattern, Side

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
class SkillTempo:
    """The tempo a learner chooses without a cue in one skill, beats/min; `side` None where sides are one."""

    pattern: str
    bpm: float
    side: Side | None = None

    def __post_init__(self) -> None:
        _check_tempo(self.bpm)


@dataclass(frozen=True)
class Tolerances:
    """What a bout of this learner may be and still be on the pattern or met; None: the usual.

    For a learner who is judged by their own steadiness, not by closeness to the played rhythm. The first
    three hold when a bout is heard, and are kept with it; the last two
    when its step is judged.

    Attributes:
        short_share_from_percent, short_share_to_percent: where the short share of an uneven beat may lie, %.
        beat_within_percent: how far an even beat may be from the tempo round it, %.
        spread_percent: most the time from beat to beat may vary, %, where a step asks for steadiness.
        tempo_within_percent: how far the tempo may be from that asked, %, where a step asks for it.
    """

    short_share_from_percent: float | None = None
    short_share_to_percent: float | None = None
    beat_within_percent: float | None = None
    spread_percent: float | None = None
    tempo_within_percent: float | None = None

    def __post_init__(self) -> None:
        low, high = self.short_share_from_percent, self.short_share_to_percent
        if not 5.0 <= (5.0 if low is None else low) < (50.0 if high is None else high) <= 50.0:
            raise RecordError(f"a short share lies from 5 up to 50 %, got {low or 5:g} to {high or 50:g}")
        for name in ("beat_within_percent", "spread_percent", "tempo_within_percent"):
            value = getattr(self, name)
            if value is not None and not 1.0 <= value <= 100.0:
                raise RecordError(f"{name.replace('_', ' ')} must be 1 to 100, got {value:g}")

    @property
    def accepted(self) -> Accepted:
        """What counts as on a pattern."""
        low, high, within = (
            self.short_share_from_percent,
            self.short_share_to_percent,
            self.beat_within_percent,
        )
        return Accepted(
            USUAL.long_share_from if high is None else 1.0 - high / 100.0,
            USUAL.long_share_to if low is None else 1.0 - low / 100.0,
            USUAL.beat_within if within is None else within / 100.0,
        )


NO_OTHERS = Tolerances()
"""The usual in everything."""


@dataclass(frozen=True)
class Learner:
    """How one learner is taught. There is no field for a name, a birth date or a diagnosis.

    Attributes:
        code: see `parse_code`.
        skill: name of the pattern being learnt; empty where none is chosen yet.
        step: the step of the skill's ladder, "gallop-alone"; may be empty.
        own_tempo_bpm: the tempo the learner chooses without a cue in a skill that has none of its own in
            `own_tempi`, beats/min; None where there is none.
        own_tempi: the tempo found for a skill, and for a side of it; see `tempo_bpm`.
        cue_set: name of the tone set the learner chose; empty for the usual one.
        words: what every adult says to this learner, in the teacher's own words; shown on the plan.
        language: of the cue words, "en".
        ceiling_db: loudest the cue may be against the usual level, dB, 0 or less; None: no cap.
        restrictions: the teacher's own note ("no jumping until cleared"), shown, never interpreted.
        recording_allowed: False where no recording of this learner may be opened.
        tolerances: what a bout may be and still be met.
        child_view: False where the child is shown no view of their own.
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
    own_tempi: tuple[SkillTempo, ...] = ()
    words: str = ""
    tolerances: Tolerances = NO_OTHERS
    child_view: bool = True

    def __post_init__(self) -> None:
        if parse_code(self.code) != self.code:
            raise RecordError(f"a learner's code is kept in capital letters, got {self.code!r}")
        if self.own_tempo_bpm is not None:
            _check_tempo(self.own_tempo_bpm)
        if self.ceiling_db is not None and not -60.0 <= self.ceiling_db <= 0.0:
            raise RecordError(f"the loudness cap must be -60 to 0 dB, got {self.ceiling_db:g}")
        for name in ("restrictions", "words"):
            length = len(getattr(self, name))
            if length > LONGEST_TEXT:
                raise RecordError(f"{name}: at most {LONGEST_TEXT} characters, got {length}")

    def tempo_bpm(self, pattern: str, side: Side | None = None) -> float | None:
        """The tempo to begin with in a skill, beats/min: that of the side, else of the skill, else of any.

        Where no side is asked and none but those of sides are known, it is the one found first.
        """
        known = {one.side: one.bpm for one in self.own_tempi if one.pattern == pattern}
        found = known.get(side, known.get(None))
        if found is None and side is None and known:
            found = next(iter(known.values()))
        return self.own_tempo_bpm if found is None else found

    def accepting(self, pattern: Pattern) -> Pattern:
        """A pattern with what this learner's bouts of it may be."""
        return replace(pattern, accepted=self.tolerances.accepted)

    def with_tempo(self, pattern: str, bpm: float, side: Side | None = None) -> Learner:
        """The same learner with a tempo kept for a skill; of any skill where the pattern is empty."""
        if not pattern:
            return replace(self, own_tempo_bpm=bpm)
        others = tuple(one for one in self.own_tempi if (one.pattern, one.side) != (pattern, side))
        return replace(self, own_tempi=(*others, SkillTempo(pattern, bpm, side)))


def _check_tempo(bpm: float) -> None:
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        raise RecordError(f"own tempo is {SLOWEST_BPM:g} to {FASTEST_BPM:g} beats/min, got {bpm:g}")
