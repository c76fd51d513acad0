"""What the made-up learner and room do is what they were told to do, against published laws."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound
from cuekit.errors import PatternError
from cuekit.patterns.pattern import Beat, Foot, Pattern, ShareRange, Side, Step, TempoRange
from cuekit.patterns.schedule import CueLevel, Plan, make_schedule
from cuekit.simulation.simulate import Learner, Rest, follow, joined, moved, nobody, perform
from cuekit.simulation.simulate_feet import TwoKinds, model_feet, recorded_feet
from cuekit.simulation.simulate_rooms import Leak, NoiseColour, Room, at_microphone, record

TWO_TO_ONE = Fraction(2, 3)
TEMPO = TempoRange(100, 60, 160)


def one_beat(feet, share=None):
    steps = [Step(foot) for foot in feet]
    beat = Beat(Fraction(0), Fraction(1), steps[0], steps[1] if share else None, share)
    shares = ShareRange(share, Fraction(1, 2), Fraction(3, 4)) if share else None
    return Pattern("made", "made", "one beat", "", Side.RIGHT, (beat,), TEMPO, shares, 4, "")


UNEVEN = one_beat((Foot.RIGHT, Foot.LEFT), TWO_TO_ONE)
EVEN = one_beat((Foot.RIGHT,))
JUMP = one_beat((Foot.BOTH,))
DRY = Room(rt60_s=0.0, noise_below_feet_db=None)


def shares_of(times_s):
    """Long shares of a row of landings that begins on a lead one."""
    long_s, short_s = times_s[1:-1:2] - times_s[:-2:2], times_s[2::2] - times_s[1:-1:2]
    return long_s / (long_s + short_s)


# The learner


def test_perfect_gallop_is_400_then_200_ms():
    """science.md 8, oracle 1: 100 beats/min at 2:1."""
    times_s = perform(UNEVEN, Learner(tempo_bpm=100), beats=6, seed=1, start_s=2.0).times_s
    np.testing.assert_allclose(times_s[0], 2.0)
    np.testing.assert_allclose(np.diff(times_s), [0.4, 0.2] * 5 + [0.4], atol=1e-12)


@pytest.mark.parametrize("scatter_s", [0.005, 0.010, 0.020])
@pytest.mark.parametrize("share", [0.5, 0.6, 2 / 3, 0.75])
def test_scatter_moves_the_share_by_the_jitter_law(scatter_s, share):
    """science.md 8, oracle 6: SD(share) = (s/T) sqrt(2 (1 - p + p^2)) within 3 %; the median is not biased."""
    learner = Learner(tempo_bpm=100, long_share=share, scatter_s=scatter_s)
    shares = shares_of(perform(UNEVEN, learner, beats=20_000, seed=6).times_s)
    law = scatter_s / 0.6 * np.sqrt(2 * (1 - share + share**2))
    assert np.std(shares) == pytest.approx(law, rel=0.03)
    assert np.median(shares) == pytest.approx(share, abs=4 * law / np.sqrt(shares.size))


def test_mean_ratio_is_biased_upwards_where_the_median_share_is_not():
    """science.md 1a: 20 ms scatter at 3:1 and 600 ms puts the mean ratio about 0.13 too high."""
    learner = Learner(tempo_bpm=100, long_share=0.75, scatter_s=0.020)
    shares = shares_of(perform(UNEVEN, learner, beats=20_000, seed=7).times_s)
    assert np.mean(shares / (1 - shares)) - 3 == pytest.approx(0.13, abs=0.04)


@pytest.mark.parametrize(
    ("clock_ms", "landing_ms", "r1", "variance_ms2"),
    [(20, 0, 0.0, 400), (20, 10, -1 / 6, 600), (20, 20, -1 / 3, 1200), (0, 20, -1 / 2, 800)],
)
def test_clock_and_landing_errors_are_those_of_wing_and_kristofferson(clock_ms, landing_ms, r1, variance_ms2):
    """science.md 8, oracle 7 (Wing & Kristofferson 1973): lag-1 correlation and variance at n = 200,000."""
    learner = Learner(tempo_bpm=60, timekeeper_s=clock_ms / 1000, scatter_s=landing_ms / 1000)
    intervals_ms = 1000 * np.diff(perform(EVEN, learner, beats=200_000, seed=8).times_s)
    away = intervals_ms - intervals_ms.mean()
    assert np.mean(away[1:] * away[:-1]) / np.mean(away**2) == pytest.approx(r1, abs=0.01)
    assert np.var(intervals_ms) == pytest.approx(variance_ms2, rel=0.02)


def test_speeding_up_ends_at_the_stated_tempo():
    times_s = perform(EVEN, Learner(tempo_bpm=100, drift_percent=15), beats=200, seed=1).times_s
    intervals_s = np.diff(times_s)
    assert 60 / intervals_s[0] == pytest.approx(100, rel=0.002)
    assert 60 / intervals_s[-1] == pytest.approx(115, rel=0.002)


def test_without_deviation_a_learner_does_what_the_schedule_says():
    plan = Plan(93.7, 40, CueLevel.C4, tempo_change_percent=-8, count_in=0)
    due_s = [cue.time_s for cue in make_schedule(UNEVEN, plan).footfalls]
    alone = perform(UNEVEN, Learner(tempo_bpm=93.7, drift_percent=-8), beats=40, seed=1, start_s=0.0)
    led = follow(make_schedule(UNEVEN, plan), Learner(), seed=1)
    np.testing.assert_allclose(alone.times_s, due_s, atol=1e-9)
    np.testing.assert_allclose(led.times_s, due_s, atol=1e-9)
    assert alone.end_s == pytest.approx(led.end_s) == pytest.approx(make_schedule(UNEVEN, plan).end_s)


def test_following_with_another_share_keeps_the_beats_of_the_cue():
    schedule = make_schedule(UNEVEN, Plan(100, 8, CueLevel.C4))
    times_s = follow(schedule, Learner(long_share=0.5, asynchrony_s=-0.03), seed=1).times_s
    np.testing.assert_allclose(np.diff(times_s), 0.3)
    assert times_s[0] == pytest.approx(schedule.go_s - 0.03)


def test_missed_landings_are_missing_and_nothing_else_moves():
    whole = perform(UNEVEN, Learner(scatter_s=0.02), beats=8, seed=3)
    gone = frozenset({(2, 1), (5, 0)})
    holed = perform(UNEVEN, Learner(scatter_s=0.02, not_made=gone, start_on_short=True), beats=8, seed=3)
    kept = [each for each in whole.landings if (each.beat, each.place) not in gone | {(0, 0)}]
    assert list(holed.landings) == kept
    assert all(each.place == 0 for each in perform(UNEVEN, Learner(miss_short=1.0), beats=8, seed=3).landings)
    half = perform(UNEVEN, Learner(miss_short=0.5), beats=2000, seed=3)
    assert sum(each.place == 1 for each in half.landings) == pytest.approx(1000, abs=100)


def test_gallop_that_becomes_a_run_is_even_from_that_beat_on():
    shares = shares_of(perform(UNEVEN, Learner(even_from_beat=4), beats=9, seed=1).times_s)
    np.testing.assert_allclose(shares, [2 / 3] * 4 + [0.5] * 4)


def test_rest_comes_after_its_beat_and_moves_all_that_follows():
    without = perform(UNEVEN, Learner(), beats=8, seed=1)
    with_rest = perform(UNEVEN, Learner(rests=(Rest(4, 3.0),)), beats=8, seed=1)
    np.testing.assert_allclose(with_rest.times_s - without.times_s, [0.0] * 10 + [3.0] * 6)
    assert with_rest.end_s == without.end_s + 3.0


def test_extra_taps_belong_to_no_beat_and_stand_apart():
    bout = perform(UNEVEN, Learner(tempo_bpm=60, extra_per_min=30), beats=120, seed=4)
    extras = [each for each in bout.landings if each.beat is None]
    assert 20 < len(extras) < 65  # 60 on average over two minutes, fewer where they would be too near
    assert np.diff(bout.times_s).min() >= 0.12


def test_two_feet_and_heel_and_toe_spread_only_the_landings_they_belong_to():
    apart = perform(JUMP, Learner(landing_spread_s=0.06, heel_toe_s=0.1), beats=3, seed=1)
    walk = perform(EVEN, Learner(landing_spread_s=0.06, heel_toe_s=0.1), beats=3, seed=1)
    assert {each.spread_s for each in apart.landings} == {0.06}
    assert {each.spread_s for each in walk.landings} == {0.1}
    assert [each.spread_s for each in apart.footfalls] == [0.06] * 3


def test_softer_short_landings_are_softer_by_that_much():
    bout = perform(UNEVEN, Learner(short_db=-10, level_scatter_db=2), beats=500, seed=1)
    by_place = [np.mean([each.level_db for each in bout.landings if each.place == place]) for place in (0, 1)]
    assert by_place[1] - by_place[0] == pytest.approx(-10, abs=0.5)


@given(st.floats(40, 200), st.floats(0.5, 0.8), st.floats(0, 0.05), st.integers(0, 2**32))
def test_landings_are_in_order_and_the_same_for_the_same_seed(tempo_bpm, share, scatter_s, seed):
    learner = Learner(tempo_bpm=tempo_bpm, long_share=share, scatter_s=scatter_s, extra_per_min=20)
    bout = perform(UNEVEN, learner, beats=12, seed=seed)
    assert (np.diff(bout.times_s) >= 0).all()
    assert bout == perform(UNEVEN, learner, beats=12, seed=seed)
    assert bout != perform(UNEVEN, learner, beats=12, seed=seed + 1)


def test_joined_and_moved_performances_keep_every_landing():
    one = perform(UNEVEN, Learner(), beats=4, seed=1)
    both = joined(moved(one, 10.0), one)
    assert len(both.landings) == 16
    assert (np.diff(both.times_s) >= 0).all()
    assert both.end_s == one.end_s + 10.0


@pytest.mark.parametrize(
    ("learner", "beats"), [(Learner(tempo_bpm=0), 4), (Learner(tempo_bpm=float("nan")), 4), (Learner(), 0)]
)
def test_learner_out_of_bounds_is_refused(learner, beats):
    with pytest.raises(PatternError, match="got"):
        perform(UNEVEN, learner, beats=beats, seed=1)


# The way to the microphone


def test_learner_who_walks_away_sounds_slower_by_the_doppler_law_with_the_share_unchanged():
    """science.md 8, oracle 13: 2 m/s away is +0.58 %, towards -0.58 %, share the same to 1e-6."""
    bout = perform(UNEVEN, Learner(), beats=30, seed=1, start_s=0.0)
    for speed_m_s, percent in ((2.0, 0.58), (-2.0, -0.58)):
        room = Room(path=((0.0, 50.0), (20.0, 50.0 + 20.0 * speed_m_s)))
        heard_s = np.array([each.time_s for each in at_microphone(bout, room)])
        bias = 100 * (np.diff(heard_s) / np.diff(bout.times_s) - 1)
        np.testing.assert_allclose(bias, percent, atol=0.005)
        np.testing.assert_allclose(shares_of(heard_s), shares_of(bout.times_s), atol=1e-6)


def test_from_3_to_15_m_adds_35_ms():
    """science.md 8, oracle 13: 12 m at 343 m/s."""
    bout = perform(EVEN, Learner(), beats=20, seed=1, start_s=0.0)
    room = Room(path=((0.0, 3.0), (bout.times_s[-1], 15.0)))
    late_s = np.array([each.time_s for each in at_microphone(bout, room)]) - bout.times_s
    assert 1000 * (late_s[-1] - late_s[0]) == pytest.approx(35.0, abs=0.05)


def first_sound_s(samples, rate_hz, after_s):
    """Where samples rise above a hundredth of their peak, from a time on."""
    start = round(after_s * rate_hz)
    return (start + int(np.argmax(np.abs(samples[start:]) > 1e-2 * np.abs(samples).max()))) / rate_hz


@pytest.mark.parametrize("rate_hz", [16_000, 44_100, 48_000])
def test_each_landing_begins_in_the_recording_when_the_truth_says(rate_hz):
    bout = perform(UNEVEN, Learner(tempo_bpm=60, scatter_s=0.02), beats=8, seed=5)
    room = replace(DRY, path=((0.0, 2.0), (9.0, 20.0)))
    take = record(bout, room, seed=5, sample_rate_hz=rate_hz)
    assert take.sample_rate_hz == rate_hz
    for truth_s in take.times_s:
        silent_before = first_sound_s(take.samples, rate_hz, truth_s - 0.02)
        assert silent_before == pytest.approx(truth_s, abs=0.001)


def test_same_seed_gives_the_same_bytes_and_another_does_not():
    bout = perform(UNEVEN, Learner(), beats=3, seed=1)
    takes = [record(bout, Room(), seed=seed).samples.tobytes() for seed in (9, 9, 10)]
    assert takes[0] == takes[1] != takes[2]


def decay_s(samples, low_hz, high_hz):
    """Reverberation time of a tail by Schroeder's backward integration, -5 to -25 dB (ISO 3382-2)."""
    band = signal.sosfilt(
        signal.butter(4, [low_hz, high_hz], "band", fs=SAMPLE_RATE_HZ, output="sos"), samples
    )
    left_db = 10 * np.log10(np.cumsum(band[::-1] ** 2)[::-1] / np.sum(band**2))
    used = (left_db < -5) & (left_db > -25)
    t = np.arange(band.size) / SAMPLE_RATE_HZ
    return -60 / np.polyfit(t[used], left_db[used], 1)[0]


class Click:
    """A landing that is a single sample, so that the recording is the room's answer."""

    def landing(self, rng, place):
        return np.ones(1)


@pytest.mark.parametrize("rt60_s", [0.4, 1.0, 2.0])
def test_room_dies_away_in_its_reverberation_time_and_sooner_in_the_highs(rt60_s):
    bout = perform(EVEN, Learner(level_scatter_db=0), beats=1, seed=1, start_s=0.0)
    room = Room(rt60_s=rt60_s, noise_below_feet_db=None, path=((0.0, 10.0),))
    take = record(bout, room, seed=2, feet=Click(), after_s=2 * rt60_s)
    answer = take.samples[round(0.05 * SAMPLE_RATE_HZ) :].astype(float)
    assert decay_s(answer, 300, 700) == pytest.approx(rt60_s, rel=0.15)
    assert decay_s(answer, 4000, 8000) < 0.75 * rt60_s


def test_direct_and_room_sound_are_equal_at_the_critical_distance():
    room = Room(rt60_s=1.0, volume_m3=1000.0, noise_below_feet_db=None)
    room = replace(room, path=((0.0, room.critical_m),))
    bout = perform(EVEN, Learner(level_scatter_db=0), beats=1, seed=1, start_s=0.0)
    ratios = []
    for seed in range(8):
        answer = record(bout, room, seed=seed, feet=Click(), after_s=2.0).samples.astype(float)
        at = int(np.argmax(np.abs(answer)))
        middle = np.abs(np.fft.rfft(answer[at + 1 :], 2**18)) ** 2
        frequencies_hz = np.fft.rfftfreq(2**18, 1 / SAMPLE_RATE_HZ)
        ratios.append(middle[(frequencies_hz > 250) & (frequencies_hz < 1000)].mean() / answer[at] ** 2)
    assert 10 * np.log10(np.mean(ratios)) == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize("below_db", [0.0, 10.0, 20.0])
@pytest.mark.parametrize("colour", list(NoiseColour))
def test_noise_lies_the_stated_level_below_the_feet(below_db, colour):
    bout = perform(EVEN, Learner(), beats=10, seed=1, start_s=3.0)
    noisy = record(bout, replace(DRY, noise_below_feet_db=below_db, noise_colour=colour), seed=1).samples
    clean = record(bout, DRY, seed=1).samples
    before = round(2.9 * SAMPLE_RATE_HZ)
    scale = np.dot(clean, noisy - noisy.mean()) / np.dot(clean, clean)
    noise_rms = np.std(noisy[:before] / scale)
    width = round(0.02 * SAMPLE_RATE_HZ)
    loudest = []
    for time_s in record(bout, DRY, seed=1).times_s:
        start = round(time_s * SAMPLE_RATE_HZ)
        energy = np.convolve(
            clean[start : start + 4 * width].astype(float) ** 2, np.ones(width) / width, "valid"
        )
        loudest.append(np.sqrt(energy.max()))
    assert 20 * np.log10(np.median(loudest) / noise_rms) == pytest.approx(below_db, abs=1.0)


def test_cue_leaks_in_at_its_level_and_alone_where_nobody_moves():
    tone = 0.5 * np.sin(2 * np.pi * 1000 * np.arange(4800) / SAMPLE_RATE_HZ)
    alone = record(nobody(3.0), DRY, seed=1, leak=Leak(tone, start_s=1.0, distance_m=3.43))
    assert alone.landings == ()
    assert first_sound_s(alone.samples, SAMPLE_RATE_HZ, 0.0) == pytest.approx(1.01, abs=0.001)
    bout = perform(EVEN, Learner(), beats=4, seed=1, start_s=2.0)
    take = record(bout, DRY, seed=1, leak=Leak(tone, start_s=0.5, above_feet_db=12.0)).samples
    cue = take[round(0.52 * SAMPLE_RATE_HZ) : round(0.58 * SAMPLE_RATE_HZ)]
    feet = np.median([np.abs(take[round(t * SAMPLE_RATE_HZ) :][:3840]).max() for t in bout.times_s])
    assert 6 < 20 * np.log10(np.abs(cue).max() / feet) < 15  # 12 dB in RMS, peaks differ by the crest


def test_loudest_sample_is_as_loud_as_asked():
    take = record(perform(EVEN, Learner(), beats=4, seed=1), Room(peak_db=-20.0), seed=1)
    assert 20 * np.log10(np.abs(take.samples).max()) == pytest.approx(-20.0, abs=0.01)
    assert take.recording("skip").name == "skip"


# The feet


def test_made_landing_is_a_thump_of_the_footfall_band_that_dies_away():
    """science.md 5: 50-300 Hz, dry decay 20-80 ms (from memory there)."""
    rng = np.random.default_rng(1)
    for seed in range(5):
        sound = model_feet(seed).landing(rng, 0)
        power = np.abs(np.fft.rfft(sound)) ** 2
        frequencies_hz = np.fft.rfftfreq(sound.size, 1 / SAMPLE_RATE_HZ)
        assert power[frequencies_hz < 500].sum() > 0.8 * power.sum()
        late = np.sum(sound[round(0.1 * SAMPLE_RATE_HZ) :] ** 2) / np.sum(sound**2)
        assert late < 0.05


def test_no_two_landings_are_alike():
    feet, rng = model_feet(1), np.random.default_rng(1)
    one, other = feet.landing(rng, 0), feet.landing(rng, 0)
    assert np.corrcoef(one, other)[0, 1] < 0.99


def test_recorded_landing_begins_at_its_contact():
    samples = np.concatenate([np.zeros(240), np.hanning(960)]).astype(np.float32)
    clip = Sound(samples, 240 / SAMPLE_RATE_HZ)
    landing = recorded_feet([clip]).landing(np.random.default_rng(1), 0)
    assert np.argmax(landing > 1e-4) <= 10
    assert landing.max() == pytest.approx(1.0, abs=0.01)


def test_step_and_hop_can_sound_different():
    hop = Sound(np.ones(100, np.float32), 0.0)
    both = TwoKinds(model_feet(1), recorded_feet([hop]))
    assert (
        both.landing(np.random.default_rng(1), 1).size < 110 < both.landing(np.random.default_rng(1), 0).size
    )
