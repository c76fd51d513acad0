"""Story 16: a beat for the eye. It hits the floor on each cue, big and small, and nothing flashes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.drawing.bounce import FALLS_S, bounce_of
from cuekit.drawing.bounce_text import ASCII, HEIGHT, UNICODE, WIDTH, frame
from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.patterns.schedule import CueLevel, Fade, Plan, make_schedule

FRAMES_A_SECOND = 50
FLASHES_A_SECOND = 3
"""WCAG 2.2, success criterion 2.3.1: three flashes, each a pair of opposing changes, in any one second."""


def scheduled(name="gallop", tempo_bpm=100.0, beats=12, level=CueLevel.C4, **more):
    return make_schedule(load_pattern(name), Plan(tempo_bpm, beats, level, **more))


def heights(schedule, times_s):
    balls = [bounce_of(schedule).ball_at(time_s) for time_s in times_s]
    return np.array([np.nan if ball is None else ball.height for ball in balls])


@pytest.mark.parametrize("name", list_patterns())
def test_the_ball_is_on_the_floor_at_each_cue_and_in_the_air_between(name):
    schedule = scheduled(name)
    times_s = np.array([cue.time_s for cue in schedule.cues])
    np.testing.assert_allclose(heights(schedule, times_s + 1e-9), 0.0, atol=1e-6)
    middles_s = (times_s[1:] + times_s[:-1]) / 2
    assert heights(schedule, middles_s).min() >= 0.2


def test_it_is_big_for_the_long_and_small_for_the_short_and_flies_higher_after_the_long():
    schedule, bounce = scheduled(), bounce_of(scheduled())
    for cue in schedule.footfalls:
        assert bounce.ball_at(cue.time_s + 0.01).spot.big is (cue.place == 0)
    long, short = schedule.footfalls[:2]
    gap_s = short.time_s - long.time_s
    assert bounce.ball_at(long.time_s + gap_s / 2).height > 1.5 * bounce.ball_at(short.time_s + gap_s / 4).height


def rows_of_ball(text, ink):
    return [row for row, line in enumerate(text[:-1]) if ink.ball in line or ink.faint in line]


@pytest.mark.parametrize("unicode", [True, False])
def test_in_text_it_touches_the_floor_at_the_cue_where_the_floor_is_marked(unicode):
    schedule, ink = scheduled(), UNICODE if unicode else ASCII
    bounce = bounce_of(schedule)
    for cue in schedule.cues:
        text = frame(bounce, cue.time_s + 1e-9, unicode=unicode)
        assert {len(line) for line in text} == {WIDTH}
        assert len(text) == HEIGHT
        assert HEIGHT - 2 in rows_of_ball(text, ink), "just over the floor"
        wide = text[-2].count(ink.ball)
        assert wide == (2 if cue.place == 1 else 4)
        first = text[-2].index(ink.ball)
        assert text[-1][first : first + wide] == (ink.short if cue.place == 1 else ink.long) * wide


def flashes_in_any_second(lit):
    """Most flashes of any cell in any second; `lit` is frames x cells, each flash an on and an off."""
    changes = np.diff(lit.astype(int), axis=0) != 0
    sums = np.cumsum(np.vstack([np.zeros((1, changes.shape[1]), int), changes]), axis=0)
    span = min(FRAMES_A_SECOND, len(changes))
    return int((sums[span:] - sums[:-span]).max()) // 2


@pytest.mark.parametrize("name", list_patterns())
def test_at_200_a_minute_nothing_flashes_more_than_three_times_in_any_second(name):
    schedule = scheduled(name, 200.0, 24) if load_pattern(name).share is None else scheduled(name, 160.0, 24)
    frames = shown(schedule)
    cells = np.array([[mark != " " for line in text[:-1] for mark in line] for text in frames])
    assert cells.any()
    assert flashes_in_any_second(cells) <= FLASHES_A_SECOND
    # No flash of the whole picture either: what is lit hardly changes, the ball of 8 cells against one of 2.
    assert np.ptp(cells.sum(axis=1)) <= 8 < 0.02 * cells.shape[1]
    floors = np.array([[mark in "▀▔" for mark in text[-1]] for text in frames])
    assert flashes_in_any_second(floors) <= FLASHES_A_SECOND


def shown(schedule):
    """All frames of a schedule."""
    bounce = bounce_of(schedule)
    times_s = np.arange(-FALLS_S, schedule.end_s, 1 / FRAMES_A_SECOND)
    return [frame(bounce, time_s) for time_s in times_s]


def test_the_count_of_flashes_sees_a_flashing_cell():
    blinking = np.zeros((100, 2), bool)
    blinking[::10, 1] = True
    assert flashes_in_any_second(blinking) == 5


def test_where_the_cue_falls_silent_the_ball_is_gone():
    schedule = scheduled(fade=Fade(full=4))
    silent = [cue for cue in schedule.footfalls if cue.gain_db is None]
    bounce = bounce_of(schedule)
    assert bounce.ball_at(silent[0].time_s - 0.01) is not None
    assert bounce.ball_at(silent[0].time_s + 0.01) is None
    assert set("".join(frame(bounce, silent[0].time_s + 0.01))) == {" ", UNICODE.floor}


def test_a_softer_cue_is_a_fainter_ball():
    schedule = scheduled(level=CueLevel.C3)
    text = "".join(frame(bounce_of(schedule), schedule.go_s + 0.1))
    assert UNICODE.faint in text
    assert UNICODE.ball not in text


def test_without_any_cue_there_is_no_ball():
    assert bounce_of(scheduled(level=CueLevel.C0)).ball_at(1.0) is None


@given(st.sampled_from(list_patterns()), st.floats(60, 120), st.floats(-2, 40), st.integers(-20, 20))
def test_it_never_leaves_the_picture(name, tempo_bpm, now_s, change):
    bounce = bounce_of(scheduled(name, tempo_bpm, 24, tempo_change_percent=change))
    ball = bounce.ball_at(now_s)
    assert ball is None or (0 <= ball.across <= 1 and 0 <= ball.height <= 1)
    assert {len(line) for line in frame(bounce, now_s)} == {WIDTH}
