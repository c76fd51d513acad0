"""What the terminal shows while a bout runs, what is asked after it, and how a learner's settings reach the cue."""

import re
import signal
from contextlib import contextmanager
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
from fake_port import FakePort

import cuekit.cli.listen as listen_command
import cuekit.cli.live_view as live_view
import cuekit.cli.play as play_command
import cuekit.cli.practice as practice_command
from cuekit.bouts.given import given_of
from cuekit.bouts.keys import Keyboard
from cuekit.cli.live_view import BallView
from cuekit.cues.cue_sound import CueSound
from cuekit.drawing.bounce_text import HEIGHT, WIDTH
from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import Plan
from cuekit.records.bout_record import CueKind
from cuekit.records.store import Store
from cuekit.simulation.simulate import Learner, follow, perform
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.teaching.ladder_files import load_ladder

GALLOP = load_pattern("gallop")
HALL = Room(noise_below_feet_db=45.0)


class Terminal:
    """Lines as a terminal would show them, out of text with the control sequences of `BallView`."""

    def __init__(self):
        self.lines, self.row, self.writes = [""], 0, 0

    def write(self, text):
        self.writes += 1
        for part in re.split(r"(\x1b\[\d+A\r|\n)", text):
            if part == "\n":
                self.row += 1
                self.lines += [""] * (self.row + 1 - len(self.lines))
            elif part.startswith("\x1b"):
                self.row -= int(part[2:-2])
            elif part:
                self.lines[self.row] = part + self.lines[self.row][len(part) :]


def test_the_ball_is_drawn_over_itself_and_the_feet_below_it():
    given, terminal = given_of(GALLOP, Plan(100, 4), CueSound()), Terminal()
    view = BallView(given, terminal.write, unicode=True)
    for now_s in np.arange(0.0, given.track.duration_s, 0.01):
        view.at(now_s)
        if abs(now_s - 3.0) < 0.004:
            view.heard(Footfall(2.9, -20.0))
            view.heard(Footfall(3.0, -20.0))
    assert len(terminal.lines) == HEIGHT + 2, "the picture, the feet, and where the cursor stands"
    assert terminal.lines[HEIGHT] == "o o ".ljust(WIDTH)
    assert {len(line) for line in terminal.lines[: HEIGHT + 1]} == {WIDTH}


def test_nothing_is_written_while_nothing_moves():
    given, terminal = given_of(GALLOP, Plan(100, 4), CueSound()), Terminal()
    view = BallView(given, terminal.write, unicode=False)
    for _ in range(50):
        view.at(given.track.lead_in_s + 1.0)
    assert terminal.writes == 1


def test_the_ball_is_on_the_floor_when_the_cue_sounds():
    """The clock is that of what sounds, so the picture of a cue's instant has the ball on the floor."""
    given, terminal = given_of(GALLOP, Plan(100, 4), CueSound()), Terminal()
    view = BallView(given, terminal.write, unicode=True)
    for cue in given.schedule.footfalls:
        view.at(given.track.lead_in_s + cue.time_s + 0.001)
        assert "█" in terminal.lines[HEIGHT - 2]


@pytest.fixture
def terminal(monkeypatch):
    """A terminal stands at stdout, one with blocks."""
    monkeypatch.setattr(live_view, "_on_a_terminal", lambda: True)
    monkeypatch.setattr(live_view, "takes_unicode", lambda: True)


@pytest.fixture
def keyboard(monkeypatch):
    """Keys pressed one after the other once the questions are asked; one starts the bout."""

    def put(command, port, *answers):
        waiting = list(answers)
        started = [False]

        def pressed():
            if not started[0]:
                started[0] = True
                return " "
            if not port.opened or port.running:
                return ""
            if not port.quiet_looks:
                return waiting.pop(0) if waiting else ""
            port.quiet_looks -= 1
            return ""

        @contextmanager
        def there():
            yield Keyboard(True, pressed)

        monkeypatch.setattr(command, "listening_keyboard", there)

    return put


class WatchedPort(FakePort):
    """Tells whether it runs, so that no key is pressed meanwhile."""

    running, quiet_looks = False, 1

    def _run(self, *arguments):
        self.running = True
        try:
            return super()._run(*arguments)
        finally:
            self.running = False


@pytest.fixture
def learner(cuekit_says, tmp_path):
    """Set up a learner K-07."""

    def add(*options):
        records = tmp_path / "records"
        assert cuekit_says("learner", "add", "K-07", "--data", records, *options).code == 0
        return records

    return add


def mover(beats=12, tempo_bpm=100, lag_s=0.1):
    given = given_of(GALLOP, Plan(tempo_bpm, beats), CueSound())
    done = follow(given.schedule, Learner(scatter_s=0.015, short_db=-6.0), seed=1, start_s=given.track.lead_in_s + lag_s)
    return record(done, HALL, seed=1).samples


def test_with_the_sound_off_the_bout_is_run_to_the_ball_and_stored_as_visual(
    monkeypatch, terminal, cuekit_says, learner, tmp_path
):
    """Scenario 3: full use with the sound off, cue type visual in the record."""
    port, records = FakePort(mover()), learner()
    monkeypatch.setattr(listen_command, "SoundCard", lambda: port)
    said = cuekit_says(
        "listen", "gallop", "--cue", "c4", "--beats", 12, "--full", 6, "--silent", "--tempo", 100,
        "--learner", "K-07", "--data", records, "--takes", tmp_path / "takes",
    )  # fmt: skip
    assert said.code == 0, said.err
    assert not np.concatenate(port.sounded).any()
    assert "█" in said.out
    assert re.search(r"Kept [56] of 6 beats after the ball was gone", said.out)
    with Store(records) as store:
        (kept,) = store.bouts("K-07")
    assert kept.stored.conditions.cue_kind is CueKind.VISUAL
    assert kept.stored.numbers.complete_beats >= 11


def test_all_of_practice_goes_without_a_sound(monkeypatch, terminal, cuekit_says, tmp_path):
    port = FakePort()
    monkeypatch.setattr(practice_command, "SoundCard", lambda: port)
    clock = iter(np.arange(0, 1000, 0.02))
    own = SimpleNamespace(monotonic=lambda: next(clock), sleep=lambda _: None)  # not the clock of every thread
    monkeypatch.setattr(live_view, "time", own)
    said = cuekit_says("practice", "gallop", "--beats", 4, "--silent", "--takes", tmp_path)
    assert said.code == 0, said.err
    assert "Watch the ball" in said.out
    assert "with the sound" not in said.out
    assert port.opened == 4
    assert not np.concatenate(port.sounded).any()


def test_the_ball_with_the_sound_is_a_sound_cue_all_the_same(monkeypatch, terminal, cuekit_says, tmp_path):
    port = FakePort()
    monkeypatch.setattr(play_command, "SoundCard", lambda: port)
    said = cuekit_says("play", "gallop", "--beats", 4, "--ball")
    assert said.code == 0
    assert "█" in said.out
    assert np.concatenate(port.sounded).any()


@pytest.mark.parametrize("command", ["play", "practice"])
def test_where_there_is_no_terminal_the_ball_is_refused_before_anything_sounds(command, cuekit_says):
    said = cuekit_says(command, "gallop", "--silent")
    assert said.code == 2
    assert "needs a terminal" in said.err[0]


def test_after_a_bout_the_eye_answers_by_single_keys_and_it_is_stored(
    monkeypatch, keyboard, cuekit_says, learner, tmp_path
):
    made = perform(GALLOP, Learner(scatter_s=0.015, short_db=-6.0), beats=10, seed=1)
    port, records = WatchedPort(record(made, HALL, seed=1).samples), learner()
    monkeypatch.setattr(listen_command, "SoundCard", lambda: port)
    keyboard(listen_command, port, "r", "y", "q")
    said = cuekit_says(
        "listen", "gallop", "--learner", "K-07", "--step", "gallop-alone", "--data", records, "--takes", tmp_path / "takes"
    )
    assert said.code == 0, said.err
    with Store(records) as store:
        (kept,) = store.bouts("K-07")
    eye = kept.stored.eye
    assert (eye.lead, eye.skill, eye.feet, eye.flight) == ("right", "yes", None, None)
    assert kept.stored.conditions.step == "gallop-alone"
    assert load_ladder("gallop").step("gallop-alone").eye in said.out, "the step's own question"
    assert "Entered: " in said.out
    assert list((tmp_path / "takes").iterdir()) == []


def test_in_practice_q_leaves_the_questions_and_not_the_lesson(
    monkeypatch, keyboard, cuekit_says, learner, tmp_path
):
    port, records = WatchedPort(), learner("--own-tempo", 90)
    monkeypatch.setattr(practice_command, "SoundCard", lambda: port)
    keyboard(practice_command, port, "q", " ", " ", "", " ", "q", "q")
    said = cuekit_says(
        "practice", "gallop", "--beats", 4, "--from", "step", "--learner", "K-07", "--data", records,
        "--takes", tmp_path / "takes",
    )  # fmt: skip
    assert said.code == 0, said.err
    with Store(records) as store:
        modes = [kept.stored.conditions.mode for kept in store.bouts("K-07")]
    assert modes == ["step", "feet"], "q after the first bout ended its questions only"


def test_ctrl_c_at_the_questions_stores_the_bout_and_what_was_answered(
    monkeypatch, keyboard, cuekit_says, learner, tmp_path
):
    made = perform(GALLOP, Learner(scatter_s=0.015, short_db=-6.0), beats=10, seed=1)
    port, records = WatchedPort(record(made, HALL, seed=1).samples), learner()
    monkeypatch.setattr(listen_command, "SoundCard", lambda: port)

    def keys():
        yield "l"
        signal.raise_signal(signal.SIGINT)
        while True:
            yield ""

    waiting = keys()
    keyboard(listen_command, port)
    old = listen_command.listening_keyboard

    @contextmanager
    def there():
        with old() as made_keyboard:
            asked = [0]

            def pressed():
                key = made_keyboard.pressed()
                if port.opened and not port.running:
                    asked[0] += 1
                    return next(waiting) if asked[0] > 1 else key
                return key

            yield Keyboard(True, pressed)

    monkeypatch.setattr(listen_command, "listening_keyboard", there)
    said = cuekit_says("listen", "gallop", "--learner", "K-07", "--data", records, "--takes", tmp_path / "takes")
    assert said.code == 130
    with Store(records) as store:
        (kept,) = store.bouts("K-07")
    assert (kept.stored.eye.lead, kept.stored.eye.skill) == ("left", None)
    assert kept.stored.numbers.complete_beats == 10


def rendered(cuekit_says, path, *arguments):
    assert cuekit_says("play", "gallop", "--beats", 4, *arguments, "--out", path).code == 0
    return soundfile.read(path)[0]


def test_play_obeys_a_learners_cap_tones_tempo_and_language(cuekit_says, learner, tmp_path):
    records = learner("--ceiling", -12, "--sound", "tone", "--own-tempo", 80, "--language", "es", "--recording", "no")
    asked = ("--learner", "K-07", "--data", records)
    own = rendered(cuekit_says, tmp_path / "own.wav", *asked)
    same = rendered(cuekit_says, tmp_path / "same.wav", "--sound", "tone", "--tempo", 80, "--language", "es")
    assert own.size == same.size
    assert 20 * np.log10(np.abs(own).max() / np.abs(same).max()) == pytest.approx(-12, abs=1.0)
    louder = rendered(cuekit_says, tmp_path / "loud.wav", *asked, "--loudness", -24)
    assert np.abs(louder).max() == pytest.approx(np.abs(own).max(), rel=0.01), "the cap cannot be passed"
    words = rendered(cuekit_says, tmp_path / "words.wav", *asked, "--level", "c5")
    spanish = rendered(
        cuekit_says, tmp_path / "es.wav", "--sound", "tone", "--tempo", 80, "--level", "c5", "--language", "es"
    )
    assert words.size == spanish.size
    gain = words @ spanish / (spanish @ spanish)
    assert np.abs(words - gain * spanish).max() < 0.02 * np.abs(words).max(), "the words are Spanish"
