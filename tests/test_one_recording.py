"""Two recordings at a time are refused; one whose program was killed stands in nobody's way."""

import subprocess
import sys

import numpy as np
import pytest

from cuekit.bouts.take_file import TakeFile, left_takes
from cuekit.errors import AudioError

RECORDS = """
import sys
from pathlib import Path
import numpy as np
from cuekit.bouts.take_file import TakeFile
take = TakeFile(Path(sys.argv[1]))
take.write(np.full(48_000, 0.1, np.float32))
print("recording", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def other(tmp_path):
    """Another program that records into the folder."""
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with subprocess.Popen([sys.executable, "-c", RECORDS, str(tmp_path)], **pipes) as child:
        assert child.stdout.readline() == "recording\n"
        yield child
        child.kill()


def test_a_second_recording_is_refused_and_leaves_nothing(tmp_path, other):
    before = sorted(tmp_path.iterdir())
    with pytest.raises(AudioError, match="another recording is running on this computer: end it first"):
        TakeFile(tmp_path)
    assert sorted(tmp_path.iterdir()) == before


def test_after_the_first_has_ended_or_was_killed_recording_goes_on(tmp_path, other):
    other.kill()
    other.wait()
    take = TakeFile(tmp_path)
    take.write(np.full(480, 0.1, np.float32))
    take.close()
    TakeFile(tmp_path).discard()
    assert len(left_takes(tmp_path, now_s=4e9)) == 2
