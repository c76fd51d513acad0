"""The drawn bout: every footfall on the page where its time puts it, and nothing claimed beside it."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.drawing.bout_marks import bout_lines, durations_by_beat, long_shares_by_beat
from cuekit.drawing.bout_plot import draw_bout
from cuekit.files.filenames import shown
from cuekit.hearing.events import Footfall, Heard, Hearing, Recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.measures import STEADY_WITHIN, long_shares, on_pattern, timed_beats
from cuekit.simulation.simulate import Learner, Rest, joined, moved, perform
from cuekit.telling.phrases import load_phrases
from cuekit.telling.scoring import score_hearing

SVG = "{http://www.w3.org/2000/svg}"
PRINTABLE_MM = (259.0, 190.0)
"""Lying Letter (279 x 216) and A4 (297 x 210) without a margin of 10 mm: the smaller of each side."""


def scored(pattern, times_s, name="feet.wav", spread_s=0.0):
    falls = tuple(Footfall(float(time_s), -20.0, 1.0, spread_s) for time_s in times_s)
    recording = Recording(name, np.zeros(1, np.float32), 16_000, 48_000, 1, 20.0, 0.0, ())
    heard = Heard.CLEAR if falls else Heard.NOT_ENOUGH
    return score_hearing(recording, Hearing(falls, (), heard, "", -60.0), load_pattern(pattern))


def moves(pattern, beats=16, seed=1, **learner):
    return perform(load_pattern(pattern), Learner(**learner), beats=beats, seed=seed)


def danced(pattern, beats=16, seed=1, **learner):
    return scored(pattern, moves(pattern, beats, seed, **learner).times_s)


def page(score):
    return ElementTree.fromstring(draw_bout(score))


def parts(root, name, tag):
    """Elements of a kind inside the groups of a name, in the order drawn."""
    return [
        each for group in root.iter(f"{SVG}g") if group.get("class") == name for each in group.iter(SVG + tag)
    ]


def words(root):
    return " ".join(each.text for each in root.iter(f"{SVG}text"))


def xs(circles):
    return np.array([float(circle.get("cx")) for circle in circles])


def box(text):
    """Left, top, right, bottom of a line of text, if a letter is 0.5 em wide (Helvetica's mean, from memory)."""
    size = float(text.get("font-size"))
    wide = 0.5 * size * len(text.text) * (1.1 if text.get("font-weight") else 1.0)
    x, y = float(text.get("x")), float(text.get("y"))
    left = x - {"middle": wide / 2, "end": wide}.get(text.get("text-anchor"), 0.0)
    return left, y - 0.72 * size, left + wide, y + 0.2 * size


def assert_inside(root):
    _, _, width, height = map(float, root.get("viewBox").split())
    for circle in (each for each in root.iter(f"{SVG}circle") if each not in in_legend(root)):
        x, y, r = (float(circle.get(key)) for key in ("cx", "cy", "r"))
        assert r <= x <= width - r
        assert r <= y <= height - r
    for line in root.iter(f"{SVG}line"):
        assert all(0 <= float(line.get(key)) <= width for key in ("x1", "x2"))
        assert all(0 <= float(line.get(key)) <= height for key in ("y1", "y2"))
    for text in root.iter(f"{SVG}text"):
        left, top, right, bottom = box(text)
        assert left >= 0, text.text
        assert top >= 0, text.text
        assert right <= width, text.text
        assert bottom <= height, text.text


def in_legend(root):
    """Its shapes are drawn round their own origin and moved into place."""
    return {each for group in root.iter(f"{SVG}g") if group.get("transform") for each in group.iter()}


def assert_no_text_on_text(root):
    boxes = [(box(text), text.text) for text in root.iter(f"{SVG}text")]
    for n, ((left, top, right, bottom), one) in enumerate(boxes):
        for (left2, top2, right2, bottom2), other in boxes[n + 1 :]:
            apart = left >= right2 or left2 >= right or top >= bottom2 or top2 >= bottom
            assert apart, f"{one!r} on {other!r}"


SKIP_ONE_SIDE = frozenset((beat, 1) for beat in range(1, 16, 2))
CASES = {
    "good gallop": lambda: danced("gallop", scatter_s=0.02, timekeeper_s=0.01),
    "even gallop": lambda: danced("gallop", long_share=0.5, scatter_s=0.025),
    "one-sided skip": lambda: danced("skip", scatter_s=0.02, not_made=SKIP_ONE_SIDE),
    "pause": lambda: danced("gallop", 20, scatter_s=0.02, rests=(Rest(9, 2.4),)),
    "noise": lambda: danced("gallop", 22, 4, scatter_s=0.025, extra_per_min=40, miss_short=0.1),
    "hop": lambda: danced("hop", 14, tempo_bpm=130, scatter_s=0.03),
    "leap": lambda: danced("leap", 18, tempo_bpm=150, scatter_s=0.02),
    "switch": lambda: danced("gallop-switch-4", scatter_s=0.02),
    "freeze": lambda: danced("walk-freeze", 12, scatter_s=0.02),
    "figure": lambda: danced("walk-gallop-walk", 24, scatter_s=0.02),
    "clipped": lambda: danced("gallop", 14, long_share=0.86, scatter_s=0.01),
    "limp": lambda: scored("walk", [1 + 0.5 * n + 0.1 * (n % 2) for n in range(24)]),
    "nothing": lambda: scored("gallop", []),
    "one footfall": lambda: scored("gallop", [2.0]),
    "two footfalls": lambda: scored("gallop", [2.0, 2.4]),
    "60 beats": lambda: danced("gallop", 60, tempo_bpm=104, scatter_s=0.03, drift_percent=12),
    "200 beats": lambda: danced("run", 200, tempo_bpm=170, scatter_s=0.02),
}


@pytest.mark.parametrize("case", CASES)
def test_a_page_is_whole_readable_and_grey(case):
    score = CASES[case]()
    drawing = draw_bout(score)
    root = ElementTree.fromstring(drawing)
    assert_inside(root)
    assert_no_text_on_text(root)
    assert score.advice.summary in root.find(f"{SVG}title").text
    assert score.advice.summary in root.find(f"{SVG}desc").text
    colours = set(re.findall(r'(?:fill|stroke)="([^"]*)"', drawing)) - {"none"}
    assert colours
    assert all(re.fullmatch(r"#([0-9a-f]{2})\1\1", colour) for colour in colours)
    assert not re.search("<script|<style|href|@import|url|<image|20[0-9]{2}-", drawing)


@pytest.mark.parametrize("case", CASES)
def test_the_same_page_in_spanish_is_whole_and_has_no_english(case):
    english = CASES[case]()
    pattern = load_pattern(english.alignment.pattern.name, language="es")
    score = score_hearing(english.recording, english.hearing, pattern, phrases=load_phrases("es"))
    root = page(score)
    assert_inside(root)
    assert_no_text_on_text(root)
    assert score.advice.summary in root.find(f"{SVG}title").text
    assert not re.search(r"\b(the|beats?|heard|of|sounds?|long|short|not|ring|dot)\b", words(root)), words(
        root
    )


@pytest.mark.parametrize("case", [case for case in CASES if case not in ("200 beats",)])
def test_every_footfall_missed_place_and_extra_is_drawn_once(case):
    score = CASES[case]()
    root = page(score)
    placed = sum(place is not None for place in score.alignment.places)
    assert len(parts(root, "heard", "circle")) == len(parts(root, "due", "circle")) == placed
    assert len(parts(root, "missed", "circle")) == len(score.measures.missed)
    assert len(parts(root, "extra", "path")) == len(score.measures.extra_s)
    assert len(parts(root, "stray", "path")) == len(score.alignment.footfalls) - placed - len(
        score.measures.extra_s
    )


@pytest.mark.parametrize("case", CASES)
def test_the_page_fits_lying_paper_of_both_sizes(case):
    root = page(CASES[case]())
    size_mm = [float(root.get(side).removesuffix("mm")) for side in ("width", "height")]
    assert size_mm[0] <= PRINTABLE_MM[0]
    assert size_mm[1] <= PRINTABLE_MM[1]


def test_distance_is_time():
    score = danced("gallop", 8, scatter_s=0.03)
    dots = sorted(xs(parts(page(score), "heard", "circle")))
    times_s = [footfall.time_s for footfall in score.alignment.footfalls]
    assert np.corrcoef(dots, times_s)[0, 1] > 0.999999
    assert np.diff(dots) / np.diff(times_s) == pytest.approx(
        (dots[-1] - dots[0]) / (times_s[-1] - times_s[0]), rel=1e-3
    )


def test_a_perfect_gallop_has_each_dot_in_the_middle_of_its_ring():
    root = page(danced("gallop", tempo_bpm=97.3))
    assert xs(parts(root, "heard", "circle")) == pytest.approx(xs(parts(root, "due", "circle")), abs=0.02)


def test_an_even_gallop_has_its_short_dots_before_their_rings_by_a_sixth_of_a_beat():
    score = danced("gallop", 8, long_share=0.5, tempo_bpm=100)
    root = page(score)
    heard, due = (xs(parts(root, name, "circle")) for name in ("heard", "due"))
    beat = heard[2] - heard[0]
    assert (due - heard)[1:-1:2] == pytest.approx(beat / 6, rel=0.02)  # 2/3 - 1/2
    assert (due - heard)[::2] == pytest.approx(0, abs=0.05)


def test_a_limp_is_seen_as_dots_that_fall_to_either_side_in_turn():
    root = page(CASES["limp"]())
    off = xs(parts(root, "heard", "circle")) - xs(parts(root, "due", "circle"))
    assert all(off[3:21:2] > 3)
    assert all(off[2:21:2] < -3)


def test_long_is_larger_than_short_and_footfalls_are_smaller_than_their_rings():
    root = page(danced("skip", 8))
    dots, rings = (
        [float(each.get("r")) for each in parts(root, name, "circle")] for name in ("heard", "due")
    )
    assert min(dots[::2]) > 1.5 * max(dots[1::2])
    assert all(dot < 0.7 * ring for dot, ring in zip(dots, rings, strict=True))


def test_a_missed_short_sound_stands_where_it_was_due_with_the_words():
    root = page(danced("gallop", 8, not_made=frozenset({(3, 1)})))
    (ring,) = parts(root, "missed", "circle")
    rings = xs(parts(root, "due", "circle"))
    beat = rings[2] - rings[0]
    assert float(ring.get("cx")) - rings[6] == pytest.approx(2 / 3 * beat, rel=0.01)
    assert ring.get("stroke-dasharray")
    assert [each.text for each in root.iter(f"{SVG}text")].count("not heard") == 1


def test_missed_and_extra_are_not_in_the_legend_of_a_bout_without_them():
    said = words(page(danced("gallop", 8)))
    assert "not heard" not in said
    assert "extra" not in said


def test_a_pause_is_a_gap_with_its_length():
    score = CASES["pause"]()
    (pause,) = score.measures.pauses
    assert f"pause {pause.end_s - pause.start_s:.1f} s" in words(page(score))


def test_tries_are_named_and_begin_on_lines_of_their_own():
    tries = joined(
        moves("skip", 8), moved(moves("skip", 7, 5, start_on_short=True), 12), moved(moves("skip", 12), 24)
    )
    score = scored("skip", tries.times_s)
    root = page(score)
    assert [f"Try {n}" in words(root) for n in (1, 2, 3, 4)] == [True, True, True, False]
    assert len(parts(root, "heard", "circle")) == 2 * (8 + 7 + 12) - 1
    assert len(parts(root, "missed", "circle")) == 0  # begun on the short sound: no lead to miss
    assert_inside(root)
    assert_no_text_on_text(root)


def test_a_long_bout_says_how_much_of_it_is_drawn():
    root = page(CASES["200 beats"]())
    said = re.search(r"beats 1 to (\d+) of 200", words(root))
    assert 40 <= int(said[1]) == len(parts(root, "heard", "circle")) < 200
    assert len(parts(root, "value", "circle")) == 199  # the last beat has no end


def test_nothing_heard_is_said_and_is_no_zero():
    root = page(scored("gallop", []))
    assert "no footfalls heard" in words(root)
    assert not list(root.iter(f"{SVG}circle"))
    assert not re.search(r"\b0 of|on the pattern|\d", words(root))


def test_two_footfalls_are_drawn_but_no_long_share_is_made_of_them():
    score = scored("gallop", [2.0, 2.4])
    assert len(parts(page(score), "heard", "circle")) == 2
    assert long_shares_by_beat(score.alignment) == ()


UNUSUAL_NAMES = {
    "markup": '<script>alert("x")</script>&amp;.wav',
    "controls": "a\x00b\x1b[31m\n.wav",
    "turned round": "tab\u202egnp.wav",
    "wide and long": "歩" * 300,
    "no text": "\udcff\ud800.wav",
}


@pytest.mark.parametrize("name", UNUSUAL_NAMES.values(), ids=UNUSUAL_NAMES)
def test_a_file_name_is_text_whatever_is_in_it(name):
    score = danced("gallop", 8)
    root = page(replace(score, recording=replace(score.recording, name=name)))
    assert not list(root.iter(f"{SVG}script"))
    assert any(
        each.text.rstrip("…") and shown(name).startswith(each.text.rstrip("…"))
        for each in root.iter(f"{SVG}text")
    )
    assert_inside(root)


def test_long_words_and_long_sentences_stay_on_the_page():
    score = danced("gallop", 8, long_share=0.5)
    endless = "Donaudampfschifffahrtsgesellschaftskapitän" * 6
    fault = replace(score.advice.fault, may_also_be=endless, ask=endless)
    advice = replace(score.advice, summary=endless, fault=fault, cannot_tell=(endless, endless))
    root = page(replace(score, advice=advice))
    assert_inside(root)
    assert_no_text_on_text(root)


def test_the_feet_of_a_split_landing_are_both_seen():
    together, apart = (scored("jump", 1 + np.arange(8) * 0.8, spread_s=each) for each in (0.01, 0.06))
    assert len(parts(page(together), "split", "circle")) == 0
    assert len(parts(page(apart), "split", "circle")) == 8


def test_the_same_score_gives_the_same_page():
    score = CASES["noise"]()
    assert draw_bout(score) == draw_bout(score)


def test_beats_that_are_not_judged_are_shaded_and_open_in_the_chart():
    score = CASES["switch"]()
    root = page(score)
    unjudged = [mark for line in bout_lines(score.alignment, 8) for mark in line.marks if not mark.judged]
    assert len(parts(root, "unjudged", "rect")) == len(unjudged) > 0
    dots = parts(root, "value", "circle")
    assert sum(dot.get("fill") == "#ffffff" for dot in dots) == sum(
        not one.judged for one in long_shares_by_beat(score.alignment)
    )


@pytest.mark.parametrize(
    "case", ["good gallop", "one-sided skip", "pause", "noise", "switch", "figure", "two footfalls"]
)
def test_the_chart_shows_the_long_shares_that_were_measured(case):
    alignment = CASES[case]().alignment
    measured = np.concatenate([long_shares(timed_beats(alignment, bout), True) for bout in alignment.bouts])
    assert [one.value for one in long_shares_by_beat(alignment) if one.judged] == pytest.approx(
        list(measured)
    )


@pytest.mark.parametrize("seed", range(5))
def test_the_chart_of_an_even_pattern_agrees_with_the_beats_on_the_pattern(seed):
    alignment = danced("walk", 24, seed, scatter_s=0.05).alignment
    (bout,) = alignment.bouts
    flags = on_pattern(timed_beats(alignment, bout))
    inside = [abs(one.value - 1) <= STEADY_WITHIN for one in durations_by_beat(alignment)]
    assert inside == list(flags[:-1])
    assert not all(inside)


PATTERNS = ["gallop", "skip", "hop", "walk", "leap", "jump", "walk-freeze", "gallop-switch-2", "hop-hop-jump"]


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(PATTERNS),
    st.integers(1, 30),
    st.integers(0, 10_000),
    st.floats(0, 0.08),
    st.floats(0, 0.4),
    st.floats(0, 0.3),
    st.floats(0, 90),
    st.floats(0.2, 4),
)
def test_whatever_was_danced_the_page_holds_it(
    pattern, beats, seed, scatter_s, miss_short, miss_lead, extra, pause_s
):
    score = danced(
        pattern,
        beats,
        seed,
        scatter_s=scatter_s,
        miss_short=miss_short,
        miss_lead=miss_lead,
        extra_per_min=extra,
        rests=(Rest(beats // 2, pause_s),),
    )
    root = page(score)
    assert_inside(root)
    assert_no_text_on_text(root)
    drawn = [("heard", "circle"), ("extra", "path"), ("stray", "path")]
    count = sum(len(parts(root, name, tag)) for name, tag in drawn)
    assert count + left_out(root) == len(score.alignment.footfalls) or "Drawn here" in words(root)


def left_out(root):
    """Lone footfalls the page says it does not draw."""
    said = re.search(r"(\d+) sounds? far from any other", words(root))
    return int(said[1]) if said else 0


def test_a_lone_footfall_far_from_the_try_is_told_not_drawn():
    score = scored("gallop", [*moves("gallop", 8).times_s, 30.0])
    root = page(score)
    assert left_out(root) == 1
    assert len(parts(root, "heard", "circle")) == 16
