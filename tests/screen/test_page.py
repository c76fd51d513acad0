"""The page of the gym screen in a real browser: what it shows, and which action each key, clicker and touch takes."""

from dataclasses import replace

import pytest

from cuekit.screen.view import Action, Part, Value
from tests.screen import made_views as made

VIEWS = tuple(made.every_view())
LANGUAGES = ("en", "es")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", VIEWS)
def test_every_view_is_shown_with_all_its_words(stage, name, language):
    view = made.every_view(language)[name]
    stage.show(view)
    words = stage.page.inner_text("body").replace("\n", " ")
    wanted = [view.who, view.lead, *view.lines, *view.cautions, *(one.label for one in view.actions if one.role is not Part.QUIET)]
    wanted += [*view.columns, *(cell for row in view.rows for cell in row.cells), *(one.label for one in view.fields)]
    assert [one for one in wanted if one not in words] == []
    assert stage.page.locator("h1").all_text_contents() == [view.title]
    assert stage.page.evaluate("document.documentElement.lang") == language
    for part in ("picture", "drawing", "plot", "child"):
        assert stage.page.locator(f"#{part} svg").count() > 0 if getattr(view, part) else stage.page.locator(f"#{part}").is_hidden()


def test_the_code_is_not_in_the_address_or_the_title_of_the_window(stage):
    stage.show(made.plan())
    assert "K-07" not in stage.page.url + stage.page.title()


@pytest.mark.parametrize(
    ("key", "action"),
    [("Space", "go"), ("Enter", "go"), ("PageDown", "go"), ("p", "hear"), ("P", "hear"), ("Escape", "learners"), ("r", "room"), ("h", "hide"), ("PageUp", "hear")],
)
def test_a_key_or_clicker_takes_its_action(stage, key, action):
    stage.show(made.plan())
    stage.page.keyboard.press(key)
    assert stage.taken() == [action]


def test_a_digit_chooses_a_learner_also_on_the_number_pad(stage):
    stage.show(made.learners())
    stage.page.keyboard.press("3")
    stage.page.keyboard.press("Numpad4")
    stage.taken(2)
    assert stage.lesson.done == [("choose", {"code": "T-03"}), ("choose", {"code": "R-21"})]


@pytest.mark.parametrize("key", ["q", "Control+p", "Alt+p", "Meta+p", "Shift"])
def test_other_keys_and_shortcuts_of_the_browser_take_none(stage, key):
    stage.show(made.plan())
    stage.page.keyboard.press(key)
    assert stage.nothing_taken()


@pytest.mark.parametrize("key", ["Space", "Enter", "PageDown", "PageUp", "Escape", "q", "7", "ArrowLeft", "Tab", "Backspace", "F2", "Shift+Q"])
def test_in_a_bout_every_key_stops(stage, key):
    stage.run(made.bout(), 1.0)
    stage.page.keyboard.press(key)
    assert stage.taken() == ["stop"]
    stage.page.wait_for_timeout(100)
    assert stage.taken() == ["stop"]


def test_in_a_bout_a_key_with_an_action_of_its_own_takes_that(stage):
    stage.run(made.bout(), 1.0)
    stage.page.keyboard.press("h")
    assert stage.taken() == ["hide"]


@pytest.mark.parametrize("key", ["Shift", "Control", "Alt", "AudioVolumeDown", "AudioVolumeMute"])
def test_in_a_bout_the_sound_can_be_turned_down_without_stopping(stage, key):
    stage.run(made.bout(), 1.0)
    stage.page.evaluate("key => document.body.dispatchEvent(new KeyboardEvent('keydown', {key, code: key, bubbles: true}))", key)
    assert stage.nothing_taken()


def test_a_key_held_down_starts_once_and_does_not_stop_what_it_started(stage):
    stage.show(made.plan())
    stage.page.keyboard.down("Space")
    assert stage.taken() == ["go"]
    stage.run(made.bout(), -2.0)
    stage.page.keyboard.down("Space")  # the browser repeats it
    stage.page.wait_for_timeout(100)
    stage.page.keyboard.up("Space")
    stage.page.wait_for_timeout(100)
    assert stage.taken() == ["go"]


def test_the_stop_key_comes_first_and_has_the_keyboard(stage):
    stage.show(made.plan())
    stage.run(made.bout(), 1.0)
    first = "[...document.querySelectorAll('button, a[href], input, select')].find(e => e.checkVisibility())"
    assert stage.page.evaluate(f"{first} === document.querySelector('.key.stop')")
    assert stage.page.evaluate("document.activeElement === document.querySelector('.key.stop')")


def test_typing_in_a_field_takes_no_action(stage):
    stage.show(made.learners())
    stage.page.focus("#field-code")
    stage.page.keyboard.type("h3? ")
    stage.page.keyboard.press("PageDown")
    assert stage.nothing_taken()
    stage.page.keyboard.press("Escape")
    stage.page.keyboard.press("3")
    stage.taken(2)
    assert stage.lesson.done == [("set", {"code": "h3? "}), ("choose", {"code": "T-03"})]


def test_a_new_code_is_sent_with_enter(stage):
    stage.show(made.learners())
    stage.page.fill("#field-code", "Z-99")
    stage.page.keyboard.press("Enter")
    stage.taken()
    assert stage.lesson.done == [("set", {"code": "Z-99"})]


def test_what_is_being_typed_stays_when_the_view_is_told_again(stage):
    view = made.learners()
    stage.show(view)
    stage.page.focus("#field-code")
    stage.page.keyboard.type("Z-")
    stage.lesson.show(replace(view, message="Room check: quiet.", fields=(replace(view.fields[0], label="Another code"),)))
    stage.page.wait_for_selector("text=Another code")
    stage.page.keyboard.type("99")
    assert stage.page.input_value("#field-code") == "Z-99"


def test_the_space_bar_on_a_key_in_focus_presses_that_key_once(stage):
    stage.show(made.plan())
    stage.page.get_by_role("button", name="Other step").focus()
    stage.page.keyboard.press("Space")
    assert stage.taken() == ["steps"]
    stage.page.wait_for_timeout(100)
    assert stage.taken() == ["steps"]


def test_after_a_click_the_space_bar_is_the_main_key_again(stage):
    stage.show(made.plan())
    stage.page.click("text=Other step")
    stage.page.keyboard.press("Space")
    assert stage.taken(2) == ["steps", "go"]


def test_a_finger_takes_actions(opened):
    stage = opened(made.told(), has_touch=True, viewport={"width": 820, "height": 1180})
    stage.page.tap("text=No, it was another step")
    stage.taken()
    assert stage.lesson.done == [("eye", {"key": "n"})]


def test_an_action_under_way_is_not_taken_twice(stage):
    stage.show(made.plan())
    stage.page.evaluate("() => { const key = document.querySelector('.key.main'); key.click(); key.click(); }")
    stage.page.wait_for_timeout(150)
    assert stage.taken() == ["go"]


def test_a_refusal_is_said_and_the_sentence_stays(stage):
    view = made.plan()
    stage.show(view)
    stage.lesson.refusal = "Choose a learner first."
    stage.page.keyboard.press("Space")
    stage.page.wait_for_selector("[role=alert]:has-text('Choose a learner first.')")
    assert stage.page.inner_text("#lead") == view.lead
    stage.lesson.refusal = ""
    stage.page.keyboard.press("p")
    stage.page.wait_for_selector("[role=alert]", state="hidden")
    stage.complaints.clear()  # the browser tells of the refused request


def test_a_program_that_went_away_is_told_and_the_page_stays(opened):
    stage = opened(made.plan())
    stage.page.wait_for_selector("text=Other step")
    stage.lesson.feed.close()
    stage.page.route("**/events", lambda route: route.abort())
    stage.page.wait_for_selector(f"[role=status]:has-text('{made.words('en', 'text.away')}')")
    assert stage.page.is_enabled("text=Other step")
    stage.page.unroute("**/events")
    stage.page.wait_for_selector("#away:empty", state="attached")


def test_numbers_are_set_by_keys_and_by_typing_between_their_ends(stage):
    stage.show(made.settings())
    stage.page.get_by_label("Beats a minute More").click()
    stage.page.get_by_label("Beats a minute More").click()
    box = stage.page.get_by_label("Beats a minute", exact=True)
    for typed in ("96", "999", ""):
        box.fill(typed)
        box.press("Enter")
    stage.taken(4)
    assert [values["tempo_bpm"] for _, values in stage.lesson.done] == ["102", "104", "96", "150"]
    assert box.input_value() == "150"


def test_choices_and_switches_are_sent_at_once(stage):
    stage.show(made.settings())
    stage.page.get_by_label("left").check(force=True)
    stage.page.get_by_label("Help given").select_option("M")
    stage.page.get_by_role("switch", name="Sound on").click()
    stage.taken(3)
    assert stage.lesson.done == [("set", {"side": "left"}), ("set", {"help": "M"}), ("set", {"sounds": "false"})]


def test_a_page_to_print_opens_beside(stage):
    stage.show(made.history())
    with stage.page.expect_popup() as popup:
        stage.page.click("text=Family page")
    assert popup.value.url.endswith("/paper/family")
    assert popup.value.evaluate("window.opener") is None
    assert stage.nothing_taken()


def drop(stage, name="take.m4a", content="made"):
    """Drop a file on the page; whether the browser was kept from opening it."""
    return stage.page.evaluate(
        """([name, content]) => {
            const dataTransfer = new DataTransfer();
            dataTransfer.items.add(new File([content], name));
            const event = new DragEvent("drop", {dataTransfer, bubbles: true, cancelable: true});
            document.body.dispatchEvent(event);
            return event.defaultPrevented;
        }""",
        [name, content],
    )


def test_a_recording_dropped_or_chosen_is_handed_over(stage):
    stage.show(made.plan())
    with stage.page.expect_response("**/recording"):
        assert drop(stage)
    with stage.page.expect_response("**/recording") as answer:
        stage.page.set_input_files("#recording", {"name": "b.wav", "mimeType": "audio/wav", "buffer": b"RIFF"})
    assert answer.value.status == 204
    assert stage.lesson.recordings == [b"made", b"RIFF"]


@pytest.mark.parametrize("name", ["bout", "child", "blank", "settings"])
def test_a_recording_dropped_elsewhere_is_neither_taken_nor_opened(stage, name):
    stage.show(made.every_view()[name])
    assert drop(stage)
    stage.page.wait_for_timeout(100)
    assert stage.lesson.recordings == []


@pytest.mark.parametrize("wake", ["q", "ArrowUp", None])
def test_a_page_at_rest_comes_back_by_any_key_or_touch(stage, wake):
    stage.show(made.blank())
    assert "K-07" not in stage.page.content()
    if wake is None:
        stage.page.mouse.click(300, 400)
    else:
        stage.page.keyboard.press(wake)
    assert stage.taken() == ["back"]


def test_ten_minutes_without_a_touch_empty_the_page_but_not_a_bout(opened):
    stage = opened(made.told(), before=lambda page: page.clock.install())
    stage.page.wait_for_selector("[data-view=told]")
    stage.page.clock.fast_forward("09:00")
    stage.page.keyboard.press("Shift")
    stage.page.clock.fast_forward("09:59")
    assert stage.nothing_taken()
    stage.page.clock.fast_forward("00:02")
    assert stage.taken() == ["blank"]
    stage.run(made.bout(), 1.0)
    stage.page.clock.fast_forward("10:30")
    assert stage.taken() == ["blank"]


def test_words_with_markup_stay_words_and_drawings_lose_what_could_act(stage):
    evil = "<img src=x onerror='document.title=1'>"
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9" onload="document.title=1"><script>document.title=1</script>'
        '<a href="javascript:document.title=1"><circle r="3" onclick="document.title=1"/></a><text>seen</text></svg>'
    )
    view = made.told()
    action = Action("go", evil, Part.MAIN, ("Space",), evil, (Value("a", evil),))
    stage.show(replace(view, lead=evil, lines=(evil,), cautions=(evil,), actions=(action,), drawing=drawing))
    stage.page.wait_for_selector("#drawing svg")
    inside = stage.page.inner_html("#drawing")
    assert "seen" in inside
    assert [one for one in ("script", "onload", "onclick", "href") if one in inside] == []
    assert stage.page.locator("img").count() == 0
    assert stage.page.inner_text("#lead") == evil
    assert stage.page.title() == view.title
    assert all("has been blocked" in told for told in stage.complaints)
    stage.complaints.clear()


def test_a_drawing_that_is_none_is_left_out(stage):
    stage.show(replace(made.told(), drawing="<p>not a drawing"))
    assert stage.page.locator("#drawing").is_hidden()
    stage.complaints.clear()  # of the parser
