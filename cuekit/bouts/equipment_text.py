"""What is told after the equipment check."""

from __future__ import annotations

from cuekit.bouts.equipment import Check
from cuekit.telling.phrases import Phrases


def told_check(check: Check, *, remembered: bool, phrases: Phrases) -> list[str]:
    """What was found, in words."""
    lines = []
    if check.delay_s is not None and check.plus_minus_s is not None:
        delay_ms, plus_minus_ms = 1000 * check.delay_s, 1000 * check.plus_minus_s
        lines.append(phrases.say("equipment.delay", delay_ms=delay_ms, plus_minus_ms=plus_minus_ms))
    lines += [phrases.say(f"equipment.{problem.name.lower()}") for problem in check.problems]
    if not check.problems:
        lines.append(phrases.say("equipment.good"))
    if remembered:
        lines.append(phrases.say("equipment.remembered"))
    return lines
