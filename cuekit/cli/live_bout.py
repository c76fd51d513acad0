"""A bout to a cue that is heard, seen or both, as the commands run it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import click

from cuekit.bouts.audio_port import AudioPort, NamedPort, Stop
from cuekit.bouts.checked_devices import checks_folder, recall
from cuekit.bouts.given import Given
from cuekit.bouts.interrupts import noted_interrupt
from cuekit.bouts.session import Done, bout_to_cue, bout_to_marker
from cuekit.cli.live_view import View
from cuekit.cues.speech import check_speech, spoken
from cuekit.errors import CuekitError, NothingRecordedError, RecordError
from cuekit.records.bout_record import CueKind
from cuekit.telling.phrases import Phrases


def cued_bout(
    port: NamedPort, takes: Path, given: Given, kind: CueKind, phrases: Phrases, view: View, stop: Stop
) -> Done:
    """One bout to a cue; the delay of the devices is known from an earlier check of them, if there was one.

    Raises:
        DeviceError: a device is missing, or gave nothing.
        AudioError: the take cannot be written.
    """
    if kind is CueKind.VISUAL:
        return bout_to_marker(port, takes, given, phrases, view.heard, stop, view.at)
    beyond_s = _checked_s(port)
    return bout_to_cue(port, takes, given, phrases, view.heard, stop, beyond_s, view.at)


@contextmanager
def bout_kept(takes: Path, phrases: Phrases) -> Iterator[None]:
    """While a bout is recorded, scored, told and stored: Ctrl-C ends the bout, and the program when all that
    is done. A second Ctrl-C leaves at once; the recording stays, and is found at the next start.

    Raises:
        KeyboardInterrupt: so it was asked.
    """
    with noted_interrupt() as interrupt:
        try:
            yield
        except NothingRecordedError:
            if not interrupt.asked:
                raise
            click.echo(phrases.say("live.nothing_recorded"), err=True)
        except KeyboardInterrupt:
            left = any(takes.glob("take-*.wav"))
            click.echo(phrases.say("live.take_left" if left else "live.nothing_recorded"), err=True)
            raise
        if interrupt.asked:
            raise KeyboardInterrupt


@contextmanager
def nothing_recorded(phrases: Phrases) -> Iterator[None]:
    """Before the devices open: Ctrl-C leaves, and it is said that nothing was recorded."""
    try:
        yield
    except KeyboardInterrupt:
        click.echo(phrases.say("live.nothing_recorded"), err=True)
        raise


@dataclass(frozen=True)
class Speaker:
    """How a sentence is spoken.

    Attributes:
        language: of the sentence.
        loudness_lufs: of the sound, LUFS.

    Raises:
        AudioError: it could not be spoken.
    """

    language: str
    loudness_lufs: float

    def __post_init__(self) -> None:
        check_speech(self.language)

    def say(self, sentence: str, port: AudioPort, stop: Stop) -> None:
        """Speak until asked to stop, or Ctrl-C; a failure is told only, as the bout is still to be stored."""
        with noted_interrupt() as interrupt:
            try:
                samples = spoken(sentence, self.language, self.loudness_lufs)
                port.play([samples], lambda: interrupt.asked or stop())
            except CuekitError as refusal:
                click.echo(str(refusal), err=True)


def _checked_s(port: NamedPort) -> float | None:
    """Delay of these devices beside the buffers from an earlier check; None without one, or a home for it."""
    names = port.names()
    with suppress(RecordError):
        pair = recall(checks_folder(), *names)
        return pair.beyond_buffers_s if pair else None
    return None
