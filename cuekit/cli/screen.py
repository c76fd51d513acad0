"""`cuekit screen`: the gym screen, served on this computer and opened in the browser."""

from __future__ import annotations

import sys
import tempfile
import threading
from contextlib import suppress
from pathlib import Path
from typing import Any

import click

from cuekit.bouts.sound_card import SoundCard
from cuekit.bouts.take_file import takes_folder
from cuekit.cli.options import language_option
from cuekit.cli.record_options import data_option, now
from cuekit.cli.takes import take_option, told_of_old_takes
from cuekit.errors import CuekitError, to_install

_MEND = f"the screen needs two more libraries: {to_install('screen')}"


@click.command()
@click.option("--no-browser", is_flag=True, help="Only print the address; open it in a browser yourself.")
@click.option(
    "--remote",
    "address",
    metavar="ADDRESS",
    help="Let a phone on the same network press keys: this computer's address there, like 192.168.1.20.",
)
@data_option()
@take_option()
@language_option()
def command(
    no_browser: bool, address: str | None, folder: Path | None, takes: Path | None, language: str
) -> None:
    """Open the gym screen: the whole lesson on one page, by keys, clicker or touch.

    The page is for this computer only; nothing leaves it. Enter here opens it again, Ctrl-C ends it. With
    --remote a phone gets three keys (go on, back, stop) and nothing else: no code, no result.
    """
    try:
        from cuekit.screen.server import serve, serve_remote
    except ModuleNotFoundError:
        raise CuekitError(_MEND) from None
    from cuekit.screen.desk import Desk
    from cuekit.screen.lesson import ScreenLesson

    takes = takes or takes_folder()
    for line in told_of_old_takes(takes):
        click.echo(line)
    desk = Desk(folder, now)
    desk.roster()  # records that cannot be opened are told here, before a page is
    lesson = ScreenLesson(SoundCard(), takes, desk, language)
    with tempfile.TemporaryDirectory(prefix="cuekit-screen-") as dropped:
        pages = [serve(lesson, Path(dropped))]
        click.echo(
            f"The screen is at {pages[0].address}\nIt opens once. Enter: a new address. Ctrl-C ends it."
        )
        if address is not None:
            pages.append(serve_remote(lesson, address))
            click.echo(f"Keys for a phone, once: {pages[1].address}")
        if not no_browser:
            click.launch(pages[0].address)
        threading.Thread(target=_open_again, args=(pages[0], not no_browser), daemon=True).start()
        try:
            pages[0].wait()
        finally:
            lesson.close()
            for page in pages:
                page.stop()
            _tell_refused(pages)


def _open_again(page: Any, browser: bool) -> None:
    """A new address at each Enter, as the first one is good for one browser only."""
    with suppress(OSError, ValueError):  # no keyboard, or it was closed
        for _ in sys.stdin or ():
            address = page.again()
            click.echo(f"The screen is at {address}")
            if browser:
                click.launch(address)


def _tell_refused(pages: list[Any]) -> None:
    """Who else came, by reason only."""
    for page in pages:
        for reason, times in page.guard.refused.items():
            click.echo(f"refused {times} times: {reason}", err=True)
