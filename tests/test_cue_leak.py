"""The cue in the microphone: nobody moving is nobody heard, and where the cue was is read to the millisecond."""

from functools import cache

import numpy as np
import pytest
from mir_eval.util import match_events

from cuekit.bouts.cue_arrival import for_analysis, read_delay
from cuekit.bouts.cue_leak import CueLoudness, check_leak
from cuekit.cues.cueing import choose_cues
from cuekit.cues.render import lay_out, render
from cuekit.cues.tones import tone_set
from cuekit.hearing.detection import detect_footfalls
from cuekit.hearing.events import Footfall, Heard, Hearing
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import Plan, make_schedule
from cuekit.simulation.simulate import Learner, follow, nobody
from cuekit.simulation.simulate_rooms import SOUND_M_PER_S, Leak, Room, record
from cuekit.telling.phrases import load_phrases
from cuekit.telling.scoring import score_recording

CLASSROOM, GYM = Room(rt60_s=0.6, volume_m3=190.0), Room(rt60_s=1.4, volume_m3=3800.0)
DISTANCE_M = 1.0


@cache
def cue(name="wood"):
    """A gallop's cue: schedule, track, samples."""
    schedule = make_schedule(load_pattern("gallop"), Plan(100, 16))
    track = lay_out(schedule, choose_cues(schedule, tone_set(name)))
    return schedule, track, render(track)


def take_of(room=CLASSROOM, *, above_db=0.0, delay_s=0.12, seed=0, name="wood", samples=None, moving=True):
    schedule, track, clean = cue(name)
    learner = Learner(scatter_s=0.02, short_db=-6.0)
    done = follow(schedule, learner, seed=seed, start_s=track.lead_in_s) if moving else nobody(track.duration_s)
    heard = clean if samples is None else samples
    leak = Leak(heard, delay_s, above_db, DISTANCE_M) if above_db is not None else None
    return record(done, room, seed=seed, leak=leak)


def delay_of(take, name="wood"):
    return read_delay(take.recording().samples, for_analysis([cue(name)[2]]))


# The first test of all.
@pytest.mark.parametrize("name", ["wood", "tone", "bell", "drop", "soft"])
@pytest.mark.parametrize("room", [CLASSROOM, GYM], ids=["classroom", "gym"])
def test_cue_playing_and_nobody_moving_is_no_footfalls_heard(name, room):
    recording = take_of(room, name=name, moving=False, above_db=10.0).recording()
    score = score_recording(recording, load_pattern("gallop"), tempo_bpm=100)
    assert score.hearing.footfalls == ()
    assert score.hearing.heard is Heard.NOT_ENOUGH
    assert score.advice.summary.startswith("No footfalls heard")
    assert score.advice.fault is None


# Bars of issue "Live practice", point 2 of what it must show; a child in time, 20 ms scatter.
@pytest.mark.parametrize(("above_db", "least_f1"), [(-10.0, 0.93), (0.0, 0.90), (10.0, 0.80)])
def test_a_child_in_time_is_heard_while_the_cue_plays(above_db, least_f1):
    found = heard = true = 0
    for seed, room in enumerate((CLASSROOM, GYM, CLASSROOM, GYM)):
        take = take_of(room, above_db=above_db, seed=seed)
        times_s = [footfall.time_s for footfall in detect_footfalls(take.recording()).footfalls]
        found += len(match_events(take.times_s, np.array(times_s), 0.025))
        heard, true = heard + len(times_s), true + take.times_s.size
    assert 2 * found / (heard + true) >= least_f1


@pytest.mark.parametrize("above_db", [-20.0, -10.0, 0.0, 10.0])
@pytest.mark.parametrize("name", ["wood", "tone", "bell", "drop", "soft"])
def test_the_delay_is_read_from_the_cue_in_the_recording(name, above_db):
    for seed, room in enumerate((CLASSROOM, GYM)):
        delay_s = 0.05 + 0.2 * seed
        found = delay_of(take_of(room, above_db=above_db, delay_s=delay_s, seed=seed, name=name), name)
        # 0.1 ms is what earlier trials reached at 0 dB and above; 2 ms is what is asked.
        assert found.delay_s == pytest.approx(delay_s + DISTANCE_M / SOUND_M_PER_S, abs=1e-4)
        assert found.jumped_at_s is None


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("name", ["wood", "soft"])
def test_feet_in_time_with_a_cue_in_earphones_are_not_taken_for_the_cue(name, seed):
    assert delay_of(take_of(above_db=None, seed=seed, name=name), name).delay_s is None


def test_a_swelling_tone_whose_time_line_slips_is_seen_or_gives_no_delay():
    schedule, track, samples = cue("soft")
    half = round(0.7 * samples.size)
    slipped = np.concatenate([samples[:half], np.zeros(2400, np.float32), samples[half:]])
    for seed, room in enumerate((CLASSROOM, GYM)):
        found = delay_of(take_of(room, name="soft", samples=slipped, seed=seed), "soft")
        assert found.delay_s is None or found.jump_s == pytest.approx(0.05, abs=0.002)


@pytest.mark.parametrize("by_s", [0.05, -0.03])
def test_a_time_line_that_slips_is_seen(by_s):
    schedule, track, samples = cue()
    half = round(0.55 * samples.size)
    gap = round(abs(by_s) * 48_000)
    slipped = (
        np.concatenate([samples[:half], np.zeros(gap, np.float32), samples[half:]])
        if by_s > 0
        else np.concatenate([samples[:half], samples[half + gap :]])
    )
    take = take_of(samples=slipped, seed=1)
    found = delay_of(take)
    assert abs(found.jump_s) == pytest.approx(abs(by_s), abs=0.002)
    assert found.jumped_at_s == pytest.approx(half / 48_000, abs=2.5)
    recording = take.recording()
    hearing = detect_footfalls(recording)
    check = check_leak(recording, hearing, delay_of(take), schedule, track.lead_in_s)
    assert not check.trusted
    assert check.advice == "leak.jumped"


def check_of(take, hearing=None):
    schedule, track, samples = cue()
    recording = take.recording()
    hearing = detect_footfalls(recording) if hearing is None else hearing
    return check_leak(recording, hearing, delay_of(take), schedule, track.lead_in_s)


def test_the_level_of_the_cue_over_the_feet_is_told_within_a_few_decibels():
    stated_db = np.array([-10.0, 0.0, 10.0, 20.0, 30.0])
    told_db = np.array([check_of(take_of(above_db=db)).above_feet_db for db in stated_db])
    np.testing.assert_allclose(np.diff(told_db), 10.0, atol=1.0)
    # The made leak is levelled by its loudest cue, a 3 dB accent; the counted beats are told.
    np.testing.assert_allclose(told_db, stated_db - 3.0, atol=4.0)


def test_a_cue_far_too_loud_is_told_with_the_mend():
    check = check_of(take_of(above_db=32.0))
    assert check.loudness is not CueLoudness.FINE
    sentence = load_phrases().say(check.advice, above_db=check.above_feet_db)
    assert "turn it down" in sentence.lower()


def test_footfalls_in_the_count_in_take_the_trust_away():
    take = take_of()
    hearing = detect_footfalls(take.recording())
    assert check_of(take, hearing).trusted
    schedule, track, _ = cue()
    ghost = Footfall(schedule.cues[1].time_s + track.lead_in_s + 0.12, -20.0)
    haunted = Hearing((ghost, *hearing.footfalls), (), Heard.CLEAR, "", -60.0)
    check = check_of(take, haunted)
    assert (check.ghosts, check.trusted, check.advice) == (1, False, "leak.ghosts")
    sentence = load_phrases().say(check.advice, ghosts=check.ghosts, counted=check.counted)
    assert "turn the cue down" in sentence.lower()


def test_a_learner_a_little_early_on_the_first_beat_is_no_ghost():
    take = take_of()
    hearing = detect_footfalls(take.recording())
    schedule, track, _ = cue()
    early = Footfall(schedule.go_s + track.lead_in_s + 0.12 - 0.2, -20.0)
    assert check_of(take, Hearing((early, *hearing.footfalls), (), Heard.CLEAR, "", -60.0)).trusted


def overdriven(samples):
    """A loudspeaker turned up too far: even and odd distortion, which reaches down to the band of feet."""
    driven = np.tanh(3.0 * samples / np.abs(samples).max() + 0.3) - np.tanh(0.3)
    return (driven / np.abs(driven).max() * np.abs(samples).max()).astype(np.float32)


@pytest.mark.parametrize("room", [CLASSROOM, GYM], ids=["classroom", "gym"])
@pytest.mark.parametrize("above_db", [20.0, 30.0])
def test_ghosts_of_an_overdriven_loudspeaker_are_told_and_left_out(above_db, room):
    """In the classroom the counted sounds of wood make none; the others do, more exactly in time than any foot."""
    check = check_of(take_of(room, above_db=above_db, samples=overdriven(cue()[2]), moving=False))
    assert room is GYM or check.ghosts == 0
    assert len(check.in_step) >= 10
    assert not check.trusted
    assert check.advice == ("leak.ghosts" if check.ghosts else "leak.in_step")
    said = load_phrases().say(check.advice, in_step=len(check.in_step), ghosts=check.ghosts, counted=check.counted)
    assert "down" in said


def sounds_after(scatter_s, late_s, seed):
    """A take, and what is heard of it: one sound after each cue that starts a beat."""
    schedule, track, _ = cue()
    rng, take = np.random.default_rng(seed), take_of(moving=False, above_db=0.0)
    leads_s = [one.time_s for one in schedule.footfalls if one.place == 0]
    start_s = track.lead_in_s + 0.12 + DISTANCE_M / SOUND_M_PER_S + late_s
    times_s = start_s + np.array(leads_s) + rng.normal(size=len(leads_s)) * scatter_s
    return take, Hearing(tuple(Footfall(float(time_s), -20.0) for time_s in times_s), (), Heard.CLEAR, "", -60.0)


@pytest.mark.parametrize("late_s", [0.0, 0.2])
def test_sounds_at_one_delay_from_the_cue_are_the_loudspeaker_however_loud_and_late(late_s):
    """Of words the ghosts come with the loudest vowel, not with the beat."""
    for seed in range(5):
        take, hearing = sounds_after(0.001, late_s, seed)
        check = check_of(take, hearing)
        assert len(check.in_step) >= 14
        assert (check.trusted, check.advice) == (False, "leak.in_step")


@pytest.mark.parametrize("late_s", [0.0, 0.2])
def test_feet_that_scatter_as_feet_do_are_never_the_loudspeaker(late_s):
    assert all(check_of(*sounds_after(0.015, late_s, seed)).in_step == () for seed in range(20))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("scatter_s", [0.010, 0.020])
def test_a_child_well_in_time_with_a_loud_cue_is_never_taken_for_the_loudspeaker(scatter_s, seed):
    schedule, track, clean = cue()
    done = follow(schedule, Learner(scatter_s=scatter_s, short_db=-6.0), seed=seed, start_s=track.lead_in_s + 0.12)
    leak = Leak(clean, 0.12, 20.0, DISTANCE_M)
    check = check_of(record(done, CLASSROOM if seed % 2 else GYM, seed=seed, leak=leak))
    assert check.above_feet_db > 10.0
    assert check.in_step == ()
