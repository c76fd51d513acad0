"""Every counted bout as a dot in order of time, with the goal's line: black and white, and as text too."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from cuekit.drawing import svg
from cuekit.records.bout_record import HelpLevel
from cuekit.records.goals import Judged, Measure, Standing
from cuekit.telling.phrases import Phrases

WIDTH = 720.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 12.0, 30.0, 50.0
_SIZE = 13.0
_FEWEST_APART = 62.0
"""Room a date takes on the axis, units of the drawing."""


Along = Callable[[float], float]


def draw_progress(
    standing: Standing, measure: Measure, at_least: int, phrases: Phrases, height: float = 230.0
) -> str:
    """The dots of one side as an SVG element with its own description; `height` for a width of 720."""
    counted = standing.counted
    met = sum(bool(judged.met) for judged in counted)
    words = {"n": len(counted), "met": met, "missed": len(counted) - met, "goal": at_least}
    described = phrases.say("plot.alt", **words)
    title = phrases.say("plot.label", measure=phrases.say(f"measure.{measure}"), n=at_least)
    if standing.side is not None:
        side = phrases.say(f"side.{standing.side}").capitalize()
        title, described = f"{side}: {title}", f"{side}. {described}"
    inside = [
        svg.element("title", svg.escaped(described)),
        svg.text(_LEFT, 16, title, _SIZE, font_weight="bold"),
    ]
    inside += _axes(counted, measure, at_least, height, phrases) if counted else []
    inside += [] if counted else [svg.text(_LEFT, height / 2, phrases.say("plot.empty"), _SIZE)]
    return svg.element(
        "svg",
        *inside,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:.0f} {height:.0f}",
        role="img",
        aria_label=described,
        font_family="sans-serif",
        fill=svg.INK,
    )


def _axes(
    counted: Sequence[Judged], measure: Measure, at_least: int, height: float, phrases: Phrases
) -> list[str]:
    values = [measure.of(judged.bout) for judged in counted]
    most = max([at_least + 1, *(value for value in values if value is not None)])
    step = (WIDTH - _LEFT - _RIGHT) / len(counted)

    def x_of(place: int) -> float:
        return _LEFT + (place + 0.5) * step

    def y_of(value: float) -> float:
        return height - _BOTTOM - (height - _BOTTOM - _TOP) * value / most

    parts = [svg.line(_LEFT, y_of(0), WIDTH - _RIGHT, y_of(0)), svg.line(_LEFT, _TOP, _LEFT, y_of(0))]
    for value in _ticks(most, at_least):
        parts.append(svg.text(_LEFT - 8, y_of(value) + 4.5, str(value), _SIZE, text_anchor="end"))
        parts.append(svg.line(_LEFT - 4, y_of(value), _LEFT, y_of(value)))
    parts.append(svg.line(_LEFT, y_of(at_least), WIDTH - _RIGHT, y_of(at_least), stroke_width=2.4))
    radius = min(6.5, max(2.0, 0.42 * step))
    for place, (judged, value) in enumerate(zip(counted, values, strict=True)):
        parts.append(_dot(x_of(place), y_of, judged, value, radius))
    parts += _help(counted, x_of, lambda place: y_of(values[place] or 0), radius, y_of(at_least))
    days = _days(counted, x_of, y_of(0), step, phrases)
    return [*parts, *days, *_changes(counted, x_of, y_of(0), step)]


def _dot(x: float, y_of: Along, judged: Judged, value: int | None, radius: float) -> str:
    """Filled where met, open where not yet, a cross on the axis where there is a verdict but no number."""
    if value is None:
        return svg.cross(x, y_of(0) - radius, radius)
    return (
        svg.circle(x, y_of(value), radius)
        if judged.met
        else svg.ring(x, y_of(value), radius, width=min(2.0, 0.4 * radius))
    )


def _ticks(most: int, at_least: int) -> list[int]:
    """Whole numbers on the axis: 0, the goal, the most, and round ones that do not crowd them."""
    gap = max(1, round(most / 5))
    chosen = {0, at_least, most}
    return sorted(chosen | {n for n in range(0, most, gap) if min(abs(n - c) for c in chosen) >= gap})


def _days(counted: Sequence[Judged], x_of: Along, bottom: float, step: float, phrases: Phrases) -> list[str]:
    """A stroke where a new day begins, and as many dates as have room; the year where it is another one."""
    parts, free, year = [], -1e9, None
    for place, judged in enumerate(counted):
        if place and counted[place - 1].bout.day == judged.bout.day:
            continue
        edge = x_of(place) - 0.5 * step
        parts.append(svg.line(edge, bottom, edge, bottom + 7))
        if edge >= free and edge + _FEWEST_APART <= WIDTH:
            day = judged.bout.day
            told = f"{day.day} {phrases.say(f'month.m{day.month}')}" + (
                f" {day.year}" if day.year != year else ""
            )
            parts.append(svg.text(edge + 3, bottom + 18, told, _SIZE - 1))
            free, year = edge + max(_FEWEST_APART, 6 + svg.width_of(told, _SIZE - 1)), day.year
    return parts


def _changes(counted: Sequence[Judged], x_of: Along, bottom: float, step: float) -> list[str]:
    """The cue level where it begins, and a dashed line where it changes."""
    parts, before, free = [], None, -1e9
    for place, judged in enumerate(counted):
        now = judged.bout.conditions.cue_level
        if now == before:
            continue
        edge = x_of(place) - 0.5 * step
        if before is not None:
            parts.append(svg.line(edge, _TOP, edge, bottom, stroke_dasharray="5 4"))
        if edge >= free:
            parts.append(svg.text(edge + 3, bottom + 35, now or "-", _SIZE - 1, font_weight="bold"))
            free = edge + 26
        before = now
    return parts


def _help(
    counted: Sequence[Judged],
    x_of: Along,
    top_of: Callable[[int], float],
    radius: float,
    goal_y: float,
) -> list[str]:
    """The help given above a dot, where any was; over the goal line where the line would run through it."""
    parts = []
    for place, judged in enumerate(counted):
        given = judged.bout.conditions.help_level
        if given not in (None, HelpLevel.I):
            y = top_of(place) - radius - 4
            if goal_y - 2 < y < goal_y + _SIZE:
                y = goal_y - 4
            parts.append(svg.text(x_of(place), y, given, _SIZE - 2, text_anchor="middle"))
    return parts
