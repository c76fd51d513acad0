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
    measures, say = score.measures, score.phrases.say
    facts = []
    if score.advice.heard_reason:
        state = say(f"score.state.{score.hearing.heard.replace(' ', '-')}")
        facts.append(say("score.heard", state=state, reason=score.advice.heard_reason))
    if _enough(score):
        run = say("draw.in_a_row", run=measures.longest_run) if measures.longest_run > 1 else ""
        on, judged = measures.beats_on_pattern, measures.judged_beats
        facts.append(say("draw.on_pattern", on=on, judged=judged, run=run))
        if measures.tempo_bpm is not None:
            facts.append(say("draw.tempo", bpm=measures.tempo_bpm))
    return facts


def _enough(score: Score) -> bool:
    """Whether the numbers mean anything, as the sentence has it."""
    heard = score.hearing.heard is not Heard.NOT_ENOUGH
    return heard and score.measures.beats > 0 and len(score.hearing.footfalls) >= FEWEST_FOOTFALLS


def _path(score: Score, top: float, height: float) -> Path:
    alignment = score.alignment
    if not alignment.bouts:
        return draw_strays(strays(alignment), score.phrases, MARGIN, top, _INSIDE)
    return draw_path(alignment, score.phrases, MARGIN, top, _INSIDE, height)


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
    marks, say = [mark for line in lines for mark in line.marks], score.phrases.say
    if score.alignment.pattern.uneven:
        yield svg.ring(-3, 0, 10.5) + svg.ring(14, 0, 6), say("draw.rings")
        yield svg.circle(0, 0, 6.4) + svg.circle(14, 0, 3.6), say("draw.dots")
    else:
        yield svg.ring(0, 0, 11), say("draw.ring")
        yield svg.circle(0, 0, 6.6), say("draw.dot")
    if any(mark.heard_s is None for mark in marks):
        yield svg.ring(0, 0, 11, dashed=True), say("draw.unheard")
    if any(line.extras_s for line in lines):
        yield svg.cross(0, 0, 5), say("draw.extra_sound")
    if score.alignment.pattern.two_feet and any(mark.spread_s >= SPLIT_LANDING_S for mark in marks):
        second = svg.circle(7, 0, 4, stroke=svg.PAPER, stroke_width=1)
        yield svg.circle(-2, 0, 6.6) + second, say("draw.two_sounds")
    if not all(mark.judged for mark in marks):
        yield svg.shade(-14, -10, 28, 20), say("draw.planned")


def _legend_notes(score: Score, lines: Sequence[BoutLine]) -> Iterator[str]:
    """How the rings were placed, what a wide space is, and how much of the recording is shown."""
    pattern, say = score.alignment.pattern, score.phrases.say
    shares = sorted({beat.long_share for beat in pattern.beats if beat.uneven})
    ratios = ", ".join(as_ratio(one) for one in shares)
    if pattern.beat_means:
        yield say("draw.beat_means", beat=pattern.beat_means)
    yield say("draw.own_tempo", ratio=say("draw.with_ratio", ratios=ratios) if shares else "")
    yield say("draw.many")
    if any(beat.length > 1 for beat in pattern.beats):
        yield say("draw.wide")
    alone = strays(score.alignment)
    if alone:
        yield say("draw.far_one" if len(alone) == 1 else "draw.far", sounds=len(alone))
    last, beats = lines[-1].beats[1], score.alignment.bouts[-1].beats[-1].number + 1
    if last < beats:
        yield say("draw.part", last=last, beats=beats)


def _foot(score: Score, top: float) -> Block:
    """The chart beside what the sounds may also mean."""
    chart = chart_of(score.alignment, score.measures, score.phrases)
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
    fault, say = score.advice.fault, score.phrases.say
    if fault is not None:
        yield say("draw.may_also_be"), fault.may_also_be
        yield say("draw.ask"), fault.ask
    elif score.advice.next_steps:
        yield say("draw.when_right"), _sentence(score.alignment.pattern.heard_when_right)
    parts = score.advice.cannot_tell
    if parts:
        last = say("draw.or", last=parts[-1]) if len(parts) > 1 else parts[-1]
        yield say("draw.cannot_tell"), _sentence("; ".join([*parts[:-1], last]))


def _sentence(words: str) -> str:
    words = words.strip().rstrip(".")
    return f"{words[:1].upper()}{words[1:]}." if words else ""
