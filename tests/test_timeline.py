"""The cycle drawn in text: lengths in proportion, and nothing wider than the window."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.patterns.figures import Piece, compose
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.patterns.timeline import ASCII, LINES, draw_cycle, pen_for
from cuekit.telling.phrases import load_phrases

SAY = load_phrases().say


def rows(drawing):
    """The first block of a drawing, by label, without the labels."""
    block = drawing.split("\n\n")[1]
    return {line[:6].strip(): line[6:] for line in block.split("\n")}


@pytest.mark.parametrize("name", list_patterns())
@pytest.mark.parametrize("pen", [LINES, ASCII])
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_pattern_fits_eighty_columns(name, pen, language):
    pattern = load_pattern(name, language=language)
    say = load_phrases(language).say
    assert max(len(line) for line in draw_cycle(pattern, pattern.tempo.default, say, pen).split("\n")) < 80


def test_a_gallop_right_lead():
    drawing = draw_cycle(load_pattern("gallop"), 100, SAY, ASCII)
    assert drawing == "\n".join([
        "100 beats a minute: a beat is 600 ms, long 400 ms, short 200 ms (2:1)",
        "",
        "count |1                |2                |3                |4                |",
        "right R----------       R----------       R----------       R----------",
        "left              l----             l----             l----             l----",
        "say   big               big               big               big",
        "                  and               and               and               and",
    ])  # fmt: skip


@pytest.mark.parametrize("ratio", [Fraction(3, 5), Fraction(2, 3), Fraction(3, 4)])
def test_the_short_footfall_stands_where_its_share_puts_it(ratio):
    drawing = rows(draw_cycle(load_pattern("gallop").with_long_share(ratio), 100, SAY, ASCII))
    beat = drawing["right"].index("R", 1)
    assert abs(drawing["left"].index("l") - ratio * beat) <= Fraction(1, 2)


def test_a_left_lead_stands_on_the_other_row():
    right = rows(draw_cycle(load_pattern("gallop"), 100, SAY))
    left = rows(draw_cycle(load_pattern("gallop").with_side(Side.LEFT), 100, SAY))
    assert left["left"] == right["right"].replace("R", "L")
    assert left["right"] == right["left"].replace("l", "r")


def test_a_jump_stands_on_both_rows():
    drawing = rows(draw_cycle(load_pattern("jump"), 90, SAY))
    assert drawing["right"] == drawing["left"]
    assert drawing["right"].count("B") == 4


def test_the_air_of_a_leap_is_blank():
    drawing = rows(draw_cycle(load_pattern("leap"), 160, SAY, ASCII))
    air = drawing["count"].index("4")
    assert drawing["right"][air - 1 : air + 8].strip() == ""
    assert drawing["left"][air - 1 : air + 8].strip() == ""


def test_a_figure_of_sixteen_takes_two_lines_and_marks_what_is_not_judged():
    drawing = draw_cycle(load_pattern("gallop-switch-8"), 100, SAY)
    _, first, second, note = drawing.split("\n\n")
    assert "│9" in second
    assert "│9" not in first
    assert [line.count("~") for line in first.split("\n") if line.startswith("plan")] == [18]
    assert "never held against the learner" in note


def test_counts_line_up_again_after_half_a_beat_of_rest():
    _, first, second, _ = draw_cycle(load_pattern("slide-half-turn"), 100, SAY, ASCII).split("\n\n")
    assert "|8" in first
    assert second.startswith("count |9")


@pytest.mark.parametrize(
    ("encoding", "pen"),
    [("utf-8", LINES), ("cp437", LINES), ("ascii", ASCII), ("cp1252", ASCII), (None, ASCII), ("?", ASCII)],
)
def test_the_pen_suits_the_window(encoding, pen):
    assert pen_for(encoding) == pen


@given(
    st.lists(
        st.builds(
            lambda name, beats, rest: Piece(load_pattern(name), beats, rest=rest),
            st.sampled_from(["walk", "skip", "leap", "jump"]),
            st.integers(1, 12),
            st.fractions(0, 16, max_denominator=5),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_any_figure_shows_every_footfall_within_the_window(pieces):
    beats = compose(tuple(pieces))
    walk = load_pattern("walk")
    figure = type(walk)("own", "Own", "one", "", Side.RIGHT, beats, walk.tempo, None, 4, "")
    drawing = draw_cycle(figure, 60, SAY, ASCII)
    lines = drawing.split("\n")
    drawn = sum(sum(map(line[6:].count, "RLBrl")) for line in lines if line.startswith(("right", "left")))
    shown = -(-4 // figure.length) * sum(1 + (s.foot == "B") for beat in beats for s in beat.steps)
    assert drawn == shown
    assert max(map(len, lines)) < 80
