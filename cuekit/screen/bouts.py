"""The jobs of a lesson: each runs something, stores it, and says what the screen shows afterwards."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from cuekit.bouts.equipment import APART_S, FIRST_S, SWEEPS
from cuekit.bouts.live_text import told_live
from cuekit.bouts.live_verdict import Given
from cuekit.bouts.preparing import conditions_of
from cuekit.bouts.replaying import replay_of
from cuekit.bouts.session import Done
from cuekit.hearing.room_check import STAMPS, STILL_S
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.schedule import Schedule, make_schedule
from cuekit.records.bout_record import Conditions, CueKind
from cuekit.records.learner import Learner
from cuekit.screen.desk import Desk
from cuekit.screen.picture import free_picture, picture_of
from cuekit.screen.plan import Planned, in_language
from cuekit.screen.running import Runner
from cuekit.screen.state import At, State
from cuekit.screen.told import told_of
from cuekit.screen.view import Picture
from cuekit.telling.phrases import load_phrases
from cuekit.telling.recording_told import recording_told
from cuekit.telling.scoring import score_recording

LONGEST_RECORDING_S = 1800.0

Change = Callable[[State], State]
Job = Callable[[], Change]


class Bouts:
    """What can be run.

    Parameters:
        runner: runs it on the sound device.
        desk: stores it.
    """

    def __init__(self, runner: Runner, desk: Desk) -> None:
        self._runner, self._desk = runner, desk

    def heard(self, state: State) -> Job:
        """Hear (or see) the cue only."""
        given = self._given(state, self._learner(state))

        def job() -> Change:
            if state.planned.sounds:
                self._runner.play(given.track, given.track.lead_in_s + given.schedule.go_s)
            else:
                self._runner.show(given)
            return _same

        return job

    def cued(self, state: State) -> Job:
        """A bout to the cue.

        Raises:
            RecordError: this learner is not to be recorded.
        """
        planned, learner = state.planned, self._recordable(state)
        given = self._given(state, learner)
        kind = CueKind.SOUND if planned.sounds else CueKind.VISUAL

        def job() -> Change:
            done = self._runner.bout(given, load_phrases(state.language), sounds=planned.sounds)
            return self._after(done, state, _conditions(planned, given.schedule, kind))

        return job

    def free(self, state: State) -> Job:
        """A bout without a cue, which shows the learner's own tempo.

        Raises:
            RecordError: this learner is not to be recorded.
        """
        self._recordable(state)

        def job() -> Change:
            done = self._runner.free_bout(state.planned, load_phrases(state.language))
            change = self._after(done, state, _conditions(state.planned, None, CueKind.SOUND))
            found = self._desk.note_own_tempo(state.code, state.planned.pattern) if state.code else None
            if found is None:
                return change
            key = "told.own" if found.settled else "told.own_open"
            words = load_phrases(state.language, "screen").say(key, tempo=f"{found.bpm:.0f}")
            return lambda now: replace(change(now), message=words)

        return job

    def replayed(self, state: State) -> Job:
        """ "Yours, then this one".

        Raises:
            AudioError: too little was heard for it.
        """
        tones = state.planned.tones if state.planned else ""
        track = replay_of(state.told.score, tones=tones)

        def job() -> Change:
            self._runner.play(track, track.lead_in_s)
            return _same

        return job

    def room(self, state: State, says: Callable[[str], None]) -> Job:
        """The room check."""
        screen = load_phrases(state.language, "screen")

        def job() -> Change:
            stamp = screen.say("bout.room_stamp", stamps=STAMPS)
            lines = self._runner.room(lambda: says(stamp), load_phrases(state.language))
            return lambda now: replace(now, message=" ".join(lines))

        return job

    def check(self, state: State) -> Job:
        """The equipment check."""

        def job() -> Change:
            lines = self._runner.equipment(load_phrases(state.language))
            return lambda now: replace(now, message=" ".join(lines))

        return job

    def dropped(self, state: State, path: Path) -> Job:
        """A recording made elsewhere.

        Raises:
            RecordError: this learner is not to be recorded.
        """
        self._recordable(state)
        screen = load_phrases(state.language, "screen")

        def job() -> Change:
            read = read_recording(path, limit_s=LONGEST_RECORDING_S)
            recording = replace(read, name=screen.say("told.recording"))
            phrases = load_phrases(state.language)
            score = score_recording(recording, state.planned.pattern, phrases=phrases)
            conditions = _conditions(state.planned, None, CueKind.SOUND)
            conditions = replace(conditions, cue_level=None)  # nobody said what sounded then
            numbers = self._desk.shelf.store_recording(score, state.code, conditions) if state.code else ()
            lines = (score.advice.summary, *recording_told(recording, phrases), screen.say("told.original"))
            told = told_of(score, lines, numbers, state.planned, phrases)
            return lambda now: replace(now, at=At.TOLD, told=told)

        return job

    def words(self, key: str, state: State) -> str:
        """What is told when something begins."""
        seconds = round(STILL_S) if key == "bout.room_still" else round(FIRST_S + SWEEPS * APART_S + 1.0)
        return load_phrases(state.language, "screen").say(key, seconds=seconds)

    def picture(self, state: State, key: str) -> Picture | None:
        """What moves while it runs."""
        if key == "bout.free":
            return free_picture(60.0 / state.planned.tempo_bpm, live=True)
        if key not in ("bout.count", "bout.listen"):
            return None
        spoken = _spoken(state, self._learner(state))
        says = "going" if key == "bout.count" else ""
        return picture_of(make_schedule(spoken.pattern, spoken.plan), spoken.marker, live=True, says=says)

    def _after(self, done: Done, state: State, conditions: Conditions) -> Change:
        """Store a bout, delete its sound, and tell it."""
        phrases, planned = load_phrases(state.language), state.planned
        numbers = self._desk.shelf.store(done.verdict, state.code, conditions) if state.code else ()
        done.take.discard()
        lines = tuple(told_live(done, phrases, planned.mode))
        told = told_of(done.verdict.score, lines, numbers, planned, phrases)
        return lambda now: replace(now, at=At.TOLD, told=told)

    def _given(self, state: State, learner: Learner | None) -> Given:
        """The cue, in the words that this learner is used to."""
        language = learner.language if learner else state.language
        return self._runner.given(_spoken(state, learner), learner, language)

    def _learner(self, state: State) -> Learner | None:
        return self._desk.learner(state.code) if state.code else None

    def _recordable(self, state: State) -> Learner | None:
        return self._desk.recordable(state.code) if state.code else None


def _spoken(state: State, learner: Learner | None) -> Planned:
    """What is planned, with cue words in the learner's own language, whichever the page has."""
    return in_language(state.planned, learner.language) if learner else state.planned


def _same(state: State) -> State:
    return state


def _conditions(planned: Planned, schedule: Schedule | None, kind: CueKind) -> Conditions:
    """Under which a bout was done."""
    found = conditions_of(planned.pattern, schedule, planned.mode, kind)
    return replace(found, step=planned.step_key, help_level=planned.help_level)
