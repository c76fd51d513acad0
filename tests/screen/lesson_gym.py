"""A screen without a browser: the lesson, its records, and a sound device that is made up."""

from datetime import UTC, datetime, timedelta

from cuekit.bouts.given import given_of, sound_of
from cuekit.records.learner import Learner as KeptLearner
from cuekit.records.store_waiting import open_store
from cuekit.screen.desk import Desk
from cuekit.screen.lesson import ScreenLesson
from cuekit.screen.view import Value
from cuekit.simulation.simulate import Learner, follow
from cuekit.simulation.simulate_rooms import Room, record
from tests.fake_port import FakePort

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
HALL = Room(noise_below_feet_db=45.0)


class Clock:
    """A day in the gym that goes on by a minute each time it is asked."""

    def __init__(self):
        self.at = NOON

    def __call__(self):
        self.at += timedelta(minutes=1)
        return self.at


class Gym:
    """A screen, its records and the sound device in front of it."""

    def __init__(self, folder, port=None):
        self.folder, self.port = folder, port or FakePort()
        self.clock = Clock()
        self.lesson = ScreenLesson(self.port, folder / "takes", Desk(folder / "data", self.clock))

    def add(self, *learners):
        with open_store(self.folder / "data") as store:
            for learner in learners:
                store.add(learner if isinstance(learner, KeptLearner) else KeptLearner(learner, skill="gallop"))

    def do(self, action, **values):
        """Take an action, wait for what it starts, and see the view."""
        self.lesson.do(action, tuple(Value(*pair) for pair in values.items()))
        thread = self.lesson._thread
        if thread is not None:
            thread.join(60)
        return self.view

    @property
    def view(self):
        return self.lesson.view()

    def names(self, role=None):
        return [one["name"] for one in self.view["actions"] if role in (None, one["role"])]

    def bouts(self, code):
        with open_store(self.folder / "data") as store:
            return store.bouts(code)

    def with_child(self, **how):
        """A child who follows the cue that is planned now."""
        planned = self.lesson._actions.state.planned
        given = given_of(planned.pattern, planned.plan, sound_of(None, tones=planned.tones))
        done = follow(given.schedule, Learner(**how), seed=1, start_s=given.track.lead_in_s + self.port.lag_s)
        self.port.child = record(done, HALL, seed=1).samples
