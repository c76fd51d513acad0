"""The lesson behind the page: one state, changed by one action at a time, and told to all open pages.

Actions come in any thread and answer soon; what takes time (a bout, a check, a replay) runs in a thread
of its own, one at a time, and is stopped by one action.
"""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

from cuekit.bouts.audio_port import NamedPort
from cuekit.drawing.bout_plot import draw_bout
from cuekit.drawing.page import document
from cuekit.errors import CuekitError
from cuekit.screen.actions import Actions
from cuekit.screen.bouts import Bouts, Change, Job
from cuekit.screen.desk import Desk
from cuekit.screen.feed import Feed
from cuekit.screen.running import Runner
from cuekit.screen.state import At
from cuekit.screen.view import BACK_KEYS, Action, Part, Value, View
from cuekit.screen.views import Views
from cuekit.screen.wire import plain_view

_WHILE_RUNNING = ("stop", "blank", "hide")


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
        self._actions = Actions(
            desk, self._views, self._bouts, self._begin, self._runner.stopping.set, self._says, language
        )
        self._lock = threading.RLock()
        self._thread: threading.Thread | None = None

    def view(self) -> object:
        """What is shown now."""
        with self._lock:
            state = self._actions.state
            view = self._views.of(state)
            running = state.picture is not None
            return plain_view(replace(view, heard=tuple(self._runner.heard)) if running else view)

    def do(self, action: str, values: tuple[Value, ...]) -> None:
        """Take an action.

        Raises:
            CuekitError: it cannot be taken now.
        """
        with self._lock:
            if self._thread is not None and action not in _WHILE_RUNNING:
                raise CuekitError(self._actions.phrases.say("refused.busy"))
            self._actions.take(action, values)
            self._tell()

    def take_in(self, recording: Path) -> None:
        """Score a recording that was dropped on the page, and store it.

        Raises:
            CuekitError: something is running, or no learner's bout can be made of it.
        """
        with self._lock:
            if self._thread is not None:
                raise CuekitError(self._actions.phrases.say("refused.busy"))
            state = self._actions.prepared()
            self._begin(self._bouts.dropped(state, recording), "bout.dropped")
            thread = self._thread
        thread.join()

    def paper(self, name: str) -> str:
        """A page to print.

        Raises:
            CuekitError: there is no such page now.
        """
        with self._lock:
            actions = self._actions
            if name == "bout":
                title = actions.phrases.say("told.title")
                return document(title, actions.state.language, draw_bout(actions.told_here().score))
            return self._desk.shelf.paper(actions.learner_here(), name, actions.state.language)

    def press(self, key: str) -> None:
        """Take the action of a key of the remote control: "main", "back" or "stop".

        Raises:
            CuekitError: there is no such key now.
        """
        action = _remote(self._views.of(self._actions.state)).get(key)
        if action is None:
            raise CuekitError(self._actions.phrases.say("refused.unknown"))
        self.do(action.name, action.values)

    def remote_words(self) -> dict[str, str]:
        """What stands on the keys of the remote control now; nothing of a learner."""
        with self._lock:
            return {key: action.label for key, action in _remote(self._views.of(self._actions.state)).items()}

    def close(self) -> None:
        """Stop what runs, and wait for it."""
        self._runner.stopping.set()
        thread = self._thread
        if thread is not None:
            thread.join()

    def _says(self, words: str) -> None:
        """Change what is told while something runs."""
        with self._lock:
            self._actions.state = replace(self._actions.state, running=words)
            self._tell()

    def _begin(self, job: Job, key: str) -> None:
        """Run a job in its own thread; what it makes of the state is shown when it is over."""
        state = self._actions.state
        before, told = state.at, self._bouts.words(key, state)
        self._runner.stopping.clear()
        self._actions.state = replace(
            state, at=At.BOUT, picture=self._bouts.picture(state, key), running=told
        )

        def run() -> None:
            try:
                change = job()
            except CuekitError as refusal:
                change = _refused(before, str(refusal))
            except Exception as mistake:  # a lesson goes on, whatever was wrong in one bout
                change = _refused(before, f"a mistake in cuekit itself ({type(mistake).__name__})")
            with self._lock:
                self._thread = None
                over = replace(self._actions.state, at=before, picture=None, running="")
                self._actions.state = change(over)
                self._tell()

        self._thread = threading.Thread(target=run, daemon=True)
        self._thread.start()
        self._tell()

    def _tell(self) -> None:
        self.feed.tell("view", self.view())


def _remote(view: View) -> dict[str, Action]:
    """The keys that a phone has of a view: the big one, the one back, and stop."""
    keys = {"main": Part.MAIN, "stop": Part.STOP}
    found = {key: action for key, role in keys.items() for action in view.actions if action.role is role}
    back = [one for one in view.actions if BACK_KEYS[0] in one.keys and one.role is Part.PLAIN]
    return found | ({"back": back[0]} if back else {})


def _refused(before: At, words: str) -> Change:
    return lambda state: replace(state, at=before, message=words)
