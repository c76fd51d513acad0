"""Yours, then this one: the learner's rhythm in clean tones, a pause, the target."""


import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.cues.replay import PAUSE_S, Landing, landings_of, own_tempo_bpm, replay, replay_track
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.cues.tones import tone_set
from cuekit.errors import AudioError, PatternError
from cuekit.patterns.schedule import Role
from tests.made_pattern import gallop

WOOD = tone_set("wood")


def galloped(times_s):
    return [Landing(time_s, Role.SHORT if k % 2 else Role.LONG) for k, time_s in enumerate(times_s)]


def heard_at_s(track, tone):
    """Where the plain sound of a tone is placed, s from the first footfall."""
    return [
        (one.first + round(one.sound.anchor_s * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
        for one in track.placed
        if one.sound is tone.plain
    ]


def test_the_learner_is_heard_first_then_the_target_in_the_same_tones():
    # An even gallop at 100/min is answered by the same tempo at 2:1.
    learner = galloped([7.0, 7.3, 7.6, 7.9, 8.2, 8.5])
    target = landings_of(gallop(), 3, own_tempo_bpm(learner))
    track = replay_track(learner, target, WOOD)
    begin_s = 1.5 + PAUSE_S
    assert heard_at_s(track, WOOD.long) == pytest.approx(
        [0.0, 0.6, 1.2, begin_s, begin_s + 0.6, begin_s + 1.2], abs=2e-5
    )
    assert heard_at_s(track, WOOD.short) == pytest.approx(
        [0.3, 0.9, 1.5, begin_s + 0.4, begin_s + 1.0, begin_s + 1.6], abs=2e-5
    )


def test_an_extra_footfall_is_heard_and_stands_out():
    learner = [Landing(0.0, Role.LONG), Landing(0.2, None), Landing(0.4, Role.SHORT), Landing(0.6, Role.LONG)]
    track = replay_track(learner, landings_of(gallop(), 2, 100), WOOD)
    assert heard_at_s(track, WOOD.count) == pytest.approx([0.2], abs=2e-5)


def test_the_own_tempo_is_the_middle_one_and_needs_two_beats():
    assert own_tempo_bpm(galloped([0.0, 0.4, 0.6, 1.0, 1.2, 1.6, 3.8, 4.2])) == pytest.approx(100.0)
    with pytest.raises(AudioError, match="at least 2 are needed, heard 1"):
        own_tempo_bpm(galloped([0.0, 0.4]))


def test_a_tempo_nobody_can_follow_is_refused():
    with pytest.raises(PatternError):
        landings_of(gallop(), 4, 290)


def test_nothing_heard_gives_nothing_to_replay():
    with pytest.raises(AudioError, match="the learner has no footfalls"):
        replay_track([], landings_of(gallop(), 2, 100), WOOD)
    with pytest.raises(AudioError, match="the target has no footfalls"):
        replay_track(galloped([0.0]), [], WOOD)


@given(start_s=st.floats(0, 600), gaps_s=st.lists(st.floats(0.1, 1.5), min_size=1, max_size=12))
@settings(max_examples=25, deadline=None)
def test_it_does_not_matter_where_in_the_recording_the_learner_began(start_s, gaps_s):
    times_s = np.concatenate([[0.0], np.cumsum(gaps_s)])
    target = landings_of(gallop(), 2, 100)
    track = replay_track(galloped(times_s + start_s), target, WOOD)
    both = sorted(heard_at_s(track, WOOD.long) + heard_at_s(track, WOOD.short))
    # Twice a whole sample: the times themselves lose a little so far into a recording.
    assert np.abs(np.array(both[: times_s.size]) - times_s).max() < 2 / SAMPLE_RATE_HZ


def test_the_pause_is_silent_and_the_sound_is_quiet():
    learner = galloped([0.0, 0.3, 0.6, 0.9])
    samples = replay(learner, landings_of(gallop(), 2, 100), WOOD)
    assert samples.dtype == np.float32
    lead_in_s = replay_track(learner, landings_of(gallop(), 2, 100), WOOD).lead_in_s
    first, last = (
        round((lead_in_s + 0.9 + 0.15) * SAMPLE_RATE_HZ),
        round((lead_in_s + 0.9 + PAUSE_S - 0.05) * SAMPLE_RATE_HZ),
    )
    assert not samples[first:last].any()
    assert samples[last : last + 9600].any()
    assert np.abs(samples).max() < 10 ** (-6 / 20)
