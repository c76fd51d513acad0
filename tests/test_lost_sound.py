"""Sound lost in mid-bout, end to end: by the real command, through PortAudio, on servers in user space.

On PulseAudio a program that stands still loses nothing: the server keeps its sound for it (20 s of it, as seen),
and PortAudio raises no flag, rightly. On a JACK server what nobody fetched is gone: a program that stands still
altogether loses it without a flag, one whose callback alone is held up makes PortAudio raise its overflow flag.
"""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import ExitStack

import numpy as np
import pytest
import soundfile

from tests.test_audio import cuekit, feet, server_runs

pytestmark = [pytest.mark.audio, pytest.mark.flaky(reruns=2, reruns_delay=1)]

BEATS = 18
HELD_UP_S = 1.3

STAND_STILL = f"""
import ctypes, sys, threading
from cuekit.bouts.exchange import Exchange
from cuekit.cli import main
take_in = Exchange.take_in
def told(self, taken, frames, stamps, status):
    if status.input_overflow:
        sys.stdout.write(f"overflow before sample {{self._recorded}}\\n")
    take_in(self, taken, frames, stamps, status)
Exchange.take_in = told
def hold():  # the interpreter is not let go meanwhile, so that PortAudio's callback waits, and only it
    ctypes.PyDLL(None).usleep({round(HELD_UP_S * 1e6)})
threading.Timer(float(sys.argv.pop(1)), hold).start()
main()
"""

PLAYER = """
import sys, numpy, soundfile
from cuekit.bouts.sound_card import SoundCard
SoundCard().play([soundfile.read(sys.argv[1], dtype="float32")[0]], lambda: False)
"""


@pytest.fixture
def child(tmp_path):
    """A made child in a room that goes on: the file, and when the feet land in it."""
    take = feet(beats=BEATS)
    samples = np.concatenate([take.samples, np.zeros(48_000 * 20, np.float32)])
    path = tmp_path / "child.wav"
    soundfile.write(path, samples + 1e-4 * np.random.default_rng(0).normal(size=samples.size), 48_000)
    return path, take.times_s


@pytest.fixture
def jack(monkeypatch):
    """A JACK server without a card, and nothing else that sounds."""
    if not shutil.which("jackd"):
        pytest.skip("no JACK server: install jackd2")
    # One name, always: JACK keeps a list of eight, and forgets a dead one only when it is taken again.
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "made-for-tests")
    monkeypatch.setenv("JACK_NO_AUDIO_RESERVATION", "1")
    for name in [name for name in os.environ if name.startswith("PULSE_")]:
        monkeypatch.delenv(name)
    # Blocks of 4096: with smaller ones a busy computer loses sound all the time.
    asked = ["jackd", "--no-realtime", "-d", "dummy", "-r", "48000", "-p", "4096"]
    with subprocess.Popen(asked, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        wait_for(lambda: "system:capture_1" in ports())
        yield
        server.terminate()


@pytest.fixture
def started():
    """Programs that end with the test, whatever becomes of it."""
    with ExitStack() as programs:

        def start(program):
            programs.enter_context(program)
            programs.callback(program.kill)
            return program

        yield start


def ports():
    return subprocess.run(["jack_lsp"], capture_output=True, text=True).stdout.split()


def wait_for(there):
    until_s = time.monotonic() + 10
    while not there():
        assert time.monotonic() < until_s, "it never came"
        time.sleep(0.05)


def port_of(program, way):
    """The port by which a program hears ("in") or sounds ("out"), once it is there."""
    is_it = re.compile(rf"\.{program.pid}\.\d+:{way}_000$")
    wait_for(lambda: any(map(is_it.search, ports())))
    return next(filter(is_it.search, ports()))


def listened(program, child, started):
    """Let a child be heard by a program on the JACK server."""
    ear = port_of(program, "in")
    player = started(subprocess.Popen([sys.executable, "-c", PLAYER, str(child)], stderr=subprocess.DEVNULL))
    subprocess.run(["jack_connect", port_of(player, "out"), ear], check=True)


def parted_by(gaps_s, told):
    """No bout, so no interval in it, reaches over a gap, and those long enough kept their tempo."""
    assert gaps_s
    for one in told["bouts"]:
        assert not any(one["start_s"] < gap_s - 0.1 and one["end_s"] > gap_s + 0.1 for gap_s in gaps_s)
        assert one["pauses"] == []
        assert one["complete_beats"] < 4 or one["tempo_bpm"] == pytest.approx(100, abs=4)
    assert len(told["bouts"]) >= 2


def scored_kept(takes):
    """Where a recording that was kept has gaps, and what it gives later by the command for files."""
    (kept,) = takes.glob("kept-*.wav")
    gaps_s = json.loads(kept.with_suffix(".json").read_text(encoding="utf-8"))["gaps_s"]
    asked = [sys.executable, "-m", "cuekit", "score", str(kept), "--pattern", "gallop", "--json"]
    return gaps_s, json.loads(subprocess.run(asked, capture_output=True, text=True, check=True).stdout)


def held_up(program):
    """What a program says that stood still for a while."""
    os.kill(program.pid, signal.SIGSTOP)
    time.sleep(HELD_UP_S)
    os.kill(program.pid, signal.SIGCONT)
    out, err = program.communicate(timeout=60)
    assert program.returncode == 0, err
    return out


KEEP = ["--keep", "to look at the gap", "--delete-by", "2999-01-01"]


def test_a_program_that_stood_still_and_lost_sound_without_a_flag_notices_it(jack, child, started, tmp_path):
    path, _ = child
    program = started(cuekit("listen", "gallop", "--start", "footfall", *KEEP, takes=tmp_path / "takes"))
    listened(program, path, started)
    time.sleep(5.0)
    out = held_up(program)
    told = re.search(r"About (\d\.\d) s of sound were lost", out)
    assert told, out
    assert float(told[1]) == pytest.approx(HELD_UP_S, abs=0.25)
    parted_by(*scored_kept(tmp_path / "takes"))


def test_the_overflow_flag_of_portaudio_parts_the_bout_where_it_was_raised(jack, child, started, tmp_path):
    path, _ = child
    asked = ["listen", "gallop", "--start", "footfall", *KEEP, "--takes", str(tmp_path / "takes")]
    command = [sys.executable, "-c", STAND_STILL, "10", *asked]
    pipes = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    program = started(subprocess.Popen(command, text=True, **pipes))
    listened(program, path, started)
    out, err = program.communicate(timeout=60)
    assert program.returncode == 0, err
    flagged_s = [int(frame) / 48_000 for frame in re.findall(r"overflow before sample (\d+)", out)]
    assert flagged_s, "PortAudio raised no flag"
    assert re.search(r"[Ss]ound (was|were) lost", out), out
    gaps_s, told = scored_kept(tmp_path / "takes")
    assert all(min(abs(gap_s - flag_s) for gap_s in gaps_s) < 0.3 for flag_s in flagged_s)
    parted_by(gaps_s, told)


@pytest.mark.skipif(not server_runs(), reason="no made sound card: start one with tests/audio_server.sh")
def test_a_program_that_stood_still_on_a_server_that_waits_has_lost_nothing(child, started, tmp_path):
    path, times_s = child
    program = started(cuekit("listen", "gallop", "--start", "footfall", "--json", takes=tmp_path))
    time.sleep(2.0)
    started(subprocess.Popen(["paplay", "--device=room", str(path)]))
    time.sleep(5.0)
    out = held_up(program)
    (bout,) = json.loads(out)["bouts"]
    assert bout["complete_beats"] == BEATS - 1 or bout["complete_beats"] == BEATS
    assert bout["tempo_bpm"] == pytest.approx(100, abs=2)
