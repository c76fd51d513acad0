"""What a bout of one learner may be, where the teacher set it: in scoring, on a ladder, kept with the bout."""

from dataclasses import replace

import pytest

from cuekit.cli import run
from cuekit.cli.learners import CLEARED
from cuekit.errors import RecordError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import BoutRecord, Conditions, EyeMark, HelpLevel, Numbers, Seen
from cuekit.records.keeping import RULES, numbers_of, rules_of
from cuekit.records.ladder_records import met
from cuekit.records.learner import Learner, Tolerances
from cuekit.records.record_json import from_text, to_text
from cuekit.records.store import Store
from cuekit.shipped import shipped_folder
from cuekit.teaching.ladder_files import load_ladder
from tests.bouts import moves, score_of
from tests.made_records import AT

WIDE = Learner("R-21", tolerances=Tolerances(short_share_to_percent=46.0, beat_within_percent=30.0))


def numbers(pattern, **made):
    return numbers_of(score_of(moves(pattern, **made).footfalls, pattern))


def test_a_swing_of_44_percent_is_long_short_only_for_whom_the_teacher_said_so():
    """Short 44 % of the beat is "nearly even" by the usual bands (18 to 42 %)."""
    gallop = load_pattern("gallop")
    usual = numbers(gallop, beats=12, long_share=0.56)
    own = numbers(WIDE.accepting(gallop), beats=12, long_share=0.56)
    assert (usual.rhythm, usual.longest_run) == ("nearly even", 0)
    assert own.rhythm == "uneven"
    assert own.longest_run >= 11
    assert own.long_share == usual.long_share, "what was heard is the same"


def test_a_narrower_band_is_kept_to_as_well():
    narrow = Learner("K-07", tolerances=Tolerances(short_share_from_percent=28.0))
    gallop = load_pattern("gallop")
    assert numbers(gallop, beats=12, long_share=0.75).rhythm == "uneven"
    clipped = numbers(narrow.accepting(gallop), beats=12, long_share=0.75)
    assert (clipped.rhythm, clipped.longest_run) == ("clipped", 0)


def test_hops_that_vary_more_are_on_the_pattern_for_this_learner():
    hop = load_pattern("hop")
    shaky = {"beats": 24, "timekeeper_s": 0.09, "seed": 4}
    assert numbers(hop, **shaky).longest_run < numbers(WIDE.accepting(hop), **shaky).longest_run


def test_what_was_accepted_is_kept_with_the_bout_and_nothing_is_said_of_the_usual():
    gallop = load_pattern("gallop")
    assert rules_of(gallop) == RULES
    assert rules_of(WIDE.accepting(gallop)) == f"{RULES}; accepted: short share 18-46 %, even beats 30 %"


def test_a_recording_is_stored_by_the_learners_own_rules(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    narrow = ("--short-to", "25", "--skill", "skip")
    assert run(["learner", "add", "K-07", *narrow]) == 0
    assert run(["learner", "show", "K-07"]) == 0
    assert "accepted: short share to 25 %" in capsys.readouterr().out
    assert run(["keep", str(shipped_folder("demo_audio") / "skip-clear.flac"), "--learner", "K-07"]) == 0
    with Store(tmp_path) as store:
        (kept,) = store.bouts("K-07")
    assert kept.stored.rules.endswith("short share 18-25 %, even beats 15 %")
    assert kept.stored.numbers.longest_run == 0, "its shares lie at 33 %"


def test_what_was_set_can_be_set_back_to_the_usual(tmp_path, monkeypatch):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    own = ("--spread", "20", "--short-to", "46", "--ceiling", "-6", "--words", "BIG-and", "--own-tempo", "90")
    assert run(["learner", "add", "K-07", "--skill", "gallop", *own]) == 0
    assert (
        run(["learner", "set", "K-07", "--clear", "tolerances", "--clear", "own-tempo", "--spread", "15"])
        == 0
    )
    with Store(tmp_path) as store:
        learner = store.learner("K-07").noun
    assert learner.tolerances == Tolerances(spread_percent=15.0)
    assert (learner.tempo_bpm("gallop"), learner.words, learner.ceiling_db) == (None, "BIG-and", -6.0)
    every = [part for name in CLEARED for part in ("--clear", name)]
    assert run(["learner", "set", "K-07", *every]) == 0
    with Store(tmp_path) as store:
        assert store.learner("K-07").noun == Learner("K-07", skill="gallop")


def hops(spread_percent):
    done = Conditions("hop", CueLevel.C4, HelpLevel.I, step="hop-travelling", tempo_asked_bpm=130.0)
    told = Numbers(longest_run=20, spread_percent=spread_percent, tempo_bpm=130.0)
    return BoutRecord("K-07", AT, done, told, EyeMark(skill=Seen.YES))


def test_the_steadiness_a_step_asks_for_is_the_learners_own_where_one_is_set():
    steps = [step for step in load_ladder("hop").steps if step.target.spread_percent is not None]
    assert steps
    for step in steps:
        shaky = hops(step.target.spread_percent + 5.0)
        assert met(step, shaky) is False
        assert met(step, shaky, tolerances=Tolerances(spread_percent=step.target.spread_percent + 6.0))
        assert met(step, shaky, tolerances=Tolerances(tempo_within_percent=50.0)) is False
    free = replace(steps[0], target=replace(steps[0].target, spread_percent=None))
    assert met(free, hops(40.0), tolerances=Tolerances(spread_percent=5.0)), "a step that asks for none"


@pytest.mark.parametrize(
    "wrong",
    [
        {"spread_percent": 0.0},
        {"short_share_from_percent": 45.0, "short_share_to_percent": 30.0},
        {"short_share_to_percent": 51.0},
        {"beat_within_percent": 101.0},
    ],
)
def test_a_tolerance_that_cannot_be_is_refused(wrong):
    with pytest.raises(RecordError):
        Tolerances(**wrong)


def test_settings_with_tolerances_come_back_equal():
    assert from_text(Learner, to_text(WIDE)) == WIDE
