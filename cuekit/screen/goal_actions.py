"""Actions on the goal: see where it stands, take one that the ladder proposes, set it, close it."""

from __future__ import annotations

from dataclasses import replace

from cuekit.errors import RecordError
from cuekit.records.goals import Goal
from cuekit.screen.goal_fields import changed_goal
from cuekit.screen.ground import Ground
from cuekit.screen.state import At


class GoalActions(Ground):
    """A learner's goal."""

    def _on_goal(self) -> None:
        self.learner_here()
        came = self.state.before if self.state.at in (At.GOAL, At.GOAL_SET) else self.state.at
        self._go_to(At.GOAL, before=came, goal=None)

    def _on_goal_step(self, key: str) -> None:
        steps = self._desk.shelf.goals(self.learner_here(), self.state.language).steps
        found = [goal for step, goal in steps if step.key == key]
        if not found:
            raise self.unknown()
        self._go_to(At.GOAL_SET, goal=found[0])

    def _on_goal_keep(self) -> None:
        self._desk.shelf.set_goal(self._goal_here())
        self._go_to(At.GOAL, goal=None)

    def _on_goal_close(self) -> None:
        self._desk.shelf.close_goal(self.learner_here())
        self._go_to(At.GOAL, goal=None)

    def _set_goal(self, name: str, value: str) -> None:
        self.state = replace(self.state, goal=changed_goal(self._goal_here(), name, value))

    def _goal_here(self) -> Goal:
        goal = self.state.goal
        if goal is None or self.state.at is not At.GOAL_SET or goal.learner != self.learner_here():
            raise RecordError(self.phrases.say("refused.no_goal"))
        return goal
