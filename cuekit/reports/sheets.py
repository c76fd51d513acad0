"""Paper for a lesson, each from a skill: footprints, cue cards, a data sheet, an aide's one-page plan.

Feet, words and order come from the pattern's own data, so a teacher's own figure prints as well.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import cycle, islice

from cuekit.drawing import svg
from cuekit.drawing.page import bullets, document, says, section, table, tag
from cuekit.patterns.pattern import Beat, Foot, Pattern, Step
from cuekit.records.goal_text import goal_text
from cuekit.records.goals import Goal
from cuekit.records.learner import Learner
from cuekit.teaching.cautions import Cautions
from cuekit.teaching.ladder import LadderStep
from cuekit.telling.phrases import Phrases

FOOTPRINTS, ROWS, A_ROW, A_LONG_ROW = 12, 14, 6, 10
"""Prints on a sheet, or one whole figure where it is longer; rows of the data sheet; places in a row."""
_CELL, _TALL = 118.0, 250.0


@dataclass(frozen=True)
class Print:
    """One footfall on paper.

    Attributes:
        step: its foot and word.
        short: whether it is the short one of a beat.
        alone: whether it is the only one of its beat.
        still: beats of air or rest that follow it.
    """

    step: Step
    short: bool
    alone: bool
    still: int = 0


@dataclass(frozen=True)
class Cell:
    """A place on the line of footprints: the print of a number, or the stillness after it."""

    number: int
    print: Print | None = None


def footprints_page(pattern: Pattern, phrases: Phrases, step: LadderStep | None = None) -> str:
    """Numbered footprints in the order in which they land, right and left apart; for a step where given."""
    figure = _prints(pattern)
    prints = list(islice(cycle(figure), max(FOOTPRINTS, len(figure))))
    prints[-1] = replace(prints[-1], still=0)  # nothing comes after the last one
    cells = [cell for n, one in enumerate(prints, 1) for cell in (Cell(n, one), *[Cell(n)] * one.still)]
    a_row = A_ROW if len(cells) <= 3 * A_ROW else A_LONG_ROW
    rows = [cells[at : at + a_row] for at in range(0, len(cells), a_row)]
    drawn = [tag("figure", _row(row, a_row, phrases)) for row in rows]
    pause = phrases.say("sheet.pause") if any(one.still for one in prints) else ""
    side = phrases.say("sheet.side", side=phrases.say(f"side.{pattern.side}")) if pattern.side_means else ""
    about = says("p", " ".join(part for part in (side, phrases.say("sheet.place"), pause) if part))
    return _sheet("footprints", pattern, phrases, *_task(step, phrases), about, *drawn)


def cards_page(pattern: Pattern, phrases: Phrases, step: LadderStep | None = None) -> str:
    """One card for each different word of the cycle, with its foot; for a step where given."""
    cards = list(dict.fromkeys(replace(one, still=0) for one in _prints(pattern)))
    drawn = [tag("td", _card(one, phrases)) for one in cards]
    rows = [tag("tr", *drawn[at : at + 2]) for at in range(0, len(drawn), 2)]
    grid = tag("table", tag("tbody", *rows), role="presentation")
    cut = says("p", phrases.say("sheet.cut"))
    return _sheet("cards", pattern, phrases, *_task(step, phrases), cut, grid)


def data_page(pattern: Pattern, phrases: Phrases, code: str = "", step: LadderStep | None = None) -> str:
    """An empty table for the day without the laptop, with the codes of help and cue; for a step if given."""
    keys = ("number", "time", "side", "mode", "cue", "help", "count", "in_a_row", "skill", "note")
    rows = [[str(n), *[""] * (len(keys) - 1)] for n in range(1, ROWS + 1)]
    head = f"{phrases.say('word.learner')}: {code or '________'}   {phrases.say('sheet.head')}"
    about = says("p", head, class_="form")
    grid = tag("div", table([phrases.say(f"sheet_column.{key}") for key in keys], rows), class_="roomy")
    notes = [says("p", phrases.say(f"sheet.{key}")) for key in ("codes", "late")]
    return _sheet("data", pattern, phrases, about, *_task(step, phrases), grid, *notes)


def plan_page(
    learner: Learner,
    pattern: Pattern,
    goal: Goal | None,
    cautions: Cautions,
    phrases: Phrases,
    step: LadderStep | None = None,
) -> str:
    """One page for an aide or a substitute: what to do today, what to write down, when to stop."""
    say = phrases.say
    aim = say("sheet.no_goal") if goal is None else goal_text(goal, pattern.title, phrases)
    stop = ", ".join(cautions.stop_signs)
    setting = _setting(learner, pattern, goal, phrases, step)
    order = [say(f"sheet_do.{key}") for key in ("ready", "listen", "wait", "few", "one", "praise")]
    return _sheet(
        "plan",
        pattern,
        phrases,
        says("p", f"{say('word.learner')}: {learner.code}"),
        says("p", say("sheet.note", note=learner.restrictions), class_="big") if learner.restrictions else "",
        table([say("sheet.skill"), pattern.title], setting),
        section(say("sheet.aim"), says("p", aim, whole=learner.code)),
        section(say("sheet.do"), bullets(order)),
        section(say("sheet.before"), bullets(cautions.before)),
        section(say("sheet.write"), says("p", say("sheet.codes"))),
        section(say("sheet.stop"), says("p", f"{stop[:1].upper()}{stop[1:]}."), says("p", cautions.then)),
        says("p", say("sheet.ask")),
    )


def _task(step: LadderStep | None, phrases: Phrases) -> list[str]:
    """The step in words: what to do, how much of it, what to look at."""
    if step is None:
        return []
    lines = [
        f"{phrases.say('sheet.step')} {step.number}: {step.task}",
        f"{_target(step, phrases)} {step.eye}".strip(),
    ]
    return [says("p", line) for line in lines]


def _target(step: LadderStep, phrases: Phrases) -> str:
    if step.target.out_of is not None:
        return phrases.say("sheet.target_tries", count=step.target.count, out_of=step.target.out_of)
    return phrases.say("sheet.target_run", count=step.target.count)


def _setting(
    learner: Learner, pattern: Pattern, goal: Goal | None, phrases: Phrases, step: LadderStep | None
) -> list[list[str]]:
    say, own = phrases.say, learner.tempo_bpm(pattern.name, pattern.side)
    tempo = pattern.tempo.default if own is None else own
    words = learner.words or " - ".join(one.step.word for one in _prints(pattern) if one.step.word)
    of_goal = () if goal is None else goal.cue_levels
    levels = of_goal if step is None else (step.level,)  # today's step may be past the goal's, or before it
    rows = [
        [say("sheet.step"), learner.step if step is None else f"{step.number}: {step.task}"],
        [say("sheet.target"), "" if step is None else _target(step, phrases)],
        [say("sheet.look"), "" if step is None else step.eye],
        [say("sheet.words"), words],
        [
            say("sheet.tempo"),
            say("sheet.tempo_pattern" if own is None else "sheet.tempo_own", tempo=f"{tempo:g}"),
        ],
        [
            say("sheet.cue"),
            ", ".join(f"{one} {say(f'cue_short.{one}')}" for one in levels),
        ],
    ]
    return [row for row in rows if row[1]]


def _prints(pattern: Pattern) -> list[Print]:
    return [
        Print(step, place == 1, not beat.uneven, _still(beat) if step is beat.steps[-1] else 0)
        for beat in pattern.beats
        for place, step in enumerate(beat.steps)
    ]


def _still(beat: Beat) -> int:
    """Whole beats that pass after a beat before the next one; a shorter wait is not drawn."""
    return max(0, int(beat.length) - 1)


def _row(cells: list[Cell], a_row: int, phrases: Phrases) -> str:
    """Left feet above the line of travel, right ones below, both where both land; a wave for a still beat."""
    prints = [(cell.print, n, cell.number) for n, cell in enumerate(cells) if cell.print is not None]
    feet = [(one, n, foot) for one, n, _ in prints for foot in _feet(one.step.foot)]
    parts = [svg.line(8, _TALL / 2, _CELL * a_row, _TALL / 2, stroke_dasharray="3 6")]
    for one, n, foot in feet:
        y = _TALL * (0.28 if foot is Foot.LEFT else 0.72)
        parts += _foot(_CELL * (n + 0.5), y, phrases.say(f"foot.{foot}"), one.short)
    parts += [svg.text(_CELL * n + 4, _TALL / 2 - 5, str(number), 16) for _, n, number in prints]
    still = [n for n, cell in enumerate(cells) if cell.print is None]
    parts += [svg.text(_CELL * (n + 0.5), _TALL / 2 - 12, "~", 44, text_anchor="middle") for n in still]
    order = ", ".join(f"{number} {phrases.say(f'foot.{one.step.foot}')}" for one, _, number in prints)
    return _picture(order, _CELL * a_row, _TALL, parts)


def _feet(foot: Foot) -> tuple[Foot, ...]:
    return (Foot.LEFT, Foot.RIGHT) if foot is Foot.BOTH else (foot,)


def _foot(x: float, y: float, letter: str, small: bool) -> list[str]:
    """A sole and a heel, toes to the right, with the letter of the foot."""
    size = 0.62 if small else 1.0
    rim = {"fill": svg.PAPER, "stroke": svg.INK, "stroke_width": 2.6}
    return [
        svg.element("ellipse", cx=x + 14 * size, cy=y, rx=34 * size, ry=23 * size, **rim),
        svg.element("ellipse", cx=x - 34 * size, cy=y, rx=15 * size, ry=16 * size, **rim),
        svg.text(x + 14 * size, y + 10 * size, letter, 30 * size, text_anchor="middle", font_weight="bold"),
    ]


def _card(one: Print, phrases: Phrases) -> str:
    """A big word, its foot, and long or short."""
    part = "whole" if one.alone else "short" if one.short else "long"
    foot = phrases.say(f"foot.{one.step.foot}")
    word = one.step.word or phrases.say(f"sheet.{part}")
    size = min(64.0, 300.0 / max(svg.width_of(word, 1.0, bold=True), 1e-9)) * (0.7 if one.short else 1.0)
    parts = [
        svg.text(170, 120, word, size, text_anchor="middle", font_weight="bold"),
        svg.text(170, 185, f"{foot}  ({phrases.say(f'sheet.{part}')})", 22, text_anchor="middle"),
    ]
    return _picture(word, 340.0, 220.0, parts)


def _picture(described: str, width: float, height: float, parts: list[str]) -> str:
    return svg.element(
        "svg",
        svg.element("title", svg.escaped(described)),
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width:.0f} {height:.0f}",
        role="img",
        aria_label=described,
        font_family="sans-serif",
        fill=svg.INK,
    )


def _sheet(kind: str, pattern: Pattern, phrases: Phrases, *body: str) -> str:
    title = f"{phrases.say(f'sheet.{kind}')}: {pattern.title}"
    return document(title, phrases.language, says("h1", title), *body)
