"""Which likely sounds are believed to be footfalls: sure ones, doubtful ones among them, faint ones in step."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.hearing.belief import LEAST_PROBABILITY, LONE_PROBABILITY, believe, calibrated, dying_away

GALLOP_S = np.sort(np.concatenate([np.arange(8) * 0.6, np.arange(8) * 0.6 + 0.4])) + 1.0


def believed(*sounds):
    """The times of the sounds (time s, probability) that are taken for footfalls."""
    times_s, probabilities = np.array(sorted(sounds), float).reshape(-1, 2).T
    return times_s[believe(times_s, probabilities)[0]].tolist()


def gallop(sure=0.99, **faint):
    """A gallop of eight cycles whose footfalls are `sure`, the one of a number `at7` as faint as given."""
    return [(time_s, faint.get(f"at{n}", sure)) for n, time_s in enumerate(GALLOP_S)]


def test_a_doubtful_sound_among_sure_ones_is_a_footfall_and_alone_it_is_none():
    assert believed((1.0, 0.9), (1.6, 0.6), (2.0, 0.9)) == [1.6]  # the two sure ones have one sure one each
    assert believed((1.0, 0.9), (1.6, 0.6), (2.0, 0.9), (2.6, 0.4), (3.0, 0.9)) == [1.0, 1.6, 2.0, 3.0]
    assert believed((1.0, 0.6), (2.0, 0.65), (3.0, 0.69)) == []
    assert believed((1.0, 0.9), (2.0, 0.9), (3.0, 0.9), (30.0, 0.9)) == [1.0, 2.0, 3.0]


def test_one_stamp_that_cannot_be_missed_is_a_footfall():
    assert believed((4.0, 0.96)) == [4.0]
    assert believed() == []


def test_a_faint_follower_in_step_with_the_others_is_a_footfall_but_not_a_sure_one():
    sounds = gallop(at7=0.25)
    assert believed(*sounds) == [time_s for time_s, _ in sounds]
    confidences = believe(*np.array(sounds).T)[1]
    assert confidences[7] < 0.8 < confidences[6]


def test_a_faint_sound_out_of_step_is_none():
    kept = believed(*gallop(), (3.2, 0.5))
    assert kept == GALLOP_S.tolist()


def test_a_follower_that_no_sound_was_made_for_stays_missing():
    sounds = [sound for n, sound in enumerate(gallop()) if n != 7]
    assert believed(*sounds) == [time_s for time_s, _ in sounds]


def test_an_even_child_is_not_made_to_gallop_by_an_echo_that_is_heard_now_and_then():
    """A walk with an echo 0.3 s after each contact, in the hall louder now and then."""
    walk_s = 1.0 + 0.7 * np.arange(16)
    echoes = [(time_s + 0.3, 0.6 if n % 4 == 0 else 0.45) for n, time_s in enumerate(walk_s)]
    kept = believed(*[(time_s, 0.99) for time_s in walk_s], *echoes)
    assert kept == sorted([*walk_s, *(time_s for time_s, sure in echoes if sure == 0.6)])


def bounces(waits, first_s=0.6, keeps=0.8, start_s=1.0):
    """Times of a ball that is dropped: each wait is `keeps` of the one before."""
    return [start_s, *(start_s + first_s * np.cumsum(keeps ** np.arange(waits)))]


@pytest.mark.parametrize("keeps", [0.7, 0.75, 0.8, 0.85])
def test_a_ball_that_bounces_itself_to_rest_is_no_child(keeps):
    times_s = bounces(6, keeps=keeps)
    assert believed(*[(time_s, 0.99) for time_s in times_s]) == []


def test_a_ball_dropped_between_two_runs_leaves_the_runs():
    run_s = [1.0 + 0.4 * n for n in range(8)]
    later_s = [9.0 + 0.4 * n for n in range(8)]
    kept = believed(*[(time_s, 0.99) for time_s in (*run_s, *bounces(6, start_s=5.0), *later_s)])
    assert kept == pytest.approx(run_s + later_s)


def test_a_child_who_runs_ever_faster_is_no_ball():
    """From a walk to a run: each step takes nine tenths of the one before, or so."""
    times_s = bounces(9, first_s=0.7, keeps=0.9)
    assert believed(*[(time_s, 0.99) for time_s in times_s]) == pytest.approx(times_s)


@given(st.integers(0, 1000), st.sampled_from([0.5, 0.6, 0.667, 0.75]))
def test_a_child_as_irregular_as_they_come_is_never_taken_for_a_ball(seed, long_share):
    """Every second sound moves by a tenth of a cycle from beat to beat; none of 200,000 such bouts lost one."""
    rng = np.random.default_rng(seed)
    for _ in range(50):
        cycle_s = 0.8 * np.exp(rng.normal(0, 0.05, 30))
        start_s = np.cumsum(cycle_s)
        follower_s = start_s[:-1] + np.diff(start_s) * np.clip(rng.normal(long_share, 0.1, 29), 0.2, 0.85)
        times_s = np.sort(np.concatenate([start_s, follower_s]))
        assert not dying_away(times_s).any()


def test_a_clear_sound_out_of_step_stays_what_it_is():
    """A stumble is for the teacher to hear of; nothing is taken away to make a rhythm neat."""
    kept = believed(*gallop(), (3.2, 0.6))
    assert 3.2 in kept
    assert len(kept) == GALLOP_S.size + 1


@given(
    st.lists(st.tuples(st.integers(1, 700), st.floats(0.2, 1)), max_size=30, unique_by=lambda sound: sound[0])
)
def test_what_is_sure_counts_and_fewer_than_five_others_carry_no_faint_one(sounds):
    sounds = [(0.09 * place, sure) for place, sure in sounds]
    kept = believed(*sounds)
    if not dying_away(np.array(kept)).any():
        assert {time_s for time_s, sure in sounds if sure >= LONE_PROBABILITY} <= set(kept)
    if sum(sure >= LEAST_PROBABILITY for _, sure in sounds) < 5:
        assert set(kept) <= {time_s for time_s, sure in sounds if sure >= LEAST_PROBABILITY}


@pytest.mark.parametrize(("long_share", "seed"), [(0.5, 1), (0.6, 2), (0.667, 3), (0.75, 4)])
def test_an_irregular_child_is_not_pulled_into_step(long_share, seed):
    """A quarter of the followers are faint, and faint sounds fall in between: the long share stays."""
    rng = np.random.default_rng(seed)
    lead_s = 1.0 + np.cumsum(rng.normal(0.7, 0.03, 400))
    follower_s = lead_s[:-1] + np.diff(lead_s) * long_share + rng.normal(0, 0.03, 399)
    faint = rng.random(399) < 0.25
    others_s = rng.uniform(lead_s[0], lead_s[-1], 200)
    times_s = np.concatenate([lead_s, follower_s, others_s])
    sure = np.concatenate([np.full(400, 0.99), np.where(faint, 0.3, 0.9), np.full(200, 0.3)])
    order = np.argsort(times_s)
    kept = set(times_s[order][believe(times_s[order], sure[order])[0]].tolist())
    found = np.array([time_s in kept for time_s in follower_s])
    shares = (follower_s - lead_s[:-1]) / np.diff(lead_s)
    assert found[faint].mean() > 0.25
    assert shares[found].mean() == pytest.approx(shares.mean(), abs=0.01)
    assert shares[found].std() > 0.8 * shares.std()


def test_confidence_never_falls_as_the_network_grows_surer():
    values = [calibrated(p) for p in np.linspace(0, 1, 101)]
    assert values == sorted(values)
    assert 0 <= values[0] < values[-1] < 1
