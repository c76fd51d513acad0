"""A cycle drawn in text: one row a foot, time running to the right, in proportion.

A capital letter is a footfall that starts a beat, a small one the short footfall of an uneven beat;
the bar behind it lasts until the next footfall, so that long and short are seen as lengths. Air and
stillness are left blank. Every line fits 79 columns.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cuekit.patterns.pattern import Beat, Foot, Pattern, as_ratio

LABEL_COLUMNS = 6
DRAWN_COLUMNS = 72
BEATS_A_LINE = 8
FEWEST_BEATS = 4
UNJUDGED = "~"
ROWS = ("count", "right", "left", "say", "", "plan")

Say = Callable[..., str]
"""Gives the words of a key, with its values filled in."""


@dataclass(frozen=True)
class Pen:
    """The characters of the drawing."""

    bar: str
    tick: str


LINES = Pen(bar="─", tick="│")
ASCII = Pen(bar="-", tick="|")


def pen_for(encoding: str | None) -> Pen:
    """The pen for an output of this encoding: plain ASCII where the lines would not come out."""
    try:
        (LINES.bar + LINES.tick).encode(encoding or "ascii")
    except (UnicodeError, LookupError):
        return ASCII
    return LINES


def draw_cycle(pattern: Pattern, tempo_bpm: float, say: Say, pen: Pen = LINES) -> str:
    """The cycle as lines of text, repeated to four beats where it is shorter.

    Parameters
    ----------
    pattern: on the side and at the ratio to be drawn.
    tempo_bpm: for the lengths in milliseconds.
    say: the words beside the drawing, by their key in the catalogue ("cycle.count").
    pen: characters to draw with.
    """
    beats = pattern.beats * math.ceil(FEWEST_BEATS / pattern.length)
    columns = DRAWN_COLUMNS // (FEWEST_BEATS if _length(beats) <= FEWEST_BEATS else BEATS_A_LINE)
    blocks, count = [], 1
    for line in _lines(beats):
        blocks.append(_draw_line(line, count, columns, say, pen))
        count += sum(math.floor(beat.length) for beat in line)
    return "\n\n".join([_lengths(pattern, tempo_bpm, say), *blocks, *_notes(pattern, say)])


def _length(beats: Sequence[Beat]) -> Fraction:
    """How long a run of beats is, beats."""
    return sum((beat.length for beat in beats), Fraction(0))


def _lines(beats: Sequence[Beat]) -> list[list[Beat]]:
    """Beats in lines of eight; a part of a beat at rest ends its line, so that the counts line up again."""
    lines: list[list[Beat]] = [[]]
    for beat in beats:
        line = lines[-1]
        off_count = line and _length(line).denominator > 1
        if off_count or (line and _length(line) + math.floor(beat.length) > BEATS_A_LINE):
            lines.append([])
        lines[-1].append(beat)
    return lines


def _draw_line(beats: Sequence[Beat], count: int, columns: int, say: Say, pen: Pen) -> str:
    """One line of beats, the first of which is counted as `count`."""
    rows: dict[str, list[str]] = {name: [" "] * (DRAWN_COLUMNS + 1) for name in ROWS}

    def put(row: str, column: int, text: str) -> None:
        room = max(DRAWN_COLUMNS + 1 - column, 0)
        rows[row][column : column + len(text)] = text[:room]

    at = Fraction(0)
    for beat in beats:
        _draw_beat(put, at, beat, columns, say, pen)
        for whole in range(math.floor(beat.length)):
            put("count", round((at + whole) * columns), f"{pen.tick}{count + whole}")
        at += beat.length
        count += math.floor(beat.length)
    put("count", round(at * columns), pen.tick)
    texts = {name: "".join(cells).rstrip() for name, cells in rows.items()}
    labels = {name: say(f"cycle.{name}") if name else "" for name in ROWS}
    return "\n".join(f"{labels[name]:<{LABEL_COLUMNS}}{text}" for name, text in texts.items() if text)


def _draw_beat(
    put: Callable[[str, int, str], None], start: Fraction, beat: Beat, columns: int, say: Say, pen: Pen
) -> None:
    """The footfalls of a beat with their bars and words, and the mark of a beat that is not judged."""
    at, end = round(start * columns), round((start + 1) * columns)
    middle = round((start + beat.long_share) * columns) if beat.long_share is not None else end
    _draw_foot(put, beat.lead.foot, say(f"cycle.{beat.lead.foot}"), at, middle, pen)
    put("say", at, beat.lead.word[: round(beat.length * columns) - 1])
    if beat.short is not None:
        _draw_foot(put, beat.short.foot, say(f"cycle.{beat.short.foot}").lower(), middle, end, pen)
        put("", middle, beat.short.word[: columns - 1])
    if not beat.judged:
        put("plan", at, UNJUDGED * (round((start + beat.length) * columns) - at))


def _draw_foot(
    put: Callable[[str, int, str], None], foot: Foot, letter: str, at: int, end: int, pen: Pen
) -> None:
    """A footfall and its bar, on the row of its foot or on both."""
    feet = {Foot.RIGHT: ("right",), Foot.LEFT: ("left",), Foot.BOTH: ("right", "left")}[foot]
    for row in feet:
        put(row, at, letter + pen.bar * (end - at - 2))


def _lengths(pattern: Pattern, tempo_bpm: float, say: Say) -> str:
    """What the lengths in the drawing are in time."""
    beat_ms = 60_000 / tempo_bpm
    if pattern.share is None:
        return say("cycle.lengths", tempo=tempo_bpm, beat_ms=beat_ms)
    long_ms = beat_ms * float(pattern.share.default)
    parts = {"long_ms": long_ms, "short_ms": beat_ms - long_ms, "ratio": as_ratio(pattern.share.default)}
    return say("cycle.lengths_uneven", tempo=tempo_bpm, beat_ms=beat_ms, **parts)


def _notes(pattern: Pattern, say: Say) -> list[str]:
    """What the marks under the drawing mean."""
    if all(beat.judged for beat in pattern.beats):
        return []
    return [say("cycle.unjudged", sign=UNJUDGED)]
