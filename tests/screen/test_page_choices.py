"""Choosing on the page: tiles beyond nine, bouts of the history, sounds of a bout; by keys, clicker and touch."""

import pytest

from cuekit.screen.show import numbered
from cuekit.screen.view import Action, Part, Value
from tests.screen import made_views as made


def test_a_tile_beyond_the_ninth_has_a_letter_that_nothing_else_has(stage):
    names = [chr(97 + n) * 3 for n in range(12)]
    others = (Action("more", "More", keys=("b",)),)
    tiles = numbered([Action("skill", name, Part.CHOICE, values=(Value("name", name),)) for name in names], others)
    stage.show(made.view("skills", actions=(*tiles, *others)))
    for key in ("9", "a", "c", "d"):
        stage.page.keyboard.press(key)
    stage.taken(4)
    assert [values["name"] for _, values in stage.lesson.done] == ["iii", "jjj", "kkk", "lll"]


@pytest.mark.parametrize(("further", "back"), [("PageDown", "PageUp"), ("ArrowRight", "ArrowLeft"), ("ArrowDown", "ArrowUp")])
def test_a_clicker_or_the_arrow_keys_walk_from_tile_to_tile_and_enter_chooses(stage, further, back):
    stage.show(made.learners())
    for key in (further, further, further, further, back):
        stage.page.keyboard.press(key)
    stage.page.keyboard.press("Enter")
    stage.taken()
    assert stage.lesson.done == [("choose", {"code": "T-03"})]


def test_arrow_keys_walk_from_bout_to_bout_in_the_history(stage):
    stage.show(made.history())
    stage.page.keyboard.press("ArrowDown")
    stage.page.keyboard.press("ArrowDown")
    assert stage.page.evaluate("document.activeElement.getAttribute('aria-label')") == "Open: 401"
    stage.page.keyboard.press("Enter")
    stage.taken()
    assert stage.lesson.done == [("look", {"number": "401"})]


def test_the_rows_of_the_history_are_in_sight_on_a_laptop_beside_the_plot(stage):
    stage.show(made.history())
    keys = stage.page.evaluate("document.getElementById('dock').getBoundingClientRect().top")
    rows = stage.page.locator("#rows tbody tr").all()
    assert sum(row.bounding_box()["y"] + row.bounding_box()["height"] < keys for row in rows) >= 3
    assert stage.page.locator("#plot > svg").bounding_box()["width"] > 500


@pytest.mark.parametrize("name", ["told", "marked", "mend"])
def test_the_drawn_bout_is_whole_above_the_keys_on_a_laptop(stage, name):
    stage.show(made.every_view()[name])
    box = stage.page.locator("#drawing svg").bounding_box()
    assert box["y"] + box["height"] <= stage.page.locator("#dock").bounding_box()["y"] + 1


@pytest.mark.parametrize("number", ["3", "9"])
def test_a_sound_of_the_drawn_bout_is_chosen_by_a_finger_near_it(opened, number):
    stage = opened(made.mend(), has_touch=True, viewport={"width": 820, "height": 1180})
    box = stage.page.locator(f'[data-sound="{number}"]').bounding_box()
    stage.page.touchscreen.tap(box["x"] + box["width"] / 2 + 3, box["y"] + box["height"] / 2 + 20)
    stage.taken()
    assert stage.lesson.done == [("sound", {"number": number})]


@pytest.mark.parametrize(
    ("key", "action"),
    [("ArrowRight", "sound_on"), ("PageDown", "sound_on"), ("ArrowLeft", "sound_before"), ("PageUp", "sound_before"), ("Space", "strike"), ("x", "strike"), ("Enter", "mended")],
)
def test_keys_and_clicker_walk_along_the_sounds_and_strike_one_out(stage, key, action):
    stage.show(made.mend())
    stage.page.keyboard.press(key)
    assert stage.taken() == [action]


def test_one_sound_is_framed_and_one_struck_out(stage):
    stage.show(made.mend())
    assert stage.page.locator("#drawing .chosen").count() == 1
    assert stage.page.locator("#drawing .sound line").count() == 1
    assert stage.page.locator("[data-sound]").count() == 31


def test_what_a_microphone_cannot_tell_is_at_the_same_place_in_each_view(stage):
    corners = []
    for name in ("learners", "plan", "marked", "mend"):
        stage.show(made.every_view()[name])
        box = stage.page.locator(".top .key").bounding_box()
        corners.append((round(box["x"] + box["width"]), round(box["y"])))
    assert len(set(corners)) == 1
    stage.page.click(".top .key")
    assert stage.taken() == ["help"]
