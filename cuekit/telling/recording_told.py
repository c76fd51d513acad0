"""What is to be known of a recording, in words."""

from __future__ import annotations

from cuekit.hearing.events import Recording
from cuekit.telling.phrases import Phrases


def recording_told(recording: Recording, phrases: Phrases) -> list[str]:
    """One sentence for each warning of a recording ("recording." in the phrases)."""
    return [phrases.say(f"recording.{one.id}", **dict(one.values)) for one in recording.warnings]
