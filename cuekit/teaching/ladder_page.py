"""Ladders and their steps as lines of text: what to do, what to say, what to look at, what to mind.

The texts of a ladder are its own (`cuekit.teaching.ladder_files`); the words around them are of the
catalogue, so both are asked for in one language.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from cuekit.patterns.pattern import Pattern
from cuekit.teaching.cautions import Cautions
from cuekit.teaching.ladder import Ladder, LadderStep, Sides, beats_to_play
from cuekit.teaching.supports import Adaptation, SkillSupports, Support
from cuekit.telling.phrases import Phrases

WIDTH_COLUMNS = 79


def ladders_listed(ladders: Sequence[Ladder], phrases: Phrases) -> list[str]:
    """All ladders, one a line."""
    rows = []
    for ladder in ladders:
        before = phrases.say(
            "ladder.after" if ladder.comes_after else "ladder.first", name=ladder.comes_after
        )
        steps = phrases.say("ladder.steps", count=len(ladder.steps))
        rows.append(f"{ladder.name:<16} {steps:>8}  {ladder.title} ({before})")
    return [*rows, "", phrases.say("ladder.hint")]


def ladder_lines(ladder: Ladder, phrases: Phrases) -> list[str]:
    """The steps of a ladder, the easiest first."""
    lines = [ladder.title, ""]
    for step in ladder.steps:
        lines += _wrapped(f"{step.number:>2}  {step.task}", "    ")
        level = phrases.say(f"ladder.level.{step.level}")
        lines += _wrapped(f"    {target_words(step, phrases)}; {level}.", "    ")
    lines += ["", *_wrapped(phrases.say("ladder.easier", how=ladder.easier))]
    lines += _wrapped(phrases.say("ladder.harder", how=ladder.harder))
    before = f"{phrases.say('ladder.before', name=ladder.comes_after)} " if ladder.comes_after else ""
    after = phrases.say("ladder.next" if ladder.leads_to else "ladder.last", name=ladder.leads_to)
    return [*lines, f"{before}{after}"]


def step_lines(ladder: Ladder, step: LadderStep, phrases: Phrases) -> list[str]:
    """One step in full."""
    say, easier, harder = phrases.say, ladder.easier_than(step), ladder.harder_than(step)
    silence = f", {say('ladder.silent_after', beats=step.sound_beats)}" if step.sound_beats else ""
    change = step.tempo_change_percent
    facts = [
        ("target", target_words(step, phrases)),
        ("days", say("ladder.days_needed", days=step.days_needed)),
        ("cue", f"{step.level}: {say(f'ladder.level.{step.level}')}{silence}"),
        ("ways", ", ".join(say(f"ladder.mode.{mode}") for mode in step.modes)),
        ("side", say(f"ladder.side_is.{step.side}") if step.side is not Sides.ANY else ""),
        ("tempo", say("ladder.from_own_tempo", percent=change) if change else ""),
        ("eye", step.eye),
        ("new", say(f"progress.changed.{step.change}") if step.change else ""),
        ("easier_step", easier.task if easier else say("ladder.is_first", how=ladder.easier)),
        ("harder_step", harder.task if harder else say("ladder.is_last", how=ladder.harder)),
    ]
    heading = say(
        "ladder.heading", title=ladder.title, number=step.number, of=len(ladder.steps), task=step.task
    )
    return [*_wrapped(heading), f"({step.key})", "", *_facts(facts, phrases)]


def command_lines(step: LadderStep, pattern: Pattern, phrases: Phrases) -> list[str]:
    """The commands that play and score a step of that pattern."""
    full = f" --full {step.sound_beats}" if step.sound_beats else ""
    spoken = "" if phrases.language == "en" else f" --language {phrases.language}"
    beats = beats_to_play(step, pattern)
    play = f"cuekit play {step.pattern} --level {step.level} --beats {beats}{full}{spoken}"
    score = f"cuekit score FILE --pattern {step.pattern}{spoken}"
    rows = [(phrases.say("ladder.play"), play), (phrases.say("ladder.score"), score)]
    wide = max(len(name) for name, _ in rows)
    return [f"{name:<{wide}} {command}" for name, command in rows]


def support_lines(supports: SkillSupports, phrases: Phrases) -> list[str]:
    """Words, pictures, touch and equipment of a skill, and what only the eye finds."""
    facts = [
        ("rhythm", supports.rhythm_words),
        ("shape", supports.shape_words),
        ("picture", supports.picture),
        ("touch", _touch(supports.touch, phrases)),
        ("use", supports.equipment),
    ]
    looks = [
        line
        for look in supports.looks
        for line in _wrapped(phrases.say("ladder.look", see=look.see, words=look.say, why=look.why), "  ")
    ]
    return [
        phrases.say("ladder.words"),
        *_facts(facts, phrases),
        *(["", phrases.say("ladder.look_for"), *looks] if looks else []),
    ]


def fault_lines(supports: Sequence[Support], phrases: Phrases) -> list[str]:
    """What helps with one fault."""
    lines: list[str] = []
    for support in supports:
        facts = [
            ("see", support.see),
            ("say", support.say),
            ("show", support.show),
            ("touch", _touch(support.touch, phrases)),
            ("use", support.use),
            ("change", support.change),
        ]
        lines += [*([""] if lines else []), *_facts(facts, phrases)]
    return lines


def adaptation_lines(adaptation: Adaptation, phrases: Phrases) -> list[str]:
    """What may help whom."""
    facts = [("cue", adaptation.cue), ("measure", adaptation.measure), ("watch", adaptation.watch)]
    return [adaptation.who, *_facts(facts, phrases), "", phrases.say("ladder.no_label")]


def caution_lines(cautions: Cautions, phrases: Phrases) -> list[str]:
    """What to mind, the teacher's own note first."""
    lines = [*cautions.note, *([""] if cautions.note else []), phrases.say("ladder.care")]
    for text in (*cautions.before, *cautions.during, *cautions.sound):
        lines += _wrapped(f"- {text}", "  ")
    stop = phrases.say("ladder.stop_at", signs="; ".join(cautions.stop_signs))
    lines += _wrapped(f"{stop} {cautions.then}", "  ")
    return [*lines, *_wrapped(cautions.always)]


def target_words(step: LadderStep, phrases: Phrases) -> str:
    """What a bout must reach, in words."""
    target, say = step.target, phrases.say
    if target.out_of is not None:
        words = say("ladder.target.tries", count=target.count, of=target.out_of)
    else:
        words = say(f"ladder.target.by_{target.judge}", count=target.count)
    limits = ("spread_percent", "tempo_within_percent", "air_gap", "split_landings")
    told = [(name, getattr(target, name)) for name in limits]
    parts = [words, *(say(f"ladder.target.{name}", limit=value) for name, value in told if value is not None)]
    return f"{', '.join(parts)}, {say(f'ladder.judge.{target.judge}')}"


def _touch(touch: str, phrases: Phrases) -> str:
    """Touch is never shown without its condition."""
    return f"{touch} ({phrases.say('ladder.touch_only')})" if touch else ""


def _facts(facts: Sequence[tuple[str, str]], phrases: Phrases) -> list[str]:
    """Named facts in two columns, the empty ones left out."""
    rows = [(phrases.say(f"ladder.fact.{key}"), text) for key, text in facts if text]
    return [line for name, text in rows for line in _wrapped(f"  {name + ':':<11}{text}", " " * 13)]


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH_COLUMNS, subsequent_indent=indent, break_on_hyphens=False) or [""]
