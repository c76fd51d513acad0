"""A small group in turns (story 26): one key switches, and every bout lies under the right code."""

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from fake_port import FakePort
from hypothesis import given
from hypothesis import strategies as st

import cuekit.cli.turns as turns
from cuekit.bouts.keys import Keyboard
from cuekit.cli import run
from cuekit.errors import RecordError
from cuekit.patterns.pattern import Side
from cuekit.records.bout_record import BoutRecord, Conditions
from cuekit.records.eye_keys import LEAVE_ALL_OUT
from cuekit.records.learner import Learner
from cuekit.records.roster import Roster, roster_of
from cuekit.records.store import Store

CODES = ("K-07", "M-12", "T-03", "R-21")
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@given(st.lists(st.sampled_from(["next", "previous", *CODES])), st.integers(0, 3))
def test_any_row_of_switches_ends_where_counting_says(switches, place):
    roster, at = Roster(CODES, place), place
    for switch in switches:
        if switch in CODES:
            roster, at = roster.turn_of(switch), CODES.index(switch)
        else:
            roster, at = getattr(roster, switch)(), at + (1 if switch == "next" else -1)
    assert roster.turn == CODES[at % 4]
    assert roster.codes == CODES


def test_a_code_that_is_not_in_the_group_a_double_and_nobody_are_refused():
    with pytest.raises(RecordError, match="not in this group"):
        Roster(CODES).turn_of("D-05")
    for codes in ((), ("K-07", "K-07")):
        with pytest.raises(RecordError):
            Roster(codes)


def at(moment):
    return lambda: moment


def bout(code):
    return BoutRecord(code, NOON, Conditions("gallop"))


def test_todays_learners_come_first_the_last_one_before_the_others(tmp_path):
    with Store(tmp_path, now=at(NOON - timedelta(days=1))) as store:
        for code in (*CODES, "D-05"):
            store.add(Learner(code))
        store.add(bout("D-05"))
        assert roster_of(store, (), NOON).codes[0] == "D-05", "nobody yet today: everybody, seen last first"
        store.add(Learner("NOBODY-0A1B2C3D"))  # numbers without a learner take no turns
        assert len(roster_of(store, (), NOON).codes) == 5
    for hours, code in ((1, "M-12"), (2, "K-07"), (3, "M-12"), (4, "T-03")):
        with Store(tmp_path, now=at(NOON + timedelta(hours=hours))) as store:
            store.add(bout(code))
    with Store(tmp_path) as store:
        assert roster_of(store, (), NOON + timedelta(hours=5)).codes == ("T-03", "M-12", "K-07")
        assert roster_of(store, ("R-21", "K-07"), NOON).codes == ("R-21", "K-07")
        with pytest.raises(RecordError, match="no learner X-99"):
            roster_of(store, ("X-99",), NOON)


@pytest.fixture
def gym(monkeypatch, tmp_path, cuekit_says):
    """Keys pressed one after the other in a gym with a sound device that never was."""
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("CUEKIT_TAKES", str(tmp_path / "takes"))
    port = FakePort()
    monkeypatch.setattr(turns, "SoundCard", lambda: port)

    def pressing(keys, *arguments):
        waiting, quiet = list(keys), [0]

        def pressed():  # a hand is slower than the program: three looks without a key after each one
            if _playing(port):
                quiet[0] = 3
            if quiet[0] > 0:
                quiet[0] -= 1
                return ""
            quiet[0] = 3
            return waiting.pop(0)

        @contextmanager
        def keyboard():
            yield Keyboard(True, pressed)

        monkeypatch.setattr(turns, "listening_keyboard", keyboard)
        monkeypatch.setattr("cuekit.bouts.keys._POLL_S", 0.0005)
        return cuekit_says("turns", *arguments)

    pressing.folder, pressing.port = tmp_path / "data", port
    return pressing


def _playing(port):
    return getattr(port, "playing", False)


def test_story_26_twenty_alternating_bouts_all_under_the_right_code(gym, monkeypatch):
    """Each learner is known by the tempo asked: own tempo, cap and sounds go with the switch."""
    tempi = dict(zip(CODES, (80.0, 90.0, 100.0, 110.0), strict=True))
    with Store(gym.folder) as store:
        for code, bpm in tempi.items():
            learner = Learner(
                code, skill="gallop", step="gallop-alone", ceiling_db=-12.0 if code == "M-12" else None
            )
            store.add(learner.with_tempo("gallop", bpm, Side.RIGHT))
    one_bout, asked = turns.bout_to_cue, []

    def watched(port, takes, given_cue, *rest):
        sounded = len(port.sounded)
        port.playing = True
        done = one_bout(port, takes, given_cue, *rest)
        port.playing = False
        peak = max(float(np.abs(block).max()) for block in port.sounded[sounded:])
        asked.append((given_cue.schedule.plan.tempo_bpm, peak))
        return done

    monkeypatch.setattr(turns, "bout_to_cue", watched)
    said = gym([" ", "r", LEAVE_ALL_OUT, "n"] * 20 + ["q"], *CODES, "--beats", 4)
    assert said.code == 0, said.err
    assert [bpm for bpm, _ in asked] == list(tempi.values()) * 5
    with Store(gym.folder) as store:
        for code, bpm in tempi.items():
            bouts = [kept.stored for kept in store.bouts(code)]
            assert [one.conditions.tempo_asked_bpm for one in bouts] == [bpm] * 5
            assert {one.learner for one in bouts} == {code}
            assert {one.eye.lead for one in bouts} == {Side.RIGHT}
            assert {one.conditions.step for one in bouts} == {"gallop-alone"}
    peaks = dict(zip(CODES, (peak for _, peak in asked), strict=False))
    assert peaks["M-12"] < 0.6 * min(peaks[code] for code in CODES if code != "M-12")
    assert said.out.count(">> M-12  gallop  gallop-alone  90/min  cap -12 dB") == 5


def test_a_number_goes_straight_to_a_learner_and_one_who_is_not_recorded_is_told_so(gym):
    with Store(gym.folder) as store:
        store.add(Learner("K-07", skill="gallop"))
        store.add(Learner("M-12", skill="gallop", recording_allowed=False))
        store.add(Learner("T-03"))
    said = gym(["2", " ", "3", " ", "p", "x", "9", "q"], "K-07", "M-12", "T-03")
    assert said.code == 0
    assert "M-12 is not to be recorded" in said.out
    assert "which skill?" in said.out
    assert gym.port.opened == 0
    assert [line.split()[1] for line in said.out.splitlines() if line.startswith(">>")] == [
        "K-07",
        "M-12",
        "T-03",
        "M-12",
    ]


def test_without_a_keyboard_nobody_can_switch(gym, monkeypatch):
    with Store(gym.folder) as store:
        store.add(Learner("K-07", skill="gallop"))

    @contextmanager
    def none():
        yield Keyboard(False, str)

    monkeypatch.setattr(turns, "listening_keyboard", none)
    assert run(["turns", "K-07"]) == 6
