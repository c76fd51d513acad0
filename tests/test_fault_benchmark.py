"""The short form of `tests/benchmark_faults.py`: right fault, or rightly none, in 95 of 100."""

from collections import Counter

import pytest

from cuekit.telling.phrases import load_phrases
from tests.benchmark_faults import LEAST_RIGHT, recorded, table, told
from tests.made_faults import COULD_NOT_HEAR, TRIALS

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


def test_every_fault_that_has_sentences_is_tried_with_two_look_alikes():
    known = {key.split(".")[1] for key in load_phrases().sentences if key.startswith("fault.")}
    assert {trial.fault for trial in TRIALS} == known | {COULD_NOT_HEAR}
    for trial in TRIALS:
        assert [made.told == trial.fault for made in trial.made] == [True, False, False]


def test_the_list_of_faults_is_whole():
    assert {trial.number for trial in TRIALS} - {""} == {f"F{number}" for number in range(1, 16)}


def test_the_table_names_what_is_misread():
    counts = [Counter({made.told: 20}) for trial in TRIALS for made in trial.made]
    assert table(counts, 20)[-1] == "under 95 %: none"
    counts[1] = Counter({"": 18, "clipped": 2})
    lines = table(counts, 20)
    assert lines[-1] == f"under 95 %: {TRIALS[0].made[1].what}"
    assert "none 18, clipped 2" in "\n".join(lines)


@pytest.mark.slow
@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.fault)
def test_through_recordings_too(trial):
    """Three seeds of each; `--recorded --seeds 20` prints the whole table."""
    counts = [told(made, 3, recorded) for made in trial.made]
    assert sum(count[made.told] for count, made in zip(counts, trial.made, strict=True)) >= 8
