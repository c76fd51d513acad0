"""The places of a pattern's cycle as arrays, for every long share a learner may have."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cuekit.patterns.pattern import Beat, Pattern

SHARES = np.array([0.34, 0.40, 0.44, 0.47, 0.50, 0.53, 0.56, 0.60, 0.64, 0.68, 0.72, 0.76, 0.80, 0.84, 0.88])
"""Long shares tried for a bout; below 0.5 the short sound came first."""


@dataclass(frozen=True, eq=False)
class PlaceGrid:
    """Places of a cycle as arrays, for every share tried.

    Attributes:
        beat: beat of each place, counted from the start of the sound's cycle, shape (places,).
        kind: 0 lead, 1 short, shape (places,).
        due: position by the pattern itself, beats, shape (places,).
        at: position by each share tried, beats, shape (shares, places).
        length: of the cycle of places, beats.
        shares: the shares tried; one where it does not matter.
    """

    beat: np.ndarray
    kind: np.ndarray
    due: np.ndarray
    at: np.ndarray
    length: float
    shares: np.ndarray

    def beats_on(self, place: int, on: int) -> float:
        """Beats of the pattern from a place to the one `on` places later, cycles counted in."""
        cycles, to = divmod(place + on, self.due.size)
        return cycles * self.length + float(self.due[to] - self.due[place])


def place_grid(pattern: Pattern) -> PlaceGrid:
    """The places of a pattern; a plain even one is taken by pairs, so that a limp can be followed."""
    beats = pattern.beats[: sound_cycle(pattern)]
    cycle_length = beats[-1].at + beats[-1].length
    plain = not pattern.uneven and all(beat.length == 1 for beat in beats)
    copies = 2 if plain and len(beats) % 2 else 1
    beat, kind, due, bend = [], [], [], []
    for number in range(copies * len(beats)):
        cycle, index = divmod(number, len(beats))
        for place in range(len(beats[index].steps)):
            beat.append(index)
            kind.append(place)
            due.append(float(cycle * cycle_length + beats[index].place_at(place)))
            bend.append(_bend(beats[index], place, limping=plain and number % 2 == 1))
    shares = SHARES if pattern.uneven or plain else np.array([0.5])
    at = np.array(due) + np.array([[of(share) for of in bend] for share in shares])
    length = float(copies * cycle_length)
    return PlaceGrid(np.array(beat), np.array(kind), np.array(due), at, length, shares)


def sound_cycle(pattern: Pattern) -> int:
    """Beats after which a pattern sounds the same again, whatever the feet: eight of a figure of 8 and 8."""
    sounds = [(beat.length, beat.long_share, beat.judged) for beat in pattern.beats]
    whole = len(sounds)
    again = (n for n in range(1, whole) if whole % n == 0 and sounds[n:] == sounds[:-n])
    return next(again, whole)


def _bend(beat: Beat, place: int, *, limping: bool) -> Callable[[float], float]:
    """How far from its place in the pattern a learner's own long share puts a footfall, beats."""
    if place == 1:
        return lambda share: share - float(beat.long_share)
    return (lambda share: 2 * share - 1) if limping else (lambda share: 0.0)
