"""What is kept of a recording: each bout by itself, numbers and contract that agree, no file name."""

import json

import numpy as np
import pytest

from cuekit.hearing.events import Footfall, Heard, Hearing, Recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.keeping import heard_bouts, numbers_of
from cuekit.records.rescoring import footfalls_of, measured_without
from cuekit.telling.scoring import score_hearing

GALLOP = load_pattern("gallop")


def score(*starts_s, beats=10, share=2 / 3, beat_s=0.6):
    """Bouts of perfect gallops that begin at the times given."""
    times = sorted(
        s + b * beat_s + place for s in starts_s for b in range(beats) for place in (0.0, share * beat_s)
    )
    footfalls = tuple(Footfall(time_s, -20.0) for time_s in times)
    hearing = Hearing(footfalls, (), Heard.CLEAR, "", -60.0)
    recording = Recording(
        "maria.wav", np.zeros(0, np.float32), 16_000, 48_000, 1, 90.0, 0.0, ("maria.wav was cut short",)
    )
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
    empty = Hearing((), (), Heard.NOT_ENOUGH, "no footfalls", -60.0)
    recording = Recording("a.wav", np.zeros(0, np.float32), 16_000, 48_000, 1, 9.0, 0.0, ())
    (only,) = heard_bouts(score_hearing(recording, empty, GALLOP))
    assert only.numbers.heard is Heard.NOT_ENOUGH
    assert only.numbers.footfalls == 0


def test_no_file_name_is_kept():
    assert all("maria" not in one.contract for one in heard_bouts(score(3.0, 40.0)) + heard_bouts(score(3.0)))


def test_measuring_anew_with_nothing_struck_out_gives_the_same_numbers():
    for one in heard_bouts(score(3.0, 40.0)):
        again = measured_without(one.contract, set(), GALLOP, None)
        assert len(footfalls_of(one.contract)) == again.footfalls
        same = ("beats", "complete_beats", "longest_run", "tempo_bpm", "long_share", "rhythm")
        assert [getattr(again, name) for name in same] == [getattr(one.numbers, name) for name in same]
