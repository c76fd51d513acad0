"""Story 10: the learner's own tempo from three free bouts."""

from dataclasses import replace

import pytest

from cuekit.cli import run
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import Amendment, KeptBout
from cuekit.records.bout_record import BoutRecord, Conditions, EyeMark, HelpLevel, Numbers
from cuekit.records.learner import Learner
from cuekit.records.own_tempo import own_tempo, with_own_tempo
from cuekit.records.store import Store
from tests.made_records import AT


def free(*tempos, cue=CueLevel.C0, **more):
    return [
        KeptBout(
            str(n),
            n,
            BoutRecord("K-07", AT, Conditions("gallop", cue, HelpLevel.I), Numbers(tempo_bpm=t, **more)),
        )
        for n, t in enumerate(tempos)
    ]


def test_three_free_bouts_give_their_middle():
    found = own_tempo(free(96.0, 100.0, 104.0), "gallop")
    assert found.bpm == pytest.approx(100.0, abs=2.0)
    assert found.settled


@pytest.mark.parametrize(("tempos", "settled"), [((93.0, 100.0, 107.9), True), ((92.0, 100.0, 108.0), False)])
def test_three_that_differ_by_more_than_fifteen_percent_are_not_settled(tempos, settled):
    assert own_tempo(free(*tempos), "gallop").settled is settled


def test_two_bouts_a_cue_another_skill_or_a_void_give_none():
    assert own_tempo(free(96.0, 100.0), "gallop") is None
    assert own_tempo(free(96.0, 100.0, 104.0, cue=CueLevel.C4), "gallop") is None
    assert own_tempo(free(96.0, 100.0, 104.0), "skip") is None
    void = (Amendment("0", AT, "", "", "void", "bell"),)
    first, *rest = free(96.0, 100.0, 104.0)
    assert own_tempo([replace(first, amendments=void), *rest], "gallop") is None


def led(side, *tempos):
    """Free bouts led by one foot, as the eye saw it."""
    return [replace(kept, stored=replace(kept.stored, eye=EyeMark(lead=side))) for kept in free(*tempos)]


def test_each_skill_and_each_side_has_a_tempo_of_its_own(tmp_path, monkeypatch, capsys):
    """A gallop may be slower with the left foot ahead; the sounds of neither are those of a hop."""
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    with Store(tmp_path) as store:
        store.add(Learner("K-07", skill="gallop", own_tempo_bpm=120.0))
        for kept in (*led(Side.RIGHT, 96.0, 100.0, 104.0), *led(Side.LEFT, 86.0, 90.0, 94.0)):
            store.add(kept.stored)
    for side in ("right", "left"):
        assert run(["learner", "tempo", "K-07", "--side", side]) == 0
    assert run(["learner", "set", "K-07", "--skill", "slide", "--own-tempo", "88"]) == 0
    told = capsys.readouterr().out
    for tempo in ("gallop right 100", "gallop left 90", "gallop 100", "slide 88", ", 120 beats/min"):
        assert tempo in told
    with Store(tmp_path) as store:
        learner = store.learner("K-07").noun
    assert learner.tempo_bpm("gallop", Side.RIGHT) == 100.0
    assert learner.tempo_bpm("gallop", Side.LEFT) == 90.0
    assert learner.tempo_bpm("gallop") == 100.0, "no side asked: the one found first"
    assert learner.tempo_bpm("slide", Side.LEFT) == 88.0, "no side of its own yet: that of the skill"
    assert learner.tempo_bpm("hop", Side.LEFT) == 120.0, "no skill of its own yet: that of any"


def test_the_side_is_that_which_the_eye_marks_of_all_three_name():
    """Nobody asked for a side: it is kept where it was seen, and the skill has a tempo to begin with."""
    assert own_tempo(led(Side.LEFT, 86.0, 90.0, 94.0), "gallop").side is Side.LEFT
    mixed = [*led(Side.LEFT, 86.0, 90.0), *led(Side.RIGHT, 94.0)]
    assert own_tempo(mixed, "gallop").side is None
    assert own_tempo(free(86.0, 90.0, 94.0), "gallop").side is None
    found = own_tempo(led(Side.LEFT, 86.0, 90.0, 94.0), "gallop")
    learner = with_own_tempo(Learner("K-07"), found)
    assert (learner.tempo_bpm("gallop", Side.LEFT), learner.tempo_bpm("gallop", Side.RIGHT)) == (90.0, 90.0)
    right = own_tempo(led(Side.RIGHT, 98.0, 100.0, 102.0), "gallop")
    both = with_own_tempo(learner, right)
    assert (both.tempo_bpm("gallop", Side.LEFT), both.tempo_bpm("gallop", Side.RIGHT)) == (90.0, 100.0)


def test_the_own_tempo_is_found_shown_and_kept(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    with Store(tmp_path) as store:
        store.add(Learner("K-07", skill="gallop"))
        for kept in free(80.0, 100.0, 104.0):
            store.add(kept.stored)
    assert run(["learner", "tempo", "K-07"]) == 0
    assert (
        capsys.readouterr().out
        == "Own tempo of K-07, gallop: 100 beats/min (2026-03-02), not settled: the three bouts differ by more than 15 %. Kept.\n"
    )
    with Store(tmp_path) as store:
        assert store.learner("K-07").noun.tempo_bpm("gallop") == 100.0
