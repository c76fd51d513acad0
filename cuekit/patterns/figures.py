"""Figures put together from patterns: eight gallops, then eight with the other foot leading.

A figure is a row of pieces, each a number of beats of a pattern, with a rest after it or none. It
repeats as a whole, so the end of the last piece is next to the start of the first.

A change of pattern, of side, a step through or a rest is planned, so the beat on either side of it is
not judged; where changes come every two beats or closer nothing would be left, so the whole figure is
the target and every beat is judged (rhythm.md 3, trade.md 2.9: project definitions).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import cycle, islice

from cuekit.errors import PatternError
from cuekit.patterns.pattern import Beat, Pattern

CLOSE_CHANGES_BEATS = 2
"""Changes this many beats apart or closer make the whole figure the target."""


@dataclass(frozen=True)
class Piece:
    """A run of beats of one pattern, as it stands in a figure.

    Attributes:
        pattern: the pattern, already turned to the side it is wanted on.
        beats: how many of its beats, from its first; it starts over as often as needed.
        last_short: False leaves the short footfall out of the last beat, which steps through.
        last_word: the word on the last beat, where another than the pattern's is wanted.
        rest: beats of stillness after the last beat.
    """

    pattern: Pattern
    beats: int
    last_short: bool = True
    last_word: str | None = None
    rest: Fraction = Fraction(0)


def compose(pieces: tuple[Piece, ...]) -> tuple[Beat, ...]:
    """The beats of a figure, in order from 0, with those beside a planned change not judged.

    Raises:
        PatternError: there is no piece, or one leaves out a short sound that is not there.
    """
    if not pieces:
        raise PatternError("a figure needs at least one segment with a pattern")
    beats: list[Beat] = []
    at = Fraction(0)
    for piece in pieces:
        for beat in _piece_beats(piece):
            beats.append(replace(beat, at=at))
            at += beat.length
    unjudged = _beside_changes(pieces)
    return tuple(replace(b, judged=False) if n in unjudged else b for n, b in enumerate(beats))


def _piece_beats(piece: Piece) -> list[Beat]:
    """The beats of one piece, positions still those of its pattern."""
    beats = list(islice(cycle(piece.pattern.beats), piece.beats))
    last = beats[-1]
    if not piece.last_short:
        if not last.uneven:
            raise PatternError(f"the last beat of {piece.pattern.name} here has no short sound to leave out")
        last = replace(last, short=None, long_share=None)
    if piece.last_word is not None:
        last = replace(last, lead=replace(last.lead, word=piece.last_word))
    beats[-1] = replace(last, length=last.length + piece.rest)
    return beats


def _beside_changes(pieces: tuple[Piece, ...]) -> set[int]:
    """Numbers of the beats on either side of a planned change; none where changes are too close."""
    total = sum(piece.beats for piece in pieces)
    changes = []  # number of the beat that follows each change
    first = 0
    for n, piece in enumerate(pieces):
        first += piece.beats
        if _changes(piece, pieces[(n + 1) % len(pieces)]):
            changes.append(first % total)
    if not changes:
        return set()
    starts = sorted(changes)
    following = [*starts[1:], starts[0] + total]
    if max(after - start for start, after in zip(starts, following, strict=True)) <= CLOSE_CHANGES_BEATS:
        return set()
    return {beat % total for start in starts for beat in (start - 1, start)}


def _changes(before: Piece, after: Piece) -> bool:
    """Whether something planned happens between two pieces."""
    same = before.pattern.name == after.pattern.name and before.pattern.side is after.pattern.side
    return not same or before.rest > 0 or not before.last_short
