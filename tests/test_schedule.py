"""A pattern laid out in time: exact to the end, changing tempo, cue levels, fades, and what nobody can follow."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from cuekit.errors import PatternError
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.patterns.schedule import (
    CueLevel,
    Fade,
    Plan,
    Role,
    beats_for_seconds,
    make_schedule,
    seconds_of_beat,
)

GALLOP, HOP, WALK = (load_pattern(name) for name in ("gallop", "hop", "walk"))


def levels_db(schedule, role):
    return [cue.gain_db for cue in schedule.cues if cue.role is role]


# Times


def test_the_last_cue_of_an_hour_is_as_exact_as_the_first():
    """rhythm.md 5: no event is off by more than half a sample; 0.6 s a beat, the short one after 0.4 s."""
    schedule = make_schedule(GALLOP, Plan(100, 6000))
    *_, long, short = schedule.footfalls
    assert (long.beat, long.place, short.place) == (5999, 0, 1)
    assert long.time_s - schedule.go_s == pytest.approx(5999 * 0.6, abs=1e-9)
    assert short.time_s - schedule.go_s == pytest.approx(5999 * 0.6 + 0.4, abs=1e-9)


@pytest.mark.parametrize("change_percent", [-50.0, -5.0, 5.0, 50.0, 100.0])
def test_a_change_of_tempo_ends_at_the_tempo_asked_for(change_percent):
    """The tempo at a place is 1 over the slope of the time there; at the end it is the first one times 1 + change."""
    plan = Plan(100, 40, tempo_change_percent=change_percent)
    near = Fraction(1, 10_000)
    first, last = (
        60.0 * float(near) / (seconds_of_beat(at + near, plan) - seconds_of_beat(at, plan))
        for at in (Fraction(0), 40 - near)
    )
    assert first == pytest.approx(100.0, rel=1e-4)
    assert last == pytest.approx(100.0 * (1 + change_percent / 100.0), rel=1e-4)


@settings(max_examples=40, deadline=None)
@given(change_percent=st.floats(-50, 100), beats=st.integers(1, 60), at=st.integers(0, 60))
def test_the_time_of_a_place_is_the_integral_of_the_period(change_percent, beats, at):
    """The period shrinks by the same share every beat: p(b) = p(0) (1 + change) ** (-b / beats)."""
    plan = Plan(90, beats, tempo_change_percent=change_percent)
    period_s, _ = quad(lambda b: 60 / 90 * (1 + change_percent / 100) ** (-b / beats), 0, at)
    assert seconds_of_beat(Fraction(at), plan) == pytest.approx(period_s, rel=1e-6, abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(
    name=st.sampled_from(list_patterns()),
    seconds=st.floats(1, 90),
    side=st.sampled_from([None, *Side]),
)
def test_so_many_seconds_hold_the_beats_that_start_in_them(name, seconds, side):
    pattern = load_pattern(name)
    pattern = pattern.with_side(side) if side and pattern.side_means else pattern
    tempo = pattern.tempo.default
    beats = beats_for_seconds(pattern, tempo, seconds)
    schedule = make_schedule(pattern, Plan(tempo, beats + 1, count_in=0))
    starts_s = [cue.time_s for cue in schedule.footfalls if cue.place == 0]
    assert starts_s[beats - 1] < seconds + 1e-6
    assert starts_s[beats] >= seconds - 1e-6


# The count-in


def test_the_count_is_even_and_leads_into_the_first_footfall():
    schedule = make_schedule(GALLOP, Plan(100, 4))
    counted_s = [cue.time_s for cue in schedule.cues if cue.role is Role.COUNT]
    np.testing.assert_allclose(np.diff([*counted_s, schedule.go_s]), 0.6)
    assert [cue.beat for cue in schedule.cues if cue.role is Role.COUNT] == [-4, -3, -2, -1]
    assert make_schedule(GALLOP, Plan(100, 4, count_in=2)).go_s == pytest.approx(1.2)


def test_with_no_sound_at_all_nothing_is_counted_and_the_first_footfall_is_at_once():
    schedule = make_schedule(GALLOP, Plan(100, 4, CueLevel.C0))
    assert levels_db(schedule, Role.COUNT) == []
    assert schedule.go_s == 0.0
    assert {cue.gain_db for cue in schedule.cues} == {None}


# Cue levels and fades


@pytest.mark.parametrize(
    ("level", "long_db", "short_db"),
    [
        (CueLevel.C5, 0.0, 0.0),
        (CueLevel.C4, 0.0, 0.0),
        (CueLevel.C3, -6.0, -6.0),
        (CueLevel.C2, 0.0, None),
        (CueLevel.C1, None, None),
    ],
)
def test_what_each_level_lets_sound(level, long_db, short_db):
    """trade.md 3.2: tone on each, softer by 6 dB, the main beat only, the count only."""
    schedule = make_schedule(GALLOP, Plan(100, 3, level))
    assert levels_db(schedule, Role.LONG) == [long_db] * 3
    assert levels_db(schedule, Role.SHORT) == [short_db] * 3
    assert levels_db(schedule, Role.COUNT) == [0.0] * 4


def test_only_the_fullest_level_speaks_and_the_count_always_does():
    for level in CueLevel:
        schedule = make_schedule(GALLOP, Plan(100, 2, level))
        assert {cue.spoken for cue in schedule.footfalls} == {level is CueLevel.C5}
        assert all(cue.spoken for cue in schedule.cues if cue.role is Role.COUNT)


@pytest.mark.parametrize(
    ("fade", "told_db"),
    [
        (Fade(), [0.0] * 6),
        (Fade(full=2), [0.0, 0.0, None, None, None, None]),
        (Fade(full=1, softer=3), [0.0, -6.0, -6.0, -12.0, None, None]),
        (Fade(full=0, softer=2), [-6.0, -12.0, None, None, None, None]),
        (Fade(full=9), [0.0] * 6),
    ],
)
def test_the_cue_leaves_in_two_steps_and_is_silent_to_the_end(fade, told_db):
    schedule = make_schedule(HOP, Plan(120, 6, fade=fade))
    assert [cue.gain_db for cue in schedule.footfalls] == told_db


def test_a_fade_of_a_softer_cue_starts_from_there():
    schedule = make_schedule(HOP, Plan(120, 3, CueLevel.C3, Fade(full=1, softer=1)))
    assert [cue.gain_db for cue in schedule.footfalls] == [-6.0, -12.0, None]


# What nobody can follow (Repp 2005, 2006: 0.125 s to 1.8 s)


def test_cues_closer_than_an_eighth_of_a_second_are_refused():
    """At 2:1 the short part is a third of the beat: 0.125 s at 160 beats/min."""
    assert min(b.time_s - a.time_s for a, b in pairwise(make_schedule(GALLOP, Plan(160, 4)).footfalls)) > 0.12499
    with pytest.raises(PatternError, match="gallop at 161 beats/min puts two cues 124 ms apart"):
        make_schedule(GALLOP, Plan(161, 4))


def test_cues_further_than_a_listener_can_join_are_refused():
    make_schedule(WALK, Plan(33.4, 4))
    with pytest.raises(PatternError, match="choose a tempo of at least 33"):
        make_schedule(WALK, Plan(33.0, 4))
    with pytest.raises(PatternError, match="choose a tempo of at least 33"):
        make_schedule(WALK, Plan(60.0, 4, tempo_change_percent=-50.0))


@pytest.mark.parametrize(
    ("plan", "told"),
    [
        (Plan(19.9, 4), "from 20 to 300"),
        (Plan(float("nan"), 4), "from 20 to 300"),
        (Plan(100, 0), "1 to 100000 beats"),
        (Plan(100, 100_001), "1 to 100000 beats"),
        (Plan(100, 4, tempo_change_percent=101.0), "-50 to +100 %"),
        (Plan(100, 4, count_in=17), "from 0 to 16"),
        (Plan(100, 4, fade=Fade(full=-1)), "cannot be negative"),
        (Plan(100, 4, fade=Fade(softer=-1)), "cannot be negative"),
    ],
)
def test_a_plan_that_makes_no_sense_is_refused_with_its_number(plan, told):
    with pytest.raises(PatternError) as refusal:
        make_schedule(GALLOP, plan)
    assert told in str(refusal.value)
