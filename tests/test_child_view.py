"""The child's result: pictures filled with what was done, one thing to try, nothing negative."""

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.errors import PatternError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.alignment import align
from cuekit.rhythm.measures import measure_recording
from cuekit.simulation.simulate import Learner, perform
from cuekit.telling.child_view import child_view
from cuekit.telling.phrases import load_phrases

EN = load_phrases()
GALLOP = load_pattern("gallop")


def kept(beats):
    """Measures of a made gallop with so many beats on the pattern in a row."""
    bout = perform(GALLOP, Learner(), beats=12, seed=1)
    return replace(measure_recording(align(bout.footfalls, GALLOP)), longest_run=beats)


@pytest.mark.parametrize(("beats", "filled"), [(0, 0), (1, 1), (3, 2), (5, 4), (6, 5), (20, 5)])
def test_pictures_fill_with_beats_in_a_row(beats, filled):
    assert child_view(kept(beats), 6, EN).filled == filled


def test_the_row_can_be_drawn_with_the_childs_own_sign():
    assert child_view(kept(3), 6, EN, pictures=4).row("U", ".") == "U U . ."


def test_a_fault_chooses_one_thing_to_try_and_is_not_named():
    words = child_view(kept(3), 6, EN, fault="every-other-short-not-heard").words
    assert words == "You kept the rhythm! Now hop on this friend too."


def test_what_has_no_words_of_its_own_is_again_or_choose():
    assert child_view(kept(0), 6, EN, fault="extra-sounds").words == "Your turn! Again, or choose?"


@pytest.mark.parametrize("key", [key for key in EN.sentences if key.startswith("child.")])
def test_no_number_and_nothing_negative(key):
    assert not re.search(
        r"\d|\bnot?\b|n't|wrong|miss|bad|fail|but\b|only|slow|late|fault", EN.sentences[key], re.I
    )


@given(st.integers(0, 100), st.integers(1, 64), st.integers(3, 6))
def test_more_done_never_fills_less_and_all_done_fills_all(beats, target, pictures):
    views = [child_view(kept_cached(n), target, EN, pictures=pictures) for n in (beats, beats + 1)]
    assert 0 <= views[0].filled <= views[1].filled <= pictures
    assert (views[0].filled == pictures) >= (beats >= target)


BASE = kept(0)


def kept_cached(beats):
    return replace(BASE, longest_run=beats)


@pytest.mark.parametrize(("target", "pictures"), [(0, 5), (6, 2), (6, 7)])
def test_a_view_needs_a_target_and_three_to_six_pictures(target, pictures):
    with pytest.raises(PatternError, match="got"):
        child_view(kept(3), target, EN, pictures=pictures)
