"""Ctrl-C at any moment: no trace, nothing spoilt, and the bout, or what was taken of it, is kept and told."""

import os
import re
import subprocess
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.learner import Learner
from cuekit.records.store import Store
from cuekit.simulation.simulate import Learner as Made
from cuekit.simulation.simulate import perform
from cuekit.simulation.simulate_rooms import Room, record

LISTEN = ("listen", "gallop")
PRACTICE = ("practice", "gallop", "--beats", "4", "--tempo", "100", "--from", "step")
MOMENTS = {LISTEN: 30, PRACTICE: 15}
STOPPED = 130


@dataclass(frozen=True)
class Lesson:
    """Folders of one run, with one learner in the records."""

    folder: Path

    @property
    def asked(self):
        return "--learner", "K-07", "--data", str(self.folder / "records"), "--takes", str(self.takes)

    @property
    def takes(self):
        return self.folder / "takes"

    def bouts(self):
        """What is stored, its check passed."""
        with Store(self.folder / "records") as store:
            return len(store.bouts("K-07"))

    def left(self):
        """Recordings still on the disk."""
        return sorted(self.takes.glob("*.wav")) if self.takes.exists() else []


@pytest.fixture
def lesson(tmp_path):
    with Store(tmp_path / "records") as store:
        store.add(Learner("K-07"))
    return Lesson(tmp_path)


@pytest.fixture(scope="module")
def made_child(tmp_path_factory):
    done = perform(load_pattern("gallop"), Made(scatter_s=0.015, short_db=-6.0), beats=6, seed=1)
    path = tmp_path_factory.mktemp("child") / "child.npy"
    np.save(path, record(done, Room(noise_below_feet_db=45.0), seed=1).samples)
    return str(path)


def interrupted(call, arguments, lesson, made_child):
    """A command interrupted at a call; how it ended, and how many calls there were."""
    script, count = Path(__file__).with_name("interrupted_at.py"), lesson.folder / "calls"
    ran = subprocess.run(
        [sys.executable, str(script), str(call), str(count), *arguments, *lesson.asked],
        env=os.environ | {"MADE_CHILD": made_child, "OPENBLAS_NUM_THREADS": "1"},
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
    )
    return ran, int(count.read_text())


@cache
def calls_of(arguments, made_child, folder):
    """How many calls a run takes that nobody interrupts."""
    lesson = Lesson(folder)
    with Store(folder / "records") as store:
        store.add(Learner("K-07"))
    ran, calls = interrupted(0, arguments, lesson, made_child)
    assert ran.returncode == 0, ran.stderr
    assert lesson.bouts() == len(re.findall("Stored as bout", ran.stdout)) > 0
    return calls


def holds(ran, lesson):
    """Nothing is lost, nothing is spoilt, and it is told."""
    assert ran.returncode in (0, STOPPED), ran.stderr
    assert "Traceback" not in ran.stderr
    assert "mistake in cuekit" not in ran.stderr
    assert lesson.bouts() == len(re.findall("Stored as bout", ran.stdout))
    if lesson.left():
        assert "The recording is kept" in ran.stderr
    if ran.returncode == STOPPED:
        assert ran.stderr.strip().endswith("cuekit: stopped")


@pytest.mark.parametrize(
    ("arguments", "moment"), [(words, n) for words, many in MOMENTS.items() for n in range(many)]
)
def test_wherever_ctrl_c_comes_nothing_is_lost_and_nothing_spoilt(
    arguments, moment, lesson, made_child, tmp_path_factory
):
    whole = calls_of(arguments, made_child, tmp_path_factory.getbasetemp() / f"whole-{arguments[0]}")
    # One moment in each equal part of the run, anywhere in it, always the same.
    part = whole / MOMENTS[arguments]
    call = 1 + int(part * (moment + np.random.default_rng(moment).uniform()))
    ran, _ = interrupted(call, arguments, lesson, made_child)
    holds(ran, lesson)


def test_stopped_in_the_middle_the_feet_so_far_are_told_and_stored(lesson, made_child, tmp_path_factory):
    whole = calls_of(LISTEN, made_child, tmp_path_factory.getbasetemp() / "whole-listen")
    ran, _ = interrupted(round(0.4 * whole), LISTEN, lesson, made_child)
    assert ran.returncode == STOPPED
    assert re.search(r"\d beats heard", ran.stdout)
    assert "Stopped early" in ran.stdout
    assert lesson.bouts() == 1
    assert lesson.left() == []
