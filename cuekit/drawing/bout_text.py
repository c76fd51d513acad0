"""A bout drawn in characters for a terminal: what was due over what was heard, time in proportion."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from textwrap import wrap

from cuekit.drawing.bout_marks import (
    BeatValue,
    BoutLine,
    LineScale,
    bout_lines,
    durations_by_beat,
    long_shares_by_beat,
    scale_to_fit,
)
from cuekit.telling.scoring import Score

BEATS_A_LINE, MOST_LINES = 8, 8
NARROWEST = 40
_LABEL, _BEFORE, _GAP, _LONGEST_BEAT, _VALUE = 14, 2, 11, 16, 6


@dataclass(frozen=True)
class Signs:
    """The characters of the drawing: due and heard are (lead, short).

    Attributes:
        due, heard: a place, and a footfall.
        missed, extra: a place without a footfall, a footfall without a place.
        to: between two numbers.
    """

    due: tuple[str, str]
    heard: tuple[str, str]
    missed: str
    extra: str
    to: str


UNICODE = Signs(("○", "∘"), ("●", "•"), "◌", "×", "–")
ASCII = Signs(("O", "o"), ("#", "+"), ".", "x", "-")


def draw_bout_text(score: Score, width: int = 78, unicode: bool = True) -> list[str]:
    """Draw a score in lines of text.

    Parameters
    ----------
    score : of a recording
    width : most columns of a line; under 40 it is drawn for 40
    unicode : whether circles come out; letters and signs of ASCII otherwise
    """
    alignment, signs, say = score.alignment, UNICODE if unicode else ASCII, score.phrases.say
    if not alignment.bouts:
        count = len(alignment.footfalls)
        return [f"  {say('draw.text_none' if count == 0 else 'draw.text_no_rhythm', count=count)}"]
    room = max(width, NARROWEST) - _LABEL - _BEFORE - 1
    lines = bout_lines(alignment, min(BEATS_A_LINE, room // _VALUE))
    scale = scale_to_fit(lines, room, gap=_GAP, before=_BEFORE, longest_beat=_LONGEST_BEAT)
    uneven = alignment.pattern.uneven
    values = long_shares_by_beat(alignment) if uneven else durations_by_beat(alignment)
    named = (say("draw.text_share" if uneven else "draw.text_length"), values)
    drawn = _legend(score, signs, lines[:MOST_LINES], max(width, NARROWEST))
    for line in lines[:MOST_LINES]:
        drawn += ["", *_draw_line(line, scale, signs, room, named, len(alignment.bouts) > 1, say)]
    if len(lines) > MOST_LINES:
        last, beats = lines[MOST_LINES - 1].beats[1], lines[-1].beats[1]
        drawn += ["", f"  {say('draw.text_part', last=last, beats=beats)}"]
    return drawn


def _legend(score: Score, signs: Signs, lines: tuple[BoutLine, ...], width: int) -> list[str]:
    """The signs, said once; those not in the drawing are left out."""
    uneven, say = score.alignment.pattern.uneven, score.phrases.say
    due, heard = ("".join(pair) if uneven else pair[0] for pair in (signs.due, signs.heard))
    parts = [say("draw.text_due", sign=due), say("draw.text_heard", sign=heard)]
    if any(mark.heard_s is None for line in lines for mark in line.marks):
        parts.append(say("draw.text_missed", sign=signs.missed))
    if any(line.extras_s for line in lines):
        parts.append(say("draw.text_extra", sign=signs.extra))
    told = [", ".join(parts), say("draw.text_numbers_share" if uneven else "draw.text_numbers_length")]
    return [line for one in told for line in wrap(one, width, initial_indent="  ", subsequent_indent="    ")]


def _draw_line(
    line: BoutLine,
    scale: LineScale,
    signs: Signs,
    room: int,
    named: tuple[str, tuple[BeatValue, ...]],
    tries: bool,
    say: Callable[..., str],
) -> Iterator[str]:
    """A heading where a try begins, then three rows: due, heard, and a number of every beat."""
    columns = _BEFORE + room + 1

    def at(time_s: float) -> int:
        return _BEFORE + round(scale.at(line, time_s))

    due, heard, numbers = _Row(columns), _Row(columns), _Row(columns)
    for mark in line.marks:
        due.put(at(mark.due_s), signs.due[mark.place])
        if mark.heard_s is None:
            heard.put(at(mark.due_s), signs.missed)
        else:
            heard.put(at(mark.heard_s), signs.heard[mark.place])
    for time_s in line.extras_s:
        heard.put(at(time_s), signs.extra)
    starts = {mark.beat: at(mark.due_s) for mark in reversed(line.marks)}
    for one in named[1]:
        if one.beat in starts:
            numbers.write(starts[one.beat], f"{one.value:.2f}")
    for gap in line.gaps:
        if gap.pause_s is not None:
            due.write(at(gap.start_s) + 3, say("draw.pause"))
            heard.write(at(gap.start_s) + 3, f"{gap.pause_s:.1f} s")
    if line.first and tries:
        yield f"  {say('draw.text_try', number=line.bout, start_s=line.start_s)}"
    first, last = line.beats
    beats = say("draw.beats" if last > first else "draw.beat", first=first, last=last, to=signs.to)
    for label, row in ((beats, due), (say("draw.text_row_heard"), heard), (named[0], numbers)):
        if row.text:
            yield f"{'  ' + label:<{_LABEL}}{row.text}"


class _Row:
    """A row of characters being filled; nothing in it is ever written over."""

    def __init__(self, columns: int) -> None:
        self._cells = [" "] * columns

    @property
    def text(self) -> str:
        """The row without blanks at its end."""
        return "".join(self._cells).rstrip()

    def put(self, column: int, sign: str) -> None:
        """A sign at a column, or at the nearest free one."""
        free = [n for n, cell in enumerate(self._cells) if cell == " "]
        if free:
            self._cells[min(free, key=lambda n: abs(n - column))] = sign

    def write(self, column: int, words: str) -> None:
        """Words from a column on, where they have room with a blank before them."""
        end = column + len(words)
        if end <= len(self._cells) and not "".join(self._cells[max(column - 1, 0) : end]).strip():
            self._cells[column:end] = words
