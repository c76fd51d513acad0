"""The bout in characters: as many signs as footfalls, in their places, in the width there is."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.drawing.bout_text import NARROWEST, draw_bout_text
from cuekit.hearing.events import Footfall, Heard, Hearing, Recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.measures import long_shares, timed_beats
from cuekit.simulation.simulate import Learner, Rest, joined, moved, perform
from cuekit.telling.phrases import load_phrases
from cuekit.telling.scoring import score_hearing


def scored(pattern, times_s):
    falls = tuple(Footfall(float(time_s), -20.0) for time_s in times_s)
    recording = Recording("feet.wav", np.zeros(1, np.float32), 16_000, 48_000, 1, 20.0, 0.0, ())
    heard = Heard.CLEAR if falls else Heard.NOT_ENOUGH
    return score_hearing(recording, Hearing(falls, (), heard, "", -60.0), load_pattern(pattern))


def moves(pattern, beats=16, seed=1, **learner):
    return perform(load_pattern(pattern), Learner(**learner), beats=beats, seed=seed)


def danced(pattern, beats=16, seed=1, **learner):
    return scored(pattern, moves(pattern, beats, seed, **learner).times_s)


def rows(lines, name):
    """The part right of the label of every row whose label begins so."""
    return [
        line[14:] for line in lines if line.strip().startswith(name) and len(line) > 14 and line[13] == " "
    ]


def heard_rows(lines):
    return [line[14:] for line in lines if line.startswith("  heard ")]


def due_rows(lines):
    return [line[14:] for line in lines if re.match(r"  beats? \d", line)]


def count(lines, signs):
    return sum(row.count(sign) for row in lines for sign in signs)


def placed(score, place):
    return sum(each is not None and each[1] == place for each in score.alignment.places)


ONE_SIDE = frozenset((beat, 1) for beat in range(1, 16, 2))
CASES = {
    "gallop": lambda: danced("gallop", scatter_s=0.02),
    "one-sided skip": lambda: danced("skip", scatter_s=0.02, not_made=ONE_SIDE),
    "pause": lambda: danced("gallop", 20, scatter_s=0.02, rests=(Rest(9, 2.4),)),
    "noise": lambda: danced("gallop", 22, 4, scatter_s=0.025, extra_per_min=40, miss_short=0.1),
    "hop": lambda: danced("hop", 14, tempo_bpm=130, scatter_s=0.03),
    "leap": lambda: danced("leap", 18, tempo_bpm=150, scatter_s=0.02),
    "figure": lambda: danced("walk-gallop-walk", 24, scatter_s=0.02),
}


@pytest.mark.parametrize("case", CASES)
def test_there_are_as_many_signs_as_footfalls_misses_and_extras(case):
    score = CASES[case]()
    lines = draw_bout_text(score, unicode=False)
    heard = heard_rows(lines)
    assert count(heard, "#") == placed(score, 0)
    assert count(heard, "+") == placed(score, 1)
    assert count([re.sub(r"\d\.\d s", "", row) for row in heard], ".") == len(score.measures.missed)
    assert count(heard, "x") == len(score.measures.extra_s)
    assert count(due_rows(lines), "Oo") == placed(score, 0) + placed(score, 1) + len(score.measures.missed)


@pytest.mark.parametrize("case", CASES)
def test_in_spanish_it_fits_and_has_no_english(case):
    english = CASES[case]()
    pattern = load_pattern(english.alignment.pattern.name, language="es")
    score = score_hearing(english.recording, english.hearing, pattern, phrases=load_phrases("es"))
    lines = draw_bout_text(score, unicode=False)
    assert max(map(len, lines)) <= 78
    assert not re.search(r"\b(the|beats?|heard|due|of|long|not|numbers)\b", " ".join(lines)), lines


def test_columns_are_time():
    score = danced("gallop", 8, scatter_s=0.03)
    (row,) = heard_rows(draw_bout_text(score, unicode=False))
    columns = [n for n, sign in enumerate(row) if sign in "#+"]
    times_s = np.array([footfall.time_s for footfall in score.alignment.footfalls])
    per_s = np.polyfit(times_s, columns, 1)[0]
    assert np.polyval(np.polyfit(times_s, columns, 1), times_s) == pytest.approx(columns, abs=1)
    assert 10 < per_s < 15


def test_an_even_gallop_is_seen_beside_its_uneven_target():
    lines = draw_bout_text(danced("gallop", 8, long_share=0.5, tempo_bpm=100), unicode=False)
    (due,), (heard,) = due_rows(lines), heard_rows(lines)
    late = [due.index("o", n) - heard.index("+", n) for n, sign in enumerate(heard) if sign == "#"]
    assert all(1 <= columns <= 2 for columns in late)  # a sixth of eight columns


def test_the_long_part_of_each_beat_is_written_under_it():
    score = danced("gallop", 12, scatter_s=0.03)
    written = [float(one) for row in rows(draw_bout_text(score), "long part") for one in row.split()]
    (bout,) = score.alignment.bouts
    assert written == pytest.approx(list(long_shares(timed_beats(score.alignment, bout), True)), abs=0.005)


def test_a_pause_is_said_with_its_length():
    score = CASES["pause"]()
    (pause,) = score.measures.pauses
    text = "\n".join(draw_bout_text(score))
    assert "pause" in text
    assert f"{pause.end_s - pause.start_s:.1f} s" in text


def test_tries_are_named_where_there_are_several():
    two = joined(moves("skip", 8), moved(moves("skip", 8, 5), 12))
    assert sum("Try" in line for line in draw_bout_text(scored("skip", two.times_s))) == 2
    assert not any("Try" in line for line in draw_bout_text(danced("skip", 8)))


def test_a_long_bout_says_how_much_is_drawn():
    lines = draw_bout_text(danced("run", 200, tempo_bpm=170, scatter_s=0.01), unicode=False)
    assert lines[-1] == "  Drawn: beats 1 to 64 of 200."
    assert count(heard_rows(lines), "#") == 64


def test_nothing_heard_and_one_footfall_are_results_of_their_own():
    assert draw_bout_text(scored("gallop", [])) == ["  Nothing to draw: no footfalls heard."]
    assert draw_bout_text(scored("gallop", [1.0])) == ["  Nothing to draw: 1 heard, no rhythm."]


def test_signs_not_in_the_drawing_are_not_explained():
    plain, noisy = (draw_bout_text(CASES[case](), unicode=False)[0] for case in ("gallop", "noise"))
    assert "not heard" not in plain
    assert "extra" not in plain
    assert ". not heard, x extra" in noisy


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(["gallop", "hop", "leap", "walk-freeze", "gallop-switch-2"]),
    st.integers(1, 24),
    st.integers(0, 10_000),
    st.integers(10, 130),
    st.booleans(),
    st.floats(0, 90),
)
def test_no_line_is_wider_than_told(pattern, beats, seed, width, unicode, extra):
    score = danced(pattern, beats, seed, scatter_s=0.05, miss_short=0.2, miss_lead=0.1, extra_per_min=extra)
    lines = draw_bout_text(score, width, unicode)
    assert max(map(len, lines)) <= max(width, NARROWEST)
    assert unicode or all(line.isascii() for line in lines)
