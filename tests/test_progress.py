"""Change over time: against published cases and scipy, and silence where there is too little."""

import math
import warnings
from dataclasses import replace
from datetime import date, timedelta
from statistics import median

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from cuekit.patterns.schedule import CueLevel
from cuekit.records.agreement import Observation, agreements
from cuekit.records.bout_history import Amendment, KeptBout
from cuekit.records.bout_record import BoutRecord, Conditions, HelpLevel, Numbers
from cuekit.records.goals import Criterion, Goal, Measure, verdicts_by_ear
from cuekit.records.progress import (
    Point,
    change,
    enough,
    level,
    nap,
    repeat_error,
    slope_with_interval,
    tau,
    trend,
)
from tests.made_records import AT

MONDAY = date(2026, 3, 2)

# Non-overlap case of the SingleCaseES documentation, also worked by hand: S_AB 35, S_AA 4, 42 pairs.
BEFORE = [20, 20, 26, 25, 22, 23]
AFTER = [28, 25, 24, 27, 30, 30, 29]


def points(*rows):
    """One row of values a day, on days in a row."""
    return [Point(MONDAY + timedelta(days=n), v) for n, row in enumerate(rows) for v in row]


def test_non_overlap_of_the_published_case():
    assert tau(BEFORE, AFTER) == pytest.approx(35 / 42)
    assert round(tau(BEFORE, AFTER), 4) == 0.8333
    assert round(nap(BEFORE, AFTER), 4) == 0.9167


def test_tau_u_and_pnd_of_the_published_case_follow_from_our_counts():
    """Tau-U .7380952 and PND .7143 are oracles only; no report shows them."""
    s_ab = tau(BEFORE, AFTER) * len(BEFORE) * len(AFTER)
    s_aa = sum(np.sign(BEFORE[j] - BEFORE[i]) for i in range(6) for j in range(i + 1, 6))
    assert round((s_ab - s_aa) / 42, 7) == 0.7380952
    highest = [nap([max(BEFORE)], [v]) for v in AFTER]
    assert round(sum(one == 1.0 for one in highest) / len(AFTER), 4) == 0.7143


VALUES = st.lists(st.integers(0, 12), min_size=2, max_size=12)


@given(VALUES, VALUES)
def test_nap_is_mann_whitney_u_over_all_pairs(before, after):
    u = stats.mannwhitneyu(after, before).statistic
    assert nap(before, after) == pytest.approx(u / (len(before) * len(after)))


def test_theil_sen_is_not_pulled_by_one_wild_bout():
    slope, *_ = slope_with_interval(range(7), [1, 2, 3, 4, 100, 6, 7])
    assert slope == 1  # least squares would say 2.07 (oracle 11 of the team's science page, scipy's value)


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 20)), min_size=4, max_size=25))
def test_theil_sen_and_its_interval_agree_with_scipy(pairs):
    x, y = zip(*pairs, strict=True)
    if len(set(x)) < 2 or len(set(y)) < 2:
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # its variance may fall below 0 where many are tied
        theirs = stats.theilslopes(y, x)
    if not (math.isfinite(theirs.low_slope) and math.isfinite(theirs.high_slope)):
        return  # scipy gives no interval where ties leave Kendall's S no variance
    ours = slope_with_interval(x, y)
    assert ours == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope), abs=1e-9)


def test_repeat_error_is_the_residual_of_a_one_way_analysis():
    rows = [(5, 7, 6), (8, 6), (4, 9, 9, 7)]
    means = [np.mean(row) for row in rows]
    residual = sum(((np.array(row) - mean) ** 2).sum() for row, mean in zip(rows, means, strict=True))
    assert repeat_error(points(*rows)) == pytest.approx(math.sqrt(residual / (9 - 3)))
    assert repeat_error(points((5,), (6,))) is None


def test_present_level_is_the_middle_and_the_range_with_what_it_rests_on():
    found = level(points((3, 5, 8), (4, 5), (6,)))
    assert (found.middle, found.low, found.high, found.bouts, found.days) == (5, 3, 8, 6, 3)
    assert level([]) is None


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([(5, 6, 7)] * 3, True),
        ([(5, 6, 7)] * 2, False),
        ([(5, 6, 7), (5, 6, 7), (5, 6)], False),
        ([(5,)] * 9, False),
        ([(5, 6, 7), (5,), (5, 6, 7), (5, 6, 7, 8)], True),
    ],
)
def test_change_is_told_from_three_bouts_on_three_days_each_side_only(rows, told):
    plenty = points(*[(7, 8, 9)] * 3)
    assert enough(points(*rows)) is told
    assert (change(points(*rows), plenty) is not None) is told
    assert (change(plenty, points(*rows)) is not None) is told
    assert (trend(points(*rows)) is not None) is told


def test_change_says_both_levels_and_what_repeats_alone_do():
    before = points((3, 4, 5), (4, 5, 3), (3, 4, 5))
    after = [Point(p.day + timedelta(days=30), p.value + 4) for p in before]
    found = change(before, after)
    assert (found.before.middle, found.after.middle, found.nap, found.tau) == (4, 8, 1.0, 1.0)
    # Every day holds 3, 4, 5 (or 7, 8, 9): standard deviation within days exactly 1.
    assert found.repeat_difference == pytest.approx(1.96 * math.sqrt(2))


@given(VALUES, VALUES, st.integers(-5, 5))
def test_adding_the_same_to_all_changes_no_overlap(before, after, shift):
    moved = [v + shift for v in before], [v + shift for v in after]
    assert nap(*moved) == nap(before, after)
    assert median(moved[0]) == median(before) + shift


def test_agreement_of_ten_bouts_equals_the_hand_count():
    """Story 27: two people count ten bouts; they agree on eight, the program agrees with A on nine."""
    a = [12, 10, 8, 9, 12, 11, 10, 8, 9, 10]
    b = [12, 10, 8, 9, 12, 11, 10, 8, 7, 11]
    program = [12, 10, 8, 9, 12, 11, 10, 8, 9, 12]
    bouts = [
        KeptBout(str(n), n, BoutRecord("K-07", AT, Conditions("gallop"), Numbers(footfalls=heard), rules="1"))
        for n, heard in enumerate(program)
    ]
    seen = [
        Observation(str(n), "K-07", name, AT, count)
        for name, row in (("A", a), ("B", b))
        for n, count in enumerate(row)
    ]
    found = {(one.first, one.second): one for one in agreements(seen, bouts)}
    assert (found["A", "B"].agreed, found["A", "B"].trials, found["A", "B"].percent) == (8, 10, 80.0)
    assert found["A", "program"].percent == 90.0
    assert found["B", "program"].percent == 80.0


def test_the_programs_own_verdict_is_asked_by_ear_alone_and_before_any_correction():
    """Goal of 6: the program heard 7, 5 and 7; the teacher says missed to the first, corrects the second to 8."""
    goal = Goal("K-07", "gallop", Measure.LONGEST_RUN, 6, Criterion(), AT.date(), (CueLevel.C4,))
    done = Conditions("gallop", CueLevel.C4, HelpLevel.I)
    heard = [(7, False), (5, None), (7, None)]
    bouts = [
        KeptBout(
            str(n), n, BoutRecord("K-07", AT, done, Numbers(longest_run=run), met_by_teacher=met, rules="1")
        )
        for n, (run, met) in enumerate(heard)
    ]
    fixed = Amendment("1", AT, "longest-run", "5", "8", "two soft sounds")
    bouts[1] = replace(bouts[1], amendments=(fixed,))
    by_hand = replace(bouts[0], id="9", stored=replace(bouts[0].stored, rules=""))
    by_ear = verdicts_by_ear(goal, [*bouts, by_hand])
    assert by_ear == {"0": True, "1": False, "2": True}
    seen = [Observation(str(n), "K-07", "A", AT, met=met) for n, met in enumerate((False, False, True))]
    elsewhere = Observation("77", "K-07", "A", AT, met=True)
    (found,) = agreements([*seen, elsewhere], bouts, by_ear)
    assert (found.second, found.question, found.agreed, found.trials) == ("program", "met", 2, 3)
    assert found.days == (AT.date(), AT.date())
