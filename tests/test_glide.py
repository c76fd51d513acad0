"""The glide: one unbroken voice above the band of the feet that lands on every footfall."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.cues.glide import FALL_S, HIGH_HZ, LOW_HZ, glide
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.patterns.pattern import Beat, Foot, Pattern, Side, Step, TempoRange
from cuekit.patterns.schedule import CueLevel, Fade, Plan, make_schedule
from tests.made_pattern import gallop


def walk():
    beats = (
        Beat(Fraction(0), Fraction(1), Step(Foot.RIGHT)),
        Beat(Fraction(1), Fraction(1), Step(Foot.LEFT)),
    )
    return Pattern("walk", "Walk", "one step", "", Side.RIGHT, beats, TempoRange(110, 40, 200), None, 4, "")


def sampled(schedule):
    return glide(schedule).samples(0, round((schedule.end_s + 0.5) * SAMPLE_RATE_HZ))


def analytic(samples):
    spectrum = np.fft.fft(samples)
    spectrum[1 : spectrum.size // 2] *= 2
    spectrum[spectrum.size // 2 :] = 0
    return np.fft.ifft(spectrum)


@pytest.mark.parametrize("pattern", [gallop(), walk()], ids=["gallop", "walk"])
def test_it_is_loudest_at_each_landing(pattern):
    schedule = make_schedule(pattern, Plan(100, 12))
    level = np.abs(analytic(sampled(schedule)))
    for cue in schedule.footfalls:
        at = round(cue.time_s * SAMPLE_RATE_HZ)
        near = level[at - 2400 : at + 2400]
        assert abs(np.argmax(near) - 2400) / SAMPLE_RATE_HZ < 0.002
        assert near[2400] > 3 * level[at + round(FALL_S * SAMPLE_RATE_HZ)]


def test_it_rises_through_the_long_interval_and_falls_through_the_short_one():
    schedule = make_schedule(gallop(), Plan(100, 12))
    # The overtone is left out by taking only what lies below 2.2 kHz.
    samples = sampled(schedule)
    spectrum = np.fft.rfft(samples)
    spectrum[np.fft.rfftfreq(samples.size, 1 / SAMPLE_RATE_HZ) > 2200] = 0
    turns = np.unwrap(np.angle(analytic(np.fft.irfft(spectrum, samples.size)))) / (2 * np.pi)
    pitch_hz = np.diff(turns) * SAMPLE_RATE_HZ
    for cue in schedule.footfalls[2:-1]:
        at = round(cue.time_s * SAMPLE_RATE_HZ)
        here_hz = np.median(pitch_hz[at - 200 : at + 200])
        assert here_hz == pytest.approx(HIGH_HZ if cue.place else LOW_HZ, rel=0.03)


def test_it_keeps_out_of_the_band_of_the_feet():
    for pattern, tempo_bpm in ((gallop(), 60), (gallop(), 150), (walk(), 60), (walk(), 200)):
        samples = sampled(make_schedule(pattern, Plan(tempo_bpm, 30)))
        power = np.abs(np.fft.rfft(samples)) ** 2
        low = power[np.fft.rfftfreq(samples.size, 1 / SAMPLE_RATE_HZ) < 500].sum()
        assert 10 * np.log10(low / power.sum()) < -60


def test_it_has_no_seam_no_click_and_no_gap():
    schedule = make_schedule(gallop(), Plan(100, 12))
    samples = sampled(schedule)
    steepest = 2 * np.pi * (HIGH_HZ + 0.2 * 2 * HIGH_HZ) / 1.2 / SAMPLE_RATE_HZ * glide(schedule).peak
    assert np.abs(np.diff(samples)).max() < 1.02 * steepest
    power = np.abs(np.fft.rfft(samples)) ** 2
    assert (
        10 * np.log10(power[np.fft.rfftfreq(samples.size, 1 / SAMPLE_RATE_HZ) > 8000].sum() / power.sum())
        < -60
    )
    sounding = np.abs(analytic(samples))[
        round(schedule.go_s * SAMPLE_RATE_HZ) : round(schedule.footfalls[-1].time_s * SAMPLE_RATE_HZ)
    ]
    assert sounding.min() > 0.05 * sounding.max()


@given(cuts=st.lists(st.integers(-30_000, 500_000), min_size=1, max_size=6, unique=True))
@settings(max_examples=25, deadline=None)
def test_any_stretch_of_it_is_that_stretch_of_the_whole(cuts):
    line = glide(make_schedule(gallop(), Plan(97.3, 10)))
    edges = sorted({-30_000, *cuts, 500_000})
    pieces = [line.samples(a, b - a) for a, b in zip(edges, edges[1:], strict=False)]
    assert np.array_equal(np.concatenate(pieces), line.samples(-30_000, 530_000))


def test_it_fades_and_leaves_with_the_cue():
    plan = Plan(100, 12, fade=Fade(full=4, softer=4), count_in=2)
    schedule = make_schedule(gallop(), plan)
    samples = sampled(schedule)
    level = np.abs(analytic(samples))
    at = [round(cue.time_s * SAMPLE_RATE_HZ) for cue in schedule.footfalls]
    assert level[at[8]] == pytest.approx(level[at[4]] * 10 ** (-6 / 20), rel=0.05)
    assert level[at[12]] == pytest.approx(level[at[4]] * 10 ** (-12 / 20), rel=0.05)
    assert np.abs(samples[at[15] + round(FALL_S * SAMPLE_RATE_HZ) + 1 :]).max() == 0.0


def test_a_bout_without_cue_has_no_glide():
    silent = glide(make_schedule(gallop(), Plan(100, 8, CueLevel.C1)))
    assert silent.peak == 0.0
    assert not silent.samples(0, 48_000).any()


def test_at_full_the_line_is_the_same_and_its_landings_are_not_softer():
    soft = glide(make_schedule(gallop(), Plan(100, 8, CueLevel.C3)))
    assert soft.peak == pytest.approx(soft.at_full().peak * 10 ** (-6 / 20))
    assert soft.at_full().times_s is soft.times_s
