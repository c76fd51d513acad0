"""The main job against published and independent numbers; the source stands beside each check.

Oracle numbers are those of the team's science page, section 8. Those that belong to one module stand
with it: 7 (simulator), 10 (progress), the grid of 16 (rendering).
"""

from fractions import Fraction

import mir_eval
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import circmean

from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import as_ratio, share_of_ratio
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import Plan, make_schedule
from cuekit.records.progress import nap, tau
from cuekit.rhythm.alignment import HeardBeat
from cuekit.rhythm.asynchrony import asynchrony, mean_resultant
from cuekit.rhythm.measures import TimedBeat, beat_shares
from cuekit.rhythm.theil_sen import theil_sen
from cuekit.simulation.simulate_rooms import Room, at_microphone
from tests.bouts import moves, score_of, train
from tests.hearing.scoring import matched


def npvi(durations):
    """Normalised pairwise variability index by its definition (Grabe & Low 2002)."""
    first, second = np.array(durations[:-1]), np.array(durations[1:])
    return 100 * np.mean(np.abs(first - second) / ((first + second) / 2))


def npvi_of_share(share):
    """Of a strict alternation with this long share: 200 |2p - 1| (algebra from the definition)."""
    return 200 * abs(2 * share - 1)


# 1 and 2: perfect trains


@pytest.mark.parametrize("first", [0, 1])
def test_1_a_train_of_400_and_200_ms(first):
    """Computed by hand: share 2/3, 2:1, CV of the intervals 1/3, 100 beats and 200 footfalls a minute."""
    times_s = train(0.4, 0.2, times=12)[first:]
    measures = score_of(times_s, "gallop").measures
    intervals_s = np.diff(times_s)
    assert measures.long_share.value == pytest.approx(2 / 3, abs=1e-9)
    assert measures.long_share.ratio == pytest.approx(2.0, abs=1e-8)
    assert measures.tempo_bpm == pytest.approx(100.0)
    assert measures.spread_percent == pytest.approx(0.0, abs=1e-6)
    assert (
        npvi(intervals_s)
        == pytest.approx(npvi_of_share(measures.long_share.value))
        == pytest.approx(66.667, abs=1e-3)
    )
    even_count = intervals_s[: 2 * (len(intervals_s) // 2)]
    assert np.std(even_count) / np.mean(even_count) == pytest.approx(abs(2 * measures.long_share.value - 1))
    assert 60 / np.mean(even_count) == pytest.approx(200)


def test_1_starting_on_the_short_sound_says_which_sound_came_first():
    from_lead, from_short = (score_of(train(0.4, 0.2, times=12)[first:], "gallop") for first in (0, 1))
    assert from_lead.alignment.places[0] == (0, 0)
    assert from_short.alignment.places[0] == (0, 1)
    assert from_short.advice.fault is None


def test_2_a_train_of_300_and_300_ms_is_a_fault_of_a_gallop_and_right_for_a_run():
    """science.md 8.2 by hand; at 200 steps a minute the even skill is a run (trade.md 2.0)."""
    times_s = train(0.3, times=25)
    gallop, run = (score_of(times_s, name) for name in ("gallop", "run"))
    assert gallop.measures.long_share.value == pytest.approx(0.5, abs=1e-9)
    assert npvi(np.diff(times_s)) == pytest.approx(npvi_of_share(0.5), abs=1e-9)
    assert gallop.measures.rhythm == "even"
    assert gallop.advice.fault.id == "even-for-uneven"
    assert gallop.measures.beats_on_pattern == 0
    assert run.advice.fault is None
    assert run.measures.beats_on_pattern == run.measures.beats == 26
    for asked_bpm in (None, 200):
        walk = score_of(times_s, "walk", tempo_bpm=asked_bpm)
        assert (walk.advice.fault, walk.measures.rhythm) == (None, "even")


# 3 and 4: ratios and the index of pairwise variability


@pytest.mark.parametrize(
    ("ratio", "share", "phase_deg", "index"),
    [("1:1", 0.5, 180, 0.0), ("3:2", 0.6, 216, 40.0), ("65:35", 0.65, 234, 60.0), ("2:1", 2 / 3, 240, 200 / 3), ("3:1", 0.75, 270, 100.0)],
)  # fmt: skip
def test_3_table_of_ratios(ratio, share, phase_deg, index):
    """Arithmetic of the ratio; nPVI of the pairs 1:1, 2:3, 1:2, 1:3 as in thebeat's and music21's documents."""
    exact = share_of_ratio(ratio)
    assert float(exact) == pytest.approx(share, abs=1e-6)
    assert 360 * float(exact) == pytest.approx(phase_deg, abs=1e-6)
    heard = score_of(train(0.6 * share, 0.6 * (1 - share), times=12), "gallop").measures.long_share
    assert heard.value == pytest.approx(share, abs=1e-6)
    assert npvi_of_share(heard.value) == pytest.approx(index, abs=1e-3)
    assert npvi([share, 1 - share] * 6) == pytest.approx(index, abs=1e-6)
    assert share_of_ratio(as_ratio(Fraction(exact))) == exact


def test_4_published_values_of_the_index():
    """Daniele & Patel 2013, appendix: 42.2; music21's example C4 D8 C4 D8 C4: 66.667."""
    third = 1 / 3
    list_of_2013 = [1, 0.5, 0.5, 1, 0.5, 0.5, third, third, third, 2, *[third] * 6, 1.5, 1, 0.5]
    assert npvi(list_of_2013) == pytest.approx(42.2, abs=0.05)
    assert npvi([1, 0.5, 1, 0.5, 1]) == pytest.approx(66.667, abs=1e-3)
    assert npvi_of_share(2 / 3) == pytest.approx(66.667, abs=1e-3)


# 5 and 6: tempo and jitter


@given(scale=st.floats(0.5, 2.0), seed=st.integers(0, 500))
@settings(max_examples=25, deadline=None)
def test_5_a_change_of_tempo_changes_the_tempo_alone(scale, seed):
    """Scaling all intervals is exact: share, nPVI and relative spread stay (definition of a ratio)."""
    times_s = moves("gallop", seed=seed, scatter_s=0.012).times_s
    own = score_of(times_s, "gallop", tempo_bpm=100).measures
    scaled = score_of(times_s * scale, "gallop", tempo_bpm=100 / scale).measures
    assert scaled.long_share.value == pytest.approx(own.long_share.value, abs=1e-9)
    assert scaled.spread_percent == pytest.approx(own.spread_percent, rel=1e-6)
    assert scaled.tempo_bpm * scale == pytest.approx(own.tempo_bpm, rel=1e-9)
    assert npvi(np.diff(times_s * scale)) == pytest.approx(npvi(np.diff(times_s)), rel=1e-9)


@pytest.mark.parametrize("scatter_s", [0.005, 0.010, 0.020])
@pytest.mark.parametrize("share", [0.5, 2 / 3, 0.75])
def test_6_jitter_law_of_the_long_share(share, scatter_s):
    """SD(share) = (s/T) sqrt(2 (1 - p + p^2)), first-order error propagation; 20,000 strides within 3 %.

    The median share is not moved by the scatter, the mean ratio is: so the share is what is computed.
    """
    leads_s = moves("gallop", beats=20_001, seed=6, long_share=share, scatter_s=scatter_s).times_s
    plan = load_pattern("gallop").beats[0]
    row = tuple(
        TimedBeat(HeardBeat(n, 0, 0, 0, 0, False), plan, *leads_s[2 * n : 2 * n + 3]) for n in range(20_000)
    )
    shares = beat_shares(row)
    assert np.std(shares) == pytest.approx(scatter_s / 0.6 * np.sqrt(2 * (1 - share + share**2)), rel=0.03)
    assert np.median(shares) == pytest.approx(share, abs=0.001)
    if scatter_s == 0.020:
        assert np.mean(shares / (1 - shares)) > share / (1 - share) + 0.005


# 8: directions


def test_8_circular_mean_and_resultant_length():
    """Six angles: astropy's circmean document, 48.6272 deg and variance 0.163564 (= 1 - R).

    Nine angles: Mardia & Jupp's roulette data (from memory), mean 51.05 deg, R 0.7110; scipy agrees.
    """
    for angles_deg, mean_deg, length in (
        ([51, 67, 40, 109, 31, 358], 48.6272, 1 - 0.163564),
        ([43, 45, 52, 61, 75, 88, 88, 279, 357], 51.05, 0.7110),
    ):
        found = mean_resultant(np.array(angles_deg) / 360)
        assert np.degrees(np.angle(found)) == pytest.approx(mean_deg, abs=5e-3)
        assert np.degrees(np.angle(found)) == pytest.approx(np.degrees(circmean(np.radians(angles_deg))))
        assert abs(found) == pytest.approx(length, abs=5e-5)


def test_8_rayleigh_of_four_angles_from_our_resultant_length():
    """astropy's rayleightest document: [130, 90, 0, 145] deg, p = 0.256349; its series in z = n R^2."""
    n = 4
    z = n * abs(mean_resultant(np.array([130, 90, 0, 145]) / 360)) ** 2
    series = 1 + (2 * z - z**2) / (4 * n) - (24 * z - 132 * z**2 + 76 * z**3 - 9 * z**4) / (288 * n**2)
    assert np.exp(-z) * series == pytest.approx(0.256349, abs=1e-5)


def test_8_directions_wrap_round():
    assert np.degrees(np.angle(mean_resultant(np.array([359, 1]) / 360))) == pytest.approx(0.0, abs=1e-9)


def test_8_feet_half_a_beat_apart_each_way_have_no_direction():
    cues_s = np.arange(8) * 0.6
    late_s = np.tile([0.0, 0.3], 4)
    assert asynchrony(cues_s, cues_s + late_s, 0.6).resultant_length == pytest.approx(0.0, abs=1e-9)
    assert asynchrony(cues_s, cues_s + 0.6, 0.6).resultant_length == pytest.approx(1.0)
    assert asynchrony(np.array([]), np.array([]), 0.6) is None


# 9 and 10: counting


def test_9_one_to_one_matching_of_footfalls():
    """mir_eval 0.8 onset.f_measure: F .4444, P .4, R .5; and one detection finds one footfall only, F .667."""
    true_s, found_s = np.array([1.0, 2.0, 3.0, 4.0]), np.array([1.02, 2.049, 3.051, 4.3, 5.0])
    reference = mir_eval.onset.f_measure(true_s, found_s, window=0.05)
    hits = len(matched(true_s, found_s, 0.05))
    assert (2 * hits / 9, hits / 5, hits / 4) == pytest.approx(reference)
    assert reference == pytest.approx((0.4444, 0.4, 0.5), abs=5e-5)
    pair_s, one_s = np.array([1.00, 1.04]), np.array([1.02])
    assert 2 * len(matched(pair_s, one_s, 0.05)) / 3 == pytest.approx(0.667, abs=5e-4)
    assert mir_eval.onset.f_measure(pair_s, one_s)[0] == pytest.approx(0.667, abs=5e-4)


def test_10_non_overlap_of_the_published_case():
    """Parker et al. 2011; values of the SingleCaseES documents: NAP .9167, Tau .8333."""
    before, after = (20, 20, 26, 25, 22, 23), (28, 25, 24, 27, 30, 30, 29)
    assert nap(before, after) == pytest.approx(0.9167, abs=5e-5)
    assert tau(before, after) == pytest.approx(0.8333, abs=5e-5)


# 11 to 13: slopes, delays, distance


def test_11_one_wild_beat_does_not_turn_the_slope():
    """scipy.stats.theilslopes of 1, 2, 3, 4, 100, 6, 7 is 1; least squares would be pulled."""
    values = np.array([1, 2, 3, 4, 100, 6, 7.0])
    assert theil_sen(np.arange(7.0), values) == 1.0
    assert np.polyfit(np.arange(7.0), values, 1)[0] > 2.0


@pytest.mark.parametrize("delay_s", [0.04, 0.2])
def test_12_a_constant_delay_changes_the_asynchrony_and_nothing_else(delay_s):
    """Definition: asynchrony is footfall minus cue, so a delay adds to its middle alone."""
    performance = moves("gallop", seed=8, scatter_s=0.02)
    cues_s = moves("gallop", seed=8).times_s
    now, late = (asynchrony(cues_s, performance.times_s + by_s, 0.6) for by_s in (0.0, delay_s))
    assert late.median_s - now.median_s == pytest.approx(delay_s)
    assert late.spread_s == pytest.approx(now.spread_s)
    assert late.resultant_length == pytest.approx(now.resultant_length)
    before, after = (score_of(performance.times_s + by_s, "gallop") for by_s in (0.0, delay_s))
    for measure in ("beats", "beats_on_pattern", "longest_run", "rhythm", "missed", "extra_s"):
        assert getattr(after.measures, measure) == getattr(before.measures, measure)
    for measure in ("tempo_bpm", "spread_percent", "tempo_drift_percent"):
        assert getattr(after.measures, measure) == pytest.approx(getattr(before.measures, measure), rel=1e-6)
    assert after.measures.long_share.value == pytest.approx(before.measures.long_share.value, abs=1e-9)
    assert after.advice == before.advice


@pytest.mark.parametrize(("away_m_s", "percent"), [(2.0, 0.58), (-2.0, -0.58)])
def test_13_walking_away_changes_the_tempo_by_the_doppler_law_and_no_measure_of_rhythm(away_m_s, percent):
    """343 m/s: intervals longer by v/c = 0.58 %, the share the same."""
    performance = moves("gallop", beats=20, scatter_s=0.01, seed=5)
    room = Room(path=((0.0, 50.0), (20.0, 50.0 + 20.0 * away_m_s)))
    still, moving = (
        score_of([landing.time_s for landing in landings], "gallop").measures
        for landings in (performance.landings, at_microphone(performance, room))
    )
    assert 100 * (still.tempo_bpm / moving.tempo_bpm - 1) == pytest.approx(percent, abs=0.01)
    assert moving.long_share.value == pytest.approx(still.long_share.value, abs=1e-6)
    assert moving.spread_percent == pytest.approx(still.spread_percent, abs=1e-6)


def test_13_twelve_metres_add_35_ms():
    (near,), (far,) = (at_microphone(moves("walk", beats=1), Room(path=((0.0, d),))) for d in (3.0, 15.0))
    assert 1000 * (far.time_s - near.time_s) == pytest.approx(35.0, abs=0.05)


# 15: double pulses and lost followers


@pytest.mark.parametrize("apart_s", [0.06, 0.08, 0.1, 0.12, 0.13])
@pytest.mark.parametrize("scatter_s", [0.0, 0.015])
def test_15_heel_and_toe_of_an_even_walk_stay_an_even_walk(apart_s, scatter_s):
    """rhythm.md 2.3: a pair 60-130 ms apart in an even walk is a double pulse, not a gallop."""
    rng = np.random.default_rng(3)
    heels_s = moves("walk", beats=14, scatter_s=scatter_s).times_s
    toes_s = heels_s + apart_s + rng.normal(0, scatter_s / 5, heels_s.size)
    pulses = [Footfall(t, level) for times, level in ((heels_s, -18.0), (toes_s, -22.0)) for t in times]
    score = score_of(sorted(pulses, key=lambda each: each.time_s), "walk")
    assert score.measures.rhythm == "even"
    assert (score.measures.beats, score.advice.fault) == (14, None)
    assert np.median([f.spread_s for f in score.alignment.footfalls]) == pytest.approx(apart_s, abs=0.01)


def test_15_a_gallop_whose_soft_foot_was_lost_is_not_an_even_walk():
    leads_s = moves("gallop", beats=14, scatter_s=0.012).times_s[::2]
    score = score_of(leads_s, "gallop")
    assert score.advice.fault.id == "short-not-heard"
    assert score.measures.rhythm == "unclear"
    assert "even" not in score.advice.summary
    assert "whether a missing sound was not made or not heard" in score.advice.cannot_tell


# 16: what the ear can tell


@pytest.mark.parametrize("name", ["gallop", "walk"])
@pytest.mark.parametrize("tempo_bpm", [60, 97.3, 150])
def test_16_ten_minutes_of_cues_stay_far_below_the_smallest_shift_heard(name, tempo_bpm):
    """Friberg & Sundberg 1995, J Acoust Soc Am 98:2524: 2.5 % of 240 ms, 6 ms; the bar is 1 ms, and no drift."""
    smallest_s = 0.025 * 0.240
    pattern = load_pattern(name)
    beats = int(10 * tempo_bpm)
    schedule = make_schedule(pattern, Plan(tempo_bpm, beats, count_in=0))
    places = np.array(
        [float(pattern.beats[0].place_at(place)) for place in range(len(pattern.beats[0].steps))]
    )
    due_s = (np.arange(beats)[:, None] + places).ravel() * 60 / tempo_bpm
    error_s = np.array([cue.time_s for cue in schedule.footfalls]) - due_s
    assert smallest_s == pytest.approx(0.006)
    assert np.abs(error_s).max() < 0.001 < smallest_s
    assert abs(error_s[-50:].mean() - error_s[:50].mean()) < 1e-6
