"""What to mind before, during and when to stop: by what a pattern asks of the body, and the teacher's note.

A pattern's demands are read from what its feet do, never from its name. Nothing here clears or
forbids: the child's clearance, the plan, licensed staff and local rules come first, and a teacher's
note on restrictions is shown word for word and never interpreted.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from cuekit.patterns.pattern import Foot, Pattern, Step
from cuekit.telling.phrases import Phrases


class Demand(StrEnum):
    """What a pattern asks of the body beyond walking."""

    BOUND = "bound"  # long-short, with a moment of air: gallop, slide, skip
    ONE_FOOT = "one_foot"
    TWO_FEET = "two_feet"
    FLIGHT = "flight"


@dataclass(frozen=True)
class Cautions:
    """What to mind, in words.

    Attributes:
        note: the teacher's own restriction, word for word, and who decides; empty where there is none.
        before, during: what to see to.
        sound: on loudness and light.
        stop_signs: any of them ends the bout.
        then: what to do at a stop sign.
        always: what this tool is not.
    """

    note: tuple[str, ...]
    before: tuple[str, ...]
    during: tuple[str, ...]
    sound: tuple[str, ...]
    stop_signs: tuple[str, ...]
    then: str
    always: str


def demands(pattern: Pattern) -> frozenset[Demand]:
    """What the feet of a pattern ask for."""
    beats = (*pattern.beats, pattern.beats[0])
    steps = [step for beat in beats for step in beat.steps]
    found = set()
    if pattern.uneven:
        found.add(Demand.BOUND)
    if any(_hops(one, other) for one, other in pairwise(steps)) and not _rests(pattern):
        found.add(Demand.ONE_FOOT)
    if pattern.two_feet:
        found.add(Demand.TWO_FEET)
    if not pattern.uneven and any(beat.length == 2 for beat in pattern.beats):
        found.add(Demand.FLIGHT)
    return frozenset(found)


def cautions_for(pattern: Pattern, phrases: Phrases, *, note: str = "") -> Cautions:
    """What to mind with a pattern.

    Parameters
    ----------
    pattern: what will be done.
    phrases: the language.
    note: the teacher's restriction for this learner ("no jumping until cleared").
    """
    asked = demands(pattern)
    moved = tuple(phrases.say(f"caution.{demand}") for demand in Demand if demand in asked)
    own = (phrases.say("caution.note", note=note), phrases.say("caution.you_decide")) if note.strip() else ()

    def say(*keys: str) -> tuple[str, ...]:
        return tuple(phrases.say(f"caution.{key}") for key in keys)

    return Cautions(
        note=own,
        before=say("clearance", "floor", "room", "shoes"),
        during=(*moved, *say("support", "rest")),
        sound=say("quiet", "headphones", "flash"),
        stop_signs=tuple(text for key, text in phrases.sentences.items() if key.startswith("stop_sign.")),
        then=phrases.say("caution.then"),
        always=phrases.say("caution.always"),
    )


def _hops(one: Step, other: Step) -> bool:
    """Whether a foot lands that landed just before; a light touch before its own step is no landing."""
    touch = other.accent and not one.accent
    return one.foot is other.foot and one.foot is not Foot.BOTH and not touch


def _rests(pattern: Pattern) -> bool:
    """Whether the pattern stands still for more than the air of a leap: a foot then just starts again."""
    return any(beat.length > 2 for beat in pattern.beats)
