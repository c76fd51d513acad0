"""Attacks on the gym screen are refused, and the page goes on."""

import pytest

from tests.screen.probes import run_probes


@pytest.fixture(scope="module")
def probes():
    return run_probes()


def test_every_attack_is_met_as_it_must_be(probes):
    assert [(one.name, one.told) for one in probes if not one.passed] == []


def test_there_are_as_many_attacks_as_the_goal_asks_for_and_each_has_its_name(probes):
    names = [one.name for one in probes]
    assert len(names) >= 44
    assert len(set(names)) == len(names)
