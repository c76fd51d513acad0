"""What the screen is at: one frozen state, from which every view is made anew."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cuekit.records.eye_keys import EyeKeys
from cuekit.records.goals import Goal
from cuekit.screen.mending import Mending
from cuekit.screen.plan import Planned
from cuekit.screen.view import Picture
from cuekit.telling.scoring import Score


class At(StrEnum):
    """Which view is shown."""

    LEARNERS = "learners"
    PLAN = "plan"
    SETTINGS = "settings"
    STEPS = "steps"
    SKILLS = "skills"
    BOUT = "bout"
    TOLD = "told"
    CHILD = "child"
    HISTORY = "history"
    MEND = "mend"
    REASON = "reason"
    GOAL = "goal"
    GOAL_SET = "goal_set"
    MORE = "more"
    HELP = "help"
    BLANK = "blank"


@dataclass(frozen=True, eq=False)
class Told:
    """The bout just done, or one looked at again.

    Attributes:
        score: what was heard.
        lines: the one sentence first.
        feet: the path of the feet, as SVG.
        numbers: under which it is stored; none where it is not.
        eye: the questions for the eye; None where nothing is stored.
        target: beats in a row that fill the child's pictures.
        earlier: whether it was taken from the records again.
    """

    score: Score
    lines: tuple[str, ...]
    feet: str
    numbers: tuple[int, ...]
    eye: EyeKeys | None
    target: int
    earlier: bool = False


@dataclass(frozen=True, eq=False)
class State:
    """All that the page depends on beside the records.

    Attributes:
        at: the view.
        before: the view to go back to from one that can be opened anywhere.
        language: of the page.
        code: of the learner; empty for none.
        planned: what comes next.
        picture: of the bout that runs.
        running: what is told while it runs.
        told: the bout just done, or one looked at again.
        message: a refusal or note.
        hidden: whether codes are hidden.
        bout: number of the stored bout that a reason is being given for; 0 for none.
        mending: the stored bout that is being set right; None for none.
        goal: the goal that is being set; None for none.
    """

    at: At = At.LEARNERS
    before: At = At.LEARNERS
    language: str = "en"
    code: str = ""
    planned: Planned | None = None
    picture: Picture | None = None
    running: str = ""
    told: Told | None = None
    message: str = ""
    hidden: bool = False
    bout: int = 0
    mending: Mending | None = None
    goal: Goal | None = None
