"""A bout on one page, to be read from a screen by the wall or handed on as a photocopy.

At the top the one sentence, then the path of the feet, then one number of every beat beside what
the sounds may also mean and what no microphone can know. One landscape page, A4 or Letter, in
black, white and grey; no score, no date, nothing that needs a colour, a script or the network.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cuekit.drawing import svg
from cuekit.drawing.bout_chart import chart_of, draw_chart
from cuekit.drawing.bout_marks import BoutLine, strays
from cuekit.drawing.bout_path import SPLIT_LANDING_S, Path, draw_path, draw_strays
from cuekit.files.filenames import shown
from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import as_ratio
from cuekit.telling.advice import FEWEST_FOOTFALLS
from cuekit.telling.scoring import Score

WIDTH, MARGIN = 1040.0, 30.0
HEIGHT = 780.0
"""Most the page may be high; 250 x 188 mm fit into the printable part of A4 and of Letter, lying."""
UNITS_A_MM = 4.16
LEGEND_HEIGHT = 92.0
LEAST_PATH_HEIGHT = 180.0
CHART_WIDTH, CHART_HEIGHT = 520.0, 212.0
TITLE, SENTENCE, BODY, SMALL = 24.0, 25.0, 15.0, 13.0
_INSIDE = WIDTH - 2 * MARGIN


@dataclass(frozen=True)
class Block:
    """A part of the page and where it ends, units."""

    drawing: str
    bottom: float


def draw_bout(score: Score) -> str:
    """Draw a score as a page.

    Parameters
    ----------
    score : of a recording; nothing else is looked at, so that the same score gives the same page

    Returns
    -------
    str
        SVG 1.1, complete in itself
    """
    header = _header(score)
    room = HEIGHT - header.bottom - LEGEND_HEIGHT - _foot(score, 0.0).bottom - 40
    path = _path(score, header.bottom + 12, max(room, LEAST_PATH_HEIGHT))
    legend = _legend(score, path, path.bottom + 8)
    foot = _foot(score, legend.bottom + 14)
    height = foot.bottom + 16
    return (
        svg.element(
            "svg",
            svg.element("title", svg.escaped(f"{score.alignment.pattern.title}: {score.advice.summary}")),
            svg.element("desc", svg.escaped(" ".join([score.advice.summary, *_facts(score)]))),
            svg.element("rect", x=0, y=0, width=WIDTH, height=height, fill=svg.PAPER),
            *(block.drawing for block in (header, path, legend, foot)),
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {WIDTH:.0f} {height:.0f}",
            width=f"{WIDTH / UNITS_A_MM:.0f}mm",
            height=f"{height / UNITS_A_MM:.1f}mm",
            role="img",
            font_family="Helvetica, Arial, sans-serif",
            fill=svg.INK,
        )
        + "\n"
    )


def _header(score: Score) -> Block:
    """The pattern, the one sentence, and the numbers it rests on."""
    right = WIDTH - MARGIN
    name = svg.shortened(shown(score.recording.name), SMALL, 400)
    title = svg.shortened(score.alignment.pattern.title, TITLE, 540, bold=True)
    parts = [
        svg.text(MARGIN, 46, title, TITLE, font_weight="bold"),
        svg.text(right, 46, name, SMALL, text_anchor="end", fill=svg.SOFT_INK),
        svg.line(MARGIN, 58, right, 58, stroke_width=2),
    ]
    y = 60.0
    for line in svg.wrapped(score.advice.summary, SENTENCE, _INSIDE, most=4):
        y += 31
        parts.append(svg.text(MARGIN, y, line, SENTENCE))
    y += 4
    for line in svg.wrapped(" ".join(_facts(score)), BODY, _INSIDE, most=3):
        y += 21
        parts.append(svg.text(MARGIN, y, line, BODY))
    return Block(svg.group("header", *parts), y)


def _facts(score: Score) -> list[str]:
    """The measures in plain words, a sentence each; nothing where nothing was measured."""
    measures = score.measures
    facts = []
    if score.advice.heard_reason:
        facts.append(f"Heard: {score.hearing.heard}: {score.advice.heard_reason}.")
    if _enough(score):
        run = f", {measures.longest_run} of them in a row" if measures.longest_run > 1 else ""
        facts.append(f"{measures.beats_on_pattern} of {measures.judged_beats} beats on the pattern{run}.")
        if measures.tempo_bpm is not None:
            facts.append(f"{measures.tempo_bpm:.0f} beats a minute.")
    return facts


def _enough(score: Score) -> bool:
    """Whether the numbers mean anything, as the sentence has it."""
    heard = score.hearing.heard is not Heard.NOT_ENOUGH
    return heard and score.measures.beats > 0 and len(score.hearing.footfalls) >= FEWEST_FOOTFALLS


def _path(score: Score, top: float, height: float) -> Path:
    alignment = score.alignment
    if not alignment.bouts:
        return draw_strays(strays(alignment), MARGIN, top, _INSIDE)
    return draw_path(alignment, MARGIN, top, _INSIDE, height)


def _legend(score: Score, path: Path, top: float) -> Block:
    """What the shapes mean, only those on the page, and how many beats are on it."""
    if not path.lines:
        return Block("", top)
    parts, x, y = [], MARGIN, top + 12
    for shape, words in _legend_items(score, path.lines):
        room = 40 + svg.width_of(words, SMALL) + 10
        if x > MARGIN and x + room > WIDTH - MARGIN:
            x, y = MARGIN, y + 26
        parts += [svg.element("g", shape, transform=f"translate({x + 14:.1f} {y:.1f})")]
        parts += [svg.text(x + 39, y + 4.5, words, SMALL)]
        x += room
    y += 8
    for line in svg.wrapped(" ".join(_legend_notes(score, path.lines)), SMALL, _INSIDE, most=3):
        y += 18
        parts.append(svg.text(MARGIN, y, line, SMALL))
    return Block(svg.group("legend", *parts), y)


def _legend_items(score: Score, lines: Sequence[BoutLine]) -> Iterator[tuple[str, str]]:
    """Shapes and their names."""
    marks = [mark for line in lines for mark in line.marks]
    if score.alignment.pattern.uneven:
        yield svg.ring(-3, 0, 10.5) + svg.ring(14, 0, 6), "rings: where the long and the short sound were due"
        yield svg.circle(0, 0, 6.4) + svg.circle(14, 0, 3.6), "dots: footfalls heard"
    else:
        yield svg.ring(0, 0, 11), "ring: where a footfall was due"
        yield svg.circle(0, 0, 6.6), "dot: footfall heard"
    if any(mark.heard_s is None for mark in marks):
        yield svg.ring(0, 0, 11, dashed=True), "not heard: not made, or too soft"
    if any(line.extras_s for line in lines):
        yield svg.cross(0, 0, 5), "extra sound without a place"
    if score.alignment.pattern.two_feet and any(mark.spread_s >= SPLIT_LANDING_S for mark in marks):
        second = svg.circle(7, 0, 4, stroke=svg.PAPER, stroke_width=1)
        yield svg.circle(-2, 0, 6.6) + second, "landing in two sounds"
    if not all(mark.judged for mark in marks):
        yield svg.shade(-14, -10, 28, 20), "planned change: not judged"


def _legend_notes(score: Score, lines: Sequence[BoutLine]) -> Iterator[str]:
    """How the rings were placed, what a wide space is, and how much of the recording is shown."""
    pattern = score.alignment.pattern
    shares = sorted({beat.long_share for beat in pattern.beats if beat.uneven})
    ratio = f" with a long part of {' and '.join(as_ratio(one) for one in shares)}" if shares else ""
    if pattern.beat_means:
        yield f"One beat is {pattern.beat_means}."
    yield f"The rings follow this learner's own tempo{ratio}, not a clock."
    yield "Look at many dots, not at one."
    if any(beat.length > 1 for beat in pattern.beats):
        yield "A wide space without a ring is planned: air or stillness."
    alone = strays(score.alignment)
    if alone:
        sounds = "1 sound" if len(alone) == 1 else f"{len(alone)} sounds"
        yield f"{sounds} far from any other: not drawn."
    last, beats = lines[-1].beats[1], score.alignment.bouts[-1].beats[-1].number + 1
    if last < beats:
        yield f"Drawn here: beats 1 to {last} of {beats}; the sentence and the numbers hold for all of them."


def _foot(score: Score, top: float) -> Block:
    """The chart beside what the sounds may also mean."""
    chart = chart_of(score.alignment, score.measures)
    drawn, left = "", MARGIN
    bottom = top
    if _enough(score) and chart.values:
        drawn = draw_chart(chart, MARGIN, top, CHART_WIDTH, CHART_HEIGHT)
        left, bottom = MARGIN + CHART_WIDTH + 26, top + CHART_HEIGHT
    parts, y = [], top - 4
    for heading, body in _notes(score):
        y += 18
        parts.append(svg.text(left, y, heading, BODY, font_weight="bold"))
        for line in svg.wrapped(body, BODY, WIDTH - MARGIN - left, most=5):
            y += 19
            parts.append(svg.text(left, y, line, BODY))
        y += 8
    rule = svg.line(MARGIN, top - 8, WIDTH - MARGIN, top - 8, stroke=svg.LINE)
    return Block(svg.group("foot", rule, drawn, *parts), max(bottom, y))


def _notes(score: Score) -> Iterator[tuple[str, str]]:
    """Headings and texts beside the chart."""
    fault = score.advice.fault
    if fault is not None:
        yield "It may also be", fault.may_also_be
        yield "Ask your eye", fault.ask
    elif score.advice.next_steps:
        yield "When it is right", _sentence(score.alignment.pattern.heard_when_right)
    if score.advice.cannot_tell:
        yield "A microphone cannot tell", _sentence(_listed(score.advice.cannot_tell))


def _listed(parts: Sequence[str]) -> str:
    """Parts as one: "a; b; or c"."""
    return "; ".join([*parts[:-1], f"or {parts[-1]}"]) if len(parts) > 1 else parts[0]


def _sentence(words: str) -> str:
    words = words.strip().rstrip(".")
    return f"{words[:1].upper()}{words[1:]}." if words else ""
