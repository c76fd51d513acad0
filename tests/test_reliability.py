"""Reliability goals in small, those that no other test file looks at; `python -m tests.reliability` measures all."""

import subprocess
import sys

import pytest

from tests.reliability import guided
from tests.reliability.goals import GOALS

BY_NAME = {goal.name: goal for goal in GOALS}
ELSEWHERE = {
    "R1": "test_torture", "R2": "test_fuzz", "R5": "test_store", "R6": "test_store", "R7": "test_store", "R9": "test_soak", "R13": "test_store",
    "R15": "test_store", "R16": "screen/test_probes", "R17": "test_torture", "R19": "test_store", "R20": "test_imports",
}  # fmt: skip


def test_every_goal_has_its_test_and_its_line():
    assert sorted(BY_NAME, key=lambda name: int(name[1:])) == [f"R{n}" for n in range(1, 21)]
    assert ELSEWHERE.keys() < BY_NAME.keys()


@pytest.mark.skipif(not guided.can_guide(), reason='needs the extra "fuzz"')
def test_what_escapes_a_parser_is_told(tmp_path):
    """A parser that breaks on one byte: the fuzzer finds it, and what it says is read."""
    broken = (
        "import sys, atheris\n"
        "def read(data):\n    if data[:1] == b'c':\n        raise ValueError('planted')\n"
        f"atheris.Setup([sys.argv[0], '-max_total_time=60', '-artifact_prefix={tmp_path}/'], read)\natheris.Fuzz()"
    )
    child = subprocess.Popen([sys.executable, "-c", broken], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace")
    assert guided.told("a broken parser", child).escaped == "ValueError: planted"


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="memory, traces and limits as Linux tells them")
@pytest.mark.parametrize("name", sorted(BY_NAME.keys() - ELSEWHERE.keys()))
def test_a_goal_is_met_in_small(name):
    seen = BY_NAME[name].measure(True)
    if seen.met is None:
        pytest.skip(seen.told)
    assert seen.met, seen.told
