"""How soon the page can be used after the command, and how much is loaded for it.

    python -m tests.screen.opening

Usable: the first view stands in a browser that ran already. Cold: the files of Python, its libraries and cuekit were
dropped from the system's memory beforehand (Linux), as on the first start of a day; what other programs use stays.
"""

from __future__ import annotations

import os
import shutil
import sys
import sysconfig
import tempfile
import time
from pathlib import Path

import cuekit
from tests.screen.latency import ARGUMENTS
from tests.screen.probe_caller import program

WARM_TRIES = 5


def forget_files() -> int:
    """Drop files from the system's memory; how many."""
    roots = [sysconfig.get_paths()["purelib"], sysconfig.get_paths()["stdlib"], str(Path(cuekit.__file__).parent)]
    paths = [path for root in roots for path in Path(root).rglob("*") if path.suffix in (".py", ".pyc", ".so", ".toml", ".npz")]
    for path in [*paths, Path(sys.executable).resolve()]:
        file = os.open(path, os.O_RDONLY)
        os.posix_fadvise(file, 0, 0, os.POSIX_FADV_DONTNEED)
        os.close(file)
    return len(paths)


def opened_after_s(browser: object) -> tuple[float, float, int]:
    """From the command to its address, and to the first view, s; bytes of what was loaded."""
    with tempfile.TemporaryDirectory() as folder:
        began_s = time.monotonic()
        with program(Path(folder)) as running:
            context = browser.new_context()
            page = context.new_page()
            answers = []
            page.on("response", lambda answer: answers.append(answer))
            page.goto(running.address)
            page.wait_for_selector('body[data-view="learners"]')
            usable_s = time.monotonic() - began_s
            loaded = sum(len(one.body()) for one in answers if one.ok and not one.url.endswith("/events"))
            context.close()
            return running.started_s, usable_s, loaded


def main() -> None:
    """Measure and print."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        opened_after_s(browser)  # the browser's own first page
        forgotten = forget_files()
        address_s, usable_s, loaded = opened_after_s(browser)
        print(f"load of the computer {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
        print(f"cold ({forgotten} files forgotten): address after {address_s:.2f} s, page after {usable_s:.2f} s")
        warm = sorted(opened_after_s(browser) for _ in range(WARM_TRIES))
        print(f"warm, middle of {WARM_TRIES}: address after {warm[WARM_TRIES // 2][0]:.2f} s, page after {sorted(one[1] for one in warm)[WARM_TRIES // 2]:.2f} s")
        print(f"first load: {loaded} bytes")
        browser.close()


if __name__ == "__main__":
    main()
