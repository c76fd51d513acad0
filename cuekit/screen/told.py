"""A bout as it is told on the screen: just done, or taken from the records again."""

from __future__ import annotations

from dataclasses import replace

from cuekit.drawing.feet_plot import draw_feet
from cuekit.patterns.pattern import Pattern
from cuekit.records.bout_record import HelpLevel, Mode
from cuekit.records.eye_keys import Asked, EyeKeys, eye_keys
from cuekit.screen.mending import Mending
from cuekit.screen.past import changes_of
from cuekit.screen.plan import USUAL_BEATS, Planned
from cuekit.screen.state import Told
from cuekit.telling.phrases import Phrases
from cuekit.telling.scoring import Score


def told_of(
    score: Score, lines: tuple[str, ...], numbers: tuple[int, ...], planned: Planned, phrases: Phrases
) -> Told:
    """A bout just done.

    Parameters
    ----------
    score : of it
    lines : what is said, the one sentence first
    numbers : under which it is stored; none where it is not
    planned : what was to be done
    phrases : of the language
    """
    step_eye, given = planned.step.eye if planned.step else "", planned.help_level
    eye = _questions(planned.pattern, phrases, planned.mode, step_eye, given) if numbers else None
    return Told(score, (*lines, *_also(score)), draw_feet(score), numbers, eye, target_of(planned))


def told_again(mending: Mending, planned: Planned | None, phrases: Phrases, screen: Phrases) -> Told:
    """A bout from the records, as it counts now; no question is open.

    Parameters
    ----------
    mending : the bout that a microphone heard
    planned : what comes next, for what its step asks of the child
    phrases, screen : of the language; the sentences after a bout, and those of the screen
    """
    kept, score = mending.kept, mending.score
    done = kept.now.conditions
    step = planned.step if planned is not None and planned.step_key == done.step else None
    eye = _questions(mending.pattern, phrases, done.mode, step.eye if step else "", None)
    closed = replace(eye, answers=(None,) * len(eye.questions))
    target = target_of(planned) if step else USUAL_BEATS // 2
    lines = (score.advice.summary, *_also(score), *changes_of(kept, screen))
    return Told(score, lines, draw_feet(score), (kept.number,), closed, target, earlier=True)


def target_of(planned: Planned | None) -> int:
    """Beats in a row that fill the child's pictures."""
    return planned.step.target.count if planned is not None and planned.step else USUAL_BEATS // 2


def _also(score: Score) -> tuple[str, ...]:
    """What else the fault may be, and what to ask the eye about it."""
    fault = score.advice.fault
    return (fault.may_also_be, fault.ask) if fault is not None else ()


def _questions(
    pattern: Pattern, phrases: Phrases, mode: Mode, step_eye: str, help_level: HelpLevel | None
) -> EyeKeys:
    """The questions for the eye; the help is not asked for again where it was said before."""
    found = eye_keys(pattern, phrases, mode, step_eye=step_eye)
    if help_level is None:
        return found
    return replace(found, questions=tuple(one for one in found.questions if one.asked is not Asked.HELP))
