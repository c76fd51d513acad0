"""A lesson on the screen without a browser: each action changes one state, and nothing is lost on the way."""

from datetime import date

import pytest

from cuekit.errors import CuekitError, RecordError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import CueKind, Feet, HelpLevel, Seen
from cuekit.records.goals import Criterion, Goal, Measure
from cuekit.records.learner import Learner as KeptLearner
from cuekit.records.learner import Tolerances
from cuekit.records.store_waiting import open_store
from cuekit.shipped import shipped_folder
from cuekit.teaching.ladder_files import load_ladder
from tests.screen.lesson_gym import Gym


@pytest.fixture
def gym(tmp_path, monkeypatch):
    monkeypatch.setattr("cuekit.screen.running.checks_folder", lambda: tmp_path / "checks")
    return Gym(tmp_path)


def test_a_whole_lesson_from_the_code_to_the_next_step(gym):
    assert gym.do("set", code="k-07")["who"] == "K-07"
    gym.do("skill", name="gallop")
    assert "Gallop" in gym.do("step", key="gallop-alone")["lines"][0]
    gym.with_child()
    told = gym.do("go")
    assert told["name"] == "told"
    assert "clear long-short" in told["lead"]
    assert len(told["lead"].split()) <= 25
    assert told["drawing"].startswith("<svg")
    for key in ("r", "y", "s", "y", "i"):
        gym.do("eye", key=key)
    assert "eye" not in gym.names()
    (kept,) = gym.bouts("K-07")
    assert (kept.now.eye.lead, kept.now.eye.skill, kept.now.eye.feet) == ("right", Seen.YES, Feet.SAME_AHEAD)
    assert kept.now.conditions.help_level is HelpLevel.I
    assert kept.now.conditions.step == "gallop-alone"
    assert kept.now.numbers.longest_run >= 8
    assert gym.do("back")["name"] == "plan"
    assert list((gym.folder / "takes").glob("*")) == [], "no sound is kept"


def test_the_cue_playing_and_nobody_moving_is_no_footfalls_heard(gym):
    gym.add("K-07")
    gym.port.cue_gain = 0.2
    gym.do("choose", code="K-07")
    assert gym.do("go")["lead"].startswith("No footfalls heard")


def test_two_actions_from_the_launch_to_the_sound(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.do("hear")
    assert any(block.any() for block in gym.port.sounded)
    assert gym.port.opened == 0, "the microphone stays shut"


def test_without_records_nothing_is_stored(gym):
    gym.do("choose", code="")
    gym.do("skill", name="gallop")
    gym.with_child()
    told = gym.do("go")
    assert told["lines"][-1].startswith("Not kept")
    assert gym.do("learners")["who"] == ""
    with pytest.raises(CuekitError, match="Choose a learner first"):
        gym.do("history")


def test_twenty_bouts_of_two_in_turn_stand_under_the_right_code(gym):
    gym.add("K-07", "M-12")
    gym.do("choose", code="K-07")
    expected = []
    for _ in range(20):
        expected.append(gym.view["who"])
        gym.do("set", beats="4")
        gym.do("go")
        gym.do("back")
        gym.do("next_learner")
    assert expected == ["K-07", "M-12"] * 10
    assert len(gym.bouts("K-07")) == len(gym.bouts("M-12")) == 10


def test_without_sound_the_ball_is_the_cue_and_that_is_stored(gym):
    gym.add("T-03")
    gym.do("choose", code="T-03")
    assert "without sound" in gym.do("set", sounds="false")["lines"][0]
    gym.do("set", marker="big")
    assert gym.view["picture"]["marker"] == "big"
    gym.do("go")
    assert not any(block.any() for block in gym.port.sounded)
    assert gym.bouts("T-03")[0].now.conditions.cue_kind is CueKind.VISUAL


def test_an_answer_taken_back_is_not_entered(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.do("step", key="gallop-alone")
    gym.do("go")
    gym.do("eye", key="l")
    assert gym.bouts("K-07")[0].now.eye.lead == "left"
    gym.do("take_back")
    assert gym.bouts("K-07")[0].now.eye.lead is None
    gym.do("leave_out")
    assert gym.bouts("K-07")[0].now.eye.lead is None


def test_a_bout_is_voided_with_a_reason_and_stays(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.do("go")
    number = str(gym.bouts("K-07")[0].number)
    assert gym.do("void", number=number)["name"] == "reason"
    with pytest.raises(RecordError, match="needs a reason"):
        gym.do("set", reason=" ")
    told = gym.do("set", reason="another child ran in")
    assert told["rows"][0]["cells"][-1] == "Void: another child ran in"
    assert gym.bouts("K-07")[0].void_reason == "another child ran in"


def test_the_child_sees_pictures_until_they_are_hidden_for_good(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.with_child()
    gym.do("go")
    child = gym.do("child")["child"]
    assert 3 <= child["pictures"] <= 6
    assert child["filled"] == child["pictures"]
    assert "child_off" not in gym.names(), "not within the child's reach"
    assert not any(character.isdigit() for character in child["words"])
    gym.do("back")
    gym.do("more")
    assert "child_off" in gym.names()
    gym.do("child_off")
    assert "child_on" in gym.names()
    with pytest.raises(CuekitError, match="hidden for K-07"):
        gym.do("child")
    gym.do("child_on")
    assert gym.do("child")["name"] == "child"


def test_codes_are_hidden_by_one_key(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.do("hide")
    assert "K-07" not in str({key: value for key, value in gym.view.items() if key != "actions"})
    gym.do("learners")
    assert [one["label"] for one in gym.view["actions"] if one["role"] == "choice"][0] == "••••"


def test_the_page_rests_and_comes_back_to_where_it_was(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.do("history")
    assert gym.do("blank")["name"] == "blank"
    assert "K-07" not in str(gym.view)
    gym.do("blank")
    assert gym.do("back")["name"] == "history"


def test_own_tempo_from_three_bouts_without_a_cue(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    for tempo in (96, 100, 104):
        gym.do("set", tempo_bpm=str(tempo))
        gym.with_child()
        view = gym.do("listen")
        gym.do("back")
    assert "Own tempo found: 10" in view["message"]
    assert gym.view["lines"][0].split(",")[-2].strip() in {f"{bpm} a minute" for bpm in (98, 99, 100, 101, 102)}


def test_a_recording_dropped_is_scored_and_stored(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.lesson.take_in(shipped_folder("demo_audio") / "gallop-even.flac")
    assert gym.view["name"] == "told"
    assert "sound even, like running" in gym.view["lead"]
    assert gym.bouts("K-07")[0].now.conditions.cue_level is None
    assert "gallop-even.flac" not in gym.view["drawing"]


def test_pages_to_print_need_a_goal(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    with pytest.raises(RecordError, match="no open goal"):
        gym.lesson.paper("family")
    goal = Goal(
        "K-07", "gallop", Measure.LONGEST_RUN, 6, Criterion(), date(2026, 3, 1), (CueLevel.C4,), eye_needed=False
    )
    with open_store(gym.folder / "data") as store:
        store.add(goal)
    gym.with_child()
    gym.do("go")
    assert "K-07" in gym.lesson.paper("family")
    assert gym.do("history")["plot"].startswith("<svg")
    with pytest.raises(RecordError, match="no such page"):
        gym.lesson.paper("../records.db")


def test_the_service_minutes_run_from_key_to_key(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    assert any("Lesson running" in line for line in gym.do("lesson")["lines"])
    gym.do("lesson")
    assert not any("Lesson running" in line for line in gym.view["lines"])


def test_the_other_language_everywhere(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    view = gym.do("language")
    assert view["language"] == "es"
    assert view["actions"][0]["label"] == "Ya"
    assert "derecha" in view["lines"][0]
    task = load_ladder("gallop", language="es").steps[0].task
    assert task.split(":")[0] in view["lead"]


def test_the_cautions_once_a_lesson_and_the_teachers_note_each_time(gym):
    gym.add(KeptLearner("D-05", skill="gallop", restrictions="no jumping until cleared"))
    first = gym.do("choose", code="D-05")["cautions"]
    gym.do("go")
    assert "leave_all" in gym.names()
    gym.do("leave_all")
    again = gym.do("back")["cautions"]
    assert any("no jumping until cleared" in line for line in first)
    assert any("no jumping until cleared" in line for line in again)
    assert len(again) < len(first)


def test_a_new_learner_is_asked_which_skill(gym):
    assert gym.do("set", code="k-07")["name"] == "skills"
    with pytest.raises(CuekitError, match="Choose"):
        gym.do("go")
    assert gym.do("back")["name"] == "learners"


def test_the_remote_control_has_the_big_key_and_no_code(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    assert gym.lesson.remote_words() == {"main": "Go", "back": "Hear it"}
    gym.lesson.press("back")
    gym.lesson._thread.join(30)
    assert any(block.any() for block in gym.port.sounded)
    with pytest.raises(CuekitError):
        gym.lesson.press("stop")


def test_what_is_accepted_for_a_learner_alone_judges_the_bout_and_is_noted(gym):
    wide = Tolerances(short_share_from_percent=20.0, short_share_to_percent=48.0)
    gym.add(KeptLearner("K-07", skill="gallop", tolerances=wide))
    gym.do("choose", code="K-07")
    gym.with_child()
    gym.do("go")
    assert "accepted: short share 20-48 %" in gym.bouts("K-07")[0].now.rules


def test_the_words_of_a_cue_stay_those_of_the_learner_whatever_the_page_speaks(gym):
    gym.add(KeptLearner("N-02", skill="gallop", language="es"))
    gym.do("choose", code="N-02")
    gym.do("set", level="C5")
    played = []
    given = gym.lesson._runner.given
    gym.lesson._runner.given = lambda *arguments: played.append(given(*arguments)) or played[-1]
    gym.do("hear")
    spanish = {cue.word for cue in played[0].schedule.footfalls}
    assert gym.view["language"] == "en"
    assert spanish == {beat.lead.word for beat in load_pattern("gallop", language="es").beats} | {
        beat.short.word for beat in load_pattern("gallop", language="es").beats
    }
