"""How a learner is set up, from the command line."""

import pytest

from cuekit.cli import run
from cuekit.records.store import Store
from tests.made_desk import ALONE, counted


def test_a_name_is_questioned_and_a_code_is_not(desk):
    assert "looks like a name" in desk("learner", "add", "Maria", code=6)[0]
    desk("learner", "add", "Maria", "--sure")
    desk("learner", "add", "k-07")
    assert [line.split()[0] for line in desk("learner", "list")] == ["K-07", "MARIA"]
    assert "is there already" in desk("learner", "add", "K-07", code=6)[0]


def test_a_skill_that_is_none_is_refused_where_a_learner_is_set_up(desk):
    assert 'there is no pattern "galop"' in desk("learner", "add", "K-07", "--skill", "galop", code=3)[0]
    desk("learner", "add", "K-07", "--skill", "gallop")
    assert "there is no pattern" in desk("learner", "set", "K-07", "--skill", "dance", code=3)[0]
    assert desk("learner", "show", "K-07")[1] == "  skill: gallop"


@pytest.mark.parametrize("typed", ["6", "alone", "gallop-alone"])
def test_a_step_is_known_by_its_number_and_its_name(desk, typed):
    desk("learner", "add", "K-07", "--skill", "gallop", "--step", typed)
    assert "  step: gallop-alone" in desk("learner", "show", "K-07")
    counted(desk, "K-07", 6, day="2026-03-02", extra=(*ALONE, "--step", typed))
    counted(desk, "K-07", 6, day="2026-03-02", extra=(*ALONE, "--step", f"probe {typed}"))
    with Store(desk.folder) as store:
        steps = [kept.now.conditions.step for kept in store.bouts("K-07")]
    assert steps == ["gallop-alone", "probe gallop-alone"]


def test_a_word_that_is_no_step_is_kept_and_told(desk, capsys):
    assert run(["learner", "add", "K-07", "--skill", "gallop", "--step", "G5"]) == 0
    assert capsys.readouterr().err == 'Note: "G5" is no step of a ladder, only a word: cuekit ladder gallop\n'
    assert "  step: G5" in desk("learner", "show", "K-07")
