"""What each action of the page does: a state in, the next state out, and what it begins.

The name of an action is the name of a method here with `_on_` before it; its values are the arguments.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import replace

from cuekit.errors import CuekitError, RecordError
from cuekit.records.eye_keys import BACK, LEAVE_ALL_OUT, LEAVE_OUT, Asked, EyeKeys, pressed
from cuekit.records.learner import Learner
from cuekit.screen.bouts import Bouts, Job
from cuekit.screen.desk import Desk
from cuekit.screen.plan import Planned, changed, in_language, planned_pattern, planned_step
from cuekit.screen.state import At, State, Told
from cuekit.screen.view import Value
from cuekit.screen.views import Views
from cuekit.telling.phrases import Phrases, load_phrases

LANGUAGES = ("en", "es")

_FIELD_OF = {asked: "help-level" if asked is Asked.HELP else asked.value for asked in Asked}
"""What an answer of the eye is called in the records."""

Begin = Callable[[Job, str], None]


class Actions:
    """The state, and what is done to it.

    Parameters:
        desk: the records.
        views: what is proposed to a learner.
        bouts: what can be run.
        begin: runs a job and shows what becomes of it; the second argument is the key of what is told.
        stop: ends what runs.
        says: changes what is told while something runs.
        language: of the page.

    Attributes:
        state: where the lesson is.
    """

    def __init__(
        self,
        desk: Desk,
        views: Views,
        bouts: Bouts,
        begin: Begin,
        stop: Callable[[], None],
        says: Callable[[str], None],
        language: str,
    ) -> None:
        self._desk, self._views, self._bouts = desk, views, bouts
        self._begin, self._stop, self._says = begin, stop, says
        self.state = State(language=language)

    def take(self, name: str, values: tuple[Value, ...]) -> None:
        """Take an action.

        Raises:
            CuekitError: there is no such action, or it cannot be taken here.
        """
        given = {one.name: one.value for one in values}
        handler = getattr(self, f"_on_{name}", None) if name.isidentifier() else None
        if handler is None or not _fits(handler, given):
            raise CuekitError(self.phrases.say("refused.unknown"))
        self.state = replace(self.state, message="")
        handler(**given)

    # -- who and what ---------------------------------------------------------------------------------

    def _on_choose(self, code: str) -> None:
        planned = self._planned_for(self._desk.learner(code)) if code else None
        self._go_to(At.PLAN if planned else At.SKILLS, code=code, planned=planned, told=None)

    def _on_next_learner(self) -> None:
        self._on_choose(self._desk.next_after(self.learner_here()))

    def _on_set(self, **values: str) -> None:
        if len(values) != 1:
            raise CuekitError(self.phrases.say("refused.unknown"))
        ((name, value),) = values.items()
        if name == "code":
            code = self._desk.add(value, self.phrases)
            self._on_choose(code)
        elif name == "reason":
            self._desk.void(self.learner_here(), self.state.bout, value)
            self._go_to(At.HISTORY, bout=0)
        else:
            planned = changed(self.prepared().planned, name, value)
            self.state = replace(self.state, planned=planned)
            if name == "tones" and self.state.code:
                self._desk.keep_settings(self.state.code, value)

    def _on_skill(self, name: str) -> None:
        code = self.state.code
        if code and self._desk.climb(code, name):
            self._on_choose(code)
            return
        learner = self._desk.learner(code) if code else None
        self._go_to(At.PLAN, planned=planned_pattern(name, learner, self.state.language))

    def _on_step(self, key: str) -> None:
        standing = self._views.standing(self.state)
        if standing is None:
            raise RecordError(self.phrases.say("refused.unknown"))
        self._desk.choose_step(self.state.code, standing.ladder, key)
        self._on_choose(self.state.code)

    def _on_lesson(self) -> None:
        self._desk.start_or_stop_lesson(self.learner_here())

    # -- places ---------------------------------------------------------------------------------------

    def _on_learners(self) -> None:
        self._go_to(At.LEARNERS, code="", planned=None, told=None)

    def _on_settings(self) -> None:
        self.prepared()
        self._go_to(At.SETTINGS)

    def _on_steps(self) -> None:
        self._go_to(At.STEPS)

    def _on_skills(self) -> None:
        self._go_to(At.SKILLS)

    def _on_history(self) -> None:
        self.learner_here()
        self._go_to(At.HISTORY)

    def _on_help(self) -> None:
        self._go_to(At.HELP, before=self.state.at)

    def _on_more(self) -> None:
        self._go_to(At.MORE, before=self.state.at)

    def _on_child(self) -> None:
        self.told_here()
        if self.state.code and not self._desk.learner(self.state.code).child_view:
            raise RecordError(self.phrases.say("refused.hidden", code=self.state.code))
        self._go_to(At.CHILD)

    def _on_child_off(self) -> None:
        self._desk.hide_child_view(self.learner_here())
        self._go_to(At.TOLD if self.state.told else At.PLAN)

    def _on_void(self, number: str) -> None:
        self._go_to(At.REASON, bout=int(number) if number.isdecimal() and len(number) < 10 else 0)

    def _on_blank(self) -> None:
        if self._thread is None and self.state.at is not At.BLANK:
            self._go_to(At.BLANK, before=self.state.at)

    def _on_hide(self) -> None:
        self.state = replace(self.state, hidden=not self.state.hidden)

    def _on_language(self) -> None:
        following = LANGUAGES[(LANGUAGES.index(self.state.language) + 1) % len(LANGUAGES)]
        self.state = replace(self.state, language=following)
        planned = self.state.planned
        if planned is None:
            return
        planned, standing = in_language(planned, following), self._views.standing(self.state)
        if standing is not None and planned.step is not None and standing.ladder.has(planned.step.key):
            planned = replace(planned, step=standing.ladder.step(planned.step.key))
        self.state = replace(self.state, planned=planned)

    def _on_back(self) -> None:
        match self.state.at:
            case At.HELP | At.BLANK | At.MORE:
                self._go_to(self.state.before)
            case At.CHILD:
                self._go_to(At.TOLD)
            case At.REASON:
                self._go_to(At.HISTORY, bout=0)
            case At.TOLD if self.state.code:
                self._on_choose(self.state.code)
            case At.LEARNERS:
                pass
            case _ if self.state.planned is None:
                self._on_learners()
            case _:
                self._go_to(At.PLAN)

    # -- what sounds ----------------------------------------------------------------------------------

    def _on_go(self) -> None:
        state = self.prepared()
        self._begin(self._bouts.cued(state), "bout.count")

    def _on_hear(self) -> None:
        state = self.prepared()
        self._begin(self._bouts.heard(state), "bout.listen")

    def _on_listen(self) -> None:
        state = self.prepared()
        self._begin(self._bouts.free(state), "bout.free")

    def _on_replay(self) -> None:
        self.told_here()
        self._begin(self._bouts.replayed(self.state), "do.replay")

    def _on_room(self) -> None:
        state = self.prepared()
        self._begin(self._bouts.room(state, self._says), "bout.room_still")

    def _on_check(self) -> None:
        state = self.prepared()
        self._begin(self._bouts.check(state), "bout.check")

    def _on_stop(self) -> None:
        self._stop()

    # -- what the eye saw -----------------------------------------------------------------------------

    def _on_eye(self, key: str) -> None:
        self._press(key)

    def _on_leave_out(self) -> None:
        self._press(LEAVE_OUT[0])

    def _on_leave_all(self) -> None:
        self._press(LEAVE_ALL_OUT)

    def _on_take_back(self) -> None:
        self._press(BACK[0])

    def _press(self, key: str) -> None:
        """Hand a key to the questions for the eye; what is answered is stored at once."""
        told = self.told_here()
        if told.eye is None:
            return
        after = pressed(told.eye, key)
        for asked, old, new in _answers(told.eye, after):
            self._desk.enter(told.numbers, _FIELD_OF[asked], old, new)
        self.state = replace(self.state, told=replace(told, eye=after))

    # -- the ground -----------------------------------------------------------------------------------

    @property
    def phrases(self) -> Phrases:
        """The words of the page."""
        return load_phrases(self.state.language, "screen")

    def _go_to(self, at: At, **fields: object) -> None:
        self.state = replace(self.state, at=at, **fields)

    def _planned_for(self, learner: Learner) -> Planned | None:
        """What comes next: the step proposed, else the learner's skill; None where neither is known."""
        language = self.state.language
        standing = self._views.standing_of(learner.code, language)
        if standing is not None:
            return planned_step(standing.decision.to, learner, language)
        return planned_pattern(learner.skill, learner, language) if learner.skill else None

    def prepared(self) -> State:
        """The state with something planned.

        Raises:
            RecordError: nothing is.
        """
        if self.state.planned is None:
            raise RecordError(self.phrases.say("refused.no_skill"))
        return self.state

    def told_here(self) -> Told:
        """The bout just done.

        Raises:
            RecordError: there is none.
        """
        if self.state.told is None:
            raise RecordError(self.phrases.say("refused.no_bout"))
        return self.state.told

    def learner_here(self) -> str:
        """Code of the learner chosen.

        Raises:
            RecordError: none is.
        """
        if not self.state.code:
            raise RecordError(self.phrases.say("refused.no_learner"))
        return self.state.code


def _fits(handler: Callable[..., None], given: dict[str, str]) -> bool:
    """Whether an action came with the values it needs."""
    try:
        inspect.signature(handler).bind(**given)
    except TypeError:
        return False
    return True


def _answers(before: EyeKeys, after: EyeKeys) -> list[tuple[Asked, str, str]]:
    """What changed between two states of the questions: what was asked, before, after."""
    changes = []
    for number, question in enumerate(after.questions):
        old, new = (
            answers[number] if number < len(answers) else None for answers in (before.answers, after.answers)
        )
        if old != new:
            changes.append((question.asked, str(old.value) if old else "", str(new.value) if new else ""))
    return changes
