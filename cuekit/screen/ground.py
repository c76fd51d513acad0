"""What all actions of the page stand on: one state, the records, and the rules of who may do what now."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import replace

from cuekit.errors import CuekitError, RecordError
from cuekit.screen.desk import Desk
from cuekit.screen.state import At, State, Told
from cuekit.screen.view import Value
from cuekit.telling.phrases import Phrases, load_phrases


class Ground:
    """The state, and how an action is found.

    The name of an action is the name of a method with `_on_` before it; its values are the arguments.

    Parameters:
        desk: the records.
        language: of the page.

    Attributes:
        state: where the lesson is.
    """

    def __init__(self, desk: Desk, language: str) -> None:
        self._desk = desk
        self.state = State(language=language)

    def take(self, name: str, values: tuple[Value, ...]) -> None:
        """Take an action.

        Raises:
            CuekitError: there is no such action, or it cannot be taken here.
        """
        given = {one.name: one.value for one in values}
        handler = getattr(self, f"_on_{name}", None) if name.isidentifier() else None
        if handler is None or not _fits(handler, given):
            raise self.unknown()
        self.state = replace(self.state, message="")
        handler(**given)

    @property
    def phrases(self) -> Phrases:
        """The words of the page."""
        return load_phrases(self.state.language, "screen")

    def prepared(self) -> State:
        """The state with something planned.

        Raises:
            RecordError: nothing is.
        """
        if self.state.planned is None:
            raise RecordError(self.phrases.say("refused.no_skill"))
        return self.state

    def told_here(self) -> Told:
        """The bout just done, or looked at.

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

    def unknown(self) -> CuekitError:
        """The refusal of what cannot be done here."""
        return CuekitError(self.phrases.say("refused.unknown"))

    def _go_to(self, at: At, **fields: object) -> None:
        self.state = replace(self.state, at=at, **fields)


def _fits(handler: Callable[..., None], given: dict[str, str]) -> bool:
    """Whether an action came with the values it needs."""
    try:
        inspect.signature(handler).bind(**given)
    except TypeError:
        return False
    return True
