"""`cuekit demo`: the whole job on the shipped recordings, offline, in a few seconds."""

from __future__ import annotations

import tempfile
import textwrap
from collections.abc import Iterator
from pathlib import Path

import click

from cuekit.bouts.audio_port import AudioPort, Ended, never
from cuekit.bouts.sound_card import SoundCard
from cuekit.cli.options import takes_unicode
from cuekit.cues.render import CueTrack, render_blocks, write_cues
from cuekit.demo import (
    BEATS,
    FOUND_WITHIN_S,
    TEMPO_BPM,
    Agreement,
    Judged,
    Truth,
    judge,
    read_truths,
    skip_track,
)
from cuekit.drawing.bout_plot import draw_bout
from cuekit.drawing.bout_text import draw_bout_text
from cuekit.errors import AudioError, DeviceError
from cuekit.files.atomic import write_text
from cuekit.files.filenames import shown
from cuekit.telling.phrases import Phrases, load_phrases

WIDTH_COLUMNS = 79
DRAWN = ("skip-clear", "skip-one-side")
"""Recordings shown first and drawn: one that is right, and one with a fault to be seen in the drawing."""

PAGE_OF = DRAWN[-1]
SOUND_NAME = "cuekit-demo-skip.wav"


@click.command()
@click.option("--quiet", is_flag=True, help="Do not play the skip.")
@click.option(
    "--plots",
    "plots_folder",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="Write the drawn page of one bout there (SVG; any web browser opens and prints it).",
)
@click.option(
    "--language", default="en", show_default=True, metavar="CODE", help="Language of the sentences: en or es."
)
def command(quiet: bool, plots_folder: Path | None, language: str) -> None:
    """See the whole job on the shipped recordings: play, listen, say what was heard."""
    phrases = load_phrases(language)
    truths = _in_order(read_truths())
    _tell(phrases.say("demo.opening"))
    _head(phrases.say("demo.play_head"))
    _tell(phrases.say("demo.play", tempo=f"{TEMPO_BPM:g}", beats=BEATS))
    if not quiet:
        _play(SoundCard(), skip_track(), phrases)
    _head(phrases.say("demo.listen_head"))
    _tell(phrases.say("demo.listen", count=len(truths), window=f"{1000 * FOUND_WITHIN_S:.0f}"))
    total = Agreement(0, 0, 0)
    for truth in truths:
        judged = judge(truth, phrases)
        total += judged.agreement
        click.echo()
        click.echo("\n".join(_lines(judged, phrases)))
        if plots_folder is not None and truth.path.stem == PAGE_OF:
            _draw_page(plots_folder, judged, phrases)
    click.echo()
    _tell(phrases.say("demo.total", landings=total.landings, found=total.found, false=total.false))
    _head(phrases.say("demo.next_head"))
    click.echo(phrases.say("demo.next").rstrip())
    _head(phrases.say("demo.care_head"))
    for caution in phrases.say("demo.care").splitlines():
        _tell(caution, indent="    ")


def _in_order(truths: tuple[Truth, ...]) -> list[Truth]:
    """The drawn ones first, in their own order, then the others."""
    first = {name: place for place, name in enumerate(DRAWN)}
    return sorted(truths, key=lambda truth: first.get(truth.path.stem, len(first)))


def _play(port: AudioPort, track: CueTrack, phrases: Phrases) -> None:
    """Play the skip, or write it where there is no loudspeaker or it is lost."""
    try:
        passage = port.play(render_blocks(track), never)
        reason = passage.lost if passage.ended is Ended.LOST else ""
    except DeviceError as refusal:
        reason = str(refusal).partition(": ")[0].partition("; ")[0]
    if reason:
        _tell(phrases.say("demo.written", reason=reason, path=shown(_written(track))))


def _written(track: CueTrack) -> Path:
    """Write the skip into the current folder, or into a new temporary one where that is not allowed."""
    path = Path(SOUND_NAME)
    try:
        write_cues(path, track)
    except AudioError:
        path = Path(tempfile.mkdtemp(prefix="cuekit-demo-")) / SOUND_NAME
        write_cues(path, track)
    return path


def _lines(judged: Judged, phrases: Phrases) -> Iterator[str]:
    """What a recording is, what was said of it, and whether it had been heard right."""
    truth, advice = judged.truth, judged.score.advice
    drawn = truth.path.stem in DRAWN
    told = [("demo.made", truth.about), ("demo.says", advice.summary)]
    if drawn and advice.fault is not None:
        told += [("demo.may_also_be", advice.fault.may_also_be), ("demo.ask", advice.fault.ask)]
    told.append(("demo.truth", _agreement(judged, phrases)))
    width = max(len(phrases.say(key)) for key, _ in told)
    yield truth.path.stem
    for key, text in told:
        yield from _wrapped(text, f"  {phrases.say(key):<{width}}  ")
    if drawn:
        yield ""
        yield from draw_bout_text(judged.score, width=WIDTH_COLUMNS, unicode=takes_unicode())


def _agreement(judged: Judged, phrases: Phrases) -> str:
    """How what was heard agrees with what was made."""
    agreement, made = judged.agreement, judged.truth.split
    if not agreement.landings:
        key = "demo.silence_wrong" if agreement.false else "demo.silence_right"
        return phrases.say(key, false=agreement.false)
    key = "demo.agrees" if agreement.full else "demo.differs"
    told = phrases.say(key, landings=agreement.landings, found=agreement.found, false=agreement.false)
    return f"{told} {phrases.say('demo.split', made=made, heard=judged.split)}" if made else told


def _draw_page(folder: Path, judged: Judged, phrases: Phrases) -> None:
    """Write the page of a bout into a folder, which is made where it is missing."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise AudioError(
            f"cannot make the folder {shown(folder)} ({problem.strerror}): choose another"
        ) from None
    path = folder / f"cuekit-demo-{judged.truth.path.stem}.svg"
    write_text(path, draw_bout(judged.score))
    click.echo()
    click.echo("\n".join(_wrapped(phrases.say("demo.page", path=shown(path)), "  ")))


def _head(text: str) -> None:
    click.echo(f"\n{text}")


def _tell(text: str, indent: str = "  ") -> None:
    click.echo("\n".join(_wrapped(text, "  ", indent)))


def _wrapped(text: str, label: str, indent: str | None = None) -> list[str]:
    """A text behind its label, further lines below its beginning; the name of a file is never broken."""
    return textwrap.wrap(
        text,
        WIDTH_COLUMNS,
        initial_indent=label,
        subsequent_indent=" " * len(label) if indent is None else indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
