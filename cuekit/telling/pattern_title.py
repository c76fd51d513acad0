"""The name of a skill in the language of a printed page."""

from __future__ import annotations

from cuekit.patterns.pattern import Pattern
from cuekit.telling.phrases import Phrases


def title_of(pattern: Pattern, phrases: Phrases) -> str:
    """Name of the skill in the language of the page, where it has one."""
    return phrases.sentences.get(f"skill.{pattern.name}", pattern.title)
