"""Run a command in a process of its own and interrupt it at one call of a function out of many.

    python tests/interrupted_at.py CALL RECORD_FILE listen gallop ...

CALL is the number of the call, 0 for never; how many there were is written to RECORD_FILE. Which call it is depends
on nothing but the number: the sound card is a fake one, as fast as it can go, and a made child gallops in it.
"""

import os
import signal
import sys
from pathlib import Path

import numpy as np
import soundfile  # noqa: F401  what is foreign is loaded before: it is not ours how it takes Ctrl-C
import soxr  # noqa: F401
from fake_port import FakePort

import cuekit.bouts.sound_card as sound_card
from cuekit.cli import run


def main():
    at, told, *arguments = sys.argv[1:]
    calls = 0

    def counted(frame, event, argument):
        nonlocal calls
        if event != "call" or "cuekit" not in frame.f_code.co_filename:
            return
        calls += 1
        if calls == int(at):
            os.kill(os.getpid(), signal.SIGINT)

    child = np.load(os.environ["MADE_CHILD"])
    sound_card.SoundCard = lambda: FakePort(child, lag_s=0.1, cue_gain=0.2)
    sys.setprofile(counted)
    code = run(arguments)
    sys.setprofile(None)
    Path(told).write_text(str(calls), encoding="utf-8")
    sys.exit(code)


main()
