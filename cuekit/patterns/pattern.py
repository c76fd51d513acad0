"""The nouns of a pattern: what the feet should do in one cycle, exact and without a tempo.

A cycle is a row of beats. A beat begins with its lead footfall; an uneven beat holds a short one
too, `long_share` of a beat later. Positions are exact fractions of a beat, so nothing accumulates
however long a schedule grows; seconds appear only where a tempo is applied (`cuekit.patterns.schedule`).
Words and definitions follow the trade: the long interval starts with the lead footfall and the
short one ends on the next.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from cuekit.errors import PatternError


class Foot(StrEnum):
    """Which foot lands. A microphone cannot hear it; the plan and the teacher's eye know it."""

    RIGHT = "R"
    LEFT = "L"
    BOTH = "B"

    @property
    def mirrored(self) -> Foot:
        """The other foot; both feet stay both."""
        return {Foot.RIGHT: Foot.LEFT, Foot.LEFT: Foot.RIGHT, Foot.BOTH: Foot.BOTH}[self]


@dataclass(frozen=True)
class Step:
    """One planned footfall.

    Attributes:
        foot: the foot that lands.
        word: the spoken cue, one short word; empty for a tone only.
        accent: whether the cue is stressed.
    """

    foot: Foot
    word: str = ""
    accent: bool = False


@dataclass(frozen=True)
class Beat:
    """One beat of a cycle.

    Attributes:
        at: start, beats from the start of the cycle.
        length: beats until the next beat starts: 1, or more where a rest or a flight follows.
        lead: the footfall that starts the beat.
        short: the second footfall of an uneven beat, else None.
        long_share: where the short footfall lands, as a share of one beat; None without one.
        judged: False on either side of a planned change, which is never held against a learner.
    """

    at: Fraction
    length: Fraction
    lead: Step
    short: Step | None = None
    long_share: Fraction | None = None
    judged: bool = True

    def __post_init__(self) -> None:
        if self.length <= 0:
            raise PatternError(f"a beat must last longer than 0, got {self.length}")
        if (self.short is None) != (self.long_share is None):
            raise PatternError("a short footfall and a long share come together or not at all")
        if self.long_share is not None and not Fraction(1, 2) <= self.long_share < 1:
            raise PatternError(f"the long share must be at least 1/2 and below 1, got {self.long_share}")

    @property
    def uneven(self) -> bool:
        """Whether the beat holds two footfalls, long then short."""
        return self.short is not None

    @property
    def steps(self) -> tuple[Step, ...]:
        """The one or two footfalls in order; their index is the `place` in the beat."""
        return (self.lead,) if self.short is None else (self.lead, self.short)

    def place_at(self, place: int) -> Fraction:
        """Position of the footfall at `place` (0 lead, 1 short), beats from the start of the cycle."""
        return self.at if place == 0 else self.at + self.long_share


@dataclass(frozen=True)
class TempoRange:
    """Tempo a pattern is taught at, beats/min: where to start and how far to go."""

    default: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.default <= self.high:
            raise PatternError(
                f"tempo must satisfy 0 < low <= default <= high, got {self.low}, {self.default}, {self.high}"
            )


@dataclass(frozen=True)
class ShareRange:
    """Long share an uneven pattern is taught at (2:1 is 2/3): default and how far it may go."""

    default: Fraction
    low: Fraction
    high: Fraction

    def __post_init__(self) -> None:
        if not Fraction(1, 2) <= self.low <= self.default <= self.high < 1:
            raise PatternError(
                f"long share must satisfy 1/2 <= low <= default <= high < 1, "
                f"got {self.low}, {self.default}, {self.high}"
            )


class Side(StrEnum):
    """Which foot leads, which way a slide goes, which foot hops."""

    RIGHT = "right"
    LEFT = "left"


@dataclass(frozen=True)
class Counting:
    """How a bout is counted in, in one language: numbers, then the two words before the first footfall."""

    numbers: tuple[str, ...]
    ready: str
    go: str

    def words(self, beats: int) -> tuple[str, ...]:
        """The words of so many counted beats; the last two are always the same."""
        count = (self.numbers[n % len(self.numbers)] for n in range(max(beats - 2, 0)))
        return (*count, self.ready, self.go)[-beats:] if beats else ()


ENGLISH_COUNTING = Counting(("one", "two", "three", "four", "five", "six", "seven", "eight"), "ready", "go")


@dataclass(frozen=True)
class Accepted:
    """What counts as on the pattern; the usual bands, unless a teacher set others for one learner.

    Attributes:
        long_share_from, long_share_to: within which the long share of an uneven beat must lie, 0-1.
        beat_within: how far an even beat may be from the tempo round it, share of it.
    """

    long_share_from: float = 0.58
    long_share_to: float = 0.82
    beat_within: float = 0.15


USUAL = Accepted()


@dataclass(frozen=True)
class Pattern:
    """A cycle of footfalls with all that is said about it.

    Attributes:
        name: how it is called for, for example "gallop".
        title: how it is shown.
        beat_means: what one beat is, in words ("one step-hop").
        side_means: what right and left stand for ("leading foot"); empty where there is no side.
        side: the side this pattern is written for.
        beats: the cycle.
        tempo: beats/min.
        share: the long share and its range; None where no beat is uneven.
        count_in: beats counted before the first footfall.
        heard_when_right: what the ear should hear.
        counting: words of the count-in.
        accepted: what counts as on it.
    """

    name: str
    title: str
    beat_means: str
    side_means: str
    side: Side
    beats: tuple[Beat, ...]
    tempo: TempoRange
    share: ShareRange | None
    count_in: int
    heard_when_right: str
    counting: Counting = ENGLISH_COUNTING
    accepted: Accepted = USUAL

    @property
    def length(self) -> Fraction:
        """Length of the cycle, beats."""
        return self.beats[-1].at + self.beats[-1].length

    @property
    def uneven(self) -> bool:
        """Whether any beat is long-short."""
        return any(beat.uneven for beat in self.beats)

    @property
    def two_feet(self) -> bool:
        """Whether some landing is of both feet together, so that a split landing can be told."""
        return any(step.foot is Foot.BOTH for beat in self.beats for step in beat.steps)

    def with_side(self, side: Side) -> Pattern:
        """The same pattern for the given side: feet mirrored where it differs.

        Raises:
            PatternError: the pattern has no sides.
        """
        if side is self.side:
            return self
        if not self.side_means:
            raise PatternError(f"{self.name} has no side to choose: leave it out")
        return replace(self, side=side, beats=tuple(_mirrored(beat) for beat in self.beats))

    def with_long_share(self, share: Fraction) -> Pattern:
        """The same pattern with another long share.

        Raises:
            PatternError: the pattern is even, or the share is out of its range.
        """
        if self.share is None:
            raise PatternError(f"{self.name} is even: it has no long and short, so leave the ratio out")
        if not self.share.low <= share <= self.share.high:
            raise PatternError(
                f"{self.name} takes a ratio from {as_ratio(self.share.low)} to {as_ratio(self.share.high)}, "
                f"got {as_ratio(share)}"
            )
        beats = tuple(replace(beat, long_share=share) if beat.uneven else beat for beat in self.beats)
        return replace(self, beats=beats, share=replace(self.share, default=share))


def _mirrored(beat: Beat) -> Beat:
    """The beat for the other side."""

    def other(step: Step) -> Step:
        return replace(step, foot=step.foot.mirrored)

    return replace(beat, lead=other(beat.lead), short=other(beat.short) if beat.short else None)


def as_ratio(share: Fraction) -> str:
    """A long share as long:short in the smallest whole numbers: 2/3 is "2:1"."""
    long, whole = share.numerator, share.denominator
    return f"{long}:{whole - long}"


def share_of_ratio(text: str) -> Fraction:
    """The long share of a ratio written "2:1" or "1.5:1": 2/3, 3/5.

    Raises:
        PatternError: not two positive plain numbers with a colon, or the first is the smaller.
    """
    long_text, colon, short_text = text.strip().partition(":")
    numbers = []
    for part in (long_text, short_text):
        digits = part.strip()
        if not colon or not digits.isascii() or len(digits) > 8 or not digits.replace(".", "", 1).isdigit():
            raise PatternError(
                f'a ratio is written long:short, for example "2:1" or "3:2"; got "{text[:40]}"'
            )
        numbers.append(Fraction(digits))
    long, short = numbers
    if short <= 0 or long < short:
        raise PatternError(f'a ratio is long:short, the long one first and both above 0; got "{text[:40]}"')
    return long / (long + short)
