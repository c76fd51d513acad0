"""The shipped patterns, in the words of the trade.

Sequences, relative times and what is judged around a switch: trade.md 2.1-2.9 of the project's own
notes (common teaching practice in our words). Closest cues 125 ms: Repp 2006, Adv Cogn Psychol 2:163-181.
"""

import ast
import tomllib
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

import cuekit
from cuekit.patterns.pattern import Foot, Side
from cuekit.patterns.pattern_files import check_file, list_patterns, load_pattern
from cuekit.patterns.schedule import Plan, make_schedule
from cuekit.shipped import shipped_folder

NAMES = list_patterns()
SKILLS = ["walk", "march", "run", "step-touch", "gallop", "slide", "skip", "hop", "jump", "leap", "leap-even"]
FIGURES = [
    *("gallop-switch-8", "gallop-switch-4", "gallop-switch-2", "gallop-hop-2", "gallop-hop-1"),
    *("slide-there-and-back", "slide-half-turn", "hop-switch-4", "hop-switch-2", "hop-hop-jump"),
    *("walk-freeze", "walk-gallop-walk"),
]
VOICES = Path(cuekit.__file__).parent / "cues" / "voices"


def feet(pattern):
    """The cycle in the trade's letters: small for the short footfall, a dot for a beat of air."""
    letters = []
    for beat in pattern.beats:
        letters.append(beat.lead.foot.value)
        letters += [beat.short.foot.value.lower()] if beat.short else []
        letters += ["."] * (int(beat.length) - 1)
    return " ".join(letters)


def times(pattern, beats):
    """Footfall times, in beats from the first."""
    schedule = make_schedule(pattern, Plan(60, beats, count_in=0))
    return [cue.time_s for cue in schedule.footfalls]


def judged(name):
    return [beat.judged for beat in load_pattern(name).beats]


def test_every_skill_and_planned_figure_is_there():
    assert sorted(SKILLS + FIGURES) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_has_no_problem_and_can_be_followed_through_its_tempo_range(name):
    assert check_file(shipped_folder("patterns") / f"{name}.toml") == ()
    pattern = load_pattern(name)
    for tempo in (pattern.tempo.low, pattern.tempo.default, pattern.tempo.high):
        cues = make_schedule(pattern, Plan(tempo, 3 * len(pattern.beats))).footfalls
        assert min(b.time_s - a.time_s for a, b in pairwise(cues)) > 0.125


@pytest.mark.parametrize("name", NAMES)
def test_counts_in_the_same_way_and_tells_what_is_heard(name):
    pattern = load_pattern(name)
    assert pattern.count_in == 4
    assert len(pattern.heard_when_right) > 10
    assert pattern.beat_means


@pytest.mark.parametrize("name", NAMES)
def test_the_left_is_the_mirror_of_the_right(name):
    right = load_pattern(name)
    if not right.side_means:
        assert feet(right) == "B"
        return
    left = right.with_side(Side.LEFT)
    assert feet(left) == feet(right).translate(str.maketrans("RLrl", "LRlr"))
    assert feet(left) != feet(right)
    assert times(left, 7) == times(right, 7)


@pytest.mark.parametrize(
    ("name", "sequence"),
    [
        ("walk", "R L"),
        ("march", "R L"),
        ("run", "R L"),
        ("step-touch", "R L L R"),
        ("gallop", "R l"),
        ("slide", "R l"),
        ("skip", "R r L l"),
        ("hop", "R"),
        ("jump", "B"),
        ("leap", "R L R . L R L ."),
        ("gallop-switch-8", "R l " * 7 + "R " + "L r " * 7 + "L"),
        ("slide-there-and-back", "R l " * 7 + "R " + "L r " * 7 + "L"),
        ("slide-half-turn", "R l " * 7 + "R " + "L r " * 7 + "L"),
        ("gallop-switch-4", "R l R l R l R L r L r L r L"),
        ("gallop-switch-2", "R l R L r L"),
        ("gallop-hop-2", "R l R r L r L l"),
        ("gallop-hop-1", "R r L l"),
        ("hop-switch-4", "R R R R L L L L"),
        ("hop-switch-2", "R R L L"),
        ("hop-hop-jump", "R R B"),
        ("walk-freeze", "R L R L . . . ."),
        ("walk-gallop-walk", "R L R L " + "R l " * 4 + "R L R L"),
    ],
)
def test_feet_of_the_right_side(name, sequence):
    assert feet(load_pattern(name)) == sequence


def test_an_even_leap_unit_keeps_its_take_off_foot():
    """trade.md 2.7 writes R L . for it; its take-off foot is the left one."""
    assert feet(load_pattern("leap-even").with_side(Side.LEFT)) == "R L ."


@pytest.mark.parametrize("name", ["gallop", "slide", "skip"])
def test_long_is_two_thirds_of_the_beat(name):
    assert times(load_pattern(name), 3) == pytest.approx([0, 2 / 3, 1, 5 / 3, 2, 8 / 3], abs=1e-12)


def test_walk_is_even():
    assert times(load_pattern("walk"), 4) == pytest.approx([0, 1, 2, 3], abs=1e-12)


def test_odd_leap_gaps_are_one_one_two():
    gaps = [b - a for a, b in pairwise(times(load_pattern("leap"), 7))]
    assert gaps == pytest.approx([1, 1, 2, 1, 1, 2], abs=1e-12)


def test_switching_every_two_sounds_long_short_full():
    gaps = [b - a for a, b in pairwise(times(load_pattern("gallop-switch-2"), 5))]
    assert gaps == pytest.approx([2 / 3, 1 / 3, 1, 2 / 3, 1 / 3, 1, 2 / 3], abs=1e-12)


@pytest.mark.parametrize("name", ["gallop-hop-2", "gallop-hop-1"])
def test_the_hop_fills_the_hole_so_the_ear_hears_an_unbroken_gallop(name):
    assert times(load_pattern(name), 8) == times(load_pattern("gallop"), 8)


def test_the_bridge_ends_in_the_skip():
    assert feet(load_pattern("gallop-hop-1")) == feet(load_pattern("skip"))


def test_the_half_turn_takes_a_beat_and_a_half():
    pattern = load_pattern("slide-half-turn")
    assert [beat.length for beat in pattern.beats].count(Fraction(3, 2)) == 2
    assert pattern.length == 17


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("gallop-switch-8", [False, *[True] * 6, False] * 2),
        ("gallop-switch-4", [False, True, True, False] * 2),
        ("hop-switch-4", [False, True, True, False] * 2),
        ("walk-freeze", [False, True, True, False]),
        ("walk-gallop-walk", [*[True] * 3, False, False, True, True, False, False, *[True] * 3]),
    ],
)
def test_the_beats_beside_a_planned_change_are_not_judged(name, expected):
    assert judged(name) == expected


@pytest.mark.parametrize("name", ["gallop-switch-2", "gallop-hop-2", "gallop-hop-1", "hop-switch-2", *SKILLS])
def test_where_changes_come_every_two_beats_or_never_all_is_judged(name):
    assert all(judged(name))


def test_only_jumps_land_on_both_feet():
    two_feet = [name for name in NAMES if load_pattern(name).two_feet]
    assert two_feet == ["hop-hop-jump", "jump"]
    assert load_pattern("jump").beats[0].lead.foot is Foot.BOTH


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", NAMES)
def test_every_footfall_has_a_word_that_the_shipped_voice_can_say(name, language):
    clips = tomllib.loads((VOICES / f"{language}.toml").read_text(encoding="utf-8"))["clip"]
    said = {step.word for beat in load_pattern(name, language=language).beats for step in beat.steps}
    assert said <= {clip["text"] for clip in clips}


def strings_in(path):
    """Every text in the code of a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant)}


def test_the_code_names_no_skill():
    """Skills are data: a file can be added, renamed or removed without touching the code. The demo,
    which shows one, is the exception."""
    modules = [path for path in Path(cuekit.__file__).parent.rglob("*.py") if path.stem != "demo"]
    assert {
        path.name: strings_in(path) & set(NAMES) for path in modules if strings_in(path) & set(NAMES)
    } == {}
