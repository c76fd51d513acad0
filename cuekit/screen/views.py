"""The view of a state: what the records say is asked for, and put beside it."""

from __future__ import annotations

from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.screen.desk import Desk, Standing
from cuekit.screen.fields import fields_of
from cuekit.screen.past import goal_plot, rows_of
from cuekit.screen.show import (
    shown_blank,
    shown_bout,
    shown_help,
    shown_more,
    shown_plan,
    shown_settings,
)
from cuekit.screen.show_choices import shown_learners, shown_skills, shown_steps
from cuekit.screen.show_past import (
    shown_goal,
    shown_goal_set,
    shown_history,
    shown_mend,
    shown_reason,
    standing_lines,
)
from cuekit.screen.show_told import shown_child, shown_told
from cuekit.screen.state import At, State
from cuekit.screen.view import View
from cuekit.telling.child_view import child_view
from cuekit.telling.phrases import Phrases, load_phrases


class Views:
    """Makes views.

    Parameters:
        desk: the records.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def of(self, state: State) -> View:
        """The view of a state."""
        phrases = load_phrases(state.language, "screen")
        match state.at:
            case At.LEARNERS:
                return shown_learners(state, self._desk.roster(), phrases)
            case At.PLAN:
                return self._plan(state, phrases)
            case At.SETTINGS:
                return shown_settings(state, fields_of(state.planned, phrases), phrases)
            case At.STEPS:
                standing = self.standing(state)
                return (
                    shown_steps(state, standing.ladder, phrases) if standing else self._skills(state, phrases)
                )
            case At.SKILLS:
                return self._skills(state, phrases)
            case At.BOUT:
                return shown_bout(state, phrases)
            case At.TOLD:
                return shown_told(state, phrases)
            case At.CHILD:
                return self._child(state, phrases)
            case At.HISTORY:
                return self._history(state, phrases)
            case At.MORE:
                return self._more(state, phrases)
            case At.MEND:
                return shown_mend(state, state.mending, phrases)
            case At.GOAL:
                goals = self._desk.shelf.goals(state.code, state.language)
                return shown_goal(state, goals, phrases, load_phrases(state.language, "report"))
            case At.GOAL_SET:
                return self._goal_set(state, phrases)
            case At.REASON:
                return shown_reason(state, phrases)
            case At.HELP:
                return shown_help(state, phrases)
        return shown_blank(phrases)

    def standing(self, state: State) -> Standing | None:
        """What is proposed to the learner chosen; None without one, or without a ladder."""
        return self.standing_of(state.code, state.language) if state.code else None

    def standing_of(self, code: str, language: str) -> Standing | None:
        """What is proposed to a learner; None where no ladder is being climbed."""
        return self._desk.standing(code, load_phrases(language))

    def _plan(self, state: State, phrases: Phrases) -> View:
        planned, code = state.planned, state.code
        cautions = self._desk.cautions(planned.pattern, code, load_phrases(state.language))
        standing = self.standing(state) if planned.step is not None else None
        lesson = self._desk.lesson(code) if code else None
        words = self._desk.learner(code).words if code else ""
        return shown_plan(state, standing, cautions, lesson, words, phrases)

    def _more(self, state: State, phrases: Phrases) -> View:
        code = state.code
        lesson = self._desk.lesson(code) if code else None
        child_view = self._desk.learner(code).child_view if code else True
        return shown_more(state, lesson, child_view, phrases)

    def _goal_set(self, state: State, phrases: Phrases) -> View:
        pattern = load_pattern(state.goal.pattern, language=state.language)
        return shown_goal_set(state, state.goal, pattern, phrases, load_phrases(state.language, "report"))

    def _skills(self, state: State, phrases: Phrases) -> View:
        names = list_patterns()
        skills = [(name, load_pattern(name, language=state.language).title) for name in names]
        return shown_skills(state, skills, phrases)

    def _child(self, state: State, phrases: Phrases) -> View:
        told = state.told
        fault = told.score.advice.fault
        found = child_view(
            told.score.measures, told.target, load_phrases(state.language), fault=fault.id if fault else None
        )
        return shown_child(state, found, phrases)

    def _history(self, state: State, phrases: Phrases) -> View:
        history = self._desk.shelf.history(state.code)
        pages = load_phrases(state.language, "report")
        plot = goal_plot(history.report, pages) if history.report else ""
        lead = (
            phrases.say("history.lead", bouts=len(history.bouts))
            if history.bouts
            else phrases.say("history.none")
        )
        lines = standing_lines(history.report.evaluation, pages) if history.report else ()
        lines = lines or (phrases.say("history.no_goal"),)
        return shown_history(state, lead, lines, plot, rows_of(history.bouts, phrases), phrases)
