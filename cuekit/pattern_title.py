"""The name of a skill in the language of a printed page."""

from __future__ import annotations

from cuekit.pattern import Pattern
from cuekit.phrases import Phrases


def title_of(pattern: Pattern, phrases: Phrases) -> str:
    """Name of the skill in the language of the page, where it has one."""
    return phrases.sentences.get(f"skill.{pattern.name}", pattern.title)
