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
from dataclasses import dataclass

import numpy as np

from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Pattern
from cuekit.rhythm.place_grid import PlaceGrid, place_grid

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
_FURTHEST = _MOST_EXTRAS + 1  # footfalls from a step to the next
_MOST_SCORES = 1 << 22  # of a block of footfalls, 16 MB


@dataclass(frozen=True)
class PathStep:
    """A footfall on the decoded path: its index, its place on the cycle and what came before it.

    `moved` counts places since the step before; 0 means begun anew, at the start or after a pause.
    """

    footfall: int
    place: int
    moved: int


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
    """The most probable path through one bout; footfalls left out of it are extra.

    Forward only the best scores are worked out; where each came from is asked on the way back, for the
    path alone. Hours without a pause go block by block, and each block is worked out again on the way back.
    """
    bout = _bout(footfalls, pattern, tempo_bpm)
    end, least = None, math.inf
    rows, heads = np.empty((0, *bout.size), np.float32), []
    for first in range(0, len(footfalls), bout.block):
        heads.append(rows[-_FURTHEST:].copy())
        rows = _scores(bout, first, heads[-1])
        for j, best in enumerate(rows, start=first):
            total = best.min() + bout.extra[-1] - bout.extra[j + 1]
            if total <= least:
                end, least = _state(j, best), total
    return _trace(bout, end, heads, rows)


@dataclass(frozen=True)
class _State:
    """A footfall, its place, the learner's long share and the period, each by its index."""

    footfall: int
    place: int
    share: int
    period: int


@dataclass(frozen=True, eq=False)
class _Moves:
    """Steps of one place, two places, ... on.

    Attributes:
        periods_s: how long each lasts, s, shape (moves, places to, shares, periods).
        cost: fixed cost with the places left out, nats, of the same shape.
        origin: the place it comes from, shape (moves, places to).
    """

    periods_s: np.ndarray
    cost: np.ndarray
    origin: np.ndarray


@dataclass(frozen=True, eq=False)
class _Bout:
    """What the decoding of a bout goes by.

    Attributes:
        times_s: of the footfalls, shape (footfalls,).
        extra: cost of leaving out the first 0, 1, ... footfalls, nats; one more than footfalls.
        start: cost of beginning, nats, shape (places, shares, 1).
        moves: the steps that may be taken.
    """

    times_s: np.ndarray
    extra: list[float]
    start: np.ndarray
    moves: _Moves

    @property
    def size(self) -> tuple[int, int, int]:
        """Places, shares and periods: the states at a footfall."""
        return (*self.start.shape[:2], _PERIODS_S.size)

    @property
    def block(self) -> int:
        """Footfalls worked on at a time."""
        return max(_FURTHEST, _MOST_SCORES // math.prod(self.size))

    def skipped(self, j: int, i: int) -> np.float32:
        """Cost of the sounds between footfalls `i` and `j`, nats."""
        return np.float32(self.extra[j] - self.extra[i + 1])


def _bout(footfalls: tuple[Footfall, ...], pattern: Pattern, tempo_bpm: float | None) -> _Bout:
    """The costs that do not depend on the path."""
    grid = place_grid(pattern)
    times_s = np.array([footfall.time_s for footfall in footfalls])
    extra = np.concatenate([[0.0], np.cumsum(_extra_costs(footfalls))]).tolist()
    start = np.add.outer(_start_costs(grid), _share_costs(grid, pattern)).astype(np.float32)[..., None]
    return _Bout(times_s, extra, start, _moves(grid, _tempo_costs(pattern, tempo_bpm)))


def _moves(grid: PlaceGrid, tempo: np.ndarray) -> _Moves:
    """All the steps from a footfall to the next that may be taken."""
    places = grid.kind.size
    missed_cost = np.where(grid.kind == 1, _MISSED_SHORT_COST, _MISSED_LEAD_COST)
    most = int(_MOST_MISSED_BEATS * math.ceil(places / len(set(grid.beat.tolist())))) + 1
    on, to = np.arange(1, most + 1)[:, None], np.arange(places)
    cycles, origin = np.divmod(to - on, places)
    at = grid.at.T
    beats = (at - at[origin] - (cycles * grid.length)[..., None])[..., None]
    left_out = [
        [sum(missed_cost[(place - n) % places] for n in range(1, k)) for place in to] for k in on[:, 0]
    ]
    cost = np.array(left_out, dtype=float)[..., None, None] + np.abs(beats) * tempo
    return _Moves((beats * _PERIODS_S).astype(np.float32), cost.astype(np.float32), origin)


def _scores(bout: _Bout, first: int, before: np.ndarray) -> np.ndarray:
    """Best score of every state at the footfalls of a block, shape (footfalls, *bout.size).

    Args:
        bout: its costs.
        first: footfall of the block.
        before: the scores of the footfalls just before it, as far back as a step may reach.
    """
    rows = np.empty((min(bout.block, bout.times_s.size - first), *bout.size), np.float32)
    reached = [_drifted(row) for row in before]
    again = bout.start - bout.start.min()
    for j, best in enumerate(rows, start=first):
        best[:] = bout.start + np.float32(bout.extra[j])
        for i, score in enumerate(reached, start=j - len(reached)):
            gap_s = np.float32(bout.times_s[j] - bout.times_s[i])
            moved = _interval_cost(gap_s - bout.moves.periods_s)
            moved += bout.moves.cost
            moved += score[bout.moves.origin]
            np.minimum(best, moved.min(axis=0) + bout.skipped(j, i), out=best)
            if gap_s > _PAUSE_BEATS * _PERIODS_S[0]:
                paused = score.min(axis=0) + _pause_costs(gap_s) + again
                np.minimum(best, paused + bout.skipped(j, i), out=best)
        reached = [*reached[1 - _FURTHEST :], _drifted(best)]
    return rows


def _drifted(score: np.ndarray) -> np.ndarray:
    """Best score where the period (last axis) may have moved by one step."""
    best = score.copy()
    np.minimum(best[..., 1:], score[..., :-1] + np.float32(_DRIFT_COST), out=best[..., 1:])
    np.minimum(best[..., :-1], score[..., 1:] + np.float32(_DRIFT_COST), out=best[..., :-1])
    return best


def _pause_costs(gap_s: np.ndarray | np.float32) -> np.ndarray:
    """Cost of having begun anew, by period (last axis): only a gap of more than 1.6 beats is a pause."""
    return np.where(gap_s > _PAUSE_BEATS * _PERIODS_S, _PAUSE_COST, np.inf).astype(np.float32)


def _state(j: int, best: np.ndarray) -> _State:
    """The cheapest state at footfall `j`."""
    shares_first = best.transpose(1, 0, 2)
    share, place, period = np.unravel_index(int(shares_first.argmin()), shares_first.shape)
    return _State(j, int(place), int(share), int(period))


def _trace(bout: _Bout, end: _State, heads: list[np.ndarray], rows: np.ndarray) -> list[PathStep]:
    """Follow the best path back from its last state to its start.

    Args:
        bout: its costs.
        end: the last state.
        heads: of each block, the scores of the footfalls just before it.
        rows: the scores of the last block.
    """
    steps: list[PathStep] = []
    state: _State | None = end
    for number, head in reversed(list(enumerate(heads))):
        first = number * bout.block
        if state is None or state.footfall < first:
            continue
        known = np.concatenate([head, rows if number == len(heads) - 1 else _scores(bout, first, head)])
        while state is not None and state.footfall >= first:
            row = state.footfall - first + len(head)
            origin, moved = _origin(bout, known[max(0, row - _FURTHEST) : row], state)
            steps.append(PathStep(state.footfall, state.place, moved))
            state = origin
    return steps[::-1]


def _origin(bout: _Bout, before: np.ndarray, state: _State) -> tuple[_State | None, int]:
    """The state a state is best reached from, and how many places on it is (0 after a pause).

    None where the path begins with it. `before` are the scores of the footfalls before it.
    """
    j, place, share, period = state.footfall, state.place, state.share, state.period
    first = j - len(before)
    gaps_s = (bout.times_s[j] - bout.times_s[first:j]).astype(np.float32)[:, None, None]
    score = _drifted(before[:, :, share])  # footfalls, places, periods
    moved = _interval_cost(gaps_s - bout.moves.periods_s[:, place, share])
    moved += bout.moves.cost[:, place, share]
    moved += score[:, bout.moves.origin[:, place]]
    again = bout.start[place, share] - bout.start.min()
    paused = score.min(axis=1, keepdims=True) + _pause_costs(gaps_s) + again
    skipped = np.array([bout.skipped(j, i) for i in range(first, j)], np.float32)[:, None]
    cost = np.concatenate([moved, paused], axis=1)[..., period] + skipped
    if not cost.size or bout.start[place, share, 0] + np.float32(bout.extra[j]) <= cost.min():
        return None, 0
    back, move = divmod(int(cost.argmin()), cost.shape[1])
    on = move + 1 if move < len(bout.moves.origin) else 0
    origin = int(bout.moves.origin[move, place]) if on else int(score[back, :, period].argmin())
    near = before[back, origin, share]
    return _State(first + back, origin, share, _undrifted(near, period)), on


def _undrifted(score: np.ndarray, period: int) -> int:
    """The period from which another is best gone on with, by the scores of all."""
    drift = np.float32(_DRIFT_COST)
    best, chosen = score[period], period
    for other in (period - 1, period + 1):
        if 0 <= other < score.size and score[other] + drift < best:
            best, chosen = score[other] + drift, other
    return chosen
