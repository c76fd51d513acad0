"""Paper for a lesson (story 28): feet in their order for both leads, every code, one plan with its cautions."""

import re
from datetime import date

import pytest

from cuekit.cli import run
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import HelpLevel
from cuekit.records.goals import Criterion, Goal, Measure
from cuekit.records.learner import Learner
from cuekit.reports.sheets import cards_page, data_page, footprints_page, plan_page
from cuekit.teaching.cautions import cautions_for
from cuekit.teaching.ladder_files import load_ladder
from cuekit.telling.phrases import load_phrases
from tests.test_report import read, words

EN = load_phrases("en", "report")


def feet(html):
    """The order of feet as a screen reader says it: "1 R, 2 L, ..."."""
    order = " ".join(a["aria-label"] for tag, a in read(html).attributes if tag == "svg")
    return "".join(re.findall(r"\d+ ([RLDI]|both|los dos)", order)).replace("both", "B")


@pytest.mark.parametrize(
    ("name", "side", "order"),
    [
        ("gallop", Side.RIGHT, "RL" * 6),
        ("gallop", Side.LEFT, "LR" * 6),
        ("slide", Side.LEFT, "LR" * 6),
        ("skip", Side.RIGHT, "RRLL" * 3),
        ("skip", Side.LEFT, "LLRR" * 3),
        ("hop", Side.LEFT, "L" * 12),
        ("gallop-switch-2", Side.RIGHT, "RLRLRL" * 2),
        ("hop-hop-jump", Side.RIGHT, "RRB" * 4),
    ],
)
def test_footprints_lie_in_the_order_in_which_the_feet_land(name, side, order):
    assert feet(footprints_page(load_pattern(name).with_side(side), EN)) == order


def test_the_air_of_a_leap_is_a_wave_in_its_place_and_a_long_figure_is_printed_whole():
    """Run, run, leap, air: after each third print one beat without a footfall."""
    page = footprints_page(load_pattern("leap").with_side(Side.RIGHT), EN)
    said = words(page)
    assert said.count("~") == 3 + 1, "and once where it is explained; none after the last print"
    assert feet(page) == "RLRLRLRLRLRL"
    switch = load_pattern("gallop-switch-8").with_side(Side.RIGHT)
    assert feet(footprints_page(switch, EN)) == "RL" * 7 + "R" + "LR" * 7 + "L"
    assert "~" not in words(footprints_page(switch, EN))


def test_the_short_footprint_is_the_small_one():
    html = footprints_page(load_pattern("gallop"), EN)
    soles = [float(a["rx"]) for tag, a in read(html).attributes if tag == "ellipse"][::2]
    assert soles[0::2] == [34.0] * 6
    assert max(soles[1::2]) < 25


def test_cue_cards_carry_the_words_of_the_pattern_in_its_language():
    assert "step" in words(cards_page(load_pattern("skip"), EN))
    spanish = words(cards_page(load_pattern("skip", language="es"), load_phrases("es", "report")))
    assert "paso" in spanish
    assert "corto" in spanish


def test_the_data_sheet_has_every_code_of_help_and_cue():
    text = words(data_page(load_pattern("hop"), EN, "C-11"))
    assert all(re.search(rf"\b{code}\b", text) for code in (*HelpLevel, *CueLevel))
    assert "C-11" in text


def test_the_aides_plan_shows_the_restriction_first_the_aim_and_the_stop_signs():
    goal = Goal("D-05", "jump", Measure.FOOTFALLS, 4, Criterion(), date(2026, 3, 1), (CueLevel.C4,))
    learner = Learner("D-05", "jump", "J3", own_tempo_bpm=72.0, restrictions="no jumping until cleared")
    pattern = load_pattern("jump")
    cautions = cautions_for(pattern, load_phrases(), note=learner.restrictions)
    text = words(plan_page(learner, pattern, goal, cautions, EN))
    assert 0 < text.index("no jumping until cleared") < text.index("In this order")
    assert "72 beats a minute, the learner's own" in text
    assert "4 footfalls of the jump" in text
    assert all(sign.lower() in text.lower() for sign in cautions.stop_signs)


def test_a_sheet_is_for_the_step_asked_for(tmp_path, monkeypatch, capsys):
    """The bridge's step of gallops two and two: its figure, its task, what a bout should reach, the look."""
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    ladder = load_ladder("gallop-to-skip")
    step = next(one for one in ladder.steps if one.pattern == "gallop-switch-2" and one.eye)
    out = tmp_path / "sheet.html"
    for kind in ("footprints", "cards", "data"):
        words_of = ["sheet", kind, "gallop-to-skip", "--step", step.key, "--out", str(out)]
        assert run(words_of) == 0, capsys.readouterr().err
        text = words(out.read_text(encoding="utf-8"))
        assert step.task in text
        assert step.eye in text
        assert f"{step.target.count} beats in a row." in text
    assert run(["sheet", "footprints", "gallop-to-skip", "--step", step.key, "--out", str(out)]) == 0
    assert feet(out.read_text(encoding="utf-8")) == "RLRLRL" * 2
    assert run(["sheet", "data", "gallop-to-skip", "--step", "no-such", "--out", str(out)]) == 3


def test_a_plan_is_for_the_learners_own_step_and_words(tmp_path, monkeypatch):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    say = ["--skill", "gallop", "--step", "gallop-alone", "--words", "BIG-and, one word only"]
    assert run(["learner", "add", "K-07", *say]) == 0
    out = tmp_path / "plan.html"
    assert run(["sheet", "plan", "gallop", "--learner", "K-07", "--out", str(out)]) == 0
    text, step = words(out.read_text(encoding="utf-8")), load_ladder("gallop").step("gallop-alone")
    assert step.task in text
    assert "BIG-and, one word only" in text
    assert f"{step.level} " in text
    assert run(["sheet", "plan", "gallop", "--learner", "K-07", "--language", "es", "--out", str(out)]) == 0
    assert load_ladder("gallop", language="es").step("gallop-alone").task in words(
        out.read_text(encoding="utf-8")
    )


def test_the_sound_of_a_plan_is_that_of_todays_step_and_not_of_the_goal(tmp_path, monkeypatch):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    assert run(["learner", "add", "K-07", "--skill", "gallop"]) == 0
    assert run(["goal", "take", "K-07", "gallop-alone"]) == 0
    out = tmp_path / "plan.html"
    assert run(["sheet", "plan", "gallop", "--learner", "K-07", "--step", "softer", "--out", str(out)]) == 0
    assert "Sound C3 softer tones" in words(out.read_text(encoding="utf-8"))


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("kind", ["footprints", "cards", "data", "plan"])
def test_every_sheet_prints_from_every_pattern(tmp_path, monkeypatch, kind, language):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path))
    assert run(["learner", "add", "K-07"]) == 0
    out = tmp_path / "sheet.html"
    for name in list_patterns():
        assert run(["sheet", kind, name, "--learner", "K-07", "--language", language, "--out", str(out)]) == 0
        html = out.read_text(encoding="utf-8")
        assert read(html).attributes[0] == ("html", {"lang": language})
        assert "{" not in words(html)
