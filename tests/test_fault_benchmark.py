"""The short form of `tests/benchmark_faults.py`: right fault, or rightly none, in 95 of 100."""

import pytest

from cuekit.telling.phrases import load_phrases
from tests.benchmark_faults import LEAST_RIGHT, TRIALS, told

SEEDS = 5
MADE = [(trial.fault, made) for trial in TRIALS for made in trial.made]


@pytest.fixture(scope="module")
def counts():
    """For each made bout, how often which fault was told first."""
    return [(made, told(made, SEEDS)) for _, made in MADE]


def test_the_right_fault_or_rightly_none_in_95_of_100(counts):
    right = sum(count[made.told] for made, count in counts)
    assert right >= LEAST_RIGHT * SEEDS * len(MADE)


def test_no_kind_of_bout_is_mostly_misread(counts):
    assert [made.what for made, count in counts if count[made.told] < SEEDS - 1] == []


def test_every_fault_that_has_sentences_is_tried():
    known = {key.split(".")[1] for key in load_phrases().sentences if key.startswith("fault.")}
    assert {trial.fault for trial in TRIALS} == known
