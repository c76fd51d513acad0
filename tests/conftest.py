"""What several test files need: the command line as a teacher meets it."""

import os
from dataclasses import dataclass

import pytest

from cuekit.cli import run

# Before any test loads numpy, as `cuekit.cli.main` does.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


@dataclass(frozen=True)
class Outcome:
    """How a command ended: its exit code, stdout, and the lines of stderr."""

    code: int
    out: str
    err: list[str]


@pytest.fixture
def cuekit_says(capsys):
    """Run a command as typed; every argument becomes text."""

    def call(*arguments):
        code = run([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Outcome(code, captured.out, captured.err.splitlines())

    return call


@pytest.fixture
def desk(tmp_path, monkeypatch, capsys):
    """A teacher's desk: a command in, its lines out; a refusal fails the test unless it is expected."""
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path / "data"))

    def say(*arguments, code=0):
        found = run([str(one) for one in arguments])
        captured = capsys.readouterr()
        assert found in (code if isinstance(code, tuple) else (code,)), captured.err
        lines = (captured.out if code == 0 else captured.err).splitlines()
        assert code == 0 or 1 <= len(lines) <= 3
        return lines

    say.folder = tmp_path / "data"
    return say
