"""The eye mark by single keys, in the terminal, straight after a bout."""

from __future__ import annotations

from dataclasses import dataclass

import click

from cuekit.bouts.interrupts import noted_interrupt
from cuekit.bouts.keys import Keyboard, wait_for_key
from cuekit.patterns.pattern import Pattern
from cuekit.records.bout_record import EyeMark, HelpLevel, Mode
from cuekit.records.eye_keys import entered_line, eye_keys, pressed, question_lines
from cuekit.teaching.ladder_files import list_ladders, load_ladder
from cuekit.telling.phrases import Phrases

_LOOKS_S = 0.1
"""How often it is looked whether Ctrl-C was pressed, s."""

_KEYS_BEFORE = 64  # at most this many are thrown away: nobody presses more by mistake


@dataclass(frozen=True)
class Answers:
    """What was answered.

    Attributes:
        eye, help_level: what was seen, and the help given; None in them for what was left out.
        interrupted: whether Ctrl-C ended the questions; what was answered before counts.
    """

    eye: EyeMark = EyeMark()
    help_level: HelpLevel | None = None
    interrupted: bool = False


def step_question(step: str, language: str) -> str:
    """What a step of a ladder asks the eye; empty where it asks nothing, or is of no shipped ladder."""
    for name in list_ladders() if step else ():
        ladder = load_ladder(name, language=language)
        if ladder.has(step):
            return ladder.step(step).eye
    return ""


def ask_eye(
    keyboard: Keyboard, pattern: Pattern, phrases: Phrases, mode: Mode, step_eye: str = ""
) -> Answers:
    """Ask what only the eye knows, one key a question; nothing is asked where there is no keyboard.

    Parameters
    ----------
    keyboard : where the keys come from
    pattern, mode : what was done, in the language of the phrases, and with what
    phrases : of the language
    step_eye : see `step_question`
    """
    if not keyboard.there:
        return Answers()
    _forget_keys(keyboard)
    state, asked = eye_keys(pattern, phrases, mode, step_eye), None
    with noted_interrupt() as interrupt:
        while not state.done and not interrupt.asked:
            lines = question_lines(state, phrases)
            if lines != asked:
                click.echo("\n".join(lines))
                asked = lines
            state = pressed(state, wait_for_key(keyboard, _LOOKS_S))
    click.echo(entered_line(state, phrases))
    return Answers(state.eye, state.help_level, interrupt.asked)


def _forget_keys(keyboard: Keyboard) -> None:
    """Throw away what was pressed during the bout: it was meant to stop it, not to answer."""
    for _ in range(_KEYS_BEFORE):
        if not keyboard.pressed():
            return
