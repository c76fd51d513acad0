"""A bout to a cue that is heard, seen or both, as the commands run it."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from cuekit.bouts.audio_port import NamedPort, Stop
from cuekit.bouts.checked_devices import checks_folder, recall
from cuekit.bouts.given import Given
from cuekit.bouts.session import Done, bout_to_cue, bout_to_marker
from cuekit.cli.live_view import View
from cuekit.errors import RecordError
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


def _checked_s(port: NamedPort) -> float | None:
    """Delay of these devices beside the buffers from an earlier check; None without one, or a home for it."""
    names = port.names()
    with suppress(RecordError):
        pair = recall(checks_folder(), *names)
        return pair.beyond_buffers_s if pair else None
    return None
