"""On a sound card made in user space, through PortAudio: what is played is heard, to the millisecond.

Start one with tests/audio_server.sh. A child is a made recording played beside the program.
"""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from cuekit.bouts.audio_port import Ended, never
from cuekit.bouts.cue_arrival import find_arrivals, for_analysis, settle
from cuekit.bouts.equipment import check_equipment
from cuekit.bouts.sound_card import SoundCard
from cuekit.cues.cueing import choose_cues
from cuekit.cues.loudness import QUIET_LUFS
from cuekit.cues.render import lay_out, render
from cuekit.cues.speech import spoken
from cuekit.cues.tones import tone_set
from cuekit.errors import DeviceError
from cuekit.hearing.recordings import recording_of
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import Plan, make_schedule
from cuekit.records.learner import Learner as PracticeLearner
from cuekit.records.store import Store
from cuekit.simulation.simulate import Learner, follow, perform
from cuekit.simulation.simulate_rooms import Room, record

# A busy machine may break a take, on this card more than on a real one: three tries, then it has failed.
pytestmark = [pytest.mark.audio, pytest.mark.flaky(reruns=2, reruns_delay=1)]

GALLOP = load_pattern("gallop")
TRIES = 3
"""A busy computer may break a take; the program says so, and the test tries again."""


def server_runs():
    if not shutil.which("pactl"):
        return False
    info = subprocess.run(["pactl", "info"], capture_output=True, text=True, timeout=10)
    return info.returncode == 0 and "room.monitor" in info.stdout


@pytest.fixture(scope="module", autouse=True)
def sound_card():
    if not server_runs():
        pytest.skip("no made sound card: start one with tests/audio_server.sh (PulseAudio)")


@pytest.fixture
def child(tmp_path):
    """Plays made sound into the room; ended with the test."""
    players, timers = [], []

    def plays(samples, after_s=0.0):
        rng = np.random.default_rng(0)
        long = np.concatenate([samples, np.zeros(48_000 * 60, np.float32)])  # the room goes on
        path = tmp_path / f"child-{len(players)}.wav"
        soundfile.write(path, long + 1e-4 * rng.normal(size=long.size).astype(np.float32), 48_000)

        def start():
            players.append(subprocess.Popen(["paplay", "--device=room", str(path)]))

        timers.append(threading.Timer(after_s, start))
        timers[-1].start()

    yield plays
    for timer in timers:
        timer.cancel()
        timer.join()
    for player in players:
        player.terminate()
        player.wait()


def feet(beats=10, seed=1):
    learner = Learner(scatter_s=0.015, short_db=-6.0)
    return record(perform(GALLOP, learner, beats=beats, seed=seed), Room(noise_below_feet_db=45.0), seed=seed)


def cuekit(*arguments, takes, env=None):
    return subprocess.Popen(
        [sys.executable, "-m", "cuekit", *arguments, "--takes", str(takes)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=env,
    )


def cue(beats=8):
    schedule = make_schedule(GALLOP, Plan(100, beats))
    track = lay_out(schedule, choose_cues(schedule, tone_set("wood")))
    return schedule, track, render(track)


def played_and_heard(samples):
    """What the card says of a take of a sound, and the take."""
    heard = []

    def enough():
        return sum(map(len, heard)) > samples.size + 48_000

    passage = SoundCard().play_and_record([samples], heard.append, enough)
    return passage, heard


def test_the_cue_comes_back_on_one_clock_and_its_delay_is_read_to_2_ms():
    _, _, samples = cue()
    for _ in range(TRIES):
        passage, heard = played_and_heard(samples)
        if not passage.slips:
            break
    assert passage.ended is Ended.STOPPED
    taken = np.concatenate(heard)
    assert taken.size == passage.recorded
    # Known from plain cross-correlation of all of it: nothing else is in the room.
    size = 1 << 21
    product = np.fft.rfft(taken, size) * np.conj(np.fft.rfft(samples, size))
    true_s = int(np.argmax(np.fft.irfft(product, size)[:48_000])) / 48_000
    found = settle(find_arrivals(recording_of(taken, 48_000, "room").samples, for_analysis([samples])))
    assert found.delay_s == pytest.approx(true_s, abs=0.002)
    assert passage.stamped_delay_s == pytest.approx(true_s, abs=0.05)


def checked_card():
    """The check of the card; a take that the busy machine broke off is said to be lost, and tried again."""
    for left in reversed(range(TRIES)):
        try:
            check = check_equipment(SoundCard(), never)
        except DeviceError:
            if not left:
                raise
            continue
        if check.delay_s is not None or not left:
            return check
    raise AssertionError("no try was made")


def test_the_equipment_check_finds_the_delay_of_the_card(tmp_path):
    check = checked_card()
    # With nothing on the way the device's own stamps are the truth, to some ms.
    assert check.beyond_buffers_s == pytest.approx(0.0, abs=0.02)
    assert check.plus_minus_s == 0.001
    assert check.problems == ()
    for _ in range(TRIES):
        program = subprocess.run(
            [sys.executable, "-m", "cuekit", "check", "--state", str(tmp_path)], capture_output=True, text=True
        )
        if program.returncode != DeviceError.exit_code:
            break
    assert program.returncode == 0, program.stderr
    assert "This will do" in program.stdout


def test_what_is_played_is_played_to_its_end():
    rng = np.random.default_rng(0)
    sound = (0.1 * rng.normal(size=48_000)).astype(np.float32)
    heard, done = [], threading.Event()
    listener = threading.Thread(target=SoundCard().record, args=(heard.append, done.is_set), daemon=True)
    listener.start()
    time.sleep(1.0)
    assert SoundCard().play([sound], never).ended is Ended.PLAYED
    time.sleep(0.5)
    done.set()
    listener.join()
    sounding = np.flatnonzero(np.abs(np.concatenate(heard)) > 1e-4)
    assert (sounding[-1] - sounding[0]) / 48_000 == pytest.approx(1.0, abs=0.005)


def noise():
    return (0.1 * np.random.default_rng(0).normal(size=48_000 * 6)).astype(np.float32)


def sentence():
    return spoken("16 beats heard: clear long-short, steady. Same again, sound softer.", "en", QUIET_LUFS)


@pytest.mark.parametrize("made", [noise, sentence])
def test_asked_to_stop_it_is_silent_within_100_ms(made):
    """Measured where the sound arrives, by the clock of the computer."""
    sound = made()
    monitor = subprocess.Popen(
        [
            "parec",
            "--device=room.monitor",
            "--rate=48000",
            "--channels=1",
            "--format=s16le",
            "--latency-msec=10",
        ],
        stdout=subprocess.PIPE,
    )
    last_sound_s = [0.0]

    def watch():
        while chunk := monitor.stdout.read1(4096):
            if np.abs(np.frombuffer(chunk[: len(chunk) // 2 * 2], np.int16)).max(initial=0) > 10:
                last_sound_s[0] = time.monotonic()

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    asked_s = []

    def stop():
        if last_sound_s[0] and not asked_s and time.monotonic() - began_s > 2.0:
            asked_s.append(time.monotonic())
        return bool(asked_s)

    began_s = time.monotonic()
    SoundCard().play([sound], stop)
    time.sleep(0.6)
    monitor.terminate()
    watcher.join()
    monitor.stdout.close()
    monitor.wait()
    assert asked_s, "it never sounded"
    assert last_sound_s[0] - asked_s[0] < 0.1


def test_listen_hears_a_child_and_says_one_sentence_within_two_seconds(child, tmp_path):
    take = feet()
    child(take.samples, after_s=2.5)
    began_s = time.monotonic()
    program = cuekit("listen", "gallop", "--start", "footfall", "--longest", "40", takes=tmp_path / "takes")
    out, err = program.communicate(timeout=60)
    assert program.returncode == 0, err
    sentence = out.strip().split("\n")[2]
    assert "10 beats heard: clear long-short" in sentence
    assert out.count("o ") >= 19  # told as they landed
    # Started, waited, 2.5 s before the child, the bout, 3 s of silence, the verdict, and its own start.
    assert time.monotonic() - began_s < 2.5 + take.times_s[-1] + 3.0 + 2.0 + 1.5
    assert list((tmp_path / "takes").iterdir()) == []


def test_listen_with_the_cue_playing_hears_the_child_beside_it(child, tmp_path):
    schedule, track, _ = cue(10)
    done = follow(schedule, Learner(scatter_s=0.015, short_db=-6.0), seed=1, start_s=track.lead_in_s)
    take = record(done, Room(noise_below_feet_db=45.0), seed=1)
    child(take.samples, after_s=0.8)  # about when the cue begins; it need not be in time
    program = cuekit(
        "listen", "gallop", "--cue", "C4", "--beats", "10", "--json", "--loudness", "-35", takes=tmp_path
    )
    out, err = program.communicate(timeout=60)
    assert program.returncode == 0, err
    score = json.loads(out)
    assert score["tempo_bpm"] == pytest.approx(100, abs=2)
    assert score["complete_beats"] >= 8
    assert score["rhythm"] == "uneven"


def test_listen_with_the_cue_playing_and_nobody_moving_says_no_footfalls_heard(tmp_path):
    program = cuekit("listen", "gallop", "--cue", "C4", "--beats", "8", takes=tmp_path)
    out, err = program.communicate(timeout=60)
    assert program.returncode == 0, err
    assert "No footfalls heard" in out


def test_practice_hears_a_child_beside_its_cue_stores_the_bout_and_leaves_no_sound(child, tmp_path):
    schedule, track, _ = cue(10)
    done = follow(schedule, Learner(scatter_s=0.015, short_db=-6.0), seed=1, start_s=track.lead_in_s)
    records, takes = tmp_path / "records", tmp_path / "takes"
    with Store(records) as store:
        store.add(PracticeLearner("K-07", own_tempo_bpm=100.0))
    child(record(done, Room(noise_below_feet_db=45.0), seed=1).samples, after_s=0.8)
    asked = ["--from", "move", "--beats", "10", "--loudness", "-35", "--learner", "K-07"]
    program = cuekit("practice", "gallop", *asked, "--data", str(records), takes=takes)
    out, err = program.communicate(timeout=60)
    assert program.returncode == 0, err
    assert "Stored as bout" in out
    with Store(records) as store:
        (kept,) = store.bouts("K-07")
    assert kept.stored.numbers.tempo_bpm == pytest.approx(100, abs=2)
    assert kept.stored.numbers.complete_beats >= 8
    assert kept.stored.conditions.tempo_asked_bpm == 100.0
    assert list(takes.iterdir()) == []


@pytest.mark.parametrize("after_s", [2.5, 5.0])
def test_ctrl_c_keeps_the_bout(child, tmp_path, after_s):
    child(feet(beats=30).samples, after_s=0.5)
    program = cuekit("listen", "gallop", "--start", "footfall", takes=tmp_path)
    assert program.stdout.readline() == "Listening ...\n"
    time.sleep(after_s)
    program.send_signal(signal.SIGINT)
    out, err = program.communicate(timeout=20)
    assert program.returncode == 130, err
    assert "Stopped early" in out
    assert "heard" in out


# Start, imports, device, count-in, moving, scoring; by the clock, so on each computer somewhat elsewhere.
@pytest.mark.parametrize("after_s", [0.1, 0.3, 0.5, 0.8, 1.1, 1.5, 2.5, 5.0, 8.0, 9.5, 10.0, 10.5])
def test_whenever_ctrl_c_comes_on_a_real_card_there_is_no_trace_and_a_bout_is_told(child, tmp_path, after_s):
    child(feet(beats=12).samples, after_s=1.5)
    records, takes = tmp_path / "records", tmp_path / "takes"
    with Store(records) as store:
        store.add(PracticeLearner("K-07"))
    asked = ["--cue", "C4", "--beats", "8", "--loudness", "-35", "--learner", "K-07", "--data", str(records)]
    program = cuekit("listen", "gallop", *asked, takes=takes)
    time.sleep(after_s)
    program.send_signal(signal.SIGINT)
    out, err = program.communicate(timeout=30)
    assert program.returncode in (0, 130, -signal.SIGINT), err
    assert "Traceback" not in err
    assert "mistake in cuekit" not in err
    with Store(records) as store:
        numbers = re.findall(r"\d+", "".join(re.findall(r"Stored as bout ([\d, ]+) of", out)))
        assert len(store.bouts("K-07")) == len(numbers)
    if "Listening ..." in out and "Nothing had been recorded" not in err:
        assert "heard" in out
        assert "Stored as bout" in out
    assert not list(takes.glob("take-*"))


@pytest.fixture
def own_card():
    """A second made card, for a test that takes it away."""
    script = Path(__file__).parent / "audio_server.sh"
    told = subprocess.run(["sh", script, "start"], capture_output=True, text=True, check=True).stdout
    environment = os.environ | dict(re.findall(r"(PULSE_\w+)='([^']*)'", told))
    yield environment
    subprocess.run(["sh", script, "stop"], env=environment, capture_output=True)


def test_a_card_taken_away_in_mid_bout_ends_it_and_keeps_it(tmp_path, own_card):
    path = tmp_path / "child.wav"
    soundfile.write(path, feet(beats=30).samples, 48_000)
    player = subprocess.Popen(["paplay", "--device=room", str(path)], env=own_card, stderr=subprocess.DEVNULL)
    program = cuekit("listen", "gallop", "--start", "footfall", takes=tmp_path, env=own_card)
    time.sleep(7.0)
    os.kill(int((Path(own_card["PULSE_RUNTIME_PATH"]) / "pid").read_text()), signal.SIGKILL)
    out, err = program.communicate(timeout=15)
    player.wait()
    assert program.returncode == 0, err
    assert "disconnected after" in out
    assert re.search(r"\d+ beats heard", out)
    assert err == ""


def test_from_the_command_to_the_first_sound_at_most_one_and_a_half_seconds():
    """Cold is not to be had here: the best of three, warm, on whatever computer this is."""
    heard_s = []
    for _ in range(3):
        monitor = subprocess.Popen(
            [
                "parec",
                "--device=room.monitor",
                "--rate=48000",
                "--channels=1",
                "--format=s16le",
                "--latency-msec=10",
            ],
            stdout=subprocess.PIPE,
        )
        began_s = time.monotonic()
        program = subprocess.Popen(
            [sys.executable, "-m", "cuekit", "play", "gallop", "--beats", "4"], stdout=subprocess.DEVNULL
        )
        while (
            np.abs(np.frombuffer(monitor.stdout.read1(4096)[: 4096 // 2 * 2], np.int16)).max(initial=0) < 10
        ):
            assert time.monotonic() - began_s < 10
        heard_s.append(time.monotonic() - began_s)
        program.send_signal(signal.SIGINT)
        program.wait()
        monitor.terminate()
        monitor.stdout.close()
        monitor.wait()
    assert min(heard_s) < 1.5
