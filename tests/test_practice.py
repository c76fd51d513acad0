"""The guided sequence, and steps of tempo a learner can follow."""

import pytest
from fake_port import FakePort, NoDevice
from hypothesis import given
from hypothesis import strategies as st

import cuekit.cli.practice as practice_command
from cuekit.bouts.practice import Doing, next_tempo_bpm, stages
from cuekit.errors import PatternError

TEMPO = st.floats(60, 160)


def test_the_sequence_is_that_of_the_trade():
    assert [stage.doing for stage in stages(12)] == list(Doing)
    assert [stage.heard for stage in stages(12)] == [False, False, True, True, True, True]


@given(TEMPO, TEMPO, st.floats(3, 5))
def test_tempo_goes_to_its_goal_in_steps_nobody_is_thrown_by(own, goal, step):
    now, seen = own, []
    for _ in range(30):
        later = next_tempo_bpm(now, own, goal, step)
        assert abs(later / now - 1) <= 0.0501
        seen.append(later)
        now = later
    assert abs(now / own - 1) <= 0.1501
    reachable = min(max(goal, own / 1.15), own * 1.15)
    assert now == pytest.approx(reachable)


@pytest.mark.parametrize("step", [0.0, 2.0, 6.0])
def test_other_steps_are_refused(step):
    with pytest.raises(PatternError, match="3 to 5 %"):
        next_tempo_bpm(100, 100, 110, step)


def test_all_six_stages_run_and_leave_no_sound(monkeypatch, cuekit_says, tmp_path):
    port = FakePort(lag_s=0.1, cue_gain=0.2)
    monkeypatch.setattr(practice_command, "SoundCard", lambda: port)
    said = cuekit_says("practice", "gallop", "--beats", 4, "--takes", tmp_path)
    assert said.code == 0
    order = [
        said.out.index(word) for word in ("Listen.", "Say it", "Clap it", "Sit and tap", "Step it", "Move.")
    ]
    assert order == sorted(order)
    assert port.opened == 4, "the microphone is shut while listening and saying"
    assert said.out.count("No footfalls heard") == 4
    assert list(tmp_path.iterdir()) == []


def test_it_can_begin_further_on(monkeypatch, cuekit_says, tmp_path):
    port = FakePort()
    monkeypatch.setattr(practice_command, "SoundCard", lambda: port)
    said = cuekit_says("practice", "gallop", "--beats", 4, "--from", "move", "--takes", tmp_path)
    assert "Clap it" not in said.out
    assert port.opened == 1


def test_without_a_sound_card_it_is_one_line(monkeypatch, cuekit_says, tmp_path):
    monkeypatch.setattr(practice_command, "SoundCard", NoDevice)
    said = cuekit_says("practice", "gallop", "--takes", tmp_path)
    assert said.code == 5
    assert len(said.err) == 1
