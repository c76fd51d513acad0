"""Words, pictures and changes that help, for every skill and every fault that can be said of it."""

import re

import pytest

from cuekit.errors import PatternError
from cuekit.patterns.pattern_files import list_patterns
from cuekit.teaching.supports import (
    GENERAL,
    check_supports,
    list_supports,
    load_adaptations,
    load_supports,
    supports_for_pattern,
)
from cuekit.telling.phrases import load_phrases

FAULTS = sorted(
    {key.split(".")[1] for key in load_phrases().sentences if re.fullmatch(r"fault\.[^.]+\.heard", key)}
)
SKILLS = [name for name in list_supports() if name != GENERAL]
TWO_FEET, FLIGHT, SIDES, UNEVEN = {"jump"}, {"leap"}, {"skip"}, {"gallop", "slide", "skip"}
WHERE = {
    "every-other-short-not-heard": SIDES,
    "short-not-heard": UNEVEN,
    "even-for-uneven": UNEVEN,
    "changed-to-even": UNEVEN,
    "stutter": FLIGHT,
    "not-clearly-uneven": UNEVEN,
    "clipped": UNEVEN,
    "split-landing": TWO_FEET,
    "no-air-gap": FLIGHT,
}


@pytest.mark.parametrize("skill", SKILLS)
@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_of_a_skill_has_something_to_say_and_to_look_at(skill, fault):
    if skill not in WHERE.get(fault, set(SKILLS)):
        return
    found = load_supports(skill).for_fault(fault)
    assert found
    assert found[0].see
    assert found[0].say


@pytest.mark.parametrize("pattern", list_patterns())
def test_every_pattern_belongs_to_a_skill_with_supports(pattern):
    supports = supports_for_pattern(pattern)
    assert supports.name != GENERAL
    assert supports.rhythm_words
    assert supports.shape_words


def test_a_pattern_that_bears_the_name_of_a_skill_goes_to_that_skill():
    assert [supports_for_pattern(name).name for name in ("gallop", "jump", "hop")] == [
        "gallop",
        "jump",
        "hop",
    ]


@pytest.mark.parametrize("skill", SKILLS)
def test_every_skill_has_words_pictures_touch_and_equipment(skill):
    supports = load_supports(skill)
    assert all([supports.picture, supports.touch, supports.equipment, supports.looks])


OWN = """name = "gallop"
title = "Gallop"
rhythm_words = "clip-clop"
[[fault]]
id = "even-for-uneven"
see = "Runs."
say = "Horsey, horsey."
"""


def test_a_teachers_own_words_come_first_and_the_shipped_ones_stay(tmp_path):
    (tmp_path / "gallop.toml").write_text(OWN, encoding="utf-8")
    own, shipped = load_supports("gallop", folders=[tmp_path]), load_supports("gallop")
    assert own.rhythm_words == "clip-clop"
    assert own.shape_words == shipped.shape_words
    said = [support.say for support in own.for_fault("even-for-uneven")]
    assert said == ["Horsey, horsey.", shipped.for_fault("even-for-uneven")[0].say]


def test_a_skill_of_the_teachers_own_has_the_general_help_too(tmp_path):
    (tmp_path / "crawl.toml").write_text(OWN.replace("gallop", "crawl"), encoding="utf-8")
    assert load_supports("crawl", folders=[tmp_path]).for_fault("stopped")


def test_a_pattern_of_the_teachers_own_is_helped_by_the_file_of_its_name(tmp_path):
    (tmp_path / "crawl.toml").write_text(OWN.replace("gallop", "crawl"), encoding="utf-8")
    assert supports_for_pattern("crawl", folders=[tmp_path]).rhythm_words == "clip-clop"
    assert supports_for_pattern("crawl").name == GENERAL


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ('see = "Runs."', "see = 3", "line 6, fault 1, see: expected a text in quotes"),
        ('say = "Horsey, horsey."', 'sya = "Horsey"', 'Did you mean "say"?'),
        ("[[fault]]", "[[fuat]]", 'fuat: unknown key. Did you mean "fault"?'),
        ('name = "gallop"', "", "name: missing"),
    ],
)
def test_a_slip_is_named_with_file_line_and_key(tmp_path, right, wrong, said):
    path = tmp_path / "gallop.toml"
    path.write_text(OWN.replace(right, wrong), encoding="utf-8")
    assert any(said in str(problem) for problem in check_supports(path))
    with pytest.raises(PatternError, match=r"gallop\.toml"):
        load_supports("gallop", folders=[tmp_path])


def test_an_unknown_skill_names_the_nearest():
    with pytest.raises(PatternError, match='no supports for "galop". Did you mean "gallop"'):
        load_supports("galop")


def test_adaptations_say_cue_measure_and_what_to_watch():
    rows = {row.id: row for row in load_adaptations()}
    assert {"deaf", "low-vision", "sound-sensitive", "cerebral-palsy", "dcd", "wheelchair", "aac"} <= set(
        rows
    )
    assert all(row.cue and row.measure and row.watch for row in rows.values())
    assert "full result" in rows["wheelchair"].measure
    assert "not a flash" in rows["deaf"].cue
