"""A teacher's desk for whole stories: files of made bouts, and commands in, their text out."""

import soundfile

from cuekit.patterns.pattern_files import load_pattern
from cuekit.shipped import shipped_folder
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record

ALONE = ("--cue", "C4", "--help-level", "I", "--skill", "yes")
"""A bout with the sound, without help, that was the skill."""

NEAR = Room(rt60_s=0.4, path=((0.0, 1.5),), noise_below_feet_db=45.0)
RATE_HZ = 44_100


def bout_maker(folder, beats):
    """Makes a file of a made bout: pattern, beats, what makes the sound, how the learner moves."""

    def make(pattern, beats=beats, seed=3, feet=None, **how):
        how = {"tempo_bpm": load_pattern(pattern).tempo.default, "scatter_s": 0.01} | how
        bout = perform(load_pattern(pattern), Learner(**how), beats=beats, seed=seed)
        path = folder / f"{pattern}-{seed}.wav"
        take = record(bout, NEAR, seed=seed, feet=feet, sample_rate_hz=RATE_HZ)
        soundfile.write(path, take.samples, RATE_HZ, subtype="PCM_16")
        return path

    return make


def desk_with(code, folder, monkeypatch, cuekit_says):
    """A desk with one learner: a command in, its text out."""
    monkeypatch.setenv("CUEKIT_DATA", str(folder))

    def say(*arguments):
        outcome = cuekit_says(*arguments)
        assert outcome.code == 0, outcome.err
        return outcome.out

    say("learner", "add", code)
    return say


def demo(name):
    return shipped_folder("demo_audio") / f"{name}.flac"


def counted(desk, code, run_, *, day, extra=ALONE, pattern="gallop"):
    """A bout counted by hand; its number."""
    lines = desk("count", "--learner", code, "--pattern", pattern, "--run", run_, "--at", day, *extra)
    return lines[-1].split()[3]
