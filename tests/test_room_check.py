"""Story 20: a five-second room check says whether the room will do, why, and what to change."""

import numpy as np
import pytest
import soundfile

from cuekit.errors import DeviceError
from cuekit.hearing.recordings import recording_of
from cuekit.hearing.room_check import RoomReason, RoomVerdict, check_room
from cuekit.simulation.simulate_feet import model_feet

RATE_HZ = 48_000


def room(*, noise_db, stamps=4, seed=1, stamp_db=-20.0):
    """5.5 s of noise (RMS, dB against full scale), then stamps a second apart."""
    rng = np.random.default_rng(seed)
    sound = 10 ** (noise_db / 20) * rng.standard_normal(12 * RATE_HZ)
    feet = model_feet(seed)
    for n in range(stamps):
        landing = 10 ** (stamp_db / 20) * 3.0 * feet.landing(rng, 0)
        start = round((6.0 + n) * RATE_HZ)
        sound[start : start + landing.size] += landing
    return sound


def checked(sound):
    return check_room(recording_of(np.clip(sound, -1, 1).astype(np.float32), RATE_HZ, "room"))


def test_a_quiet_room_with_four_stamps_will_do():
    check = checked(room(noise_db=-70.0))
    assert (check.verdict, check.reason) == (RoomVerdict.GOOD, RoomReason.NONE)
    assert (check.ghosts, check.stamps) == (0, 4)


def test_a_fan_makes_it_usable_and_a_louder_one_does_not():
    verdicts = [checked(room(noise_db=level_db)).verdict for level_db in (-70.0, -25.0, -16.0)]
    assert verdicts == [RoomVerdict.GOOD, RoomVerdict.USABLE, RoomVerdict.UNUSABLE]


def test_steps_of_others_while_nobody_moves_make_it_unusable():
    rng, feet = np.random.default_rng(3), model_feet(9)
    sound = room(noise_db=-70.0)
    for n in range(4):
        start = round((1.0 + 0.8 * n) * RATE_HZ)
        landing = 0.2 * feet.landing(rng, 0)
        sound[start : start + landing.size] += landing
    check = checked(sound)
    assert (check.verdict, check.reason) == (RoomVerdict.UNUSABLE, RoomReason.OTHER_SOUNDS)
    assert check.ghosts >= 3


def test_no_stamps_heard_is_said():
    check = checked(room(noise_db=-70.0, stamps=0))
    assert (check.verdict, check.reason) == (RoomVerdict.UNUSABLE, RoomReason.STAMPS_UNHEARD)
    assert check.margin_db is None


@pytest.mark.parametrize(("language", "word"), [("en", "will do"), ("es", "sirve")])
def test_the_command_judges_a_recording(tmp_path, cuekit_says, language, word):
    soundfile.write(tmp_path / "room.wav", room(noise_db=-70.0), RATE_HZ)
    outcome = cuekit_says("room", tmp_path / "room.wav", "--language", language)
    assert outcome.code == 0
    assert word in outcome.out
    assert "4" in outcome.out


class NoMicrophone:
    """A computer without one."""

    def record(self, listener, stop, on_clock=None):
        raise DeviceError("no microphone can be opened: a recording can be judged instead (cuekit room FILE)")


class Microphone:
    """Gives a sound in blocks, as a device does."""

    def record(self, listener, stop, on_clock=None):
        for block in np.array_split(room(noise_db=-70.0).astype(np.float32), 100):
            if stop():
                return
            listener(block)


def test_without_a_microphone_one_clear_line(cuekit_says, monkeypatch):
    monkeypatch.setattr("cuekit.cli.room.SoundCard", NoMicrophone)
    outcome = cuekit_says("room")
    assert outcome.code == DeviceError.exit_code
    assert len(outcome.err) == 1
    assert "no microphone" in outcome.err[0]


def test_the_room_is_judged_through_the_microphone(cuekit_says, monkeypatch):
    """Asked to keep still, then to stamp, then told."""
    monkeypatch.setattr("cuekit.cli.room.SoundCard", Microphone)
    outcome = cuekit_says("room")
    assert outcome.code == 0
    lines = outcome.out.splitlines()
    assert ["still" in lines[0], "stamp" in lines[1], "will do" in lines[2]] == [True] * 3
