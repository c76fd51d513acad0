"""A bout drawn for the wall: the path of the feet alone, large, with what was due and what was heard.

The one sentence stands beside it on the screen, so neither it nor a number is in the drawing; the whole
page, to be printed, is `cuekit.drawing.bout_plot`.
"""

from __future__ import annotations

from cuekit.drawing import svg
from cuekit.drawing.bout_marks import strays
from cuekit.drawing.bout_path import Path, draw_path, draw_strays
from cuekit.telling.scoring import Score

WIDTH, MARGIN, HEIGHT = 680.0, 12.0, 330.0
"""Narrow, so that its words are large where it fills a screen, units."""


def draw_feet(score: Score) -> str:
    """Draw the feet of a score.

    Parameters
    ----------
    score : of a recording

    Returns
    -------
    str
        SVG 1.1, complete in itself, its title the one sentence
    """
    path = _path(score)
    return svg.element(
        "svg",
        svg.element("title", svg.escaped(score.advice.summary)),
        path.drawing,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:.0f} {path.bottom + MARGIN:.0f}",
        role="img",
        font_family="Helvetica, Arial, sans-serif",
        fill=svg.INK,
    )


def _path(score: Score) -> Path:
    alignment, inside = score.alignment, WIDTH - 2 * MARGIN
    if not alignment.bouts:
        return draw_strays(strays(alignment), score.phrases, MARGIN, MARGIN, inside)
    return draw_path(alignment, score.phrases, MARGIN, MARGIN, inside, HEIGHT)
