"""Actions on bouts that are kept: looked at again, marked by eye, set right, voided."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from cuekit.errors import RecordError
from cuekit.records.eye_keys import BACK, LEAVE_ALL_OUT, LEAVE_OUT, Asked, EyeKeys, pressed
from cuekit.screen.ground import Ground
from cuekit.screen.mending import REASONS, Mending, chosen, counted, struck, walked
from cuekit.screen.state import At
from cuekit.screen.told import told_again
from cuekit.telling.phrases import load_phrases

_FIELD_OF = {asked: "help-level" if asked is Asked.HELP else asked.value for asked in Asked}
"""What an answer of the eye is called in the records."""


class MendingActions(Ground):
    """What the eye saw of a bout, and setting it right."""

    def _on_look(self, number: str) -> None:
        """Look at a bout again; one counted by hand has nothing but its numbers."""
        mending = self._mending(number)
        if mending.score is None:
            self._go_to(At.MEND, mending=mending, told=None)
        else:
            self._tell(mending)

    def _on_mend(self) -> None:
        (number, *others) = self.told_here().numbers or (0,)
        if others or not number:
            raise self.unknown()
        self._go_to(At.MEND, mending=self._mending(str(number)))

    def _on_sound(self, number: str) -> None:
        self._mended(lambda mending: chosen(mending, number))

    def _on_sound_on(self) -> None:
        self._mended(lambda mending: walked(mending, 1))

    def _on_sound_before(self) -> None:
        self._mended(lambda mending: walked(mending, -1))

    def _on_strike(self) -> None:
        self._mended(struck)

    def _on_mended(self) -> None:
        mending = self.mending_here()
        if not mending.changed:
            raise RecordError(self.phrases.say("refused.nothing"))
        self._go_to(At.REASON, bout=mending.kept.number)

    def _on_void(self, number: str) -> None:
        mending = self._mending(number)
        if mending.kept.void_reason is not None:
            raise RecordError(self.phrases.say("refused.void", number=number))
        self._go_to(At.REASON, bout=mending.kept.number, mending=None)

    def _on_because(self, key: str) -> None:
        if key not in REASONS:
            raise self.unknown()
        self._reasoned(self.phrases.say(f"reason.{key}"))

    def _reasoned(self, reason: str) -> None:
        """Do what was asked for, now that the reason is known."""
        state, code = self.state, self.learner_here()
        if state.at is not At.REASON:
            raise self.unknown()
        if not reason.strip():
            raise RecordError(self.phrases.say("refused.reason"))
        if state.mending is None:
            self._desk.shelf.void(code, state.bout, reason)
            self._go_to(At.HISTORY, bout=0, told=None)
            return
        self._desk.shelf.mend(code, state.mending, reason)
        after = self._mending(str(state.bout))
        if after.score is None:
            self._go_to(At.HISTORY, bout=0, mending=None)
        else:
            self._tell(after)

    def _tell(self, mending: Mending) -> None:
        """Show a bout as it counts now; the questions for the eye stay where they were."""
        language, before = self.state.language, self.state.told
        told = told_again(mending, self.state.planned, load_phrases(language), self.phrases)
        if before is not None and before.numbers == told.numbers:
            told = replace(told, eye=before.eye, earlier=before.earlier)
        self._go_to(At.TOLD, told=told, mending=None, bout=0)

    def _count(self, field: str, value: str) -> None:
        self._mended(lambda mending: counted(mending, field, value))

    def _mended(self, change: Callable[[Mending], Mending]) -> None:
        self.state = replace(self.state, mending=change(self.mending_here()))

    def mending_here(self) -> Mending:
        """The bout that is being set right.

        Raises:
            RecordError: none is.
        """
        if self.state.mending is None or self.state.at is not At.MEND:
            raise RecordError(self.phrases.say("refused.no_bout"))
        return self.state.mending

    def _mending(self, number: str) -> Mending:
        asked = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 0
        return self._desk.shelf.mending(self.learner_here(), asked, self.state.language)

    # -- what the eye saw -----------------------------------------------------------------------------

    def _on_eye(self, key: str) -> None:
        self._press(key)

    def _on_leave_out(self) -> None:
        self._press(LEAVE_OUT[0])

    def _on_leave_all(self) -> None:
        self._press(LEAVE_ALL_OUT)

    def _on_take_back(self) -> None:
        self._press(BACK[0])

    def _on_ask_again(self) -> None:
        """All questions anew; what is left out this time stays as it was entered."""
        told = self.told_here()
        if told.eye is not None:
            self.state = replace(self.state, told=replace(told, eye=replace(told.eye, answers=())))

    def _press(self, key: str) -> None:
        """Hand a key to the questions for the eye; what is answered is stored at once."""
        told = self.told_here()
        if told.eye is None:
            return
        after = pressed(told.eye, key)
        for asked, new in _answers(told.eye, after):
            self._desk.shelf.enter(self.learner_here(), told.numbers, _FIELD_OF[asked], new)
        self.state = replace(self.state, told=replace(told, eye=after))


def _answers(before: EyeKeys, after: EyeKeys) -> list[tuple[Asked, str]]:
    """What changed between two states of the questions: what was asked, and the answer now."""
    changes = []
    for number, question in enumerate(after.questions):
        old, new = (
            answers[number] if number < len(answers) else None for answers in (before.answers, after.answers)
        )
        if old != new:
            changes.append((question.asked, str(new.value) if new else ""))
    return changes
