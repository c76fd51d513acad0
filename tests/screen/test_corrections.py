"""The teacher corrects the machine on the screen: sounds struck out, footfalls counted anew, marks by eye, goals.

Story 14 of the team's page on the trade (8.1), and the goal that the reports are about.
"""

import re
from dataclasses import replace
from datetime import date

import pytest

from cuekit.errors import CuekitError, RecordError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import NUMBERS
from cuekit.records.bout_record import BoutRecord, Conditions, Numbers, Seen, Source
from cuekit.records.goals import Criterion, Goal
from cuekit.records.store_waiting import open_store
from cuekit.screen.goal_fields import changed_goal
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record
from tests.screen.lesson_gym import Gym
from tests.screen.test_lesson_stories import choose_step, goal, moved


def gym_in(folder, monkeypatch):
    """A gym with one learner, chosen."""
    monkeypatch.setattr("cuekit.screen.running.checks_folder", lambda: folder / "checks")
    made = Gym(folder)
    made.add("K-07")
    made.do("choose", code="K-07")
    return made


@pytest.fixture
def gym(tmp_path, monkeypatch):
    return gym_in(tmp_path, monkeypatch)


@pytest.fixture(scope="module")
def being_mended(tmp_path_factory):
    """A gym in which a bout is being set right, for tests that change nothing."""
    with pytest.MonkeyPatch.context() as patched:
        made = gym_in(tmp_path_factory.mktemp("mended"), patched)
        heard(made)
        made.do("mend")
        yield made


def heard(gym, **how):
    """A bout without a cue, heard and marked; its number."""
    gym.port.child = moved(8, **how).samples
    gym.do("listen")
    gym.do("leave_all")
    return gym.bouts("K-07")[-1].number


def fields(view):
    return {one["name"]: one["value"] for one in view["fields"]}


def sounds_in(drawing):
    return drawing.count("data-sound=")


def test_two_sounds_that_were_not_the_childs_are_struck_out_and_the_verdict_is_made_anew(gym):
    number = heard(gym)
    before = gym.view["lead"]
    view = gym.do("mend")
    assert f"{number}" in view["title"]
    assert "Sound 1 of 16: beat 1." in view["lead"]
    assert sounds_in(view["drawing"]) == 16
    for sound in ("15", "16"):
        gym.do("sound", number=sound)
        view = gym.do("strike")
    assert view["lead"] == "Sound 16 of 16: struck out."
    assert fields(view)["footfalls"] == "14"
    assert sounds_in(view["drawing"]) == 16, "those struck out stay to be seen"
    assert gym.bouts("K-07")[-1].amendments == (), "nothing is kept before the reason is given"
    assert gym.do("mended")["name"] == "reason"
    told = gym.do("because", key="ball")
    assert told["name"] == "told"
    assert told["lead"] != before
    assert told["lead"].startswith("7 beats")
    (kept,) = gym.bouts("K-07")
    assert kept.stored.numbers.footfalls == 16, "what was first kept is there still"
    assert kept.now.numbers.footfalls == 14
    assert kept.struck == (15, 16)
    (row,) = gym.do("history")["rows"]
    assert row["cells"][-1] == "2 sounds struck out: A ball, a clap or a voice."


def test_what_was_struck_out_is_undone_by_a_newer_correction_and_both_stay_in_the_list(gym):
    number = str(heard(gym))
    gym.do("mend")
    gym.do("strike")
    gym.do("mended")
    gym.do("set", reason="a bounce")
    gym.do("history")
    assert gym.do("look", number=number)["name"] == "told"
    assert gym.do("mend")["lead"] == "Sound 1 of 16: struck out."
    gym.do("strike")
    gym.do("mended")
    gym.do("set", reason="it was a foot")
    (kept,) = gym.bouts("K-07")
    assert kept.struck == ()
    assert kept.now.numbers.footfalls == kept.stored.numbers.footfalls == 16
    assert [one.field for one in kept.amendments] == [NUMBERS, NUMBERS]
    view = gym.do("back")
    assert view["name"] == "history"
    assert view["rows"][0]["cells"][-1] == "1 sound struck out: a bounce. All sounds count again: it was a foot."


def test_a_footfall_the_eye_counted_more_is_kept_beside_what_was_heard_and_counted_in_the_report(gym):
    with open_store(gym.folder / "data") as store:
        store.add(goal("K-07"))
    number = heard(gym)
    gym.do("mend")
    view = gym.do("set", footfalls="17")
    assert fields(view)["footfalls"] == "17"
    gym.do("mended")
    with pytest.raises(RecordError, match="needs a reason"):
        gym.do("set", reason=" ")
    told = gym.do("because", key="count")
    assert "Footfalls 16 → 17: Counted again by eye." in told["lines"]
    (kept,) = gym.bouts("K-07")
    assert (kept.number, kept.stored.numbers.footfalls, kept.now.numbers.footfalls) == (number, 16, 17)
    assert kept.corrections == 1
    page = gym.lesson.paper("team")
    assert "Counted again by eye" in page
    assert re.search(r"[Cc]orrections[^0-9]*1\b", page)


def test_a_correction_with_nothing_changed_is_none(gym):
    heard(gym)
    gym.do("mend")
    with pytest.raises(RecordError, match="Nothing was changed"):
        gym.do("mended")
    gym.do("strike")
    gym.do("strike")
    gym.do("set", footfalls="17")
    gym.do("set", footfalls="16")
    with pytest.raises(RecordError, match="Nothing was changed"):
        gym.do("mended")
    assert gym.do("back")["name"] == "told"
    assert gym.bouts("K-07")[0].amendments == ()


def test_a_clap_between_the_feet_has_no_place_and_is_struck_out(gym):
    done = with_a_clap()
    gym.port.child = record(done, Room(noise_below_feet_db=45.0), seed=2).samples
    gym.do("listen")
    gym.do("leave_all")
    gym.do("mend")
    sounds = gym.lesson._actions.state.mending.sounds()
    (stray,) = [one for one in sounds if one.beat is None]
    assert gym.do("sound", number=str(stray.number))["lead"].endswith("no place in the rhythm.")
    gym.do("strike")
    assert all(one.beat for one in gym.lesson._actions.state.mending.sounds() if not one.struck)
    gym.do("mended")
    gym.do("because", key="ball")
    (kept,) = gym.bouts("K-07")
    assert (kept.stored.numbers.footfalls, kept.now.numbers.footfalls) == (21, 20)
    assert kept.now.numbers.longest_run == 10


def with_a_clap():
    """Ten beats of a gallop, and a sound in the middle of a long part."""
    done = perform(load_pattern("gallop"), Learner(tempo_bpm=90.0, scatter_s=0.01, short_db=-6.0), beats=10, seed=2)
    lead, short = done.landings[10:12]
    clap = replace(lead, time_s=0.5 * (lead.time_s + short.time_s))
    return replace(done, landings=(*done.landings[:11], clap, *done.landings[11:]))


def test_a_bout_counted_by_hand_has_no_sounds_but_its_numbers_can_be_set_right(gym):
    with open_store(gym.folder / "data") as store:
        bout = BoutRecord("K-07", gym.clock(), Conditions("gallop"), Numbers(footfalls=11), source=Source.COUNTED)
        number = str(store.add(bout).number)
    gym.do("history")
    view = gym.do("look", number=number)
    assert view["name"] == "mend"
    assert view["drawing"] == ""
    assert "strike" not in gym.names()
    gym.do("set", footfalls="12")
    gym.do("mended")
    view = gym.do("because", key="count")
    assert view["name"] == "history"
    assert view["rows"][0]["cells"][-1] == "Footfalls 11 → 12: Counted again by eye."


@pytest.mark.parametrize(
    ("action", "values"),
    [
        ("sound", {"number": "0"}),
        ("sound", {"number": "999"}),
        ("sound", {"number": "-1"}),
        ("sound", {"number": "²"}),
        ("set", {"tempo_bpm": "100"}),
        ("set", {"numbers": "{}"}),
        ("set", {"footfalls": "many"}),
        ("set", {"footfalls": "-1"}),
        ("because", {"key": "ball"}),
        ("because", {"key": "nonsense"}),
        ("goal_keep", {}),
        ("goal_step", {"key": "nonsense"}),
    ],
)
def test_what_cannot_be_corrected_is_refused_and_nothing_is_kept(being_mended, action, values):
    before = being_mended.view
    with pytest.raises(CuekitError):
        being_mended.do(action, **values)
    assert being_mended.view == before
    assert being_mended.bouts("K-07")[0].amendments == ()


def test_what_the_eye_saw_is_asked_again_and_a_question_left_out_stays_as_it_was(gym):
    choose_step(gym, "Gallop alone with the sound")
    gym.port.child = moved(8).samples
    gym.do("listen")
    gym.do("eye", key="r")
    gym.do("leave_all")
    gym.do("history")
    gym.do("look", number=str(gym.bouts("K-07")[0].number))
    assert "foot" in gym.do("ask_again")["asked"].lower()
    gym.do("leave_out")
    gym.do("eye", key="y")
    gym.do("leave_all")
    kept = gym.bouts("K-07")[0]
    assert (kept.now.eye.lead, kept.now.eye.skill) == ("right", Seen.YES)
    row = gym.do("history")["rows"][0]["cells"]
    assert "yes, right" in row
    assert row[-1] == "", "what was only entered is no correction"


def test_a_goal_is_taken_from_the_ladder_set_and_drawn_in_the_history(gym):
    assert gym.do("history")["plot"] == ""
    assert "No goal yet" in gym.view["lines"][0]
    view = gym.do("goal")
    assert len([one for one in view["actions"] if one["name"] == "goal_step"]) > 3
    view = gym.do("goal_step", key="gallop-alone")
    assert "6 beats in a row" in view["lines"][0]
    gym.do("set", at_least="8")
    gym.do("set", of="3")
    view = gym.do("set", goal_help="V")
    assert "8 beats in a row" in view["lines"][0]
    assert "in 3 of 3 bouts" in view["lines"][0]
    assert "with a word" in view["lines"][0]
    view = gym.do("goal_keep")
    assert view["name"] == "goal"
    assert "No bout counts yet." in view["lines"]
    assert gym.do("back")["name"] == "history"
    assert gym.view["plot"].startswith("<svg")
    with open_store(gym.folder / "data") as store:
        (entry,) = store.entries(Goal, "K-07")
    assert (entry.noun.at_least, entry.noun.criterion, entry.noun.since) == (8, Criterion(3, 3, 2), date(2026, 3, 2))
    assert "K-07" in gym.lesson.paper("family")
    gym.do("goal")
    assert "No goal yet" in gym.do("goal_close")["lead"]
    assert gym.do("back")["plot"] == ""
    with open_store(gym.folder / "data") as store:
        assert [one.noun.closed for one in store.entries(Goal, "K-07")] == [True], "it stays in the records"


def test_a_bout_that_meets_the_goal_stands_on_its_line_in_the_history(gym):
    gym.do("goal")
    gym.do("goal_step", key="gallop-alone")
    gym.do("goal_keep")
    choose_step(gym, "Gallop alone with the sound")
    gym.with_child()
    gym.do("go")
    for key in ("r", "y", "s", "y", "i"):
        gym.do("eye", key=key)
    assert "1" in gym.do("history")["plot"]
    view = gym.do("goal")
    assert any("1 of the last 1 bouts met" in line for line in view["lines"])


def test_the_code_is_hidden_in_the_words_of_the_goal_too(gym):
    gym.do("goal")
    gym.do("goal_step", key="gallop-alone")
    gym.do("goal_keep")
    gym.do("hide")
    assert "K-07" not in str(gym.view)


@pytest.mark.parametrize("name", ["met", "of", "days"])
@pytest.mark.parametrize("number", [1, 3, 20])
def test_whatever_number_of_a_goal_is_set_it_can_be_met(name, number):
    after = changed_goal(goal("K-07"), name, str(number))
    rule = after.criterion
    assert getattr(rule, name) == number
    assert 1 <= rule.days <= rule.met <= rule.of


@pytest.mark.parametrize(
    ("name", "value"),
    [("at_least", "0"), ("at_least", "61"), ("met", "x"), ("goal_cue", "C9"), ("goal_help", "FP"), ("goal_side", "up"), ("eye", "1"), ("learner", "M-12")],
)
def test_a_goal_that_cannot_be_is_refused(name, value):
    with pytest.raises(RecordError):
        changed_goal(goal("K-07"), name, value)


def test_the_level_of_the_cue_is_part_of_the_goal():
    assert changed_goal(goal("K-07"), "goal_cue", "C2").cue_levels == (CueLevel.C2,)
