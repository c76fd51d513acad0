"""A browser, and the page in it with a made lesson behind."""

import shutil
from dataclasses import dataclass, field

import pytest

from tests.screen.made_views import blank
from tests.screen.page_stage import MadeLesson, RunningBout, serve_made

CHROMIUM = shutil.which("chromium")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
LAPTOP = {"width": 1366, "height": 768}


@dataclass(eq=False)
class Stage:
    """The page and what is behind it.

    Attributes:
        page: of playwright.
        lesson: what it shows and was told.
        complaints: of the browser's console, and errors of scripts.
        asked: addresses requested.
    """

    page: object
    lesson: MadeLesson
    complaints: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    running: list[RunningBout] = field(default_factory=list)

    def show(self, view):
        """Show a view and wait until the page has it."""
        self.lesson.show(view)
        self.page.wait_for_selector(f'[data-view="{view.name}"]', state="attached")
        self.page.wait_for_function("words => document.getElementById('title').textContent === words", arg=view.title)

    def run(self, view, at_s, jitter_s=(0.0,)):
        """Show a bout that runs, from time `at_s` on."""
        self.running.append(RunningBout.start(self.lesson, view, at_s, jitter_s))
        self.page.wait_for_selector("[data-view=bout] .picture svg")
        return self.running[-1]

    def taken(self, count=1):
        """The names of the actions taken, once there are so many."""
        for _ in range(100):
            if len(self.lesson.done) >= count:
                break
            self.page.wait_for_timeout(20)
        return [name for name, _ in self.lesson.done]

    def nothing_taken(self):
        """Whether nothing was taken in a time in which it would have been."""
        self.page.wait_for_timeout(150)
        return self.lesson.done == []


@pytest.fixture(scope="session")
def chromium():
    """The browser, for all tests."""
    if CHROMIUM is None:
        pytest.skip("needs the browser chromium on the path")
    sync_api = pytest.importorskip("playwright.sync_api", reason="needs playwright")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def opened(chromium, tmp_path):
    """Open the page in a browser of given properties."""
    ended = []

    def open_page(view=None, *, before=lambda page: None, **properties):
        lesson, served = serve_made(tmp_path, view or blank())
        context = chromium.new_context(**({"viewport": LAPTOP} | properties))
        page = context.new_page()
        stage = Stage(page, lesson)
        page.on("console", lambda told: told.type in ("error", "warning") and stage.complaints.append(told.text))
        page.on("pageerror", lambda error: stage.complaints.append(str(error)))
        page.on("request", lambda request: stage.asked.append(request.url))
        ended.append((stage, context, served))
        before(page)
        page.goto(served.address)
        page.wait_for_selector("body[data-view]", state="attached")
        return stage

    yield open_page
    for stage, context, served in ended:
        for running in stage.running:
            running.stop()
        context.close()
        served.stop()
        served.wait()


@pytest.fixture
def stage(opened):
    """The page on a laptop."""
    made = opened()
    yield made
    assert made.complaints == []
