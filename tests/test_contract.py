"""The JSON of a score: strict, complete, and saying no more than was heard."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.drawing.bout_plot import draw_bout
from cuekit.drawing.bout_text import draw_bout_text
from cuekit.patterns.pattern_files import list_patterns
from cuekit.rhythm.asynchrony import asynchrony
from cuekit.simulation.simulate import Rest
from cuekit.telling.contract import as_json
from tests.bouts import moves, rough_gaps_s, score_of, scored

MEASURES = {
    "beats", "beats_on_pattern", "longest_run", "tempo_bpm", "tempo_drift_percent", "long_share", "long_short_ratio",
    "rhythm", "spread_percent", "missed", "extra", "pauses",
}  # fmt: skip
TOP = {
    "schema",
    "pattern",
    "recording",
    "heard",
    "footfalls",
    "bouts",
    "fault",
    "summary",
    "cannot_tell",
    "next",
} | MEASURES
RECORDING = {"file", "duration_s", "sample_rate_hz", "channels", "noise_db", "clipped_percent", "warnings"}
FOOTFALL = {"time_s", "level_db", "confidence", "spread_s", "beat", "place"}
BOUT = {"start_s", "end_s"} | MEASURES
"""Keys of rhythm.md 4; others may be added."""


def refuse(word):
    raise AssertionError(f"{word} is no JSON number")


def contract(score):
    text = as_json(score)
    assert "\n" not in text
    return json.loads(text, parse_constant=refuse)


def test_what_is_known_against_the_cue_is_in_it():
    found = asynchrony(np.arange(8) * 0.6, np.arange(8) * 0.6 - 0.03, 0.6)
    told = json.loads(as_json(scored("gallop"), asynchrony=found, kept_beats=5), parse_constant=refuse)
    assert told["kept_beats"] == 5
    assert told["asynchrony"] == {"count": 8, "median_s": -0.03, "spread_s": 0.0, "resultant_length": 1.0}


def test_every_key_of_the_contract_is_there():
    told = contract(scored("gallop", rests=(Rest(5, 2.0),), not_made=frozenset({(3, 1)}), extra_per_min=10))
    assert set(told) >= TOP
    assert set(told["recording"]) >= RECORDING
    assert all(set(footfall) >= FOOTFALL for footfall in told["footfalls"])
    assert all(set(bout) >= BOUT for bout in told["bouts"])
    assert set(told["fault"]) >= {"id", "heard", "may_also_be", "ask"}
    assert set(told["long_share"]) == {"value", "low", "high"}
    assert set(told["missed"][0]) >= {"time_s", "beat", "place"}
    assert set(told["pauses"][0]) == {"start_s", "end_s"}
    assert told["schema"] == 1
    assert (told["asynchrony"], told["kept_beats"]) == (None, None)  # a file knows of no cue


def test_a_perfect_gallop_as_told():
    """science.md 8, oracle 1, through the contract."""
    told = contract(score_of(moves("gallop", beats=12).footfalls, "gallop"))
    assert told["pattern"] == "gallop"
    assert (told["beats"], told["beats_on_pattern"], told["longest_run"]) == (12, 12, 12)
    assert told["tempo_bpm"] == 100.0
    assert told["long_share"]["value"] == 0.6667
    assert told["long_short_ratio"] == 2.0
    assert told["rhythm"] == "uneven"
    assert told["spread_percent"] == 0.0
    assert told["fault"] is None
    assert told["footfalls"][0] == {"time_s": 1.0, "level_db": pytest.approx(0, abs=9), "confidence": 1.0, "spread_s": 0.0, "beat": 0, "place": 0}  # fmt: skip
    assert [(each["beat"], each["place"]) for each in told["footfalls"][:4]] == [
        (0, 0),
        (0, 1),
        (1, 0),
        (1, 1),
    ]


def test_an_extra_sound_has_no_beat_and_no_place():
    times_s = moves("gallop", beats=12).times_s
    told = contract(score_of(np.sort([*times_s, times_s[8] + 0.2]), "gallop"))
    assert told["extra"] == [{"time_s": pytest.approx(times_s[8] + 0.2, abs=1e-3)}]
    (beside,) = [each for each in told["footfalls"] if each["beat"] is None]
    assert beside["place"] is None


@pytest.mark.parametrize("times_s", [[], [2.0], [1.0, 1.6, 2.2]])
def test_numbers_that_do_not_exist_are_null(times_s):
    told = contract(score_of(times_s, "gallop"))
    for number in (
        "tempo_bpm",
        "tempo_drift_percent",
        "long_share",
        "long_short_ratio",
        "spread_percent",
        "fault",
    ):
        assert told[number] is None
    assert told["rhythm"] == "unclear"
    assert told["heard"] == "not enough"


def test_a_recording_of_digital_silence_has_a_level_that_is_a_number():
    score = score_of([], "gallop")
    silent = replace(score, hearing=replace(score.hearing, noise_db=float("-inf")))
    assert contract(silent)["recording"]["noise_db"] is None


@given(
    name=st.sampled_from(list_patterns()),
    beats=st.integers(1, 30),
    seed=st.integers(0, 5000),
    miss=st.sampled_from([0.0, 0.5, 1.0]),
    extra=st.sampled_from([0.0, 60.0]),
)
@settings(max_examples=60, deadline=None)
def test_strict_json_for_any_learner_and_the_bouts_add_up(name, beats, seed, miss, extra):
    told = contract(
        scored(name, beats=beats, seed=seed, scatter_s=0.03, miss_short=miss, extra_per_min=extra)
    )
    assert sum(bout["beats"] for bout in told["bouts"]) == told["beats"]
    times_s = [footfall["time_s"] for footfall in told["footfalls"]]
    assert times_s == sorted(times_s)
    beats_told = [footfall["beat"] for footfall in told["footfalls"] if footfall["beat"] is not None]
    assert beats_told == sorted(beats_told)
    assert len(told["summary"].split()) <= 25
    for bout in told["bouts"]:
        assert bout["start_s"] < bout["end_s"]


@given(
    gaps_s=st.lists(st.floats(0.02, 6.0), max_size=12) | st.integers(0, 10_000).map(rough_gaps_s),
    name=st.sampled_from(list_patterns()),
    asked_bpm=st.sampled_from([None, 20.0, 90.0, 300.0]),
)
@settings(max_examples=60, deadline=None)
def test_any_row_of_sounds_is_told_drawn_and_summed_up(gaps_s, name, asked_bpm):
    times_s = np.cumsum([0.5, *gaps_s]) if gaps_s else []
    score = score_of(times_s, name, tempo_bpm=asked_bpm)
    told = contract(score)
    assert len(told["summary"].split()) <= 25
    assert told["beats"] >= told["judged_beats"] >= told["beats_on_pattern"] >= told["longest_run"] >= 0
    share = told["long_share"]
    assert share is None or 0 < share["low"] <= share["value"] <= share["high"] < 1
    assert draw_bout(score).startswith("<?xml") or draw_bout(score).startswith("<svg")
    assert all(len(line) <= 78 for line in draw_bout_text(score))


def test_no_left_or_right_foot_is_claimed():
    text = as_json(scored("gallop-switch-4", beats=8)).lower()
    assert '"foot"' not in text
    assert "left" not in text
    assert "right" not in text
