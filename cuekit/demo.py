"""The demo: a skip to hear, and made-up recordings scored against what was put into them.

What cuekit heard is held against the truth beside each recording the way the hearing yardstick does
it: a landing is found where a footfall was heard within 25 ms of it, one to one; a footfall without
a landing of its own was none.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cuekit.cues.cueing import choose_cues
from cuekit.cues.render import CueTrack, lay_out
from cuekit.cues.tones import tone_set, tone_set_names
from cuekit.errors import AudioError
from cuekit.files.filenames import shown
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import Plan, make_schedule
from cuekit.shipped import shipped_folder
from cuekit.telling.faults import SPLIT_LANDING_S
from cuekit.telling.phrases import Phrases
from cuekit.telling.scoring import Score, score_recording

FOUND_WITHIN_S = 0.025
"""A footfall this near to a landing is that landing (the main window of the hearing yardstick), s."""

PLAYED = "skip"
TEMPO_BPM, BEATS = 100.0, 8


@dataclass(frozen=True)
class Truth:
    """What is in a demo recording, known because it was put there.

    Attributes:
        path: of the recording.
        about: what it is, one sentence.
        pattern: what the learner was asked for.
        landings_s: when feet met the floor, at the microphone, s.
        split: how many of them are two sounds, one foot after the other.
    """

    path: Path
    about: str
    pattern: str
    landings_s: tuple[float, ...]
    split: int


@dataclass(frozen=True)
class Agreement:
    """Footfalls heard against landings made.

    Attributes:
        landings: in the recording.
        found: of them, how many were heard.
        false: footfalls heard that were no landing.
    """

    landings: int
    found: int
    false: int

    @property
    def full(self) -> bool:
        """Whether every landing was heard and nothing else."""
        return self.found == self.landings and not self.false

    def __add__(self, other: Agreement) -> Agreement:
        """Both recordings together."""
        return Agreement(
            self.landings + other.landings, self.found + other.found, self.false + other.false
        )


@dataclass(frozen=True)
class Judged:
    """A demo recording, what was said of it, and how well it had been heard.

    Attributes:
        truth: what was put into it.
        score: what was made of it.
        agreement: of the landings.
        split: landings heard as two sounds.
    """

    truth: Truth
    score: Score
    agreement: Agreement
    split: int


def skip_track() -> CueTrack:
    """A skip to be played: the count, then eight beats of tones, at the quiet default."""
    schedule = make_schedule(load_pattern(PLAYED), Plan(TEMPO_BPM, BEATS))
    return lay_out(schedule, choose_cues(schedule, tone_set(tone_set_names()[0])))


def read_truths(folder: Path | None = None) -> tuple[Truth, ...]:
    """What is in each of the demo recordings, in order of their names.

    Parameters
    ----------
    folder : where they are; None for the ones shipped

    Raises
    ------
    CuekitError
        This copy of cuekit has none, or a file beside one is not as it was shipped.
    """
    folder = shipped_folder("demo_audio") if folder is None else folder
    truths = tuple(_read_truth(path) for path in sorted(folder.glob("*.json")))
    if not truths:
        raise AudioError(f"there are no demo recordings in {shown(folder)}: install cuekit again")
    return truths


def judge(truth: Truth, phrases: Phrases | None = None) -> Judged:
    """Score a demo recording and hold what was heard against the truth.

    Parameters
    ----------
    truth : of the recording
    phrases : the language it is told in; English by default

    Raises
    ------
    AudioError
        The recording cannot be read.
    """
    pattern = load_pattern(truth.pattern, told_in=phrases.language if phrases else None)
    score = score_recording(read_recording(truth.path), pattern, phrases=phrases)
    heard = score.alignment.footfalls
    split = sum(footfall.spread_s >= SPLIT_LANDING_S for footfall in heard)
    return Judged(truth, score, compare([footfall.time_s for footfall in heard], truth.landings_s), split)


def compare(heard_s: Sequence[float], landings_s: Sequence[float]) -> Agreement:
    """Pair footfalls and landings one to one.

    Both are in order of time, so walking along and pairing the earliest two that are near enough
    makes as many pairs as can be made.

    Parameters
    ----------
    heard_s, landings_s : in order of time, s
    """
    found = heard = landing = 0
    while heard < len(heard_s) and landing < len(landings_s):
        late_s = heard_s[heard] - landings_s[landing]
        paired = abs(late_s) <= FOUND_WITHIN_S
        found += paired
        heard += paired or late_s < 0
        landing += paired or late_s > 0
    return Agreement(len(landings_s), found, len(heard_s) - found)


def _read_truth(path: Path) -> Truth:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        times_s = tuple(sorted(float(landing["time_s"]) for landing in told["landings"]))
        split = sum(float(landing["spread_s"]) >= SPLIT_LANDING_S for landing in told["landings"])
        return Truth(path.with_name(told["recording"]), told["about"], told["pattern"], times_s, split)
    except (OSError, ValueError, KeyError, TypeError) as problem:
        raise AudioError(
            f"{shown(path)} is not the file shipped with cuekit ({type(problem).__name__}): install it again"
        ) from None
