"""R2 in small: whatever is written, typed or found in a file, only our own errors come out of each parser."""

import pytest

from cuekit.errors import PatternError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import Plan, make_schedule
from tests.reliability.fuzz import SUBJECTS, tried


@pytest.mark.parametrize("subject", SUBJECTS)
def test_only_our_own_errors_come_out(subject):
    found = tried(subject, 300)
    assert found.escaped == ""
    assert found.examples >= 200


def test_a_plan_without_end_is_refused_at_once():
    with pytest.raises(PatternError, match="a bout has 1 to 100000 beats"):
        make_schedule(load_pattern("gallop"), Plan(100, 2**40))


def test_a_change_of_tempo_near_nothing_is_none():
    """2.2e-309 divided the beat into no number."""
    gallop = load_pattern("gallop")
    steady = make_schedule(gallop, Plan(100, 40)).end_s
    for percent in (2.2e-309, -1e-300, 1e-12, 2e-9):
        assert make_schedule(gallop, Plan(100, 40, tempo_change_percent=percent)).end_s == pytest.approx(steady)
