"""A browser, and the page in it with a made lesson behind."""

import shutil
from dataclasses import dataclass, field

import pytest

from cuekit.screen.server import HOST
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

    def still(self):
        """End what runs."""
        for running in self.running:
            running.stop()
        self.running.clear()

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


@pytest.fixture(scope="session")
def made_lesson(tmp_path_factory):
    """One server for all tests of the page, and the made lesson behind it."""
    lesson, served = serve_made(tmp_path_factory.mktemp("dropped"), blank())
    yield lesson, served
    served.stop()
    served.wait()


def is_complaint(told):
    """Whether a message of the console is one; no other address than the page's own has its icon."""
    return told.type in ("error", "warning") and not told.location["url"].endswith("/favicon.ico")


def watched(page, lesson):
    """The page, with all kept that the browser complains of and asks for."""
    stage = Stage(page, lesson)
    page.on("console", lambda told: is_complaint(told) and stage.complaints.append(told.text))
    page.on("pageerror", lambda error: stage.complaints.append(str(error)))
    page.on("request", lambda request: stage.asked.append(request.url))
    return stage


def entered(stage, address):
    """Open the page and wait until its first view is there."""
    stage.page.goto(address)
    stage.page.wait_for_selector("body[data-view]", state="attached")
    return stage


@pytest.fixture
def opened(chromium, made_lesson):
    """Open the page in a browser of given properties."""
    ended = []
    lesson, served = made_lesson
    lesson.anew(blank())

    def open_page(view=None, *, before=lambda page: None, **properties):
        lesson.anew(view or blank())
        context = chromium.new_context(**({"viewport": LAPTOP} | properties))
        stage = watched(context.new_page(), lesson)
        ended.append((stage, context))
        before(stage.page)
        return entered(stage, served.again())

    yield open_page
    for stage, context in ended:
        stage.still()
        context.close()


@pytest.fixture(scope="session")
def laptop(chromium, made_lesson):
    """A page on a laptop, for one test after the other."""
    lesson, served = made_lesson
    context = chromium.new_context(viewport=LAPTOP)
    yield entered(watched(context.new_page(), lesson), served.again())
    context.close()


@pytest.fixture
def stage(laptop, made_lesson):
    """The page on a laptop, loaded anew; left afterwards, as one that is open would move beside the next."""
    lesson, served = made_lesson
    origin = f"http://{HOST}:{served.port}"
    lesson.anew(blank())
    laptop.complaints.clear()
    laptop.asked.clear()
    laptop.page.set_viewport_size(LAPTOP)
    laptop.page.mouse.move(0, 0)
    yield entered(laptop, f"{origin}/")
    laptop.still()
    complaints = [*laptop.complaints]
    laptop.page.goto(f"{origin}/icon.svg")
    assert complaints == []
