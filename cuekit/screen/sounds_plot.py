"""The sounds of a bout drawn one by one, so that each can be chosen and struck out.

Time runs to the right on the same scale on every line; a silence is drawn short. A ring is a place where a
footfall was due, a dot a sound, an empty dot with a line through it a sound struck out. The sound that is
chosen stands in a frame. Nothing is told by colour.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from cuekit.drawing import svg
from cuekit.drawing.bout_marks import bout_lines
from cuekit.rhythm.alignment import Alignment
from cuekit.screen.mending import Mending, Sound

WIDTH, SIDE, HIGH = 680.0, 34.0, 92.0
MOST_LINES = 4
"""Shown at a time, with the one that holds the chosen sound among them."""
LONG, SHORT, STRAY = 12.0, 8.0, 9.0
"""Radii of a sound: of a lead, of a short one, of one without a place, units."""
RING = 1.55
APART = 36.0
"""Room that close sounds shall have between them, units."""
SLOWEST, QUICKEST = 70.0, 260.0
"""Units a second, at least and at most."""
SILENCE_S, SHOWN_S = 1.6, 0.9
"""A silence longer than the first is drawn as long as the second."""

At = Callable[[float], float]


def draw_sounds(mending: Mending, name: str) -> str:
    """The lines round the chosen sound, as SVG; every sound bears its number as `data-sound`.

    Parameters
    ----------
    mending : of a bout that a microphone heard
    name : what it is called by a screen reader
    """
    sounds = mending.sounds()
    lines, at = _lines(sounds)
    here = next((n for n, line in enumerate(lines) if mending.chosen in {one.number for one in line}), 0)
    first = max(0, min(here - 1, len(lines) - MOST_LINES))
    shown = lines[first : first + MOST_LINES]
    due = _due(mending.score.alignment) if mending.score else []
    rows = [_row(line, at, due, mending.chosen, n) for n, line in enumerate(shown)]
    return svg.element(
        "svg",
        svg.element("title", svg.escaped(name)),
        *rows,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:.0f} {HIGH * max(1, len(shown)):.0f}",
        role="img",
        font_family="Helvetica, Arial, sans-serif",
        fill=svg.INK,
    )


def _lines(sounds: Sequence[Sound]) -> tuple[list[list[Sound]], At]:
    """The sounds in lines, and how far from the line's start a time stands; silences are short."""
    times_s = [one.heard.time_s for one in sounds]
    ways_s = [SHOWN_S if b - a > SILENCE_S else b - a for a, b in pairwise(times_s)]
    near_s = float(np.percentile(ways_s, 20)) if ways_s else 0.3
    per_s = min(QUICKEST, max(SLOWEST, APART / max(near_s, 0.01)))
    along_s = np.concatenate([[0.0], np.cumsum(ways_s)])
    lines: list[list[Sound]] = []
    begun_s = 0.0
    for sound, way_s in zip(sounds, along_s.tolist(), strict=False):
        if not lines or (way_s - begun_s) * per_s > WIDTH - 2 * SIDE:
            lines.append([])
            begun_s = way_s
        lines[-1].append(sound)

    def at(time_s: float) -> float:
        return per_s * float(np.interp(time_s, times_s, along_s))

    return lines, at


def _due(alignment: Alignment) -> list[tuple[float, float, bool]]:
    """Where footfalls were due: time (s), radius, and whether nothing was heard there."""
    marks = [mark for line in bout_lines(alignment, 8) for mark in line.marks]
    return [(mark.due_s, SHORT if mark.place else LONG, mark.heard_s is None) for mark in marks]


def _row(line: Sequence[Sound], at: At, due: Sequence[tuple[float, float, bool]], chosen: int, n: int) -> str:
    """One line: ground, rings, sounds, numbers of beats, and the frame of the chosen one."""
    y, start = HIGH * n + 40.0, line[0].heard.time_s
    x_of = lambda time_s: SIDE + at(time_s) - at(start)  # noqa: E731
    end_s = line[-1].heard.time_s
    inside = [one for one in due if start - 0.05 <= one[0] <= end_s + 0.05]
    rings = [svg.ring(x_of(due_s), y, RING * radius, dashed=lost) for due_s, radius, lost in inside]
    ground = [svg.line(SIDE - 20, y, x_of(end_s) + 20, y, stroke=svg.LINE, stroke_width=3)]
    for before, after in pairwise(line):
        if after.heard.time_s - before.heard.time_s > SILENCE_S:
            ground += _break(0.5 * (x_of(before.heard.time_s) + x_of(after.heard.time_s)), y)
    drawn = [_sound(one, x_of(one.heard.time_s), y) for one in line]
    frame = [_frame(x_of(one.heard.time_s), y) for one in line if one.number == chosen]
    return svg.group("row", *ground, *rings, *drawn, *frame)


def _break(x: float, y: float) -> list[str]:
    """Where time is drawn short."""
    gap = svg.line(x - 7, y, x + 7, y, stroke=svg.PAPER, stroke_width=5)
    return [gap, *(svg.line(x + d - 4, y + 9, x + d + 4, y - 9, stroke_width=2) for d in (-6, 6))]


def _frame(x: float, y: float) -> str:
    """Round the chosen sound, with a rim that keeps it apart from what is beside it."""
    half = 1.8 * LONG
    box = {"x": x - half, "y": y - half, "width": 2 * half, "height": 2 * half, "rx": 7.0, "fill": "none"}
    pale = svg.element("rect", stroke=svg.PAPER, stroke_width=9, **box)
    return svg.element("g", pale, svg.element("rect", stroke=svg.INK, stroke_width=4, **box), class_="chosen")


def _sound(sound: Sound, x: float, y: float) -> str:
    """A dot, and its beat below."""
    radius = STRAY if sound.beat is None else SHORT if sound.short else LONG
    parts = [svg.circle(x, y, 1.8 * LONG, fill="none", pointer_events="all")]
    if sound.struck:
        reach = radius + 5
        parts.append(svg.circle(x, y, radius, fill=svg.PAPER, stroke=svg.INK, stroke_width=2.5))
        parts.append(svg.line(x - reach, y + reach, x + reach, y - reach, stroke_width=3))
    else:
        parts.append(svg.circle(x, y, radius, stroke=svg.PAPER, stroke_width=1.5))
    if sound.beat is not None and not sound.short:
        parts.append(svg.text(x, y + 42, str(sound.beat), 15, text_anchor="middle", fill=svg.SOFT_INK))
    return svg.element("g", *parts, class_="sound", data_sound=sound.number)
