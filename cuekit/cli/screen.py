"""`cuekit screen`: the gym screen, served on this computer and opened in the browser."""

from __future__ import annotations

import tempfile
from pathlib import Path

import click

from cuekit.bouts.sound_card import SoundCard
from cuekit.bouts.take_file import takes_folder
from cuekit.cli.options import language_option
from cuekit.cli.record_options import data_option, now
from cuekit.cli.takes import take_option, told_of_old_takes
from cuekit.errors import CuekitError

_MEND = "the screen needs two more libraries: pip install 'cuekit[screen]'"


@click.command()
@click.option("--no-browser", is_flag=True, help="Only print the address; open it in a browser yourself.")
@data_option()
@take_option()
@language_option()
def command(no_browser: bool, folder: Path | None, takes: Path | None, language: str) -> None:
    """Open the gym screen: the whole lesson on one page, by keys, clicker or touch.

    The page is for this computer only; nothing leaves it. Ctrl-C here ends it.
    """
    try:
        from cuekit.screen.server import serve
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
        served = serve(lesson, Path(dropped))
        click.echo(f"The screen is at {served.address}\nIt opens once, in one browser. Ctrl-C ends it.")
        if not no_browser:
            click.launch(served.address)
        try:
            served.wait()
        finally:
            lesson.close()
            served.stop()
    for reason, times in served.guard.refused.items():
        click.echo(f"refused {times} times: {reason}")
