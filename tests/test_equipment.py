"""The equipment check: a delay that is right or none at all, and what is in the way."""

import datetime
from dataclasses import replace

import numpy as np
import pytest
from fake_port import FakePort, NoDevice
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.bouts.audio_port import Ended, Passage, never
from cuekit.bouts.checked_devices import recall, remember
from cuekit.bouts.equipment import PEAK, Check, Problem, check_equipment, judge_sweeps, sweeps_track
from cuekit.bouts.equipment_text import told_check
from cuekit.errors import DeviceError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.telling.phrases import load_phrases

PASSAGE = Passage(Ended.STOPPED, 0, 0, stamped_delay_s=0.02)


def echoing(samples, seed=0, rt60_s=0.8):
    """A room's answer after the direct sound."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(rt60_s * 48_000)) / 48_000
    tail = rng.normal(size=t.size) * 10 ** (-3 * t / rt60_s) * 0.01
    tail[:200] = 0.0
    tail[0] = 1.0
    size = 1 << int(samples.size + t.size).bit_length()
    return np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(tail, size), size)[: samples.size]


def back(delay_s, *, level_db=-20.0, noise_db=-70.0, seed=0):
    """The sweeps as a microphone in a room takes them in."""
    track = sweeps_track()
    late = np.concatenate([np.zeros(round(delay_s * 48_000)), echoing(track, seed)])[: track.size]
    noise = np.random.default_rng(seed).normal(size=track.size) * 10 ** (noise_db / 20)
    return (10 ** (level_db / 20) * late + noise).astype(np.float32)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.005, 0.45), st.integers(0, 1000))
def test_the_delay_is_found_to_2_ms_whatever_it_is(delay_s, seed):
    check = judge_sweeps(back(delay_s, seed=seed), PASSAGE)
    assert check.delay_s == pytest.approx(delay_s, abs=0.002)
    assert check.agreeing >= 2


@pytest.mark.parametrize("seed", range(5))
def test_a_child_stamping_about_does_not_move_it(seed):
    feet = record(perform(load_pattern("gallop"), Learner(), beats=8, seed=seed), Room(), seed=seed).samples
    samples = back(0.2, seed=seed)
    stamping = feet[: samples.size] * np.abs(samples).max() / np.abs(feet).max()
    samples[: stamping.size] += stamping
    check = judge_sweeps(samples, PASSAGE)
    assert check.delay_s is None or check.delay_s == pytest.approx(0.2, abs=0.002)
    assert check.delay_s is not None


@pytest.mark.parametrize("seed", range(20))
def test_muted_or_earphones_is_not_heard_and_no_delay_is_guessed(seed):
    noise = (0.01 * np.random.default_rng(seed).normal(size=sweeps_track().size)).astype(np.float32)
    check = judge_sweeps(noise, PASSAGE)
    assert check.delay_s is None
    assert check.problems == (Problem.NOT_HEARD,)


def test_a_blocked_microphone_is_told_from_a_muted_loudspeaker():
    check = judge_sweeps(np.zeros(sweeps_track().size, np.float32), PASSAGE)
    assert check.problems == (Problem.NO_SOUND_AT_ALL,)


@pytest.mark.parametrize(("delay_s", "wireless"), [(0.02, False), (0.15, False), (0.18, True), (0.30, True)])
def test_a_delay_like_bluetooth_is_noticed(delay_s, wireless):
    check = judge_sweeps(back(delay_s), PASSAGE)
    assert (Problem.WIRELESS in check.problems) is wireless


def test_large_buffers_of_the_computer_are_no_bluetooth():
    check = judge_sweeps(back(0.256), replace(PASSAGE, stamped_delay_s=0.255))
    assert check.problems == ()
    assert check.beyond_buffers_s == pytest.approx(0.001, abs=0.002)


def test_a_microphone_that_adapts_is_noticed():
    samples = back(0.05)
    gain_db = np.interp(np.arange(samples.size) / 48_000, [1.3, 2.0, 2.8], [0.0, -6.0, -12.0])
    check = judge_sweeps((samples * 10 ** (gain_db / 20)).astype(np.float32), PASSAGE)
    assert Problem.PROCESSED in check.problems


def test_a_telephone_link_is_noticed():
    spectrum = np.fft.rfft(back(0.05, noise_db=-90.0))
    spectrum[np.fft.rfftfreq(sweeps_track().size, 1 / 48_000) > 3400] = 0.0
    check = judge_sweeps(np.fft.irfft(spectrum, sweeps_track().size).astype(np.float32), PASSAGE)
    assert Problem.DULL in check.problems


def test_a_delay_that_jumps_between_sweeps_is_no_delay():
    track = sweeps_track()
    samples = np.zeros(track.size, np.float32)
    for n, delay_s in enumerate((0.05, 0.09, 0.14)):
        first = round((1.0 + 0.75 * n) * 48_000)
        one = track[first : first + 12_000]
        at = first + round(delay_s * 48_000)
        samples[at : at + one.size] += 0.1 * one
    samples += 1e-4 * np.random.default_rng(0).normal(size=samples.size).astype(np.float32)
    check = judge_sweeps(samples, PASSAGE)
    assert check.delay_s is None
    assert check.problems == (Problem.JUMPING,)


def test_the_sweeps_are_quiet_and_begin_softly():
    track = sweeps_track()
    assert np.abs(track).max() <= PEAK
    first = np.flatnonzero(track)[0]
    # Story 15: the first 5 ms below half the peak.
    assert np.abs(track[first : first + 240]).max() < 0.5 * PEAK


def test_through_a_port_from_end_to_end():
    check = check_equipment(FakePort(lag_s=0.123, cue_gain=0.2), never)
    assert check.delay_s == pytest.approx(0.123, abs=0.002)
    assert check.problems == (), "the fake stamps its whole delay"


TODAY = datetime.date(2026, 3, 2)


def test_a_good_check_is_remembered_for_its_pair_of_devices_only(tmp_path):
    check = judge_sweeps(back(0.05), PASSAGE)
    remember(tmp_path, "laptop", "laptop mic", check, TODAY)
    pair = recall(tmp_path, "laptop", "laptop mic")
    assert pair.beyond_buffers_s == pytest.approx(0.03, abs=0.002)
    assert pair.checked == TODAY
    assert recall(tmp_path, "earphones", "laptop mic") is None


@pytest.mark.parametrize(
    "failed", [back(0.3), np.zeros(sweeps_track().size, np.float32)], ids=["wireless", "blocked"]
)
def test_a_check_that_failed_or_found_a_wireless_link_forgets_the_earlier_one(tmp_path, failed):
    remember(tmp_path, "laptop", "laptop mic", judge_sweeps(back(0.05), PASSAGE), TODAY)
    assert remember(tmp_path, "laptop", "laptop mic", judge_sweeps(failed, PASSAGE), TODAY) is None
    assert recall(tmp_path, "laptop", "laptop mic") is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"pairs": 3}',
        '{"pairs": [{}]}',
        '{"pairs": [' * 50,
        '{"pairs": [{"loudspeaker": "a", "microphone": "b", "beyond_buffers_s": NaN, "plus_minus_s": 0.001, "checked": "2026-03-02"}]}',
    ],
)
def test_a_spoilt_file_of_checks_counts_as_none(tmp_path, text):
    (tmp_path / "checked-devices.json").write_text(text)
    assert recall(tmp_path, "a", "b") is None
    assert remember(tmp_path, "a", "b", judge_sweeps(back(0.05), PASSAGE), TODAY) is not None


@pytest.mark.parametrize("problem", Problem)
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_problem_has_its_sentence(problem, language):
    check = Check(None, None, None, 0, 0.0, (problem,))
    (sentence,) = told_check(check, remembered=False, phrases=load_phrases(language))
    assert len(sentence) > 20


def test_broken_off_it_says_so():
    with pytest.raises(DeviceError, match="broken off"):
        check_equipment(FakePort(), lambda: True)
    with pytest.raises(DeviceError):
        check_equipment(NoDevice(), never)
