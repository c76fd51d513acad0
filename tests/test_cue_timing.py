"""The start, and early or late, against a cue whose times are known."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.hearing.events import Footfall
from cuekit.rhythm.cue_timing import CueTimes, against_cue, from_go, start_beats
from cuekit.telling.cue_faults import cue_faults

BEAT_S = 0.6
CUE = CueTimes(tuple(3.0 + BEAT_S * n for n in range(12)), BEAT_S, delay_checked=True)
UNCHECKED = CueTimes(CUE.leads_s, BEAT_S, delay_checked=False)


def steps(by_s=0.0, first=0):
    """One footfall on each cue from the first-th on, late by that much."""
    return tuple(Footfall(due + by_s, -20.0, 1.0) for due in CUE.leads_s[first:])


def told(footfalls, cue=CUE):
    leads_s = [footfall.time_s for footfall in footfalls]
    return [(fault.id, *dict(fault.values).values()) for fault in cue_faults(footfalls, leads_s, cue)]


def test_feet_on_the_cue_have_nothing_told_of_them():
    assert told(steps()) == []


def test_a_start_in_the_count_in_is_told_in_beats_before_go():
    early = (Footfall(3.0 - 2 * BEAT_S, -20.0, 1.0), Footfall(3.0 - BEAT_S, -20.0, 1.0), *steps())
    assert told(early) == [("started-early", "2")]
    assert from_go(early, CUE) == steps()


def test_a_start_after_two_beats_is_told_and_one_within_two_is_not():
    assert told(steps(first=3)) == [("started-late", "3")]
    assert told(steps(-0.05, first=2)) == []


def test_a_little_before_go_was_meant_for_go():
    assert start_beats(steps(by_s=-0.2), CUE) is None


@pytest.mark.parametrize(
    ("by_s", "fault"), [(-0.15, ("ahead-of-cue", "0.15")), (0.15, ("behind-cue", "0.15"))]
)
def test_early_and_late_are_told_where_the_delay_was_checked(by_s, fault):
    assert told(steps(by_s)) == [fault]


@pytest.mark.parametrize("by_s", [-0.2, -0.05, 0.0, 0.2])
def test_early_and_late_stay_hidden_where_the_delay_was_not_checked(by_s):
    assert told(steps(by_s), UNCHECKED) == []


@pytest.mark.parametrize("by_s", [-0.08, 0.08])
def test_within_fifteen_hundredths_of_a_beat_nothing_is_told(by_s):
    assert told(steps(by_s)) == []


def test_feet_at_another_tempo_are_neither_early_nor_late():
    other = [3.0 + 0.47 * n for n in range(15)]
    assert against_cue(other, CUE) is None


def test_five_beats_are_too_few():
    assert against_cue([due + 0.2 for due in CUE.leads_s[:5]], CUE) is None


def test_nothing_heard_has_no_start():
    assert told(()) == []


@given(st.floats(-0.25, 0.25))
def test_a_constant_shift_is_found_as_it_is(by_s):
    assert against_cue([due + by_s for due in CUE.leads_s], CUE).median_s == pytest.approx(by_s)
