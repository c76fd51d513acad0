"""From measures to one sentence, what the microphone cannot know, and what to try next.

The sentence has the count, the plain finding and the next thing, in at most 25 words. Nothing is
claimed that was not heard: too few footfalls is a result of its own, never a zero.
"""

from __future__ import annotations

from dataclasses import dataclass

from cuekit.alignment import Alignment
from cuekit.events import Heard, Hearing
from cuekit.faults import AIR_GAP, STEADY_PERCENT, Fault, air_gap, find_faults, sides_take_turns
from cuekit.measures import FEWEST_BEATS, Measures, RhythmClass
from cuekit.phrases import Phrases

MOST_WORDS = 25
"""Words the one sentence may have."""

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
        fault: the most teachable fault; None where there is none or nothing can be said.
        other_faults: the rest, on request.
        cannot_tell: what the microphone cannot know here.
        next_steps: what to try, the first one first.
    """

    summary: str
    fault: SpokenFault | None
    other_faults: tuple[SpokenFault, ...]
    cannot_tell: tuple[str, ...]
    next_steps: tuple[str, ...]


def advise(hearing: Hearing, alignment: Alignment, measures: Measures, phrases: Phrases) -> Advice:
    """Say what was heard."""
    cannot_tell = _cannot_tell(alignment, measures, phrases)
    if hearing.heard is Heard.NOT_ENOUGH or measures.beats == 0 or len(hearing.footfalls) < FEWEST_FOOTFALLS:
        step = phrases.say("next.nearer")
        summary = f"{_too_little(hearing, phrases)}. {_capital(step)}."
        return Advice(summary, None, (), cannot_tell, (step,))
    faults = find_faults(alignment, measures)
    if faults:
        step = phrases.say(f"fault.{faults[0].id}.next")
        finding = phrases.say(f"fault.{faults[0].id}.short", **dict(faults[0].values))
    elif measures.complete_beats < FEWEST_BEATS:
        step, finding = phrases.say("next.longer"), phrases.say("finding.unclear")
    elif alignment.pattern.uneven and measures.rhythm is RhythmClass.UNCLEAR:
        step, finding = phrases.say("next.cue"), phrases.say("finding.unclear_mixed")
    else:
        step, finding = phrases.say("next.softer"), _finding(alignment, measures, phrases)
    spoken = tuple(_spoken(fault, phrases) for fault in faults)
    summary = f"{_count(measures, phrases)}: {finding}. {_capital(step)}."
    return Advice(summary, spoken[0] if spoken else None, spoken[1:], cannot_tell, (step,))


def _count(measures: Measures, phrases: Phrases) -> str:
    heard = measures.complete_beats
    return phrases.say("heard.count_one" if heard == 1 else "heard.count", beats=heard)


def _too_little(hearing: Hearing, phrases: Phrases) -> str:
    """Which way too little was heard: nothing, a few, or too poorly."""
    if not hearing.footfalls:
        return phrases.say("heard.none")
    if len(hearing.footfalls) < FEWEST_FOOTFALLS:
        return phrases.say("heard.few", footfalls=len(hearing.footfalls))
    return phrases.say("heard.poor")


def _finding(alignment: Alignment, measures: Measures, phrases: Phrases) -> str:
    """The plain finding of a bout without a fault."""
    steady = measures.spread_percent is not None and measures.spread_percent <= STEADY_PERCENT
    gap = air_gap(alignment)
    if gap is not None and gap >= AIR_GAP:
        return phrases.say("finding.air_gap")
    if len({(beat.uneven, beat.length) for beat in alignment.pattern.beats}) > 1:
        return phrases.say("finding.kept_figure")
    kind = "uneven" if alignment.pattern.uneven else "even"
    return phrases.say(f"finding.{kind}_steady" if steady else f"finding.{kind}")


def _cannot_tell(alignment: Alignment, measures: Measures, phrases: Phrases) -> tuple[str, ...]:
    """What the sounds of this pattern cannot carry."""
    pattern = alignment.pattern
    keys = ["feet"]
    if pattern.uneven or sides_take_turns(pattern):
        keys.append("skill")
    if pattern.two_feet or len({beat.lead.foot for beat in pattern.beats}) == 1:
        keys.append("two_feet")
    if any(missed.place == 1 for missed in measures.missed):
        keys.append("missing")
    return tuple(phrases.say(f"cannot_tell.{key}") for key in (*keys, "body", "who"))


def _spoken(fault: Fault, phrases: Phrases) -> SpokenFault:
    """A fault in words."""

    def say(part: str) -> str:
        return phrases.say(f"fault.{fault.id}.{part}", **dict(fault.values))

    return SpokenFault(fault.id, say("heard"), say("may_also_be"), say("ask"))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
