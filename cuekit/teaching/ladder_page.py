"""Ladders and their steps as lines of text: what to do, what to say, what to look at, what to mind."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from cuekit.patterns.schedule import CueLevel
from cuekit.teaching.cautions import Cautions
from cuekit.teaching.ladder import Judge, Ladder, LadderStep, Mode, Sides, Target
from cuekit.teaching.supports import Adaptation, SkillSupports, Support

WIDTH_COLUMNS = 79
_LEVELS = {
    CueLevel.C5: "words and tones on every footfall",
    CueLevel.C4: "tones on every footfall",
    CueLevel.C3: "softer tones",
    CueLevel.C2: "the main beat only",
    CueLevel.C1: "count-in, then silence",
    CueLevel.C0: "no sound",
}
_SIDES = {
    Sides.BETTER: "the better side",
    Sides.OTHER: "the other side",
    Sides.EACH: "each side, kept apart in the records",
}
_TOUCH = "only with the child's leave and training"


def ladders_listed(ladders: Sequence[Ladder]) -> list[str]:
    """All ladders, one a line."""
    rows = [
        f"{ladder.name:<16} {len(ladder.steps):>2} steps  {ladder.title}"
        + (f" (after {ladder.comes_after})" if ladder.comes_after else " (start here)")
        for ladder in ladders
    ]
    return [*rows, "", "cuekit ladder SKILL shows the steps; cuekit ladder SKILL --step N shows one in full."]


def ladder_lines(ladder: Ladder) -> list[str]:
    """The steps of a ladder, the easiest first."""
    lines = [ladder.title, ""]
    for step in ladder.steps:
        lines += _wrapped(f"{step.number:>2}  {step.task}", "    ")
        lines += _wrapped(f"    {target_words(step)}; {_LEVELS[step.level]}.", "    ")
    lines += ["", *_wrapped(f"Easier: {ladder.easier}"), *_wrapped(f"Harder: {ladder.harder}")]
    before = f"Before it: cuekit ladder {ladder.comes_after}. " if ladder.comes_after else ""
    after = f"After it: cuekit ladder {ladder.leads_to}." if ladder.leads_to else "This is the last ladder."
    return [*lines, f"{before}{after}"]


def step_lines(ladder: Ladder, step: LadderStep) -> list[str]:
    """One step in full."""
    easier, harder = ladder.easier_than(step), ladder.harder_than(step)
    facts = [
        ("Target", target_words(step)),
        ("Days", f"met in 4 of the last 5 bouts, on {step.days_needed} different days"),
        ("Cue", f"{step.level}: {_LEVELS[step.level]}{_silence(step)}"),
        ("Ways", ", ".join(_ways(step.modes))),
        ("Side", _SIDES.get(step.side, "")),
        (
            "Tempo",
            f"{step.tempo_change_percent:+g} % from the own tempo" if step.tempo_change_percent else "",
        ),
        ("Eye", step.eye),
        ("New here", str(step.change or "")),
        ("Easier", easier.task if easier else f"this is the first step. {ladder.easier}"),
        ("Harder", harder.task if harder else f"this is the last step. {ladder.harder}"),
    ]
    lines = _wrapped(f"{ladder.title}, step {step.number} of {len(ladder.steps)}: {step.task}")
    return [*lines, f"({step.key})", "", *_facts(facts)]


def command_lines(step: LadderStep) -> list[str]:
    """The commands that play and score a step."""
    beats = max(step.target.count, 8)
    full = f" --full {step.sound_beats}" if step.sound_beats else ""
    return [
        f"Play:   cuekit play {step.pattern} --level {step.level} --beats {beats}{full}",
        f"Score:  cuekit score FILE --pattern {step.pattern}",
    ]


def support_lines(supports: SkillSupports) -> list[str]:
    """Words, pictures, touch and equipment of a skill, and what only the eye finds."""
    facts = [
        ("Rhythm", supports.rhythm_words),
        ("Shape", supports.shape_words),
        ("Picture", supports.picture),
        ("Touch", f"{supports.touch} ({_TOUCH})" if supports.touch else ""),
        ("Use", supports.equipment),
    ]
    looks = [
        line
        for look in supports.looks
        for line in _wrapped(f'- {look.see} Say: "{look.say}" {look.why}', "  ")
    ]
    return [
        "Words and things",
        *_facts(facts),
        *(["", "Look for, as no microphone hears it", *looks] if looks else []),
    ]


def fault_lines(supports: Sequence[Support]) -> list[str]:
    """What helps with one fault."""
    lines: list[str] = []
    for support in supports:
        facts = [
            ("See", support.see),
            ("Say", support.say),
            ("Show", support.show),
            ("Touch", f"{support.touch} ({_TOUCH})" if support.touch else ""),
            ("Use", support.use),
            ("Change", support.change),
        ]
        lines += [*([""] if lines else []), *_facts(facts)]
    return lines


def adaptation_lines(adaptation: Adaptation) -> list[str]:
    """What may help whom."""
    facts = [("Cue", adaptation.cue), ("Measure", adaptation.measure), ("Watch", adaptation.watch)]
    return [
        adaptation.who,
        *_facts(facts),
        "",
        "Nothing follows from a label alone: ask the child, family and team.",
    ]


def caution_lines(cautions: Cautions) -> list[str]:
    """What to mind, the teacher's own note first."""
    lines = [*cautions.note, *([""] if cautions.note else []), "Care"]
    for text in (*cautions.before, *cautions.during, *cautions.sound):
        lines += _wrapped(f"- {text}", "  ")
    lines += _wrapped(f"Stop at: {'; '.join(cautions.stop_signs)}. {cautions.then}", "  ")
    return [*lines, *_wrapped(cautions.always)]


def target_words(step: LadderStep) -> str:
    """What a bout must reach, in words."""
    target = step.target
    if target.out_of is not None:
        words = f"{target.count} of {target.out_of} tries"
    elif target.judge is Judge.EYE:
        words = f"{target.count} in a row"
    else:
        words = f"{target.count} beats in a row on the pattern"
    return f"{words}{_limits(target)}, judged by {_judges(target.judge)}"


def _limits(target: Target) -> str:
    limits = (
        (target.spread_percent, "spread at most {:g} %"),
        (target.tempo_within_percent, "tempo within {:g} % of the count-in"),
        (target.air_gap, "the air gap at least {:g} times the others"),
        (target.split_landings, "at most {:g} landings in two sounds"),
    )
    return "".join(f", {words.format(value)}" for value, words in limits if value is not None)


def _judges(judge: Judge) -> str:
    return {Judge.EAR: "the sound", Judge.EYE: "your eye", Judge.BOTH: "the sound and your eye"}[judge]


def _silence(step: LadderStep) -> str:
    return f", silent after {step.sound_beats} beats" if step.sound_beats else ""


def _ways(modes: Sequence[Mode]) -> list[str]:
    return [mode.value for mode in modes]


def _facts(facts: Sequence[tuple[str, str]]) -> list[str]:
    """Named facts in two columns, the empty ones left out."""
    return [line for name, text in facts if text for line in _wrapped(f"  {name + ':':<10}{text}", " " * 12)]


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH_COLUMNS, subsequent_indent=indent) or [""]
