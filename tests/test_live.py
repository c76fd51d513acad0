"""A bout on a device that never was: it starts, listens, ends by itself, and survives what goes wrong."""

import json
import os
import signal
import time

import numpy as np
import pytest
from fake_port import FakePort, Faults, NoDevice

from cuekit.bouts.audio_port import Slip, SlipKind, never, unwatched
from cuekit.bouts.gaps import GAP_S, gaps_of, parted
from cuekit.bouts.given import Given
from cuekit.bouts.live import BoutEnd, Course, record_bout
from cuekit.bouts.session import bout_alone, bout_to_cue, bout_to_marker
from cuekit.bouts.take_file import TakeFile
from cuekit.cues.cueing import choose_cues
from cuekit.cues.render import lay_out
from cuekit.cues.tones import tone_set
from cuekit.errors import DeviceError
from cuekit.hearing.events import Footfall, Heard, Hearing
from cuekit.hearing.live_ear import LiveEar
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Fade, Plan, make_schedule
from cuekit.simulation.simulate import Learner, follow, perform
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.telling.contract import as_json
from cuekit.telling.phrases import load_phrases

GALLOP = load_pattern("gallop")
HALL = Room(noise_below_feet_db=45.0)
COURSE = Course(longest_s=60.0)
SAYS = load_phrases()
STEADY = Learner(scatter_s=0.015, short_db=-6.0)
NO_FADE = Fade()


def no_matter(footfall):
    """Nobody watches the terminal."""


def child(learner=STEADY, beats=12, seed=1, start_s=1.0):
    return record(perform(GALLOP, learner, beats=beats, seed=seed, start_s=start_s), HALL, seed=seed)


def alone(port, folder, course=COURSE, on_footfall=no_matter, stop=never):
    return bout_alone(port, folder, GALLOP, course, SAYS, on_footfall, stop)


def given(level=CueLevel.C4, fade=NO_FADE, beats=12, tempo_bpm=100):
    schedule = make_schedule(GALLOP, Plan(tempo_bpm, beats, level, fade))
    return Given(schedule, lay_out(schedule, choose_cues(schedule, tone_set("wood"))))


def follower(what, learner, lag_s, seed=1):
    """A child who moves to a cue that reaches it `lag_s` after it is handed to the device."""
    done = follow(what.schedule, learner, seed=seed, start_s=what.track.lead_in_s + lag_s)
    return record(done, HALL, seed=seed).samples


def test_a_bout_ends_three_seconds_after_the_last_footfall_and_says_one_sentence(tmp_path):
    take = child()
    done = alone(FakePort(take.samples), tmp_path)
    assert done.bout.end is BoutEnd.QUIET
    assert done.take.duration_s == pytest.approx(take.times_s[-1] + 3.0, abs=0.3)
    assert done.verdict.score.measures.complete_beats == 12
    assert "clear long-short" in done.verdict.score.advice.summary
    assert len(done.verdict.score.advice.summary.split()) <= 25


def test_the_footfalls_told_live_are_those_of_the_verdict(tmp_path):
    take, told = child(), []
    alone(FakePort(take.samples), tmp_path, on_footfall=told.append)
    assert len(told) == take.times_s.size
    heard_s = np.array([footfall.time_s for footfall in told])
    np.testing.assert_allclose(heard_s, take.times_s, atol=0.015)


def test_a_footfall_is_told_within_100_ms_of_its_sound_coming_in(tmp_path):
    """Of sound coming in; what the device keeps back itself comes on top and differs between systems."""
    take, late_s = child(), []
    file = TakeFile(tmp_path)
    port = FakePort(take.samples)

    def told(footfall):
        late_s.append(file.duration_s - footfall.time_s)

    record_bout(port, file, LiveEar(), COURSE, told, never)
    assert len(late_s) == take.times_s.size
    assert max(late_s) < 0.1


def test_listening_takes_a_fraction_of_the_time_that_passes(tmp_path):
    began_s = time.process_time()
    done = alone(FakePort(child().samples), tmp_path)
    assert time.process_time() - began_s < 0.5 * done.take.duration_s


def test_nobody_moving_ends_it_too_and_is_no_fault(tmp_path):
    done = alone(FakePort(), tmp_path, Course(longest_s=60.0, wait_s=5.0))
    assert done.bout.end is BoutEnd.NOBODY
    assert done.verdict.score.hearing.heard is Heard.NOT_ENOUGH
    assert done.verdict.score.advice.summary.startswith("No footfalls heard")


def test_it_ends_at_the_set_length(tmp_path):
    done = alone(FakePort(child(beats=40).samples), tmp_path, Course(longest_s=8.0))
    assert done.bout.end is BoutEnd.LENGTH
    assert done.take.duration_s == pytest.approx(8.0, abs=0.1)


def test_a_key_ends_it_and_what_was_heard_counts(tmp_path):
    told = []
    done = alone(FakePort(child().samples), tmp_path, on_footfall=told.append, stop=lambda: len(told) >= 8)
    assert done.bout.end is BoutEnd.ASKED
    assert len(done.verdict.score.hearing.footfalls) >= 8


@pytest.mark.parametrize("lost_s", [0.5, 2.3, 4.0, 6.1])
def test_a_microphone_pulled_out_ends_the_bout_and_keeps_it(tmp_path, lost_s):
    take = child()
    done = alone(FakePort(take.samples, faults=Faults(lost_s=lost_s)), tmp_path)
    assert done.bout.end is BoutEnd.LOST
    assert done.take.duration_s == pytest.approx(lost_s, abs=0.05)
    assert any("disconnected" in note for note in done.verdict.notes)
    before = np.count_nonzero(take.times_s < lost_s - 0.1)
    assert len(done.verdict.score.hearing.footfalls) >= before


@pytest.mark.parametrize("zeros_s", [1.5, 3.0, 5.2])
def test_a_microphone_that_gives_zeros_ends_the_bout_within_three_seconds(tmp_path, zeros_s):
    done = alone(FakePort(child(beats=30).samples, faults=Faults(zeros_s=zeros_s)), tmp_path)
    assert done.bout.end is BoutEnd.DEAD
    assert done.take.duration_s < zeros_s + 3.0
    assert any("went dead" in note for note in done.verdict.notes)


def test_a_device_that_never_gives_a_sample_is_refused_and_leaves_nothing(tmp_path):
    with pytest.raises(DeviceError, match="plugged in"):
        alone(FakePort(faults=Faults(lost_s=0.0)), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_no_device_is_one_clear_line_and_leaves_nothing(tmp_path):
    with pytest.raises(DeviceError) as refusal:
        alone(NoDevice(), tmp_path)
    assert "\n" not in str(refusal.value)
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_keeps_the_bout(tmp_path):
    told = []

    def one_more(footfall):
        told.append(footfall)
        if len(told) == 9:
            os.kill(os.getpid(), signal.SIGINT)

    done = alone(FakePort(child().samples), tmp_path, on_footfall=one_more)
    assert done.interrupted
    assert done.bout.end is BoutEnd.ASKED
    assert len(done.verdict.score.hearing.footfalls) >= 9
    with pytest.raises(KeyboardInterrupt):  # afterwards Ctrl-C is Ctrl-C again
        signal.raise_signal(signal.SIGINT)


def test_a_second_ctrl_c_leaves_at_once_and_the_take_is_found_again(tmp_path):
    def twice(footfall):
        os.kill(os.getpid(), signal.SIGINT)
        os.kill(os.getpid(), signal.SIGINT)

    with pytest.raises(KeyboardInterrupt):
        alone(FakePort(child().samples), tmp_path, on_footfall=twice)
    assert len(list(tmp_path.glob("take-*.wav"))) == 1


def test_no_interval_is_measured_across_lost_sound(tmp_path):
    take = child()
    faults = Faults(overflow_s=take.times_s[11] + 0.15, dropped_s=0.2)
    done = alone(FakePort(take.samples, faults=faults), tmp_path)
    assert len(done.bout.passage.slips) == 1
    assert any("Sound was lost" in note for note in done.verdict.notes)
    score = done.verdict.score
    assert len(score.alignment.bouts) == 2
    assert score.measures.tempo_bpm == pytest.approx(100, abs=3)
    assert score.measures.pauses == ()


def test_after_lost_sound_every_time_told_is_one_of_the_recording(tmp_path):
    """Two bouts with a missed short in each: the contract has them where they are in the recording."""
    take = child(learner=Learner(scatter_s=0.01, short_db=-6.0, not_made=frozenset({(2, 1), (9, 1)})))
    gap_s = take.times_s[11] + 0.15
    port = FakePort(take.samples, faults=Faults(overflow_s=gap_s, dropped_s=0.2))
    done = alone(port, tmp_path)
    told = json.loads(as_json(done.verdict.score))
    assert len(told["bouts"]) == 2
    lost_s = gap_s - done.bout.passage.slips[0].frame / 48_000
    assert abs(lost_s) < 0.1
    heard_s = np.array([row["time_s"] for row in told["footfalls"]])
    assert heard_s.max() < told["recording"]["duration_s"]
    true_s = np.where(take.times_s < gap_s, take.times_s, take.times_s - 0.2)
    assert np.abs(heard_s[:, None] - true_s).min(axis=1).max() < 0.05
    assert told["bouts"][0]["end_s"] < gap_s < told["bouts"][1]["start_s"] < told["bouts"][1]["end_s"]
    assert told["bouts"][1]["end_s"] == pytest.approx(true_s[-1], abs=0.05)
    for one in (*told["missed"], *told["extra"]):
        assert 0 < one["time_s"] < told["recording"]["duration_s"]


@pytest.mark.parametrize("gap_s", np.linspace(0.4, 8.3, 12))
def test_wherever_the_gap_is_the_feet_on_either_side_are_parted(gap_s):
    footfalls = tuple(Footfall(0.3 * n, -20.0) for n in range(30))
    hearing = Hearing(footfalls, (), Heard.CLEAR, "", -60.0)
    gaps_s = gaps_of((Slip(SlipKind.LOST_INPUT, round(gap_s * 48_000)),))
    times_s = np.array([footfall.time_s for footfall in parted(hearing, gaps_s).footfalls])
    assert np.sum(np.diff(times_s) > GAP_S) == 1
    assert np.all(np.abs(np.diff(times_s)[np.diff(times_s) < 1] - 0.3) < 1e-9)


@pytest.mark.parametrize("lag_s", [0.02, 0.2, 0.45])
def test_a_delay_of_the_devices_does_not_fool_it(tmp_path, lag_s):
    what = given()
    late = Learner(scatter_s=0.015, short_db=-6.0, asynchrony_s=-0.02)
    port = FakePort(follower(what, late, lag_s), lag_s=lag_s, cue_gain=0.3)
    verdict = bout_to_cue(port, tmp_path, what, SAYS, no_matter, never).verdict
    assert verdict.leak.delay.delay_s == pytest.approx(lag_s, abs=0.002)
    # 3 m of air are 9 ms; the child is 20 ms early.
    assert verdict.asynchrony.median_s == pytest.approx(-0.02 + 0.009, abs=0.012)
    assert verdict.score.measures.tempo_bpm == pytest.approx(100, abs=2)
    assert verdict.score.measures.complete_beats >= 11


def test_with_the_cue_in_earphones_nothing_is_said_of_early_or_late(tmp_path):
    what = given()
    port = FakePort(follower(what, Learner(scatter_s=0.015), 0.2), lag_s=0.2, cue_gain=0.0)
    verdict = bout_to_cue(port, tmp_path, what, SAYS, no_matter, never).verdict
    assert verdict.asynchrony is None
    assert verdict.score.measures.complete_beats >= 11


def test_with_earphones_a_check_of_the_same_devices_gives_early_and_late(tmp_path):
    what = given()
    late = Learner(scatter_s=0.015, short_db=-6.0, asynchrony_s=-0.03)
    port = FakePort(follower(what, late, 0.2), lag_s=0.2, cue_gain=0.0)
    verdict = bout_to_cue(port, tmp_path, what, SAYS, no_matter, never, 0.0).verdict
    assert verdict.asynchrony.median_s == pytest.approx(-0.03 + 0.009, abs=0.012)


@pytest.mark.parametrize(
    ("asynchrony_s", "lag_s", "told"),
    [(-0.13, 0.2, "before the sound"), (0.13, 0.2, "after the sound"), (-0.02, 0.2, None), (1.8, 0.2, "after go")],
)
def test_a_child_far_ahead_far_behind_or_late_to_start_is_told_so(tmp_path, asynchrony_s, lag_s, told):
    """Faults against the cue, each with its other explanation; on time nothing is said."""
    what = given()
    port = FakePort(
        follower(what, Learner(scatter_s=0.015, short_db=-6.0, asynchrony_s=asynchrony_s), lag_s),
        lag_s=lag_s,
        cue_gain=0.3,
    )
    notes = bout_to_cue(port, tmp_path, what, SAYS, no_matter, never).verdict.notes
    said = [note for note in notes if "the sound" in note or "after go" in note]
    assert bool(said) == (told is not None)
    assert told is None or any(told in note for note in notes)


def test_cue_playing_and_nobody_moving_says_no_footfalls_heard(tmp_path):
    told = []
    port = FakePort(lag_s=0.1, cue_gain=0.5)
    done = bout_to_cue(port, tmp_path, given(), SAYS, told.append, never)
    assert told == []
    assert done.verdict.score.advice.summary.startswith("No footfalls heard")
    assert done.verdict.kept is None


def test_an_overdriven_loudspeaker_and_nobody_moving_is_no_bout(tmp_path):
    """The cue is distorted on its way, so that it reaches into the band of feet; the count-in is not."""

    class Overdriven(FakePort):
        def play_and_record(self, cue, listener, stop, on_clock=unwatched):
            samples = np.concatenate(list(cue))
            loud = np.abs(samples).max()
            driven = np.tanh(3.0 * samples / loud + 0.3) - np.tanh(0.3)
            return super().play_and_record([driven.astype(np.float32)], listener, stop, on_clock)

    verdict = bout_to_cue(Overdriven(lag_s=0.1, cue_gain=0.5), tmp_path, given(), SAYS, no_matter, never).verdict
    assert verdict.asynchrony is None
    assert verdict.leak.in_step or verdict.leak.ghosts or not verdict.score.hearing.footfalls
    assert verdict.score.measures.complete_beats == 0


def test_a_time_line_that_slips_gives_no_early_or_late(tmp_path):
    what = given(beats=20)
    port = FakePort(
        follower(what, Learner(scatter_s=0.015), 0.1),
        lag_s=0.1,
        cue_gain=0.3,
        faults=Faults(lag_step_s=8.0, lag_by_s=0.05),
    )
    verdict = bout_to_cue(port, tmp_path, what, SAYS, no_matter, never).verdict
    assert verdict.asynchrony is None
    assert any("lost its place" in note for note in verdict.notes)


# Story 9: cued, then alone. The cue is in the recording and is not counted.
@pytest.mark.parametrize("cue_gain", [0.0, 0.3])
def test_beats_kept_after_the_sound_stopped_are_counted(tmp_path, cue_gain):
    what = given(fade=Fade(full=4), beats=12)
    port = FakePort(follower(what, Learner(scatter_s=0.01), 0.1), lag_s=0.1, cue_gain=cue_gain)
    verdict = bout_to_cue(port, tmp_path, what, SAYS, no_matter, never).verdict
    assert (verdict.kept, verdict.alone) == (8, 8)


def test_what_the_fake_heard_is_what_is_on_the_disk(tmp_path):
    done = alone(FakePort(child().samples), tmp_path)
    assert done.take.path.exists()
    done.take.discard()
    assert list(tmp_path.iterdir()) == []


# Story 16: the sound is off, a marker is seen; it moves by the clock of the recording.
def test_a_bout_to_a_marker_opens_no_loudspeaker_and_counts_beats_kept_after_it_stopped(tmp_path):
    what, clock_s = given(fade=Fade(full=4), beats=12), []
    port = FakePort(follower(what, Learner(scatter_s=0.01), 0.15))
    verdict = bout_to_marker(port, tmp_path, what, SAYS, no_matter, never, clock_s.append).verdict
    assert not np.concatenate(port.sounded).any()
    assert (verdict.kept, verdict.alone) == (8, 8)
    assert verdict.score.measures.complete_beats >= 11
    assert verdict.asynchrony is None, "when a marker reaches the eye is not known"
    assert np.diff(clock_s).max() <= 0.05, "at least 20 times a second"


def test_feet_in_the_count_in_of_a_marker_are_not_scored(tmp_path):
    what = given()
    early = np.concatenate([child(beats=3, start_s=0.2).samples, np.zeros(48_000, np.float32)])
    port = FakePort(early[: round((what.track.lead_in_s + what.schedule.go_s - 0.4) * 48_000)])
    verdict = bout_to_marker(port, tmp_path, what, SAYS, no_matter, never, lambda now_s: None).verdict
    assert verdict.score.hearing.footfalls == ()


def test_the_clock_of_a_bout_is_told_at_least_20_times_a_second(tmp_path):
    what, clock_s = given(), []
    done = bout_to_cue(FakePort(), tmp_path, what, SAYS, no_matter, never, on_clock=clock_s.append)
    assert np.diff(clock_s).max() <= 0.05
    assert clock_s[-1] == pytest.approx(done.take.duration_s, abs=0.05)


def test_a_microphone_pulled_out_is_told_in_spanish_too(tmp_path):
    port = FakePort(child(beats=30).samples, faults=Faults(lost_s=5.0))
    done = bout_alone(port, tmp_path, load_pattern("gallop"), COURSE, load_phrases("es"), no_matter, never)
    assert done.verdict.notes[0].startswith("El micrófono se desconectó a los 5.0 s")
