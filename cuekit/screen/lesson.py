"""The lesson behind the page: one state, changed by one action at a time, and told to all open pages.

Actions come in any thread and answer soon; what takes time (a bout, a check, a replay) runs in a thread
of its own, one at a time, and is stopped by one action.
"""

from __future__ import annotations

import inspect
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from cuekit.bouts.audio_port import NamedPort
from cuekit.drawing.page import document
from cuekit.errors import CuekitError, RecordError
from cuekit.records.eye_keys import BACK, LEAVE_ALL_OUT, LEAVE_OUT, Asked, EyeKeys, pressed
from cuekit.records.learner import Learner
from cuekit.screen.bouts import Bouts
from cuekit.screen.desk import Desk
from cuekit.screen.feed import Feed
from cuekit.screen.plan import Planned, changed, in_language, planned_pattern, planned_step
from cuekit.screen.running import Runner
from cuekit.screen.state import At, State, Told
from cuekit.screen.view import BACK_KEYS, Action, Part, Value, View
from cuekit.screen.views import Views
from cuekit.screen.wire import plain_view
from cuekit.telling.phrases import Phrases, load_phrases

FIRST_SKILL = "gallop"
LANGUAGES = ("en", "es")

_WHILE_RUNNING = ("stop", "blank", "hide")
_FIELD_OF = {asked: "help-level" if asked is Asked.HELP else asked.value for asked in Asked}
"""What an answer of the eye is called in the records."""

Change = Callable[[State], State]


class ScreenLesson:
    """A lesson on the screen; it is the `Conductor` of the server.

    Parameters:
        port: the sound device.
        takes: folder for recordings while they run.
        desk: the records.
        language: of the page.
    """

    def __init__(self, port: NamedPort, takes: Path, desk: Desk, language: str = "en") -> None:
        self.feed = Feed()
        self._desk, self._views = desk, Views(desk)
        self._runner = Runner(port, takes, self.feed)
        self._bouts = Bouts(self._runner, desk)
        self._state = State(language=language)
        self._lock = threading.RLock()
        self._thread: threading.Thread | None = None

    def view(self) -> object:
        """What is shown now."""
        with self._lock:
            view = self._views.of(self._state)
            running = self._state.picture is not None
            return plain_view(replace(view, heard=tuple(self._runner.heard)) if running else view)

    def do(self, action: str, values: tuple[Value, ...]) -> None:
        """Take an action.

        Raises:
            CuekitError: it cannot be taken now.
        """
        given = {one.name: one.value for one in values}
        with self._lock:
            if self._thread is not None and action not in _WHILE_RUNNING:
                raise CuekitError(self._phrases.say("refused.busy"))
            handler = getattr(self, f"_on_{action}", None) if action.isidentifier() else None
            if handler is None or not _fits(handler, given):
                raise CuekitError(self._phrases.say("refused.unknown"))
            self._state = replace(self._state, message="")
            handler(**given)
            self._tell()

    def take_in(self, recording: Path) -> None:
        """Score a recording that was dropped on the page, and store it.

        Raises:
            CuekitError: something is running, or no learner's bout can be made of it.
        """
        with self._lock:
            if self._thread is not None:
                raise CuekitError(self._phrases.say("refused.busy"))
            state = self._prepared()
            thread = self._start(self._bouts.dropped(state, recording), state, "bout.dropped")
        thread.join()

    def paper(self, name: str) -> str:
        """A page to print."""
        with self._lock:
            if name == "bout":
                title = self._phrases.say("told.title")
                return document(title, self._state.language, self._told_here().drawing)
            self._learner_here()
            return self._desk.paper(self._state.code, name, self._state.language)

    def press(self, key: str) -> None:
        """Take the action of a key of the remote control: "main", "back" or "stop".

        Raises:
            CuekitError: there is no such key now.
        """
        action = _remote(self._views.of(self._state)).get(key)
        if action is None:
            raise CuekitError(self._phrases.say("refused.unknown"))
        self.do(action.name, action.values)

    def remote_words(self) -> dict[str, str]:
        """What stands on the keys of the remote control now; nothing of a learner."""
        with self._lock:
            return {key: action.label for key, action in _remote(self._views.of(self._state)).items()}

    def close(self) -> None:
        """Stop what runs, and wait for it."""
        self._runner.stopping.set()
        thread = self._thread
        if thread is not None:
            thread.join()

    # -- who and what ---------------------------------------------------------------------------------

    def _on_choose(self, code: str) -> None:
        learner = self._desk.learner(code) if code else None
        self._go_to(At.PLAN, code=code, planned=self._planned_for(learner), told=None)

    def _on_next_learner(self) -> None:
        self._on_choose(self._desk.next_after(self._learner_here()))

    def _on_set(self, **values: str) -> None:
        if len(values) != 1:
            raise CuekitError(self._phrases.say("refused.unknown"))
        ((name, value),) = values.items()
        if name == "code":
            code = self._desk.add(value, self._phrases)
            self._on_choose(code)
        elif name == "reason":
            self._desk.void(self._learner_here(), self._state.bout, value)
            self._go_to(At.HISTORY, bout=0)
        else:
            planned = changed(self._prepared().planned, name, value)
            self._state = replace(self._state, planned=planned)
            if name == "tones" and self._state.code:
                self._desk.keep_settings(self._state.code, value)

    def _on_skill(self, name: str) -> None:
        code = self._state.code
        if code and self._desk.climb(code, name):
            self._on_choose(code)
            return
        learner = self._desk.learner(code) if code else None
        self._go_to(At.PLAN, planned=planned_pattern(name, learner, self._state.language))

    def _on_step(self, key: str) -> None:
        standing = self._views.standing(self._state)
        if standing is None:
            raise RecordError(self._phrases.say("refused.unknown"))
        self._desk.choose_step(self._state.code, standing.ladder, key)
        self._on_choose(self._state.code)

    def _on_lesson(self) -> None:
        self._desk.start_or_stop_lesson(self._learner_here())

    # -- places ---------------------------------------------------------------------------------------

    def _on_learners(self) -> None:
        self._go_to(At.LEARNERS, code="", planned=None, told=None)

    def _on_settings(self) -> None:
        self._prepared()
        self._go_to(At.SETTINGS)

    def _on_steps(self) -> None:
        self._go_to(At.STEPS)

    def _on_skills(self) -> None:
        self._go_to(At.SKILLS)

    def _on_history(self) -> None:
        self._learner_here()
        self._go_to(At.HISTORY)

    def _on_help(self) -> None:
        self._go_to(At.HELP, before=self._state.at)

    def _on_more(self) -> None:
        self._go_to(At.MORE, before=self._state.at)

    def _on_child(self) -> None:
        self._told_here()
        if self._state.code and not self._desk.learner(self._state.code).child_view:
            raise RecordError(self._phrases.say("refused.hidden", code=self._state.code))
        self._go_to(At.CHILD)

    def _on_child_off(self) -> None:
        self._desk.hide_child_view(self._learner_here())
        self._go_to(At.TOLD if self._state.told else At.PLAN)

    def _on_void(self, number: str) -> None:
        self._go_to(At.REASON, bout=int(number) if number.isdecimal() and len(number) < 10 else 0)

    def _on_blank(self) -> None:
        if self._thread is None and self._state.at is not At.BLANK:
            self._go_to(At.BLANK, before=self._state.at)

    def _on_hide(self) -> None:
        self._state = replace(self._state, hidden=not self._state.hidden)

    def _on_language(self) -> None:
        following = LANGUAGES[(LANGUAGES.index(self._state.language) + 1) % len(LANGUAGES)]
        self._state = replace(self._state, language=following)
        if self._state.planned is not None:
            self._state = replace(self._state, planned=in_language(self._state.planned, following))

    def _on_back(self) -> None:
        match self._state.at:
            case At.HELP | At.BLANK | At.MORE:
                self._go_to(self._state.before)
            case At.CHILD:
                self._go_to(At.TOLD)
            case At.REASON:
                self._go_to(At.HISTORY, bout=0)
            case At.TOLD if self._state.code:
                self._on_choose(self._state.code)
            case At.LEARNERS:
                pass
            case _:
                self._go_to(At.PLAN)

    # -- what sounds ----------------------------------------------------------------------------------

    def _on_go(self) -> None:
        state = self._prepared()
        self._start(self._bouts.cued(state), state, "bout.count")

    def _on_hear(self) -> None:
        state = self._prepared()
        self._start(self._bouts.heard(state), state, "bout.listen")

    def _on_listen(self) -> None:
        state = self._prepared()
        self._start(self._bouts.free(state), state, "bout.free")

    def _on_replay(self) -> None:
        self._told_here()
        self._start(self._bouts.replayed(self._state), self._state, "do.replay")

    def _on_room(self) -> None:
        state = self._prepared()
        self._start(self._bouts.room(state, self._says), state, "bout.room_still")

    def _on_check(self) -> None:
        state = self._prepared()
        self._start(self._bouts.check(state), state, "bout.check")

    def _on_stop(self) -> None:
        self._runner.stopping.set()

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
        told = self._told_here()
        if told.eye is None:
            return
        after = pressed(told.eye, key)
        for asked, old, new in _answers(told.eye, after):
            self._desk.enter(told.numbers, _FIELD_OF[asked], old, new)
        self._state = replace(self._state, told=replace(told, eye=after))

    # -- the ground -----------------------------------------------------------------------------------

    @property
    def _phrases(self) -> Phrases:
        return load_phrases(self._state.language, "screen")

    def _go_to(self, at: At, **fields: object) -> None:
        self._state = replace(self._state, at=at, **fields)

    def _planned_for(self, learner: Learner | None) -> Planned:
        """What comes next: the step proposed to a learner, their skill, or a skill to begin with."""
        language = self._state.language
        standing = self._views.standing_of(learner.code, language) if learner else None
        if standing is not None:
            return planned_step(standing.decision.to, learner, language)
        return planned_pattern((learner.skill if learner else "") or FIRST_SKILL, learner, language)

    def _prepared(self) -> State:
        """The state with something planned."""
        if self._state.planned is None:
            raise RecordError(self._phrases.say("refused.no_learner"))
        return self._state

    def _told_here(self) -> Told:
        if self._state.told is None:
            raise RecordError(self._phrases.say("refused.no_bout"))
        return self._state.told

    def _learner_here(self) -> str:
        if not self._state.code:
            raise RecordError(self._phrases.say("refused.no_learner"))
        return self._state.code

    def _says(self, words: str) -> None:
        """Change what is told while something runs."""
        with self._lock:
            self._state = replace(self._state, running=words)
            self._tell()

    def _start(self, job: Callable[[], Change], state: State, words: str) -> threading.Thread:
        """Run a job in its own thread; what it makes of the state is shown when it is over."""
        before = state.at
        self._runner.stopping.clear()
        picture = self._bouts.picture(state, words)
        self._state = replace(state, at=At.BOUT, picture=picture, running=self._bouts.words(words, state))

        def run() -> None:
            try:
                change = job()
            except CuekitError as refusal:
                change = _refused(before, str(refusal))
            except Exception as mistake:  # a lesson goes on, whatever was wrong in one bout
                change = _refused(before, f"a mistake in cuekit itself ({type(mistake).__name__})")
            with self._lock:
                self._thread = None
                self._state = change(replace(self._state, at=before, picture=None, running=""))
                self._tell()

        self._thread = threading.Thread(target=run, daemon=True)
        self._thread.start()
        self._tell()
        return self._thread

    def _tell(self) -> None:
        self.feed.tell("view", self.view())


def _remote(view: View) -> dict[str, Action]:
    """The keys that a phone has of a view: the big one, the one back, and stop."""
    keys = {"main": Part.MAIN, "stop": Part.STOP}
    found = {key: action for key, role in keys.items() for action in view.actions if action.role is role}
    back = [one for one in view.actions if BACK_KEYS[0] in one.keys and one.role is Part.PLAIN]
    return found | ({"back": back[0]} if back else {})


def _fits(handler: Callable[..., None], given: dict[str, str]) -> bool:
    """Whether an action came with the values it needs."""
    try:
        inspect.signature(handler).bind(**given)
    except TypeError:
        return False
    return True


def _refused(before: At, words: str) -> Change:
    return lambda state: replace(state, at=before, message=words)


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
