"""The page for everybody: axe finds nothing, all text at any size, keys large enough, nothing from outside."""

import io
import re
from urllib.parse import urlsplit

import numpy as np
import pytest
from PIL import Image

from cuekit.screen.guard import POLICY
from cuekit.screen.server import static_files
from tests.screen import made_views as made
from tests.screen.conftest import LAPTOP

axe_api = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe-playwright-python")

VIEWS = tuple(made.every_view())
PHONE = {"width": 390, "height": 9000}
"""So high that the large key, which stays in sight, lies over nothing: axe takes no account of scrolling."""
NARROW = {"width": 320, "height": 640}
SMALLEST_KEY_PX = 48
"""The project's own limit; WCAG 2.2 asks for 24 (2.5.8, AA) and 44 (2.5.5, AAA)."""
FIRST_LOAD_BYTES = 300_000
RULES = {
    "resultTypes": ["violations"],
    "rules": {"color-contrast-enhanced": {"enabled": True}, "target-size": {"enabled": True}},
}


def shown(stage, view):
    """A view on the page, a bout in the middle of it."""
    if view.name == "bout":
        stage.run(view, 1.3).footfall(1.25, 0.7)
        stage.page.wait_for_selector(".picture .heard", state="attached")
    else:
        stage.show(view)


def violations(stage):
    found = axe_api.Axe().run(stage.page, options=RULES).response["violations"]
    return [(one["id"], node["html"][:120]) for one in found for node in one["nodes"]]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", VIEWS)
def test_axe_finds_nothing(stage, name, language):
    shown(stage, made.every_view(language)[name])
    assert violations(stage) == []
    stage.page.set_viewport_size(PHONE)
    assert violations(stage) == []


def test_axe_would_find_a_key_without_a_name_and_pale_words(stage):
    stage.show(made.plan())
    stage.page.evaluate("() => { document.querySelector('.key').replaceChildren(); document.getElementById('lead').style.color = '#888'; }")
    assert {rule for rule, _ in violations(stage)} >= {"button-name", "color-contrast-enhanced"}


@pytest.mark.parametrize("name", VIEWS)
def test_nothing_is_red_and_one_blue_is_the_only_colour(stage, name):
    shown(stage, made.every_view()[name])
    pixels = np.asarray(Image.open(io.BytesIO(stage.page.screenshot())).convert("RGB"), np.int16)
    red, green, blue = (pixels[..., n] for n in range(3))
    assert (red <= np.minimum(green, blue) + 12).all()
    assert (green <= blue + 12).all()


def test_the_child_sees_no_number_no_cross_and_no_key_but_back(stage):
    view = made.child(filled=2, pictures=6)
    stage.show(view)
    assert not re.search(r"\d", stage.page.inner_text("main"))
    assert stage.page.locator("#child .full").count() == 2
    assert stage.page.locator("#child .open").count() == 4
    assert stage.page.locator("#child .extra, #child audio").count() == 0
    assert [key.inner_text() for key in stage.page.locator(".key").all()] == [view.actions[0].label]


CUT = """() => [...document.querySelectorAll("body *")]
    .filter(node => !node.closest("svg, thead, #spoken, .key.top") && node.checkVisibility() && node.tagName !== "INPUT")
    .filter(node => {
        const box = node.getBoundingClientRect();
        return box.left < -1 || box.right > innerWidth + 1 || node.scrollWidth > node.clientWidth + 1 && node.clientWidth > 0
            || getComputedStyle(node).overflowY !== "visible" && node.scrollHeight > node.clientHeight + 1;
    }).map(node => node.outerHTML.slice(0, 90))"""


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", VIEWS)
def test_no_text_is_cut_and_nothing_scrolls_sideways(stage, name, language):
    shown(stage, made.every_view(language)[name])
    for page, text in ((NARROW, 1), (NARROW, 2), (LAPTOP, 2)):
        stage.page.set_viewport_size(page)
        stage.page.evaluate("times => { document.documentElement.style.fontSize = `${16 * times}px`; }", text)
        stage.page.wait_for_timeout(50)
        assert stage.page.evaluate("() => document.documentElement.scrollWidth - innerWidth") <= 0
        assert stage.page.evaluate(CUT) == []


KEYS = """() => [...document.querySelectorAll("button, a[href], input, select, .tile, .file")].filter(key => key.checkVisibility())
    .map(key => [key.outerHTML.slice(0, 90), key.getBoundingClientRect()]).map(([words, box]) => [words, box.width, box.height])"""


@pytest.mark.parametrize("name", VIEWS)
def test_every_key_is_large_enough_for_a_thumb(stage, name):
    shown(stage, made.every_view()[name])
    for page in (LAPTOP, NARROW):
        stage.page.set_viewport_size(page)
        keys = stage.page.evaluate(KEYS)
        assert keys
        assert [words for words, width, height in keys if min(width, height) < SMALLEST_KEY_PX] == []
        large = [height for words, _, height in keys if "key main" in words or "key stop" in words]
        assert all(height >= 96 for height in large)


@pytest.mark.parametrize("name", ["learners", "plan", "told", "settings", "history"])
def test_the_place_of_the_keyboard_is_always_in_sight(stage, name):
    stage.show(made.every_view()[name])
    for _ in range(30):
        stage.page.keyboard.press("Tab")
        seen = stage.page.evaluate("""() => {
            const at = document.activeElement;
            if (at === document.body) return true;
            const box = at.getBoundingClientRect();
            const over = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            const rim = [at, at.parentElement, at.nextElementSibling].filter(Boolean).map(one => getComputedStyle(one));
            return (at === over || at.contains(over) || over?.contains(at)) && rim.some(one => parseFloat(one.outlineWidth) >= 3 && one.outlineStyle === "solid");
        }""")
        assert seen, stage.page.evaluate("document.activeElement.outerHTML.slice(0, 200)")


def test_forced_colours_keep_the_rings_and_keys(opened):
    stage = opened(forced_colors="active", color_scheme="dark")
    shown(stage, made.bout())
    look = stage.page.evaluate("""() => {
        const of = (name, what) => getComputedStyle(document.querySelector(name))[what];
        return [of(".due:not(.hit)", "stroke"), of(".due:not(.hit)", "fill"), of(".heard", "fill"), of("body", "backgroundColor"), of(".key.stop", "borderTopStyle")];
    }""")
    stroke, fill, heard, paper, border = look
    assert stroke != fill
    assert heard != fill
    assert border == "solid"
    assert stroke != paper.replace("a", "")


def test_the_first_load_is_small_and_stays_at_home(opened):
    sizes = {}
    sent = lambda page: page.on("response", lambda reply: sizes.update({reply.url: reply}))  # noqa: E731
    stage = opened(made.plan(), before=sent)
    stage.page.wait_for_selector("text=Other step")
    own = {path: reply for url, reply in sizes.items() if (path := urlsplit(url).path) != "/events" and reply.status == 200}
    assert sum(len(reply.body()) for reply in own.values()) < FIRST_LOAD_BYTES
    assert {urlsplit(url).hostname for url in stage.asked} == {"127.0.0.1"}
    assert {urlsplit(url).query for url in stage.asked} == {""}
    assert all(reply.headers["content-security-policy"] == POLICY for reply in own.values())
    assert stage.complaints == []


def test_every_file_of_the_page_is_asked_for_and_served(opened):
    stage = opened(made.plan())
    stage.page.wait_for_selector("text=Other step")
    asked = {urlsplit(url).path for url in stage.asked}
    assert set(static_files()) <= asked


def test_the_policy_blocks_what_is_written_into_the_page(stage):
    stage.page.evaluate("() => { const one = document.createElement('script'); one.textContent = 'document.title = 1'; document.body.append(one); }")
    stage.page.wait_for_timeout(100)
    assert stage.page.title() != "1"
    assert any("Content Security Policy" in told for told in stage.complaints)
    stage.complaints.clear()
