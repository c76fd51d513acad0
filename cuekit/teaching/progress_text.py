"""A decision about the next step, in words: the proposal with its counts first, then what to mind."""

from __future__ import annotations

from cuekit.teaching.ladder import Ladder
from cuekit.teaching.progression import Decision, Move, Why
from cuekit.telling.phrases import Phrases


def say_decision(decision: Decision, ladder: Ladder, phrases: Phrases) -> tuple[str, ...]:
    """The lines a teacher reads, the proposal first."""
    counts = decision.counts
    first = phrases.say(
        f"progress.{_key(decision)}",
        met=counts.met,
        tried=counts.tried,
        days=counts.days,
        days_needed=counts.days_needed,
        misses=counts.misses_running,
        task=decision.to.task,
        undo=_undo(decision, ladder, phrases),
    )
    lines = [first]
    if decision.why in (Why.MISSES, Why.RARELY_MET):
        lines.append(phrases.say("progress.look_first"))
    if len(decision.undo) > 1:
        changes = ", ".join(phrases.say(f"progress.changed.{change}") for change in decision.undo)
        lines.append(phrases.say("progress.too_many", changes=changes))
    if decision.probe:
        lines.append(phrases.say("progress.probe"))
    if counts.not_counted:
        lines.append(phrases.say("progress.not_counted", not_counted=counts.not_counted))
    return tuple(lines)


def _key(decision: Decision) -> str:
    """Key of the sentence of a decision."""
    if decision.move is Move.START:
        return "chosen" if decision.why is Why.CHOSEN else "start"
    at_top = decision.move is Move.UP and decision.to is decision.step
    return "top" if at_top else decision.why.value


def _undo(decision: Decision, ladder: Ladder, phrases: Phrases) -> str:
    """How to go back: the thing changed last, or an easier way where nothing was."""
    if decision.undo:
        return " ".join(phrases.say(f"progress.undo.{change}") for change in decision.undo)
    if decision.to is not decision.step:
        change = decision.step.change
        return phrases.say(f"progress.undo.{change}")
    return phrases.say("progress.undo.none", easier=ladder.easier)
