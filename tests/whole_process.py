"""Running cuekit as a teacher does, in a process of its own, and how long that takes."""

import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import cuekit


@dataclass(frozen=True)
class Ran:
    """A run that ended well.

    Attributes:
        printed: bytes on stdout.
        took_s: processor time of the whole process with its start, of all its threads, s. What other
            programs do at the same time does not stretch it; on an idle computer a process without
            waits takes as long or, with several threads, less.
    """

    printed: bytes
    took_s: float


def run_cuekit(*arguments, tries=1, **environment):
    """The quickest of several runs, so that the first one's cold files do not count."""
    runs = [_run([str(argument) for argument in arguments], environment) for _ in range(tries)]
    return min(runs, key=lambda ran: ran.took_s)


def _run(arguments, environment):
    found = {"PYTHONPATH": str(Path(cuekit.__file__).parents[1])}
    before, start = os.times(), time.perf_counter()
    ran = subprocess.run(
        [sys.executable, "-m", "cuekit", *arguments],
        env=os.environ | found | environment,
        capture_output=True,
        check=True,
    )
    wall_s, after = time.perf_counter() - start, os.times()
    processor_s = after.children_user + after.children_system - before.children_user - before.children_system
    return Ran(ran.stdout, processor_s or wall_s)  # Windows tells nothing of children
