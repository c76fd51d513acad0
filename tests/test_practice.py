"""The guided sequence, and steps of tempo a learner can follow."""

import datetime
import re
import time
from contextlib import contextmanager
from dataclasses import replace

import numpy as np
import pytest
from fake_port import FakePort, NoDevice
from hypothesis import given
from hypothesis import strategies as st

import cuekit.cli.practice as practice_command
from cuekit.bouts.checked_devices import remember
from cuekit.bouts.equipment import Check
from cuekit.bouts.given import given_of
from cuekit.bouts.keys import Keyboard, wait_for_key
from cuekit.bouts.practice import Doing, TempoWay, first_set, next_tempo_bpm, stages, tempo_after_bpm
from cuekit.cues.cue_sound import CueSound
from cuekit.cues.tones import tone_set_names
from cuekit.errors import PatternError
from cuekit.hearing.recordings import recording_of
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import Plan, make_schedule
from cuekit.records.bout_record import Mode
from cuekit.records.store import Store
from cuekit.simulation.simulate import Learner, follow, perform
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.telling.phrases import load_phrases
from cuekit.telling.scoring import score_recording

TEMPO = st.floats(60, 160)


def test_the_sequence_is_that_of_the_trade():
    assert [stage.doing for stage in stages(12)] == list(Doing)
    assert [stage.heard for stage in stages(12)] == [False, False, True, True, True, True]


@given(TEMPO, TEMPO, st.floats(3, 5))
def test_tempo_goes_to_its_goal_in_steps_nobody_is_thrown_by(own, goal, step):
    now, seen = own, []
    for _ in range(30):
        later = next_tempo_bpm(now, own, goal, step)
        assert abs(later / now - 1) <= 0.0501
        seen.append(later)
        now = later
    assert abs(now / own - 1) <= 0.1501
    reachable = min(max(goal, own / 1.15), own * 1.15)
    assert now == pytest.approx(reachable)


@pytest.mark.parametrize("step", [0.0, 2.0, 6.0])
def test_other_steps_are_refused(step):
    with pytest.raises(PatternError, match="3 to 5 %"):
        next_tempo_bpm(100, 100, 110, step)


def test_all_six_stages_run_and_leave_no_sound(monkeypatch, cuekit_says, tmp_path):
    port = FakePort(lag_s=0.1, cue_gain=0.2)
    monkeypatch.setattr(practice_command, "SoundCard", lambda: port)
    said = cuekit_says("practice", "gallop", "--beats", 4, "--takes", tmp_path)
    assert said.code == 0
    order = [
        said.out.index(word) for word in ("Listen.", "Say it", "Clap it", "Sit and tap", "Step it", "Move.")
    ]
    assert order == sorted(order)
    assert port.opened == 4, "the microphone is shut while listening and saying"
    assert said.out.count("No footfalls heard") == 4
    assert list(tmp_path.iterdir()) == []


def test_it_can_begin_further_on(monkeypatch, cuekit_says, tmp_path):
    port = FakePort()
    monkeypatch.setattr(practice_command, "SoundCard", lambda: port)
    said = cuekit_says("practice", "gallop", "--beats", 4, "--from", "move", "--takes", tmp_path)
    assert "Clap it" not in said.out
    assert port.opened == 1


def test_without_a_sound_card_it_is_one_line(monkeypatch, cuekit_says, tmp_path):
    monkeypatch.setattr(practice_command, "SoundCard", NoDevice)
    said = cuekit_says("practice", "gallop", "--takes", tmp_path)
    assert said.code == 5
    assert len(said.err) == 1


GALLOP = load_pattern("gallop")


def moved(judged=12, on=12, spread=4.0):
    """Measures of a bout, the ones a step of tempo rests on set."""
    made = perform(GALLOP, Learner(scatter_s=0.01), beats=12, seed=1)
    score = score_hearing_of(made)
    return replace(score, judged_beats=judged, beats_on_pattern=on, spread_percent=spread)


def score_hearing_of(made):
    take = record(made, Room(noise_below_feet_db=45.0), seed=1)
    return score_recording(
        recording_of(take.samples, 48_000, "made"), GALLOP, phrases=load_phrases()
    ).measures


def test_a_set_on_the_pattern_is_followed_by_one_small_step():
    way = TempoWay(100.0, 120.0, 4.0)
    assert tempo_after_bpm(moved(), 100.0, None, way) == pytest.approx(104.0)
    assert tempo_after_bpm(moved(on=9), 100.0, None, way) == pytest.approx(104.0)


@pytest.mark.parametrize("bout", [{"on": 8}, {"judged": 3, "on": 3}, {"spread": 5.1}])
def test_off_the_pattern_too_short_or_less_steady_it_stays(bout):
    """5.1 % is more than a quarter above the 4 % of the first set."""
    assert tempo_after_bpm(moved(**bout), 104.0, 4.0, TempoWay(100.0, 120.0, 4.0)) == 104.0


def test_sets_end_and_the_last_of_three_is_at_the_first_tempo():
    way, tempi = TempoWay(100.0, 120.0, 4.0), []
    one = first_set(4, way)
    while one is not None:
        tempi.append(one.tempo_bpm)
        one = one.after(moved())
    assert tempi == pytest.approx([100.0, 104.0, 108.16, 100.0])


def test_claps_taps_and_steps_in_place_are_named():
    modes = {stage.doing: stage.mode for stage in stages(12)}
    assert (modes[Doing.CLAP], modes[Doing.TAP]) == (Mode.CLAP, Mode.TAP)
    assert (modes[Doing.STEP], modes[Doing.MOVE]) == (Mode.STEP, Mode.FEET)


@pytest.fixture
def child():
    done = perform(GALLOP, Learner(tempo_bpm=92.0, scatter_s=0.015, short_db=-6.0), beats=10, seed=1)
    return record(done, Room(noise_below_feet_db=45.0), seed=1).samples


@pytest.fixture
def in_lesson(monkeypatch, cuekit_says, tmp_path):
    """Practise as a learner K07 who is set up so, on a port."""

    def call(port, *arguments, **settings):
        monkeypatch.setattr(practice_command, "SoundCard", lambda: port)
        records = tmp_path / "records"
        if not records.exists():
            options = [
                part for key, value in settings.items() for part in (f"--{key.replace('_', '-')}", value)
            ]
            assert cuekit_says("learner", "add", "K07", *options, "--data", records).code == 0
        said = cuekit_says(
            "practice", "gallop", "--beats", 4, "--learner", "K07", "--data", records,
            "--takes", tmp_path / "takes", *arguments,
        )  # fmt: skip
        with Store(records) as store:
            return said, [kept.stored for kept in store.bouts("K07")], store.learner("K07").noun

    return call


def test_an_own_tempo_not_known_is_found_first_and_kept(in_lesson, child, tmp_path):
    said, bouts, learner = in_lesson(FakePort(child), "--from", "move")
    assert said.code == 0
    assert said.out.count("no sound plays") == 3
    assert [bout.conditions.cue_level for bout in bouts] == ["C0", "C0", "C0", "C4"]
    own_bpm = learner.tempo_bpm("gallop")
    assert own_bpm == pytest.approx(92.0, abs=2.0)
    assert learner.tempo_bpm("skip") is None, "it was found galloping"
    assert "Kept for K07" in said.out
    assert bouts[-1].conditions.tempo_asked_bpm == pytest.approx(own_bpm, abs=0.1)
    assert list((tmp_path / "takes").iterdir()) == []
    again, bouts, _ = in_lesson(FakePort(child), "--from", "move")
    assert "no sound plays" not in again.out, "it is known now"
    assert len(bouts) == 5


def test_where_nothing_is_heard_no_own_tempo_is_made_up(in_lesson):
    said, bouts, learner = in_lesson(FakePort(), "--from", "move")
    assert "Own tempo not found yet" in said.out
    assert learner.tempo_bpm("gallop") is None
    assert bouts[-1].conditions.tempo_asked_bpm == GALLOP.tempo.default


def test_each_heard_stage_is_stored_at_once_with_its_mode(in_lesson):
    said, bouts, _ = in_lesson(FakePort(), own_tempo=90)
    assert said.code == 0
    assert [bout.conditions.mode for bout in bouts] == ["clap", "tap", "step", "feet"]
    assert {bout.conditions.tempo_asked_bpm for bout in bouts} == {90.0}
    assert (
        said.out.index("Done by clapping") < said.out.index("Stored as bout") < said.out.index("Sit and tap")
    )


def test_the_cue_has_the_learners_tones_and_keeps_under_their_ceiling(in_lesson, monkeypatch, cuekit_says):
    loud, own, asked = FakePort(), FakePort(), FakePort()
    monkeypatch.setattr(practice_command, "SoundCard", lambda: loud)
    other = tone_set_names()[1]
    plain = ("practice", "gallop", "--beats", 4, "--from", "move", "--tempo", 90, "--sound", other)
    assert cuekit_says(*plain).code == 0
    in_lesson(own, "--from", "move", own_tempo=90, ceiling=-12, sound=other)
    in_lesson(asked, "--from", "move", "--sound", tone_set_names()[0])
    loud_cue, own_cue, asked_cue = (np.concatenate(port.sounded) for port in (loud, own, asked))
    gain = own_cue @ loud_cue / (loud_cue @ loud_cue)
    assert 20 * np.log10(gain) == pytest.approx(-12, abs=1.5)
    assert np.abs(own_cue - gain * loud_cue).max() < 0.02 * np.abs(own_cue).max(), "the same tones, softer"
    assert np.abs(own_cue - asked_cue).max() > 0.2 * np.abs(own_cue).max(), "others where they are asked for"


def test_the_note_is_shown_each_time_and_the_cautions_once_a_lesson(in_lesson):
    ask = ("--from", "move")
    first, _, _ = in_lesson(FakePort(), *ask, own_tempo=90, restrictions="no jumping")
    second, _, _ = in_lesson(FakePort(), *ask)
    assert "no jumping" in first.out
    assert "no jumping" in second.out
    for line in ("Floor dry", "Use a rail"):
        assert line in first.out
        assert line not in second.out


def test_a_learner_who_is_not_to_be_recorded_is_not_practised_with_a_microphone(in_lesson):
    port = FakePort()
    said, bouts, _ = in_lesson(port, recording="no")
    assert said.code == 6
    assert port.opened == 0
    assert bouts == []


def test_sets_go_to_the_goal_only_after_a_set_on_the_pattern(in_lesson, child):
    """Nobody moves, so the tempo stays; the last of three is at the first tempo in any case."""
    said, bouts, _ = in_lesson(FakePort(), "--from", "move", "--sets", 3, "--goal", 100, own_tempo=90)
    assert [bout.conditions.tempo_asked_bpm for bout in bouts] == [90.0, 90.0, 90.0]
    assert said.out.count("Rest for") == 2


def test_after_sets_on_the_pattern_the_tempo_goes_up_and_comes_home(in_lesson):
    schedule = make_schedule(GALLOP, Plan(90.0, 12))
    lead_in_s = 0.0
    moves = follow(schedule, Learner(scatter_s=0.01, short_db=-6.0), seed=1, start_s=lead_in_s)
    port = FakePort(record(moves, Room(noise_below_feet_db=45.0), seed=1).samples)
    _, bouts, _ = in_lesson(
        port, "--beats", 12, "--from", "move", "--sets", 3, "--goal", 92, "--change", 5, own_tempo=90
    )
    assert [bout.conditions.tempo_asked_bpm for bout in bouts] == [90.0, 92.0, 90.0]


def keys(*pressed):
    """A keyboard at which these are pressed, one each time it is looked at."""
    waiting = list(pressed)
    return Keyboard(True, lambda: waiting.pop(0) if waiting else "")


def test_a_rest_ends_by_itself_or_at_a_key():
    begun_s = time.monotonic()
    assert wait_for_key(keys(), 0.2) == ""
    assert time.monotonic() - begun_s >= 0.2
    assert wait_for_key(keys("", " "), 60.0) == " "
    assert wait_for_key(Keyboard(False, str), 60.0) == ""
    assert time.monotonic() - begun_s < 10.0


def test_q_leaves_from_a_rest(monkeypatch, cuekit_says, tmp_path):
    @contextmanager
    def keyboard():
        started = [False]

        def pressed():
            # Any key starts the clap; while the bout runs none is; the first one after it is q.
            if not started[0]:
                started[0] = True
                return " "
            return "q" if port.opened and not playing[0] else ""

        yield Keyboard(True, pressed)

    port, playing = FakePort(), [False]
    real = port.play_and_record

    def watched(*arguments):
        playing[0] = True
        try:
            return real(*arguments)
        finally:
            playing[0] = False

    port.play_and_record = watched
    monkeypatch.setattr(practice_command, "SoundCard", lambda: port)
    monkeypatch.setattr(practice_command, "listening_keyboard", keyboard)
    said = cuekit_says("practice", "gallop", "--beats", 4, "--from", "clap", "--takes", tmp_path)
    assert said.code == 0
    assert "Rest for" in said.out
    assert "Sit and tap" not in said.out


def test_with_earphones_the_remembered_check_of_the_devices_tells_early_or_late(monkeypatch, in_lesson, tmp_path):
    """The cue cannot be heard in the recording; that it can be timed at all is the check's doing."""
    monkeypatch.setenv("CUEKIT_STATE", str(tmp_path / "state"))
    given = given_of(GALLOP, stages(12, Doing.MOVE)[0].plan(90.0, 12), CueSound())
    lag_s = 0.2
    late = Learner(scatter_s=0.015, short_db=-6.0, asynchrony_s=-0.03)
    done = follow(given.schedule, late, seed=1, start_s=given.track.lead_in_s + lag_s)
    samples = record(done, Room(noise_below_feet_db=45.0), seed=1).samples
    ask = ("--beats", 12, "--from", "move", "--tempo", 90)
    unchecked, _, _ = in_lesson(FakePort(samples, lag_s=lag_s), *ask, own_tempo=90)
    assert "Early or late against the cue was not measured" in unchecked.out
    port = FakePort(samples, lag_s=lag_s)
    check = Check(lag_s, 0.001, 0.0, 3, 30.0, ())
    remember(tmp_path / "state", *port.names(), check, datetime.date(2026, 3, 2))
    checked, _, _ = in_lesson(port, *ask)
    early_ms = int(re.search(r"With the cue: (\d+) ms before it", checked.out)[1])
    assert early_ms == pytest.approx(30 - 9, abs=12), "3 m of air are 9 ms"
