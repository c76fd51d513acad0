"""The most probable path of a bout's footfalls through the places of a pattern.

The whole bout is decoded at once, as the most probable path of a hidden semi-Markov model
(Viterbi; Rabiner 1989, Proc IEEE 77:257-286; the same idea follows a score in Cemgil et al. 2001,
J New Music Res 28:259-273). A state is (footfall, place of the cycle, beat period); between two
footfalls places may have been missed, sounds may be extra, the period may drift by about 3 %, or
the learner may have paused and begun again anywhere. The learner's own long share is tried on a
grid beside it, so that an even gallop is aligned as well as a swung one; times are never moved.

Two rules keep the decoder from flattering:

* Which of two alternate intervals is "the long one" is not chosen by which is longer, as that
  would push an even learner away from 0.5. The first footfall leads unless the evidence against
  it is strong (see `_share_costs`).
* One sound a beat and two even sounds a beat at half the tempo are the same train. The tempo asked
  for, or taught, decides (see `_tempo_costs`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Beat, Pattern

SHARES = np.array([0.34, 0.40, 0.44, 0.47, 0.50, 0.53, 0.56, 0.60, 0.64, 0.68, 0.72, 0.76, 0.80, 0.84, 0.88])
"""Long shares tried for a bout; below 0.5 the short sound came first."""

_PERIODS_S = (0.2 * 1.03 ** np.arange(79)).astype(
    np.float32
)  # 300 to 30 beats/min in steps of 3 %, about the tempo JND
_SCATTER = 0.075  # spread of an interval round its place, of a beat: 35 ms a landing at 90-100 beats/min
_TAIL = 4.0  # degrees of freedom of the t-distribution of that spread: children stumble
_PER_SCALE = 1.0 / (_SCATTER * math.sqrt(_TAIL) * _PERIODS_S)
_LOG_SCALE = np.log(2.66 * _SCATTER * _PERIODS_S)
_DRIFT_COST = 1.2  # of one step of period between two footfalls, nats
_MISSED_LEAD_COST, _MISSED_SHORT_COST = 5.0, 1.7  # the short one is the soft one, and often lost throughout
_EXTRA_COST = 1.4  # of a sound without a place, beside its confidence, nats
_PAUSE_COST = 9.0
_PAUSE_BEATS = 1.6  # rhythm.md: a gap over 1.6 beats
_LATE_START_COST = 2.0  # of beginning on the short sound, nats
_WRONG_SIDE_SHARE = 0.03  # scale of the cost of a share below 0.5
_CLIPPED_SHARE = 0.05  # of one above 0.76, so that a lone late lead is no clipped short
_TEMPO_COST = 8.0  # nats a beat and octave outside the tempo expected
_EVEN_TEMPO_COST = 4.0  # of an even skill, so that a child who runs is no limping walker with extra steps
_MOST_EXTRAS, _MOST_MISSED_BEATS = 4, 2


@dataclass(frozen=True)
class PathStep:
    """A footfall on the decoded path: its index, its place on the cycle and what came before it.

    `moved` counts places since the step before; 0 means begun anew, at the start or after a pause.
    """

    footfall: int
    place: int
    moved: int


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


def _share_costs(grid: PlaceGrid, pattern: Pattern) -> np.ndarray:
    """Cost of each share, nats: a share below 0.5 grows dear slowly, so that an even learner whose
    scatter happens to favour the other pairing is not turned into a slightly swung one; a very
    clipped one has to show in more than one beat."""
    if not pattern.uneven:
        return np.zeros(grid.shares.size)
    wrong = np.clip(0.5 - grid.shares, 0, None) / _WRONG_SIDE_SHARE
    clipped = np.clip(grid.shares - 0.76, 0, None) / _CLIPPED_SHARE
    return 0.5 * (wrong**2 + clipped**2)


def _tempo_costs(pattern: Pattern, tempo_bpm: float | None) -> np.ndarray:
    """Cost of each period a beat, nats: none within half an octave of the tempo taught (a third of one
    asked for), so that a tempo and its double are never both free."""
    centre, octaves = (tempo_bpm, 0.35) if tempo_bpm else (pattern.tempo.default, 0.5)
    away = np.abs(np.log2(60.0 / _PERIODS_S / centre))
    return (_TEMPO_COST if pattern.uneven else _EVEN_TEMPO_COST) * np.clip(away - octaves, 0, None)


def _start_costs(grid: PlaceGrid) -> np.ndarray:
    """Cost of beginning at each place, nats."""
    return _LATE_START_COST * grid.kind + 0.5 * (np.arange(grid.kind.size) > 0)


def _extra_costs(footfalls: tuple[Footfall, ...]) -> np.ndarray:
    """Cost of leaving each sound without a place, nats: little where it may be no footfall at all."""
    confidence = np.array([footfall.confidence for footfall in footfalls])
    return _EXTRA_COST - np.log(1.0 - 0.85 * confidence)


def _interval_cost(residual_s: np.ndarray) -> np.ndarray:
    """Negative log of a t-distribution density of a residual (s), by period (last axis)."""
    return np.float32(0.5 * (_TAIL + 1)) * np.log1p(np.square(residual_s * _PER_SCALE)) + _LOG_SCALE


def decode(footfalls: tuple[Footfall, ...], pattern: Pattern, tempo_bpm: float | None) -> list[PathStep]:
    """The most probable path through one bout; footfalls left out of it are extra."""
    times_s = [footfall.time_s for footfall in footfalls]
    grid, count = place_grid(pattern), len(footfalls)
    extra = np.concatenate([[0.0], np.cumsum(_extra_costs(footfalls))]).tolist()
    start = np.add.outer(_share_costs(grid, pattern), _start_costs(grid)).astype(np.float32)[..., None]
    moves = _moves(grid, _tempo_costs(pattern, tempo_bpm))
    size = (grid.shares.size, grid.kind.size, _PERIODS_S.size)
    reached: list[np.ndarray] = []  # best scores, only as far back as a step may reach
    back, shift = np.zeros((count, *size), dtype=np.int32), np.zeros((count, *size), dtype=np.int8)
    ends = []
    for j in range(count):
        best = np.broadcast_to(start + np.float32(extra[j]), size).copy()
        for i in range(max(0, j - 1 - _MOST_EXTRAS), j):
            gap_s, skipped = times_s[j] - times_s[i], np.float32(extra[j] - extra[i + 1])
            cost, moved = _moved(reached[i - j], gap_s, moves)
            _keep_better(best, back[j], cost + skipped, _encode(j - i, moved, 0))
            cost, origin = _paused(reached[i - j], gap_s, start)
            _keep_better(best, back[j], cost + skipped, _encode(j - i, 0, origin))
        ends.append(best.min() + extra[count] - extra[j + 1])
        if ends[-1] == min(ends):
            end = (j, *np.unravel_index(int(best.argmin()), size))
        drifted, shift[j] = _drifted(best)
        reached = [*reached[-_MOST_EXTRAS:], drifted]
    return _trace(end, back, shift, grid)


def _keep_better(best: np.ndarray, code: np.ndarray, cost: np.ndarray, token: np.ndarray) -> None:
    """Put in what is cheaper, and where it came from."""
    better = cost < best
    np.copyto(best, cost, where=better)
    np.copyto(code, token, where=better)


@dataclass(frozen=True, eq=False)
class _Moves:
    """Steps of one place, two places, ... on.

    Attributes:
        periods_s: how long each lasts, s, shape (shares, moves, places to, periods).
        cost: fixed cost with the places left out, nats, of the same shape.
        origin: the place it comes from, shape (moves, places to).
    """

    periods_s: np.ndarray
    cost: np.ndarray
    origin: np.ndarray


def _moves(grid: PlaceGrid, tempo: np.ndarray) -> _Moves:
    """All the steps from a footfall to the next that may be taken."""
    places = grid.kind.size
    missed_cost = np.where(grid.kind == 1, _MISSED_SHORT_COST, _MISSED_LEAD_COST)
    most = int(_MOST_MISSED_BEATS * math.ceil(places / len(set(grid.beat.tolist())))) + 1
    on, to = np.arange(1, most + 1)[:, None], np.arange(places)
    cycles, origin = np.divmod(to - on, places)
    beats = (grid.at[:, None, :] - grid.at[:, origin] - cycles * grid.length)[..., None]
    left_out = [
        [sum(missed_cost[(place - n) % places] for n in range(1, k)) for place in to] for k in on[:, 0]
    ]
    cost = np.array(left_out, dtype=float)[None, :, :, None] + np.abs(beats) * tempo
    return _Moves((beats * _PERIODS_S).astype(np.float32), cost.astype(np.float32), origin)


def _moved(before: np.ndarray, gap_s: float, moves: _Moves) -> tuple[np.ndarray, np.ndarray]:
    """Best score after a step, and how many places it was."""
    cost = _interval_cost(gap_s - moves.periods_s)
    cost += moves.cost
    cost += before[:, moves.origin]
    return cost.min(axis=1), cost.argmin(axis=1) + 1


def _drifted(score: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Best score where the period may have moved by one step, and the step it came from (1 is none)."""
    slower = np.full_like(score, np.inf)
    slower[..., 1:] = score[..., :-1] + np.float32(_DRIFT_COST)
    faster = np.full_like(score, np.inf)
    faster[..., :-1] = score[..., 1:] + np.float32(_DRIFT_COST)
    best = np.minimum(np.minimum(slower, faster), score)
    return best, np.where(score <= best, 1, np.where(slower <= best, 0, 2))


def _paused(before: np.ndarray, gap_s: float, start: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Best score begun anew at any place after a gap of more than 1.6 beats, and the place before it."""
    allowed = np.where(gap_s > _PAUSE_BEATS * _PERIODS_S, _PAUSE_COST, np.inf).astype(np.float32)
    cost = before.min(axis=1, keepdims=True) + allowed + (start - start.min())
    return cost, np.broadcast_to(before.argmin(axis=1)[:, None], cost.shape)


def _encode(back: int, moved: np.ndarray | int, origin: np.ndarray | int) -> np.ndarray:
    """Where a state came from, as one number: footfalls back, places moved, place before a pause."""
    return np.asarray(back | (np.asarray(moved) << 4) | (np.asarray(origin) << 16), dtype=np.int32)


def _trace(end: tuple[int, ...], back: np.ndarray, shift: np.ndarray, grid: PlaceGrid) -> list[PathStep]:
    """Follow the best path back from its last state to its start."""
    places = grid.kind.size
    j, share, place, period = (int(part) for part in end)
    steps: list[PathStep] = []
    while True:
        token = int(back[j, share, place, period])
        moved = (token >> 4) & 0xFFF
        steps.append(PathStep(j, place, moved))
        if token == 0:
            return steps[::-1]
        place = (place - moved) % places if moved else token >> 16
        j -= token & 0xF
        period += int(shift[j, share, place, period]) - 1
