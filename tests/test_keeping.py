"""What is kept of a recording: each bout by itself, numbers and contract that agree, no file name."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from fake_port import FakePort

from cuekit.bouts.audio_port import never
from cuekit.bouts.preparing import conditions_of
from cuekit.bouts.session import bout_to_cue
from cuekit.bouts.storing import store_live
from cuekit.hearing.events import Doubt, Footfall, Heard, Hearing, Recording, Warned
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Fade
from cuekit.records.bout_record import EyeMark, HelpLevel, Mode, Seen
from cuekit.records.goals import Criterion, Goal, Measure, evaluate
from cuekit.records.keeping import heard_bouts, numbers_of
from cuekit.records.rescoring import footfalls_of, measured_without
from cuekit.records.store import Store
from cuekit.simulation.simulate import Learner
from cuekit.telling.phrases import load_phrases
from cuekit.telling.scoring import score_hearing
from tests.made_records import AT
from tests.test_live import follower, given, no_matter

GALLOP = load_pattern("gallop")


def score(*starts_s, beats=10, share=2 / 3, beat_s=0.6):
    """Bouts of perfect gallops that begin at the times given."""
    times = sorted(
        s + b * beat_s + place for s in starts_s for b in range(beats) for place in (0.0, share * beat_s)
    )
    footfalls = tuple(Footfall(time_s, -20.0) for time_s in times)
    hearing = Hearing(footfalls, (), Heard.CLEAR, "", -60.0)
    cut = Warned("broken-off", (("held", "90.0 s"),))
    recording = Recording("maria.wav", np.zeros(0, np.float32), 16_000, 48_000, 1, 90.0, 0.0, (cut,))
    return score_hearing(recording, hearing, GALLOP)


def test_two_passes_in_one_recording_are_two_bouts():
    first, second = heard_bouts(score(3.0, 40.0))
    assert (first.start_s, second.start_s) == (pytest.approx(3.0), pytest.approx(40.0))
    for one in (first, second):
        assert one.numbers.footfalls == 20
        assert one.numbers.longest_run == pytest.approx(10, abs=1)
        told = json.loads(one.contract)
        assert len(told["footfalls"]) == 20
        assert len(told["bouts"]) == 1
        assert told["bouts"][0]["longest_run"] == one.numbers.longest_run


def test_one_bout_is_kept_whole():
    whole = score(3.0)
    (only,) = heard_bouts(whole)
    assert only.numbers == numbers_of(whole)


def test_nothing_heard_is_kept_as_nothing_heard():
    empty = Hearing((), (), Heard.NOT_ENOUGH, Doubt.NOTHING, -60.0)
    recording = Recording("a.wav", np.zeros(0, np.float32), 16_000, 48_000, 1, 9.0, 0.0, ())
    (only,) = heard_bouts(score_hearing(recording, empty, GALLOP))
    assert only.numbers.heard is Heard.NOT_ENOUGH
    assert only.numbers.footfalls == 0


def test_no_file_name_is_kept():
    assert all("maria" not in one.contract for one in heard_bouts(score(3.0, 40.0)) + heard_bouts(score(3.0)))


def test_beats_kept_after_the_sound_are_stored_with_a_live_bout(tmp_path):
    """Story 9 to the records: four cued beats, eight alone, and a goal that counts the eight."""
    what = given(fade=Fade(full=4), beats=12)
    port = FakePort(follower(what, Learner(scatter_s=0.01), 0.1), lag_s=0.1, cue_gain=0.3)
    done = bout_to_cue(port, tmp_path / "takes", what, load_phrases(), no_matter, never)
    with Store(tmp_path / "data") as store:
        conditions = conditions_of(GALLOP, what.schedule, Mode.FEET)
        (number,) = store_live(store, done.verdict, "K-07", conditions, AT)
        kept = store.bout(number)
    assert kept.stored.numbers.kept_beats == 8
    goal = Goal("K-07", "gallop", Measure.KEPT_BEATS, 8, Criterion(1, 1, 1), date(2026, 1, 1), (CueLevel.C4,))
    seen = replace(kept.stored, eye=EyeMark(skill=Seen.YES))
    seen = replace(seen, conditions=replace(conditions, help_level=HelpLevel.I))
    assert evaluate(goal, [replace(kept, stored=seen)]).reached


def test_measuring_anew_with_nothing_struck_out_gives_the_same_numbers():
    for one in heard_bouts(score(3.0, 40.0)):
        again = measured_without(one.contract, set(), GALLOP, None)
        assert len(footfalls_of(one.contract)) == again.footfalls
        same = ("beats", "complete_beats", "longest_run", "tempo_bpm", "long_share", "rhythm")
        assert [getattr(again, name) for name in same] == [getattr(one.numbers, name) for name in same]
