"""The nouns of a ladder: the steps by which a skill is taught, each with what is asked of a bout.

The steps and their numbers are the team's proposals for teaching (common practice, no norm); every
one can be changed in a file of the teacher's own (`cuekit.teaching.ladder_files`).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cuekit.errors import PatternError
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.schedule import CueLevel

FEWEST_PLAYED = 8
"""Beats of a bout, at the least; under 6 nothing is said of a rhythm."""
DAYS = 2
DAYS_OF_AN_ANNUAL_GOAL = 3
"""Different days a step must be met on before the next one."""


class Mode(StrEnum):
    """What the child does to the rhythm. Each is a full result of its own."""

    SAY = "say"
    CLAP = "clap"
    TAP = "tap"
    STEP = "step"
    MOVE = "move"
    PUSH = "push"


class Judge(StrEnum):
    """Who says whether the target was reached."""

    EAR = "ear"  # the program
    EYE = "eye"  # the teacher
    BOTH = "both"


class Change(StrEnum):
    """The one thing that is new in a step."""

    TEMPO = "tempo"
    LENGTH = "length"
    SUPPORT = "support"
    CUE = "cue"
    SIDE = "side"
    PATTERN = "pattern"
    MODE = "mode"


class Sides(StrEnum):
    """Which foot or direction a step is for, as the teacher decides and enters it."""

    ANY = ""
    BETTER = "better"
    OTHER = "other"
    EACH = "each"


@dataclass(frozen=True)
class Target:
    """What a bout must reach.

    Attributes:
        count: beats in a row on the pattern; tries that were right where `out_of` is given.
        out_of: tries; None where beats in a row are counted.
        judge: who says so.
        spread_percent: most spread of the beat, %; None where it is not asked.
        tempo_within_percent: how far the tempo may be from that of the cue or count-in, %.
        air_gap: least length of the longest gaps against the others, for a flight.
        split_landings: most landings of two feet that may make two sounds.
    """

    count: int
    judge: Judge
    out_of: int | None = None
    spread_percent: float | None = None
    tempo_within_percent: float | None = None
    air_gap: float | None = None
    split_landings: int | None = None


@dataclass(frozen=True)
class LadderStep:
    """One step of a ladder.

    Attributes:
        key: its name in the records, "gallop-alone".
        number: from 1, the easiest.
        task: what the child is asked to do, one or two sentences.
        pattern: name of the pattern that is played and scored.
        modes: ways to do it, the usual one first.
        level: of the cue.
        sound_beats: the cue falls silent after so many beats; None where it lasts.
        tempo_change_percent: how far from the child's own tempo to go, %; 0 for the own tempo.
        side: which foot or direction.
        target: what a bout must reach.
        eye: the question for the eye; empty where none is needed.
        change: what is new against the step before; None in the first step.
        annual_goal: whether it fits an annual goal, and so needs a third day.
    """

    key: str
    number: int
    task: str
    pattern: str
    modes: tuple[Mode, ...]
    level: CueLevel
    target: Target
    sound_beats: int | None = None
    tempo_change_percent: float = 0.0
    side: Sides = Sides.ANY
    eye: str = ""
    change: Change | None = None
    annual_goal: bool = False

    @property
    def days_needed(self) -> int:
        """Different days it must be met on."""
        return DAYS_OF_AN_ANNUAL_GOAL if self.annual_goal else DAYS


def beats_to_play(step: LadderStep, pattern: Pattern) -> int:
    """Beats of a bout in which a step can be met: those beside a planned change are not counted."""
    played = counted = 0
    while counted < step.target.count or played < FEWEST_PLAYED:
        counted += pattern.beats[played % len(pattern.beats)].judged
        played += 1
    return played


@dataclass(frozen=True)
class Ladder:
    """The steps of a skill, the easiest first.

    Attributes:
        name: "gallop".
        title: as shown.
        comes_after, leads_to: names of other ladders; empty at the ends.
        easier, harder: ways to vary any step.
        steps: at least one.
    """

    name: str
    title: str
    comes_after: str
    leads_to: str
    easier: str
    harder: str
    steps: tuple[LadderStep, ...]

    def step(self, which: str | int) -> LadderStep:
        """A step by its number from 1, its key ("gallop-alone") or the end of its key ("alone").

        Raises:
            PatternError: there is no such step.
        """
        found = self._found(which)
        if found is not None:
            return found
        raise PatternError(
            f'the ladder {self.name} has no step "{str(which)[:40]}": choose 1 to {len(self.steps)}, '
            f"or see them with cuekit ladder {self.name}"
        )

    def finds(self, which: str | int) -> bool:
        """Whether `step` knows it."""
        return self._found(which) is not None

    def _found(self, which: str | int) -> LadderStep | None:
        for step in self.steps:
            if which in (step.number, step.key, str(step.number)) or f"{self.name}-{which}" == step.key:
                return step
        return None

    def has(self, key: str) -> bool:
        """Whether a step of that key is on the ladder."""
        return any(step.key == key for step in self.steps)

    def easier_than(self, step: LadderStep) -> LadderStep | None:
        """The step below; None at the foot of the ladder."""
        return self.steps[step.number - 2] if step.number > 1 else None

    def harder_than(self, step: LadderStep) -> LadderStep | None:
        """The step above; None at the top of the ladder."""
        return self.steps[step.number] if step.number < len(self.steps) else None
