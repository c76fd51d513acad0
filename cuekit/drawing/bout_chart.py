"""One number of every beat as a dot: how long the long part was, or whether the beat was steady."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from cuekit.drawing import svg
from cuekit.drawing.bout_marks import BeatValue, durations_by_beat, long_shares_by_beat
from cuekit.patterns.pattern import as_ratio
from cuekit.rhythm.alignment import Alignment
from cuekit.rhythm.measures import LongShare, Measures
from cuekit.telling.phrases import Phrases

TITLE, SMALL = 16.0, 13.0
_LEFT, _RIGHT, _LINE = 96.0, 78.0, 17.0
_MANY = 45
_CLOSEST_LEVELS = 0.045
_TICKS = (1, 5, 10, 20, 50, 100, 200, 500, 1000)

Scale = Callable[[float], float]


@dataclass(frozen=True)
class Level:
    """A value named on the left edge; the target's line is thick."""

    value: float
    name: str
    target: bool = False


@dataclass(frozen=True)
class Chart:
    """What is drawn.

    Attributes:
        title: what one dot is.
        beat, median: the words "beat" and "middle".
        about: the number it comes to, and what the shade means.
        values: of the beats.
        band: from and to which value a beat keeps the pattern.
        levels: named lines.
        middle: median and its interval; None where there is none.
        ends: of the axis, least and most.
    """

    title: str
    beat: str
    median: str
    about: tuple[str, ...]
    values: tuple[BeatValue, ...]
    band: tuple[float, float]
    levels: tuple[Level, ...]
    middle: LongShare | None
    ends: tuple[float, float]


def chart_of(alignment: Alignment, measures: Measures, phrases: Phrases) -> Chart:
    """Long share by beat for an uneven pattern, beat duration against local tempo for an even one."""
    if alignment.pattern.uneven:
        return _share_chart(alignment, measures, phrases.say)
    return _steady_chart(alignment, measures, phrases.say)


def _share_chart(alignment: Alignment, measures: Measures, say: Callable[..., str]) -> Chart:
    values, share = long_shares_by_beat(alignment), measures.long_share
    targets = sorted({beat.long_share for beat in alignment.pattern.beats if beat.uneven})
    levels = [Level(float(one), say("draw.target", ratio=as_ratio(one)), True) for one in targets]
    for value, name in ((1 / 2, say("draw.one_to_one")), (2 / 3, "2:1"), (3 / 4, "3:1")):
        if all(abs(value - float(one)) > _CLOSEST_LEVELS for one in targets):
            levels.append(Level(value, name))
    found = say("draw.no_share")
    if share is not None:
        rhythm = say(f"score.rhythm.{measures.rhythm.replace(' ', '-')}")
        found = say("draw.share", middle=share.value, low=share.low, high=share.high, rhythm=rhythm)
    low, high = alignment.pattern.accepted.long_share_from, alignment.pattern.accepted.long_share_to
    shade = say("draw.shade", low=low, high=high)
    return Chart(
        title=say("draw.share_title"),
        beat=say("draw.beat_word"),
        median=say("draw.middle"),
        about=(found, shade),
        values=values,
        band=(low, high),
        levels=tuple(levels),
        middle=share,
        ends=_ends(values, 0.40, 0.90, 0.0, 1.0),
    )


def _steady_chart(alignment: Alignment, measures: Measures, say: Callable[..., str]) -> Chart:
    values, spread, share = durations_by_beat(alignment), measures.spread_percent, measures.long_share
    within = alignment.pattern.accepted.beat_within
    percent = f"{100 * within:.0f} %"
    levels = (
        Level(1.0, say("draw.equal"), True),
        Level(1.0 + within, say("draw.longer", percent=percent)),
        Level(1.0 - within, say("draw.shorter", percent=percent)),
    )
    varied = "" if spread is None else say("draw.spread", spread=spread)
    about = [say("draw.steady", spread=varied, percent=percent)]
    if share is not None and all(beat.length == 1 for beat in alignment.pattern.beats):
        about.append(say("draw.alternate", share=share.value))
    return Chart(
        title=say("draw.steady_title"),
        beat=say("draw.beat_word"),
        median=say("draw.middle"),
        about=tuple(about),
        values=values,
        band=(1.0 - within, 1.0 + within),
        levels=levels,
        middle=None,
        ends=_ends(values, 0.70, 1.30, 0.0, 3.0),
    )


def _ends(
    values: Sequence[BeatValue], low: float, high: float, lowest: float, highest: float
) -> tuple[float, float]:
    """Ends of the axis: as usual, wider where a beat lies outside, in steps of a tenth."""
    found = [one.value for one in values]
    least = math.floor(10 * min([low, *found]) + 1e-9) / 10
    most = math.ceil(10 * max([high, *found]) - 1e-9) / 10
    return max(least, lowest), min(most, highest)


def draw_chart(chart: Chart, left: float, top: float, width: float, height: float) -> str:
    """Draw it into a box."""
    least, most = chart.ends
    plot_left, plot_right = left + _LEFT, left + width - (_RIGHT if chart.middle else 8.0)
    plot_top, plot_bottom = top + 31 + _LINE * len(chart.about), top + height - 36
    numbers = [one.beat for one in chart.values] or [1]
    span = max(numbers[-1] - numbers[0], 1)

    def x_of(beat: int) -> float:
        return plot_left + 14 + (plot_right - plot_left - 28) * (beat - numbers[0]) / span

    def y_of(value: float) -> float:
        inside = min(max(value, least), most)
        return plot_bottom - (plot_bottom - plot_top) * (inside - least) / (most - least)

    words = (svg.text(left, top + 34 + _LINE * n, one, SMALL) for n, one in enumerate(chart.about))
    return svg.group(
        "chart",
        svg.text(left, top + 14, chart.title, TITLE, font_weight="bold"),
        *words,
        *_frame(chart, y_of, plot_left, plot_right),
        *_ticks(numbers, chart.beat, x_of, plot_bottom),
        *_middle(chart.middle, chart.median, y_of, plot_right),
        svg.group("value", *_dots(chart.values, x_of, y_of)),
    )


def _frame(chart: Chart, y_of: Scale, left: float, right: float) -> Iterator[str]:
    """Shade, its edges (which survive a photocopier), the named levels and the ends of the axis."""
    low, high = (y_of(value) for value in chart.band)
    yield svg.element("rect", x=left, y=high, width=right - left, height=low - high, fill=svg.SHADE)
    for y in (low, high):
        yield svg.line(left, y, right, y, stroke_width=1.3, stroke_dasharray="2 4")
    named: list[float] = []
    for level in sorted(chart.levels, key=lambda one: not one.target):
        y = y_of(level.value)
        ink = {"stroke_width": 2.5} if level.target else {"stroke": svg.LINE}
        yield svg.line(left, y, right, y, **ink)
        if any(abs(y - other) < SMALL + 1 for other in named):
            continue
        named.append(y)
        weight = "bold" if level.target else None
        yield svg.text(left - 6, y + 4.5, level.name, SMALL, text_anchor="end", font_weight=weight)
    yield svg.line(left, y_of(chart.ends[0]), left, y_of(chart.ends[1]), stroke=svg.SOFT_INK)


def _ticks(numbers: Sequence[int], beat: str, x_of: Scale, bottom: float) -> Iterator[str]:
    """Beat numbers under the axis, about eight of them."""
    step = next(tick for tick in _TICKS if tick * 6 >= numbers[-1] - numbers[0] or tick == _TICKS[-1])
    first = math.ceil(numbers[0] / step) * step
    for number in sorted({numbers[0], *range(first, numbers[-1] + 1, step)}):
        if number == numbers[0] or number - numbers[0] >= 0.6 * step:
            yield svg.line(x_of(number), bottom, x_of(number), bottom + 5)
            yield svg.text(x_of(number), bottom + 19, str(number), SMALL, text_anchor="middle")
    yield svg.line(x_of(numbers[0]) - 14, bottom, x_of(numbers[-1]) + 14, bottom, stroke=svg.SOFT_INK)
    yield svg.text(x_of(numbers[0]) - 20, bottom + 19, beat, SMALL, text_anchor="end")


def _middle(share: LongShare | None, word: str, y_of: Scale, right: float) -> Iterator[str]:
    """The median, with its interval as an upright at the right edge."""
    if share is None:
        return
    x, y = right + 14, y_of(share.value)
    yield svg.line(x, y_of(share.low), x, y_of(share.high), stroke_width=2)
    for end in (share.low, share.high):
        yield svg.line(x - 7, y_of(end), x + 7, y_of(end), stroke_width=2)
    yield svg.element("path", d=f"M{x - 7:.1f} {y:.1f}l7 -5 7 5 -7 5z", fill=svg.INK)
    yield svg.text(x + 12, y, word, SMALL)
    yield svg.text(x + 12, y + 15, f"{share.value:.2f}", TITLE, font_weight="bold")


def _dots(values: Sequence[BeatValue], x_of: Scale, y_of: Scale) -> Iterator[str]:
    """A dot a beat, open beside a planned change."""
    radius = 4.6 if len(values) <= _MANY else 2.8
    for one in values:
        fill = {} if one.judged else {"fill": svg.PAPER, "stroke": svg.INK}
        yield svg.circle(x_of(one.beat), y_of(one.value), radius, **fill)
