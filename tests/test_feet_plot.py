"""The path of the feet alone, large: what was due, heard and missing, and no number beside it."""

from xml.etree import ElementTree

import pytest

from cuekit.drawing.feet_plot import draw_feet
from tests.bouts import score_of, scored

SVG = "{http://www.w3.org/2000/svg}"


def groups(drawing, name):
    """How many shapes there are in the groups of a name."""
    root = ElementTree.fromstring(drawing)
    return sum(len(group) for group in root.iter(f"{SVG}g") if group.get("class") == name)


def test_each_footfall_heard_is_a_dot_in_its_ring():
    drawn = draw_feet(scored("gallop"))
    assert groups(drawn, "heard") == groups(drawn, "due") == 24
    assert groups(drawn, "missed") == 0


def test_a_short_sound_that_was_not_heard_is_a_dashed_ring():
    one_side = frozenset((beat, 1) for beat in range(0, 12, 2))
    assert groups(draw_feet(scored("skip", not_made=one_side)), "missed") == 6


@pytest.mark.parametrize("times_s", [[], [1.0, 2.4, 2.9]], ids=["nothing", "strays"])
def test_where_no_rhythm_was_heard_it_says_so(times_s):
    score = score_of(times_s, "gallop")
    root = ElementTree.fromstring(draw_feet(score))
    assert root.find(f"{SVG}title").text == score.advice.summary
    assert len(root.findall(f".//{SVG}text")) >= 1
