"""The text of a ladder file turned into a ladder, with everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from cuekit.patterns.pattern_fields import Fields, nearest
from cuekit.patterns.pattern_syntax import Problem, Source, parse, shown_value
from cuekit.patterns.pattern_text import NAME
from cuekit.patterns.schedule import CueLevel
from cuekit.teaching.ladder import Change, Judge, Ladder, LadderStep, Mode, Sides, Target

MOST_STEPS = 40
MOST_BEATS = 64


@dataclass(frozen=True)
class LadderReading:
    """What a ladder file says; no ladder where there are problems."""

    ladder: Ladder | None
    problems: tuple[Problem, ...]


def read_ladder(
    text: str, file: str, patterns: Collection[str], ladders: Collection[str], language: str = "en"
) -> LadderReading:
    """Read the text of a ladder file.

    Parameters
    ----------
    text: of the file.
    file: its name, for messages.
    patterns: names of the patterns there are.
    ladders: names of the ladders there are, which it may come after or lead to.
    language: of the texts for people, where the file has them in it ("task_es" beside "task").
    """
    table = parse(file, text)
    if isinstance(table, Problem):
        return LadderReading(None, (table,))
    problems: list[Problem] = []
    top = Fields(Source(file, text), table, problems, language=language)
    name = _name(top)
    title = top.told("title", longest=60)
    easier, harder = top.told("easier"), top.told("harder")
    after, to = (_other(top, key, ladders) for key in ("comes_after", "leads_to"))
    tables = top.tables("step", MOST_STEPS)
    if not tables:
        top.note("step", "missing: expected at least one part headed [[step]]")
    steps = [_step(fields, name or "", patterns) for fields in tables]
    _refuse_twins(tables, steps)
    top.finish()
    if problems or not all(steps):
        return LadderReading(None, tuple(sorted(problems, key=lambda problem: problem.line or 0)))
    return LadderReading(Ladder(name, title, after, to, easier, harder, tuple(steps)), ())


def _name(fields: Fields, key: str = "name") -> str | None:
    value = fields.text(key, longest=40)
    if value is not None and not NAME.fullmatch(value):
        fields.note(key, f'expected small letters, digits and "-", found {shown_value(value)}')
        return None
    return value


def _other(fields: Fields, key: str, ladders: Collection[str]) -> str:
    value = fields.text(key, default="", longest=40) or ""
    if value and value not in ladders:
        fields.note(key, f"there is no ladder {shown_value(value)}.{nearest(value, sorted(ladders))}")
    return value


def _step(fields: Fields, ladder: str, patterns: Collection[str]) -> LadderStep | None:
    """One [[step]]; None after noting what is wrong with it."""
    before = len(fields.problems)
    step_id, task = _name(fields, "id"), fields.told("task", longest=160)
    pattern = fields.text("pattern", longest=40)
    if pattern is not None and pattern not in patterns:
        fields.note(
            "pattern", f"there is no pattern {shown_value(pattern)}.{nearest(pattern, sorted(patterns))}"
        )
    modes = _modes(fields)
    level = fields.choice("level", _words(CueLevel))
    target = _target(fields)
    side = fields.choice("side", _words(Sides), default="")
    eye = fields.told("eye", default="", longest=120)
    change = fields.choice("changes", _words(Change)) if fields.nth > 1 or fields.has("changes") else None
    sound = fields.whole("sound_beats", 1, MOST_BEATS) if fields.has("sound_beats") else None
    tempo = fields.number("tempo_change_percent", -20, 20) if fields.has("tempo_change_percent") else 0.0
    goal = fields.yes_no("annual_goal", default=False)
    if target is not None and target.judge is not Judge.EAR and not eye:
        fields.note("eye", f'missing: expected a question for the eye, as judge is "{target.judge}"')
    fields.finish()
    if len(fields.problems) > before or target is None:
        return None
    return LadderStep(
        key=f"{ladder}-{step_id}",
        number=fields.nth,
        task=task,
        pattern=pattern,
        modes=modes,
        level=CueLevel(level),
        target=target,
        sound_beats=sound,
        tempo_change_percent=tempo,
        side=Sides(side),
        eye=eye,
        change=Change(change) if change else None,
        annual_goal=goal,
    )


def _target(fields: Fields) -> Target | None:
    """What a bout must reach; None after noting what is wrong with it."""
    count = fields.whole("count", 1, MOST_BEATS)
    judge = fields.choice("judge", _words(Judge))
    out_of = fields.whole("out_of", 1, MOST_BEATS) if fields.has("out_of") else None
    spread = fields.number("spread_percent", 1, 50) if fields.has("spread_percent") else None
    tempo = fields.number("tempo_within_percent", 1, 50) if fields.has("tempo_within_percent") else None
    air = fields.number("air_gap", 1, 4) if fields.has("air_gap") else None
    split = fields.whole("split_landings", 0, MOST_BEATS) if fields.has("split_landings") else None
    if count is None or judge is None:
        return None
    if out_of is not None and out_of < count:
        fields.note("out_of", f"expected at least the count, {count}, found {out_of}")
        return None
    return Target(count, Judge(judge), out_of, spread, tempo, air, split)


def _modes(fields: Fields) -> tuple[Mode, ...]:
    """The modes of a step, written "clap, tap"."""
    expected = f"some of {', '.join(Mode)} in quotes, with commas between"
    written = fields.text("modes", longest=60)
    if written is None:
        return ()
    words = [word.strip() for word in written.split(",")]
    if not set(words) <= set(_words(Mode)) or len(set(words)) < len(words):
        fields.note("modes", f"expected {expected}, found {shown_value(written)}")
        return ()
    return tuple(Mode(word) for word in words)


def _refuse_twins(tables: list[Fields], steps: list[LadderStep | None]) -> None:
    seen: set[str] = set()
    for fields, step in zip(tables, steps, strict=True):
        if step is not None and step.key in seen:
            fields.note("id", "expected a name of its own, found one that an earlier step has")
        if step is not None:
            seen.add(step.key)


def _words(kind: type[StrEnum]) -> list[str]:
    return [member.value for member in kind]
