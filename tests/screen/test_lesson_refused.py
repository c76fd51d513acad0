"""What a lesson on the screen refuses: in one sentence, with nothing lost, and the lesson goes on."""

import threading

import pytest

from cuekit.errors import CuekitError, DeviceError, RecordError
from cuekit.records.learner import Learner as KeptLearner
from cuekit.screen.plan import changed, planned_pattern
from tests.fake_port import NoDevice
from tests.screen.lesson_gym import Gym


@pytest.fixture
def gym(tmp_path, monkeypatch):
    monkeypatch.setattr("cuekit.screen.running.checks_folder", lambda: tmp_path / "checks")
    return Gym(tmp_path)


def test_a_learner_who_is_not_to_be_recorded_keeps_the_microphone_shut(gym):
    gym.add(KeptLearner("R-21", skill="gallop", recording_allowed=False))
    gym.do("choose", code="R-21")
    for action in ("go", "listen"):
        with pytest.raises(RecordError, match="not to be recorded"):
            gym.do(action)
    assert gym.port.opened == 0
    assert gym.do("hear")["name"] == "plan"


def test_only_a_bout_of_the_learner_on_the_screen_is_voided(gym):
    gym.add("K-07", "M-12")
    gym.do("choose", code="K-07")
    gym.do("go")
    number = str(gym.bouts("K-07")[0].number)
    gym.do("choose", code="M-12")
    for action in ("void", "look"):
        with pytest.raises(RecordError, match="this learner has no bout"):
            gym.do(action, number=number)
    with pytest.raises(CuekitError, match="cannot be done here"):
        gym.do("set", reason="not mine")
    assert gym.bouts("K-07")[0].void_reason is None


def test_nothing_else_begins_while_something_runs(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    begun, go_on = threading.Event(), threading.Event()
    play = gym.port.play

    def slow(cue, stop, on_clock=None):
        begun.set()
        go_on.wait(10)
        return play(cue, stop, on_clock)

    gym.port.play = slow
    gym.lesson.do("hear", ())
    assert begun.wait(10)
    with pytest.raises(CuekitError, match="stop it first"):
        gym.lesson.do("go", ())
    gym.lesson.do("hide", ())
    gym.lesson.do("stop", ())
    go_on.set()
    gym.lesson._thread.join(10)
    assert gym.view["name"] == "plan"


def test_a_device_that_is_missing_is_one_sentence_and_the_lesson_goes_on(tmp_path):
    gym = Gym(tmp_path, NoDevice())
    gym.add("K-07")
    gym.do("choose", code="K-07")
    view = gym.do("go")
    assert view["name"] == "plan"
    assert "can be used" in view["message"]
    with pytest.raises(DeviceError):
        gym.port.names()


def test_a_file_that_is_no_sound_is_one_sentence(gym, tmp_path):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    path = tmp_path / "dropped"
    path.write_bytes(b"not a sound" * 100)
    gym.lesson.take_in(path)
    assert gym.view["name"] == "plan"
    assert 0 < len(gym.view["message"]) < 300
    assert gym.bouts("K-07") == []


def test_a_code_that_may_be_a_name_is_questioned(gym):
    with pytest.raises(RecordError, match="may be a name"):
        gym.do("set", code="Maria")
    assert gym.names("choice") == ["choose"]


@pytest.mark.parametrize(
    ("action", "values"),
    [("__init__", {}), ("go", {"x": "1"}), ("nonsense", {}), ("set", {}), ("set", {"folder": "/"}), ("step", {"key": "a"})],
)
def test_what_the_page_cannot_do_is_refused(gym, action, values):
    gym.do("choose", code="")
    gym.do("skill", name="gallop")
    with pytest.raises(CuekitError):
        gym.do(action, **values)
    assert gym.view["name"] == "plan"


@pytest.mark.parametrize("value", ["", "nan", "1e9", "-3", "inf", "999999999999999999", "abc"])
def test_a_tempo_nobody_can_follow_is_refused(value):
    with pytest.raises(CuekitError):
        changed(planned_pattern("gallop", None, "en"), "tempo_bpm", value)
