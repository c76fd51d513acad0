"""Stories and scenarios of the trade on the screen, with a made sound device: what the teacher does, sees and keeps.

Numbers of stories and scenarios are those of the team's page on the trade (8.1, 8.2).
"""

import json
import re
from datetime import date

import pytest

from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import CueKind, Seen
from cuekit.records.goals import Criterion, Goal, Measure
from cuekit.records.learner import Learner as KeptLearner
from cuekit.records.store_waiting import open_store
from cuekit.simulation.simulate import Learner, Rest, perform
from cuekit.simulation.simulate_rooms import NoiseColour, Room, record
from tests.screen.lesson_gym import Gym
from tests.test_phone_files import encode


@pytest.fixture
def gym(tmp_path, monkeypatch):
    monkeypatch.setattr("cuekit.screen.running.checks_folder", lambda: tmp_path / "checks")
    return Gym(tmp_path)


def choose_step(gym, words):
    """Take the step of the ladder that bears these words."""
    (step,) = [one for one in gym.do("steps")["actions"] if words in one["label"]]
    return gym.do("step", **step["values"])


def goal(code, pattern="gallop", sides=(), eye=False):
    return Goal(
        code, pattern, Measure.LONGEST_RUN, 6, Criterion(), date(2026, 3, 1), (CueLevel.C4,), sides=sides, eye_needed=eye
    )


def free(gym, take):
    """A bout without a cue; what the page says afterwards."""
    gym.port.child = take.samples
    return gym.do("listen")


def moved(beats, tempo_bpm=100.0, pattern="gallop", **how):
    learner = Learner(tempo_bpm=tempo_bpm, scatter_s=0.01, short_db=-6.0, **how)
    return record(perform(load_pattern(pattern), learner, beats=beats, seed=2), Room(noise_below_feet_db=45.0), seed=2)


def test_scenario_1_own_tempo_then_three_met_and_one_that_turned_into_a_run(gym):
    """K-07: three free gallops, then with the tones 12 beats three times, and once long-short for 5 beats, then even."""
    gym.add(KeptLearner("K-07", skill="gallop", ceiling_db=-6.0))
    gym.do("choose", code="K-07")
    for tempo_bpm in (96, 100, 104):
        free(gym, moved(10, tempo_bpm))
        gym.do("back")
        gym.do("back")
    view = choose_step(gym, "Gallop alone with the sound")
    begun_bpm = int(re.search(r"(\d+) a minute", view["lines"][0]).group(1))
    assert begun_bpm == pytest.approx(100, abs=2), "the own tempo is where it begins"
    said = []
    for even_from in (None, None, None, 5):
        gym.with_child(scatter_s=0.01, short_db=-6.0, even_from_beat=even_from)
        said.append(gym.do("go"))
        for key in ("r", "y", "s", "y", "i"):
            gym.do("eye", key=key)
        after = gym.do("back")
    assert ["long-short" in one["lead"] for one in said] == [True] * 4
    assert "even" in said[3]["lead"]
    assert after["lead"], "the next step is said with its reason"
    bouts = gym.bouts("K-07")
    assert len(bouts) == 7
    runs = [kept.now.numbers.longest_run for kept in bouts[3:]]
    assert min(runs[:3]) >= 8
    assert 3 <= runs[3] <= 6
    gym.do("go")
    assert 3 <= gym.do("child")["child"]["pictures"] <= 6
    assert list((gym.folder / "takes").iterdir()) == [], "nothing but numbers is kept"


def test_scenario_3_a_deaf_child_slides_each_way_by_the_ball_and_the_report_keeps_the_ways_apart(gym):
    """T-03: sound off, slide to the right 8 beats, to the left 4, the way entered by eye."""
    gym.add(KeptLearner("T-03", skill="slide"))
    with open_store(gym.folder / "data") as store:
        store.add(goal("T-03", "slide", (Side.RIGHT, Side.LEFT)))
    gym.do("choose", code="T-03")
    for side, made in (("right", 8), ("left", 4)):
        choose_step(gym, "Slide alone the better way")
        gym.do("set", sounds="false")
        gym.do("set", side=side)
        view = gym.do("set", marker="big")
        assert view["picture"]["marker"] == "big"
        assert {mark["big"] for mark in view["picture"]["marks"]} == {True, False}
        assert not any(mark["silent"] for mark in view["picture"]["marks"]), "the ball shows each of them"
        gym.do("set", beats=str(made))
        gym.with_child(scatter_s=0.01, short_db=-6.0)
        told = gym.do("go")
        gym.do("eye", key=side[0])
        assert "hear" not in told["lead"].split(), told["lead"]
        gym.do("back")
        gym.do("back")
    assert not any(block.any() for block in gym.port.sounded), "nothing sounded"
    kept = [one.now for one in gym.bouts("T-03")]
    assert [one.conditions.cue_kind for one in kept] == [CueKind.VISUAL] * 2
    assert [one.eye.lead for one in kept] == [Side.RIGHT, Side.LEFT]
    assert kept[0].numbers.longest_run >= 6
    assert kept[1].numbers.longest_run <= 4
    page = gym.lesson.paper("team")
    assert "right" in page.lower()
    assert "left" in page.lower()
    assert gym.do("history")["plot"].count("<svg") >= 3, "a plot for each way"


def test_scenario_7_two_passes_on_a_phone_with_a_walk_between_are_two_bouts(gym, tmp_path):
    """P-14, outdoors: two passes with 8 s between, wind, an m4a; both kept, doubt said, the original offered for deletion."""
    take = record(
        perform(load_pattern("gallop"), Learner(scatter_s=0.012, short_db=-6.0, rests=(Rest(10, 8.0),)), beats=20, seed=3),
        Room(rt60_s=0.0, noise_below_feet_db=30.0, noise_colour=NoiseColour.PINK),
        seed=3,
    )
    gym.add(KeptLearner("P-14", skill="gallop"))
    gym.do("choose", code="P-14")
    gym.lesson.take_in(encode(tmp_path / "pass.m4a", take.samples, "aac", form="ipod"))
    told = gym.view
    assert told["name"] == "told"
    assert any("Delete it from the phone" in line for line in told["lines"])
    bouts = gym.bouts("P-14")
    assert len(bouts) == 2
    assert [one.now.numbers.rhythm for one in bouts] == ["uneven"] * 2
    assert [one.now.conditions.cue_level for one in bouts] == [None, None], "nobody said what sounded"


def test_story_8_what_was_not_entered_is_shown_nowhere(gym):
    gym.add("K-07")
    with open_store(gym.folder / "data") as store:
        store.add(goal("K-07"))
    gym.do("choose", code="K-07")
    gym.with_child()
    gym.do("go")
    gym.do("leave_all")
    row = gym.do("history")["rows"][0]["cells"]
    assert gym.bouts("K-07")[0].now.eye.lead is None
    assert not {"right", "left", "yes"} & {cell.lower() for cell in row}


def test_story_14_a_void_stays_in_the_list_and_counts_in_no_report(gym):
    gym.add("K-07")
    with open_store(gym.folder / "data") as store:
        store.add(goal("K-07"))
    gym.do("choose", code="K-07")
    choose_step(gym, "Gallop alone with the sound")
    for _ in range(2):
        gym.with_child()
        gym.do("go")
        for key in ("r", "y", "s", "y", "i"):
            gym.do("eye", key=key)
        gym.do("back")
    number = gym.bouts("K-07")[0].number
    before = gym.lesson.paper("team")
    gym.do("void", number=str(number))
    rows = gym.do("set", reason="a ball rolled in")["rows"]
    assert len(rows) == 2
    assert ["void" in [one["name"] for one in row["actions"]] for row in rows] == [True, False], "not voided again"
    after = gym.lesson.paper("team")
    assert "a ball rolled in" in after
    assert after != before


def test_story_25_the_view_of_the_child_has_no_number_no_judgement_and_no_sound(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.with_child(scatter_s=0.01, even_from_beat=4)
    gym.do("go")
    gym.port.sounded.clear()
    view = gym.do("child")
    assert gym.port.sounded == []
    shown = json.dumps([view["child"]["words"], view["title"], view["lead"], view["lines"]])
    assert not any(character.isdigit() for character in shown)
    assert view["rows"] == []
    assert view["drawing"] == view["plot"] == ""
    assert view["child"]["filled"] <= view["child"]["pictures"] in range(3, 7)


def test_story_26_each_learner_has_their_own_tempo_cap_and_cue(gym):
    gym.add(
        KeptLearner("K-07", skill="gallop", own_tempo_bpm=90.0, cue_set="bell"),
        KeptLearner("M-12", skill="gallop", own_tempo_bpm=110.0, cue_set="drop", ceiling_db=-12.0),
    )
    loudest = {}
    for code, tempo_bpm in (("K-07", 90), ("M-12", 110)):
        view = gym.do("choose", code=code)
        assert f"{tempo_bpm} a minute" in view["lines"][0]
        gym.port.sounded.clear()
        gym.do("hear")
        loudest[code] = max(abs(block).max() for block in gym.port.sounded)
        fields = {one["name"]: one["value"] for one in gym.do("settings")["fields"]}
        assert fields["tones"] == {"K-07": "bell", "M-12": "drop"}[code]
        assert not any("loud" in name or "ceiling" in name for name in fields), "the cap cannot be passed from here"
        gym.do("back")
    assert loudest["M-12"] < loudest["K-07"]


@pytest.mark.parametrize("place", ["learners", "plan", "told", "more", "history"])
def test_story_30_what_a_microphone_cannot_tell_is_one_key_away_and_one_key_back(gym, place):
    gym.add("K-07")
    if place != "learners":
        gym.do("choose", code="K-07")
    if place == "told":
        gym.do("go")
        gym.do("leave_all")
    elif place in ("more", "history"):
        gym.do(place)
    (action,) = [one for one in gym.view["actions"] if one["name"] == "help"]
    assert action["keys"] == ["?"]
    view = gym.do("help")
    assert view["lead"] == "It hears when feet land, not how they look."
    assert all(line.count(".") <= 3 for line in view["lines"]), "three sentences at most for each number"
    assert gym.do("back")["name"] == place


def test_a_bout_without_a_mark_by_eye_is_no_skill_seen(gym):
    gym.add("K-07")
    gym.do("choose", code="K-07")
    gym.with_child()
    gym.do("go")
    gym.do("eye", key="r")
    gym.do("eye", key="n")
    assert gym.bouts("K-07")[0].now.eye.skill is Seen.NO
    gym.do("take_back")
    assert gym.bouts("K-07")[0].now.eye.skill is None
