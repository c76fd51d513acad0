"""What each action of the page does: a state in, the next state out, and what it begins."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from cuekit.errors import RecordError
from cuekit.records.learner import Learner
from cuekit.screen.bouts import Bouts, Job
from cuekit.screen.desk import Desk
from cuekit.screen.goal_actions import GoalActions
from cuekit.screen.mending_actions import MendingActions
from cuekit.screen.plan import Planned, changed, in_language, planned_pattern, planned_step
from cuekit.screen.state import At
from cuekit.screen.views import Views

LANGUAGES = ("en", "es")

Begin = Callable[[Job, str], None]


class Actions(MendingActions, GoalActions):
    """The state, and what is done to it.

    Parameters:
        desk: the records.
        views: what is proposed to a learner.
        bouts: what can be run.
        begin: runs a job and shows what becomes of it; the second argument is the key of what is told.
        stop: ends what runs.
        says: changes what is told while something runs.
        language: of the page.
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
        super().__init__(desk, language)
        self._views, self._bouts = views, bouts
        self._begin, self._stop, self._says = begin, stop, says

    # -- who and what ---------------------------------------------------------------------------------

    def _on_choose(self, code: str) -> None:
        planned = self._planned_for(self._desk.learner(code)) if code else None
        self._leave_for(At.PLAN if planned else At.SKILLS, code=code, planned=planned)

    def _on_next_learner(self) -> None:
        self._on_choose(self._desk.next_after(self.learner_here()))

    def _on_set(self, **values: str) -> None:
        if len(values) != 1:
            raise self.unknown()
        ((name, value),) = values.items()
        if name == "code":
            code = self._desk.add(value, self.phrases)
            self._on_choose(code)
        elif name == "reason":
            self._reasoned(value)
        elif self.state.at is At.MEND:
            self._count(name, value)
        elif self.state.at is At.GOAL_SET:
            self._set_goal(name, value)
        else:
            self._set_planned(name, value)

    def _set_planned(self, name: str, value: str) -> None:
        self.state = replace(self.state, planned=changed(self.prepared().planned, name, value))
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
        self._leave_for(At.LEARNERS, code="", planned=None)

    def _on_settings(self) -> None:
        self.prepared()
        self._go_to(At.SETTINGS)

    def _on_steps(self) -> None:
        self._go_to(At.STEPS)

    def _on_skills(self) -> None:
        self._go_to(At.SKILLS)

    def _on_history(self) -> None:
        self.learner_here()
        self._go_to(At.HISTORY, told=None)

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
        self._desk.let_child_view(self.learner_here(), shown=False)

    def _on_child_on(self) -> None:
        self._desk.let_child_view(self.learner_here(), shown=True)

    def _on_blank(self) -> None:
        if self.state.at not in (At.BOUT, At.BLANK):
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
            case At.REASON if self.state.mending is not None:
                self._go_to(At.MEND)
            case At.REASON | At.MEND:
                self._go_to(At.TOLD if self.state.told else At.HISTORY, bout=0, mending=None)
            case At.GOAL_SET:
                self._on_goal()
            case At.GOAL if self.state.before is At.HISTORY:
                self._on_history()
            case At.TOLD if self.state.told is not None and self.state.told.earlier:
                self._on_history()
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

    # -- the ground -----------------------------------------------------------------------------------

    def _leave_for(self, at: At, **fields: object) -> None:
        """Go on, and leave the bout and the goal in hand behind."""
        self._go_to(at, told=None, mending=None, goal=None, bout=0, **fields)

    def _planned_for(self, learner: Learner) -> Planned | None:
        """What comes next: the step proposed, else the learner's skill; None where neither is known."""
        language = self.state.language
        standing = self._views.standing_of(learner.code, language)
        if standing is not None:
            return planned_step(standing.decision.to, learner, language)
        return planned_pattern(learner.skill, learner, language) if learner.skill else None
