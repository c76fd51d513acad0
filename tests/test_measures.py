"""The numbers of a bout, from footfalls typed in by hand and from made learners."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation, theilslopes

from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.long_share import LongShare, RhythmClass, classify, median_with_interval
from cuekit.rhythm.measures import beat_shares, local_periods, on_pattern, timed_beats
from cuekit.rhythm.theil_sen import theil_sen
from cuekit.simulation.simulate import Rest
from tests.bouts import moves, score_of, scored, train

few = settings(max_examples=20, deadline=None)


def measures_of(pattern, times_s, **asked):
    return score_of(times_s, pattern, **asked).measures


def flags(score):
    return [kept for bout in score.alignment.bouts for kept in on_pattern(timed_beats(score.alignment, bout))]


# Perfect bouts


def test_a_perfect_gallop_has_nothing_against_it():
    measures = measures_of("gallop", train(0.4, 0.2, times=12))
    assert measures.long_share.value == pytest.approx(2 / 3)
    assert measures.long_share.ratio == pytest.approx(2.0)
    assert measures.tempo_bpm == pytest.approx(100.0)
    assert measures.spread_percent == pytest.approx(0.0, abs=1e-9)
    assert measures.tempo_drift_percent == pytest.approx(0.0, abs=1e-9)
    assert measures.rhythm is RhythmClass.UNEVEN
    assert measures.beats_on_pattern == measures.longest_run == 12
    assert (measures.missed, measures.extra_s, measures.pauses) == ((), (), ())


@pytest.mark.parametrize("share", [0.5, 0.6, 0.65, 2 / 3, 0.7, 0.75])
def test_the_long_share_of_a_steady_learner_is_what_was_made(share):
    measures = measures_of("gallop", train(0.6 * share, 0.6 * (1 - share), times=10))
    assert measures.long_share.value == pytest.approx(share, abs=1e-6)


def test_the_last_lead_landing_makes_no_beat_of_its_own_in_a_gallop():
    ends_on_lead, ends_on_short = (measures_of("gallop", train(0.4, 0.2, times=8)[:n]) for n in (17, 16))
    assert ends_on_short.complete_beats == 8
    assert ends_on_lead.complete_beats == 8


# Judged by the middle of many beats


@pytest.mark.parametrize(
    ("value", "low", "high", "beats", "word"),
    [
        (0.50, 0.48, 0.53, 8, "even"),
        (0.539, 0.52, 0.56, 8, "even"),
        (0.54, 0.53, 0.56, 8, "nearly even"),
        (0.56, 0.55, 0.57, 8, "nearly even"),
        (0.58, 0.56, 0.62, 8, "uneven"),
        (0.66, 0.63, 0.69, 8, "uneven"),
        (0.82, 0.80, 0.84, 8, "uneven"),
        (0.83, 0.81, 0.85, 8, "clipped"),
        (0.57, 0.53, 0.62, 8, "unclear"),
        (0.66, 0.63, 0.69, 5, "unclear"),
        (0.34, 0.31, 0.37, 8, "uneven"),
    ],
)
def test_the_plain_word_for_a_long_share(value, low, high, beats, word):
    """rhythm.md 3: edges at 0.54, 0.58 and 0.82; unclear under 6 beats or across the whole middle zone."""
    assert classify(LongShare(value, low, high), beats) == word


def test_no_share_no_word():
    assert classify(None, 20) is RhythmClass.UNCLEAR


@given(st.lists(st.floats(0.3, 0.9), min_size=2, max_size=40))
@few
def test_the_interval_holds_the_median_and_is_the_same_every_time(shares):
    found = median_with_interval(np.array(shares))
    assert found.low <= found.value == np.median(shares) <= found.high
    assert min(shares) <= found.low
    assert found.high <= max(shares)
    assert found == median_with_interval(np.array(shares))


@pytest.mark.parametrize("beats", [16, 30])
def test_the_interval_holds_the_true_share_about_95_times_in_100(beats):
    rng = np.random.default_rng(0)
    drawn = [median_with_interval(rng.normal(0.667, 0.05, beats)) for _ in range(300)]
    assert 0.89 <= np.mean([one.low <= 0.667 <= one.high for one in drawn]) <= 0.98


def test_more_beats_make_the_interval_narrower():
    rng = np.random.default_rng(4)
    widths = [
        np.mean(
            [(lambda s: s.high - s.low)(median_with_interval(rng.normal(0.66, 0.05, n))) for _ in range(20)]
        )
        for n in (6, 12, 24)
    ]
    assert widths[0] > widths[1] > widths[2]


@pytest.mark.parametrize(("name", "share"), [("gallop", 0.5), ("walk", None)])
@pytest.mark.parametrize("scatter_s", [0.020, 0.035])
def test_an_even_child_is_not_pushed_away_from_one_half(name, share, scatter_s):
    """Pairing by the longer interval would show 0.54 here; the mean over children stays within 0.01."""
    shares = [
        scored(
            name, beats=12, seed=seed, tempo_bpm=105, long_share=share, scatter_s=scatter_s
        ).measures.long_share.value
        for seed in range(50)
    ]
    assert np.mean(shares) == pytest.approx(0.5, abs=0.01)


def test_a_limp_is_seen_and_which_side_it_is_does_not_change_the_word():
    for first, second in ((0.62, 0.42), (0.42, 0.62)):
        measures = measures_of("walk", train(first, second, times=8))
        assert measures.rhythm is RhythmClass.UNEVEN
        assert measures.long_share.value == pytest.approx(first / 1.04, abs=1e-6)


# Tempo, drift, steadiness


def test_theil_sen_agrees_with_scipy():
    """Sen 1968; scipy.stats.theilslopes as the second opinion."""
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, 20, 31), rng.normal(0, 1, 31)
    assert theil_sen(x, y) == pytest.approx(theilslopes(y, x).slope)


def test_the_slope_of_half_an_hour_is_that_of_evenly_spaced_points_of_both_feet():
    """All pairs of 3,001 beats against those of every third one, by scipy."""
    rng = np.random.default_rng(6)
    x = np.cumsum(rng.uniform(0.5, 0.7, 3001))
    y = 1e-4 * x + 0.02 * rng.normal(size=x.size) + 0.01 * (np.arange(x.size) % 2)  # a limp
    assert theil_sen(x, y) == pytest.approx(theilslopes(y[::3], x[::3]).slope)
    assert theil_sen(x, y) == pytest.approx(1e-4, abs=5e-6)


@pytest.mark.parametrize("drift", [-20.0, -10.0, 8.0, 15.0, 30.0])
@pytest.mark.parametrize("name", ["gallop", "walk"])
def test_a_change_of_tempo_is_told_with_its_sign_and_is_not_unsteadiness(name, drift):
    measures = scored(name, beats=16, drift_percent=drift).measures
    assert measures.tempo_drift_percent == pytest.approx(
        drift, rel=0.1
    )  # a beat before and after is lost to it
    assert measures.spread_percent < 1.0


def test_drift_is_not_told_under_nine_beats():
    assert measures_of("gallop", train(0.4, 0.2, times=8)).tempo_drift_percent is None
    assert measures_of("gallop", train(0.4, 0.2, times=9)).tempo_drift_percent is not None


@pytest.mark.parametrize("scatter_s", [0.015, 0.030])
def test_spread_is_that_of_the_beat_not_of_its_long_and_short_parts(scatter_s):
    """Wing & Kristofferson 1973: a beat between two landings has standard deviation sqrt(2) times theirs."""
    spreads = [
        scored("gallop", beats=40, seed=s, scatter_s=scatter_s).measures.spread_percent for s in range(12)
    ]
    assert np.median(spreads) == pytest.approx(100 * 2**0.5 * scatter_s / 0.6, rel=0.15)


def test_of_two_beats_no_spread_is_told():
    assert measures_of("walk", train(0.5, times=2)).spread_percent is None
    assert measures_of("walk", train(0.5, times=3)).spread_percent == pytest.approx(0.0, abs=1e-9)


def test_even_hops_have_the_spread_that_was_made_within_two_points():
    """trade.md 8.1, story 23; scipy's scaled MAD of the true times as the second opinion."""
    bouts = [moves("hop", beats=9, seed=seed, tempo_bpm=120, timekeeper_s=0.03) for seed in range(30)]
    spreads = [score_of(each.footfalls, "hop").measures.spread_percent for each in bouts]
    true = [100 * median_abs_deviation(np.log(np.diff(each.times_s)), scale="normal") for each in bouts]
    np.testing.assert_allclose(spreads, true, atol=2.0)
    assert np.median(spreads) == pytest.approx(6.0, abs=2.0)


# On the pattern


def test_a_run_through_into_even_ends_the_beats_on_the_pattern():
    score = scored("gallop", beats=12, even_from_beat=6)
    assert score.measures.beats_on_pattern == score.measures.longest_run == 6
    assert flags(score) == [True] * 6 + [False] * 6


def test_one_stumble_of_the_short_foot_is_forgiven_by_its_neighbours():
    times_s = train(0.4, 0.2, times=10)
    times_s[7] -= 0.09  # a long share of 0.52 in one beat
    assert measures_of("gallop", times_s).beats_on_pattern == 10


def test_one_unheard_short_sound_breaks_the_heard_run_and_is_named():
    measures = measures_of("gallop", np.delete(train(0.4, 0.2, times=12)[:-1], 11))
    assert (measures.beats, measures.complete_beats, measures.beats_on_pattern) == (12, 11, 11)
    assert measures.longest_run == 6
    assert [(m.beat, m.place) for m in measures.missed] == [(5, 1)]


def test_a_step_out_of_time_is_off_the_pattern_in_a_walk():
    times_s = train(0.55, times=12)
    times_s[6:] += 0.2  # one step of 0.75 s: 36 % over
    assert flags(score_of(times_s, "walk")) == [n != 5 for n in range(13)]


def test_a_stop_breaks_the_run():
    measures = scored("gallop", beats=12, rests=(Rest(4, 2.0),)).measures
    assert measures.beats_on_pattern == 12
    assert measures.longest_run == 7


@pytest.mark.parametrize(("gap_beats", "run"), [(1.55, 13), (1.75, 6)])
def test_a_gap_of_more_than_1_6_beats_breaks_the_run(gap_beats, run):
    """rhythm.md 3: no gap over 1.6 x the median beat; the short sound before it comes in time."""
    gaps_s = [0.4, 0.2] * 6 + [0.4, 0.6 * gap_beats - 0.4] + [0.4, 0.2] * 6
    measures = measures_of("gallop", 1.0 + np.cumsum([0.0, *gaps_s]), tempo_bpm=100)
    assert (measures.missed, measures.longest_run) == ((), run)


def test_the_beats_beside_a_planned_switch_are_not_judged_and_do_not_break_the_run():
    measures = scored("gallop-switch-8", beats=16).measures
    assert (measures.beats, measures.judged_beats) == (16, 12)
    assert measures.beats_on_pattern == measures.longest_run == 12
    assert measures.pauses == measures.missed == ()


def test_a_step_into_the_air_of_a_leap_is_not_on_the_pattern():
    times_s = moves("leap", beats=12).times_s
    air_s = 0.5 * (times_s[2] + times_s[3])
    assert flags(score_of(np.sort([*times_s, air_s]), "leap")) == [n != 2 for n in range(12)]


def test_beats_that_began_on_the_short_sound_are_not_counted_against_the_learner():
    whole = train(0.4, 0.2, times=12)[:-1]
    fresh = np.concatenate([whole[:10], whole[11:] + 2.0])  # begun again on the short sound after a stop
    measures = measures_of("gallop", fresh)
    assert len(measures.pauses) == 1
    assert (measures.beats, measures.complete_beats, measures.missed) == (11, 11, ())


# What does not exist


def test_too_few_beats_have_no_numbers_but_no_zeros_either():
    measures = measures_of("gallop", [1.0, 1.4])
    assert measures.beats == 1
    assert measures.tempo_bpm is measures.tempo_drift_percent is measures.spread_percent is None
    assert measures.long_share is None
    assert measures.rhythm is RhythmClass.UNCLEAR


def test_nothing_heard_is_measured_as_nothing():
    measures = measures_of("gallop", [])
    assert measures.beats == measures.beats_on_pattern == measures.longest_run == 0
    assert measures.tempo_bpm is measures.long_share is None


@given(
    seed=st.integers(0, 5000),
    name=st.sampled_from(["gallop", "skip", "walk", "leap", "walk-freeze", "gallop-switch-2"]),
)
@few
def test_counts_add_up_for_any_learner(seed, name):
    how = {
        "scatter_s": 0.05,
        "miss_short": 0.3,
        "miss_lead": 0.1,
        "extra_per_min": 20.0,
        "rests": (Rest(7, 2.0),),
    }
    score = score_of(moves(name, beats=16, seed=seed, **how).footfalls, name)
    measures = score.measures
    assert 0 <= measures.longest_run <= measures.beats_on_pattern <= measures.judged_beats <= measures.beats
    assert measures.beats_on_pattern <= measures.complete_beats <= measures.beats
    assert sum(each.beats for each in score.bouts) == measures.beats
    placed = sum(place is not None for place in score.alignment.places)
    in_bouts = sum(
        1 for b in score.alignment.bouts for each in b.beats for i in (each.lead, each.short) if i is not None
    )
    assert placed == in_bouts


def test_local_numbers_are_nan_where_there_is_no_beat_to_tell_them():
    score = score_of([1.0, 1.6, 2.2, 2.8], load_pattern("gallop"), tempo_bpm=100)
    row = timed_beats(score.alignment, score.alignment.bouts[0])
    assert np.isnan(beat_shares(row)).all()
    assert np.isnan(local_periods(row)).all()


def test_the_interval_of_many_beats_is_the_same_drawn_in_pieces_or_at_once(monkeypatch):
    shares = np.random.default_rng(1).normal(0.66, 0.05, 501)
    in_pieces = median_with_interval(shares)
    monkeypatch.setattr("cuekit.rhythm.long_share._AT_ONCE", 10**9)
    assert median_with_interval(shares) == in_pieces
