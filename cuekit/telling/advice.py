"""From measures to one sentence, what the microphone cannot know, and what to try next.

The sentence has the count, the plain finding and the next thing, in at most 25 words. Nothing is
claimed that was not heard: too few footfalls is a result of its own, never a zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from cuekit.hearing.events import Heard, Hearing
from cuekit.patterns.pattern import Pattern
from cuekit.rhythm.alignment import Alignment
from cuekit.rhythm.long_share import FEWEST_BEATS, RhythmClass
from cuekit.rhythm.measures import Measures
from cuekit.telling.faults import AIR_GAP, STEADY_PERCENT, Fault, air_gap, find_faults, sides_take_turns
from cuekit.telling.phrases import Phrases

MOST_WORDS = 25
"""Words the one sentence may have."""

KEPT = 0.75
"""Share of its judged beats on the pattern from which a figure of several parts was kept (proposal)."""

FEWEST_FOOTFALLS = 5
"""Footfalls below which nothing is said of the rhythm."""


@dataclass(frozen=True)
class SpokenFault:
    """A fault in words: what was heard, the other explanation, the question for the eye."""

    id: str
    heard: str
    may_also_be: str
    ask: str


@dataclass(frozen=True)
class Advice:
    """What is told after a bout.

    Attributes:
        summary: one sentence, at most 25 words.
        heard_reason: why not all was heard clearly, and the mend; empty where it was.
        fault: the most teachable fault; None where there is none or nothing can be said.
        other_faults: the rest, on request.
        cannot_tell: what the microphone cannot know here.
        next_steps: what to try, the first one first.
    """

    summary: str
    heard_reason: str
    fault: SpokenFault | None
    other_faults: tuple[SpokenFault, ...]
    cannot_tell: tuple[str, ...]
    next_steps: tuple[str, ...]


def advise(hearing: Hearing, alignment: Alignment, measures: Measures, phrases: Phrases) -> Advice:
    """Say what was heard."""
    cannot_tell = _cannot_tell(alignment, measures, phrases)
    reason = phrases.say(f"reason.{hearing.reason}") if hearing.reason else ""
    if hearing.heard is Heard.NOT_ENOUGH or measures.beats == 0 or len(hearing.footfalls) < FEWEST_FOOTFALLS:
        step = phrases.say("next.nearer")
        summary = f"{_too_little(hearing, phrases)}. {_capital(step)}."
        return Advice(summary, reason, None, (), cannot_tell, (step,))
    faults = find_faults(alignment, measures)
    if faults:
        step = phrases.say(f"fault.{faults[0].id}.next")
        finding = phrases.say(f"fault.{faults[0].id}.short", **dict(faults[0].values))
    else:
        told = _finding(alignment, measures)
        step, finding = phrases.say(f"next.{told.next}"), phrases.say(f"finding.{told.finding}")
    spoken = tuple(_spoken(fault, phrases) for fault in faults)
    doubt = phrases.say("heard.doubt") if hearing.heard is Heard.SOME_DOUBT else ""
    summary = f"{_count(alignment, measures, phrases)}{doubt}: {finding}. {_capital(step)}."
    return Advice(summary, reason, spoken[0] if spoken else None, spoken[1:], cannot_tell, (step,))


def _count(alignment: Alignment, measures: Measures, phrases: Phrases) -> str:
    heard = measures.complete_beats
    if heard == 0:
        return phrases.say("heard.footfalls", footfalls=len(alignment.footfalls))
    return phrases.say("heard.count_one" if heard == 1 else "heard.count", beats=heard)


def _too_little(hearing: Hearing, phrases: Phrases) -> str:
    """Which way too little was heard: nothing, a few, or too poorly."""
    if not hearing.footfalls:
        return phrases.say("heard.none")
    if len(hearing.footfalls) < FEWEST_FOOTFALLS:
        one = len(hearing.footfalls) == 1
        return phrases.say("heard.few_one" if one else "heard.few", footfalls=len(hearing.footfalls))
    return phrases.say("heard.poor")


@dataclass(frozen=True)
class _Told:
    """Keys of the plain finding and of what to try next."""

    finding: str
    next: str = "softer"


def _finding(alignment: Alignment, measures: Measures) -> _Told:
    """The plain finding of a bout without a fault; nothing is praised that is not clear."""
    pattern, gap = alignment.pattern, air_gap(alignment)
    if measures.complete_beats < FEWEST_BEATS:
        return _Told("unclear", "longer")
    if gap is not None and gap >= AIR_GAP:
        return _Told("air_gap")
    if pattern.uneven and measures.rhythm is RhythmClass.UNCLEAR:
        return _Told("unclear_mixed", "cue")
    if len({(beat.uneven, beat.length) for beat in pattern.beats if beat.judged}) > 1:
        kept = measures.beats_on_pattern >= KEPT * measures.judged_beats
        return _Told("kept_figure") if kept else _Told("figure_unclear", "cue")
    if measures.rhythm is RhythmClass.UNCLEAR:
        return _Told("unclear_mixed", "cue")
    if not pattern.uneven and measures.rhythm is RhythmClass.NEARLY_EVEN:
        return _Told("even_nearly", "again")
    kind = "uneven" if pattern.uneven else "even"
    steady = measures.spread_percent is not None and measures.spread_percent <= STEADY_PERCENT
    return _Told(f"{kind}_steady" if steady else kind)


def _cannot_tell(alignment: Alignment, measures: Measures, phrases: Phrases) -> tuple[str, ...]:
    """What the sounds of this pattern cannot carry."""
    pattern = alignment.pattern
    keys = ["feet"]
    if pattern.uneven or sides_take_turns(pattern):
        keys.append("skill")
    if pattern.two_feet or (not pattern.uneven and _on_one_foot(pattern)):
        keys.append("two_feet")
    if measures.missed:
        keys.append("missing")
    return tuple(phrases.say(f"cannot_tell.{key}") for key in (*keys, "body", "who"))


def _on_one_foot(pattern: Pattern) -> bool:
    """Whether some landing repeats the foot before it, as hops do: two feet at once would sound the same."""
    feet = [step.foot for beat in pattern.beats for step in beat.steps]
    return any(foot is after for foot, after in pairwise([*feet, feet[0]]))


def _spoken(fault: Fault, phrases: Phrases) -> SpokenFault:
    """A fault in words."""

    def say(part: str) -> str:
        return phrases.say(f"fault.{fault.id}.{part}", **dict(fault.values))

    return SpokenFault(fault.id, say("heard"), say("may_also_be"), say("ask"))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
