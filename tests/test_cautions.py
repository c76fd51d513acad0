"""Cautions: what a pattern asks of the body, the teacher's own note, and when to stop."""

import pytest

from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.teaching.cautions import Demand, cautions_for, demands
from cuekit.telling.phrases import load_phrases

B, H, J, L = Demand.BOUND, Demand.ONE_FOOT, Demand.TWO_FEET, Demand.FLIGHT
ASKED = {
    "walk": set(),
    "march": set(),
    "run": set(),
    "step-touch": set(),
    "walk-freeze": set(),
    "gallop": {B},
    "slide": {B},
    "gallop-switch-8": {B},
    "gallop-switch-4": {B},
    "gallop-switch-2": {B},
    "slide-there-and-back": {B},
    "slide-half-turn": {B},
    "walk-gallop-walk": {B},
    "skip": {B, H},
    "gallop-hop-2": {B, H},
    "gallop-hop-1": {B, H},
    "hop": {H},
    "hop-switch-2": {H},
    "hop-switch-4": {H},
    "hop-hop-jump": {H, J},
    "jump": {J},
    "leap": {L},
    "leap-even": {L},
}


def test_every_pattern_is_in_the_table():
    assert set(ASKED) == set(list_patterns())


@pytest.mark.parametrize("name", ASKED)
def test_what_a_pattern_asks_of_the_body(name):
    assert demands(load_pattern(name)) == ASKED[name]


def test_the_teachers_note_is_shown_word_for_word_and_nobody_is_cleared_or_forbidden():
    said = cautions_for(load_pattern("jump"), load_phrases(), note="no jumping until cleared")
    assert said.note[0] == 'Your note on this child: "no jumping until cleared"'
    assert "does not clear and does not forbid" in said.note[1]
    assert cautions_for(load_pattern("jump"), load_phrases()).note == ()


def test_jumps_come_with_their_own_caution_and_walks_do_not():
    jump, walk = (cautions_for(load_pattern(name), load_phrases()) for name in ("jump", "walk"))
    assert any("only where the plan allows" in line for line in jump.during)
    assert not any("Jumps" in line or "Hops" in line for line in walk.during)


def test_stop_signs_hold_what_the_science_page_names():
    said = cautions_for(load_pattern("walk"), load_phrases())
    everything = " ".join(said.stop_signs)
    assert all(sign in everything for sign in ("pain", "dizzy", "breath", "neck", "suddenly lost"))
    assert "does not judge health or give clearance" in said.always
    assert "report it" in said.always
