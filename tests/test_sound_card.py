"""The card without a card: clear refusals, blocks neither lost nor doubled, losses noticed."""

import subprocess
import sys
import time
from types import SimpleNamespace

import numpy as np
import pytest
import sounddevice

import cuekit.bouts.exchange as exchange
import cuekit.bouts.sound_card as sound_card
from cuekit.bouts.audio_port import Ended, SlipKind, never
from cuekit.bouts.exchange import BLOCK
from cuekit.bouts.sound_card import SoundCard
from cuekit.errors import DeviceError

QUIET = SimpleNamespace(input_overflow=False, output_underflow=False)
OVERFLOW = SimpleNamespace(input_overflow=True, output_underflow=False)
UNDERFLOW = SimpleNamespace(input_overflow=False, output_underflow=True)


class DrivenStream:
    """A PortAudio stream whose callback is called as a script says, before `start` returns."""

    latency = (0.1, 0.2)
    lost_s = 0.0
    """What is missing before the 100th block, s."""

    def __init__(self, script, finished_callback, callback, **settings):
        self.script, self.callback, self.finished = script, callback, finished_callback
        self.given, self.aborted, self.count = [], False, 0

    def start(self):
        for status in self.script:
            if status is None:
                self.finished()
                return
            taken = np.full((BLOCK, 1), self.count + 1, np.float32)
            given = np.full((BLOCK, 1), np.nan, np.float32)
            stamp_s = 10.0 + self.count * BLOCK / 48_000 + (self.lost_s if self.count >= 100 else 0.0)
            stamps = SimpleNamespace(inputBufferAdcTime=stamp_s, outputBufferDacTime=stamp_s + 0.25)
            self.count += 1
            self.callback(taken, given, BLOCK, stamps, status)
            self.given.append(given[:, 0].copy())

    def abort(self, ignore_errors=False):
        self.aborted = True

    def close(self, ignore_errors=False):
        assert self.aborted, "what is queued would still sound"


@pytest.fixture
def drive(monkeypatch):
    """Make the next stream follow a script of callback statuses; None ends it unasked."""
    streams = []

    def follow(script):
        def opened(**settings):
            streams.append(DrivenStream(script, **settings))
            return streams[-1]

        monkeypatch.setattr(sounddevice, "Stream", opened)
        return streams

    return follow


def after(seconds):
    """A stop once the stream has been waited for about that long."""
    polls = iter(range(10_000))
    return lambda: next(polls) > seconds / sound_card._POLL_S


def test_blocks_go_in_and_out_whole_and_in_order(drive):
    streams = drive([QUIET] * 6)
    cue = [np.arange(100, dtype=np.float32) / 1e4, np.arange(100, 4000, dtype=np.float32) / 1e4]
    heard = []
    passage = SoundCard().play_and_record(cue, heard.append, after(0.05))
    given = np.concatenate(streams[0].given)
    np.testing.assert_array_equal(given[:4000], np.arange(4000, dtype=np.float32) / np.float32(1e4))
    assert not given[4000:].any(), "silence follows the cue"
    np.testing.assert_array_equal(np.concatenate(heard)[::BLOCK], np.arange(1, 7))
    assert (passage.ended, passage.recorded) == (Ended.STOPPED, 6 * BLOCK)
    assert passage.stamped_delay_s == pytest.approx(0.25)
    assert passage.first_sample_s == 10


def test_overflow_and_underflow_are_kept_with_their_places(drive):
    drive([QUIET, QUIET, OVERFLOW, QUIET, UNDERFLOW])
    passage = SoundCard().play_and_record([np.zeros(9000, np.float32)], lambda block: None, after(0.05))
    assert [(slip.kind, slip.frame // BLOCK) for slip in passage.slips] == [
        (SlipKind.LOST_INPUT, 2),
        (SlipKind.LATE_OUTPUT, 5),
    ]


def test_lost_sound_that_the_device_says_nothing_of_is_noticed_from_its_stamps(drive, monkeypatch):
    monkeypatch.setattr(DrivenStream, "lost_s", 0.7)
    drive([QUIET] * 200)
    passage = SoundCard().play_and_record([np.zeros(9000, np.float32)], lambda block: None, after(0.05))
    (slip,) = [slip for slip in passage.slips if slip.kind is SlipKind.LOST_INPUT]
    assert slip.frame == 100 * BLOCK
    assert slip.lost_s == pytest.approx(0.7, abs=0.03)


def test_a_program_that_stood_still_itself_does_not_blame_the_device(drive, monkeypatch):
    """The loop wakes before PortAudio's own thread does, and the last block is long ago."""
    drive([QUIET] * 3)
    monkeypatch.setattr(sound_card, "NEXT_BLOCK_S", 0.4)
    monkeypatch.setattr(sound_card, "HELD_UP_S", 0.2)
    polls = iter(range(100))

    def stop():
        poll = next(polls)
        if poll == 2:
            time.sleep(0.6)
        return poll == 10

    passage = SoundCard().play_and_record([np.zeros(9000, np.float32)], lambda block: None, stop)
    assert passage.ended is Ended.STOPPED


def test_a_stream_that_ends_by_itself_is_a_lost_device_and_what_was_heard_is_kept(drive):
    drive([QUIET] * 47 + [None])
    heard = []
    passage = SoundCard().play_and_record([np.zeros(9000, np.float32)], heard.append, never)
    assert passage.ended is Ended.LOST
    assert "disconnected after 1.0 s" in passage.lost
    assert sum(block.size for block in heard) == passage.recorded == 47 * BLOCK


def test_a_device_that_falls_silent_without_a_word_is_noticed_within_about_a_second(drive, monkeypatch):
    drive([QUIET] * 3)
    monkeypatch.setattr(sound_card, "NEXT_BLOCK_S", 0.1)
    heard = []
    passage = SoundCard().play_and_record([np.zeros(9000, np.float32)], heard.append, never)
    assert passage.ended is Ended.LOST
    assert len(heard) == 3


def test_a_listener_that_fails_silences_the_card_and_is_not_hidden(drive):
    streams = drive([QUIET] * 3)

    def failing(block):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        SoundCard().play_and_record([np.zeros(9000, np.float32)], failing, never)
    assert streams[0].aborted


NO_DEVICE = """
import os, sounddevice
def refuse(**settings):
    os.write(2, b"Expression failed in pa_linux_alsa.c\\n")
    raise sounddevice.PortAudioError("Error querying device -1")
sounddevice.OutputStream = refuse
from cuekit.cli import run
raise SystemExit(run(["play", "gallop"]))
"""


def test_without_a_loudspeaker_one_clear_line_and_the_driver_stays_silent():
    ran = subprocess.run([sys.executable, "-c", NO_DEVICE], capture_output=True, text=True, timeout=30)
    assert ran.returncode == DeviceError.exit_code
    (line,) = ran.stderr.strip().split("\n")
    assert line.startswith("cuekit: the loudspeaker cannot be opened")
    assert "--out FILE.wav" in line


def test_without_portaudio_the_line_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", None)

    class Missing:
        def find_spec(self, name, path=None, target=None):
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.delitem(sys.modules, "sounddevice")
    monkeypatch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
    with pytest.raises(DeviceError, match="libportaudio2"):
        SoundCard().play([np.zeros(10, np.float32)], never)


def test_the_clock_of_a_take_is_what_sounds_now_not_what_was_handed_over(drive):
    """60 blocks are 1.28 s handed over, of which the device still holds 0.2 s; then it goes on by itself."""
    drive([QUIET] * 60)
    told_s = []
    SoundCard().play_and_record([np.zeros(9000, np.float32)], lambda block: None, after(0.2), told_s.append)
    assert told_s[0] == pytest.approx(60 * BLOCK / 48_000 - 0.2, abs=0.1)
    assert np.all(np.diff(told_s) >= 0.0)
    assert len(told_s) >= 10


# A device that runs at 44.1 kHz only.
def test_a_device_that_refuses_48_khz_runs_at_its_own_rate_and_both_clocks_stay_one(monkeypatch):
    """What is played comes back 20 blocks later; the delay is read to a tenth of a millisecond."""
    asked_hz, on_its_way = [], [np.zeros((BLOCK, 1), np.float32) for _ in range(20)]
    own_hz, blocks = 44_100, 200

    class Own(DrivenStream):
        def start(self):
            for n in range(blocks):
                given = np.empty((BLOCK, 1), np.float32)
                at_s = 1.0 + n * BLOCK / own_hz
                stamps = SimpleNamespace(inputBufferAdcTime=at_s, outputBufferDacTime=at_s + 0.2)
                self.callback(on_its_way.pop(0), given, BLOCK, stamps, OVERFLOW if n == 100 else QUIET)
                on_its_way.append(given)

    def opened(samplerate, **settings):
        asked_hz.append(samplerate)
        if samplerate != own_hz:
            raise sounddevice.PortAudioError("Invalid sample rate", -9997)
        return Own([], **settings)

    monkeypatch.setattr(sounddevice, "Stream", opened)
    monkeypatch.setattr(sounddevice, "query_devices", lambda device, kind: {"default_samplerate": float(own_hz)})
    monkeypatch.setattr(exchange, "AHEAD_S", 9.0)
    cue, heard = band_limited(48_000 * 2), []
    passage = SoundCard().play_and_record([cue], heard.append, after(0.05))
    assert asked_hz == [48_000, own_hz]
    taken = np.concatenate(heard)
    assert taken.size == passage.recorded == pytest.approx(blocks * BLOCK * 48_000 / own_hz, abs=2)
    late = 20 * BLOCK / own_hz
    size = 1 << 20
    cross = np.fft.irfft(np.fft.rfft(taken, size) * np.conj(np.fft.rfft(cue, size)), size)
    assert int(np.argmax(cross)) / 48_000 == pytest.approx(late, abs=1e-4)
    assert passage.slips[0].frame == pytest.approx(100 * BLOCK * 48_000 / own_hz, abs=1)


def band_limited(size):
    """Noise below 8 kHz, the same each time."""
    spectrum = np.fft.rfft(np.random.default_rng(0).normal(size=size))
    spectrum[np.fft.rfftfreq(size, 1 / 48_000) > 8_000] = 0.0
    return (0.1 * np.fft.irfft(spectrum, size)).astype(np.float32)


def test_a_device_that_takes_no_rate_at_all_is_refused_in_one_line(monkeypatch):
    def opened(**settings):
        raise sounddevice.PortAudioError("Invalid sample rate", -9997)

    monkeypatch.setattr(sounddevice, "OutputStream", opened)
    monkeypatch.setattr(sounddevice, "query_devices", lambda device, kind: {"default_samplerate": 44_100.0})
    with pytest.raises(DeviceError, match="Invalid sample rate"):
        SoundCard().play([np.zeros(10, np.float32)], never)
