"""A recording survives a crash, a full disk and a pulled plug, and is gone when it should be."""

import datetime
import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
import soundfile

import cuekit.bouts.take_file as take_file
from cuekit.bouts.take_file import TakeFile, due, kept_takes, left_takes
from cuekit.errors import AudioError, RecordError
from cuekit.hearing.soundfiles import read_recording

TOMORROW = datetime.date.today() + datetime.timedelta(days=1)
LATER_S = time.time() + 3600

RECORDER = """
import sys, time, numpy as np
from pathlib import Path
from cuekit.bouts.take_file import TakeFile
take = TakeFile(Path(sys.argv[1]))
rng = np.random.default_rng(0)
while True:
    take.write((0.1 * rng.normal(size=1024)).astype(np.float32))
    print(take.duration_s, flush=True)
    time.sleep(0.002)
"""


def noise(seconds, seed=0):
    return (0.1 * np.random.default_rng(seed).normal(size=round(48_000 * seconds))).astype(np.float32)


def taken(folder, seconds=1.0):
    take = TakeFile(folder)
    for block in np.array_split(noise(seconds), 20):
        take.write(block)
    return take


def test_what_was_recorded_is_in_the_file_to_the_sample(tmp_path):
    take = taken(tmp_path)
    take.close()
    samples, rate_hz = soundfile.read(take.path, dtype="float32")
    assert rate_hz == 48_000
    np.testing.assert_allclose(samples, noise(1.0), atol=1.0 / 32_768)


def test_nobody_else_can_read_a_recording(tmp_path):
    if os.name == "nt":
        pytest.skip("on Windows the folder is the account's own")
    take = taken(tmp_path / "takes")
    assert take.path.stat().st_mode & 0o077 == 0
    assert take.path.parent.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("after_s", [0.05, 0.13, 0.31, 0.72])
def test_a_killed_program_loses_less_than_a_second(tmp_path, after_s):
    recorder = subprocess.Popen(
        [sys.executable, "-c", RECORDER, str(tmp_path)], stdout=subprocess.PIPE, text=True
    )
    recorder.stdout.readline()
    time.sleep(after_s)
    recorder.send_signal(signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
    acknowledged_s = float(recorder.communicate()[0].strip().split("\n")[-1])
    assert acknowledged_s > 0.1
    (left,) = left_takes(tmp_path, now_s=LATER_S)
    assert acknowledged_s - left.duration_s < 0.05
    assert read_recording(left.path).duration_s == pytest.approx(left.duration_s, abs=1e-4)


def test_a_take_in_the_making_is_not_taken_for_a_crashed_one(tmp_path):
    take = taken(tmp_path)
    assert left_takes(tmp_path) == ()
    assert [left.path for left in left_takes(tmp_path, now_s=LATER_S)] == [take.path]


def test_a_take_without_sound_is_swept_away(tmp_path):
    TakeFile(tmp_path)
    assert left_takes(tmp_path, now_s=LATER_S) == ()
    assert list(tmp_path.iterdir()) == []


def test_after_scoring_nothing_is_left(tmp_path):
    taken(tmp_path).discard()
    assert list(tmp_path.iterdir()) == []


def test_keeping_takes_a_reason_and_a_day_to_come(tmp_path):
    take = taken(tmp_path)
    with pytest.raises(RecordError, match="for a reason"):
        take.keep("  ", TOMORROW)
    with pytest.raises(RecordError, match="one to come"):
        take.keep("for the IEP meeting", datetime.date.today())
    take.keep("for the IEP\nmeeting", TOMORROW)
    (kept,) = kept_takes(tmp_path)
    assert (kept.reason, kept.delete_by) == ("for the IEP meeting", TOMORROW)
    assert kept.path.exists()
    assert left_takes(tmp_path, now_s=LATER_S) == ()


def test_past_its_day_a_kept_recording_is_due_and_can_be_deleted(tmp_path):
    kept = taken(tmp_path).keep("to show the parents", TOMORROW)
    assert due(kept_takes(tmp_path), datetime.date.today()) == ()
    assert due(kept_takes(tmp_path), TOMORROW) == (kept,)
    take_file.discard(kept.path)
    assert list(tmp_path.iterdir()) == []


def test_where_sound_was_lost_stays_with_a_kept_recording(tmp_path):
    kept = taken(tmp_path).keep("to show the parents", TOMORROW, (4.5, 9.25))
    assert kept_takes(tmp_path) == (kept,)
    assert take_file.noted_gaps_s(kept.path) == (4.5, 9.25)
    assert take_file.noted_gaps_s(tmp_path / "other.wav") == ()


@pytest.mark.parametrize("gaps", ["5", "null", '["x"]', "[NaN]", "[[1]]"])
def test_a_spoilt_note_of_lost_sound_is_no_accident(tmp_path, gaps):
    kept = taken(tmp_path).keep("to show the parents", TOMORROW)
    note = f'{{"reason": "r", "delete_by": "2999-01-01", "gaps_s": {gaps}}}'
    kept.path.with_suffix(".json").write_text(note, encoding="utf-8")
    assert take_file.noted_gaps_s(kept.path) == ()


def test_a_kept_recording_whose_note_is_gone_is_due(tmp_path):
    kept = taken(tmp_path).keep("to show the parents", TOMORROW)
    kept.path.with_suffix(".json").write_text("{", encoding="utf-8")
    assert len(due(kept_takes(tmp_path), datetime.date.today())) == 1


def test_a_full_disk_keeps_what_was_recorded_and_says_so(tmp_path, monkeypatch):
    take = taken(tmp_path)

    def full(block):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(take, "_file", take._file)
    monkeypatch.setattr(take._file, "write", full)
    take.write(noise(0.1))
    take.write(noise(0.1))
    assert "after 1.0 s" in take.trouble
    assert "make room" in take.trouble
    monkeypatch.undo()
    take.close()
    assert soundfile.info(take.path).duration == pytest.approx(1.0)


def test_a_folder_that_cannot_be_written_to_is_refused_with_the_mend(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    with pytest.raises(AudioError, match=r"cannot record .* set another folder"):
        TakeFile(blocked / "takes")


def test_a_nearly_full_disk_is_refused_before_the_child_moves(tmp_path, monkeypatch):
    monkeypatch.setattr(take_file, "LEAST_FREE_BYTES", 10**18)
    with pytest.raises(AudioError, match="make room first"):
        TakeFile(tmp_path)
