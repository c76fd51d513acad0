"""`cuekit demo`: the whole job on made recordings, told beside the truth, and nothing left behind."""

import json
import os
import subprocess
import sys
import time
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import mir_eval
import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

import cuekit
from cuekit.audio_port import Ended, Passage
from cuekit.cli import demo as demo_command
from cuekit.cli import run
from cuekit.demo import FOUND_WITHIN_S, Agreement, compare, judge, read_truths, skip_track
from cuekit.errors import AudioError, DeviceError
from cuekit.phrases import load_phrases
from cuekit.render import render

WHOLE_JOB_LIMIT_S = 15.0
"""The budget of `cuekit demo` on two cores (issue "The main job from a fresh clone")."""

times = st.lists(st.floats(0, 20, allow_nan=False, width=32), max_size=40).map(sorted)


@given(heard_s=times, landings_s=times)
def test_pairs_are_as_many_as_a_matching_library_makes(heard_s, landings_s):
    """mir_eval pairs events by maximum bipartite matching; on a line one walk must find as many.

    Times at the very edge of the window are left out: the two round differently there.
    """
    gaps_s = np.abs(np.subtract.outer(heard_s, landings_s))
    if np.any(np.abs(gaps_s - FOUND_WITHIN_S) < 1e-9):
        return
    pairs = mir_eval.util.match_events(np.array(landings_s), np.array(heard_s), FOUND_WITHIN_S)
    assert compare(heard_s, landings_s) == Agreement(len(landings_s), len(pairs), len(heard_s) - len(pairs))


@given(times)
def test_what_is_heard_as_it_was_made_agrees_in_full(landings_s):
    assert compare(landings_s, landings_s).full


def test_one_sound_is_not_counted_for_two_landings():
    assert compare([1.0], [0.99, 1.01]) == Agreement(landings=2, found=1, false=0)
    assert compare([0.99, 1.01], [1.0]) == Agreement(landings=1, found=1, false=1)
    assert compare([1.03], [1.0]) == Agreement(landings=1, found=0, false=1)


def test_the_truth_is_not_made_from_what_was_heard():
    """Where the recording is silent every landing is told as not heard."""
    truth = read_truths()[0]
    assert compare([], truth.landings_s) == Agreement(len(truth.landings_s), 0, 0)


def test_a_truth_that_was_tampered_with_is_refused(tmp_path):
    (tmp_path / "mine.json").write_text('{"recording": "mine.flac"}')
    with pytest.raises(AudioError, match=r"mine\.json is not the file shipped with cuekit"):
        read_truths(tmp_path)


def test_a_folder_without_recordings_is_refused(tmp_path):
    with pytest.raises(AudioError, match="no demo recordings"):
        read_truths(tmp_path)


class FakePort:
    """A loudspeaker that takes the sound, then answers as told; what it was given is kept."""

    def __init__(self, answer):
        self.answer = answer
        self.given = None

    def play(self, cue, stop):
        self.given = np.concatenate(list(cue))
        if isinstance(self.answer, DeviceError):
            raise self.answer
        return Passage(self.answer, 0, len(self.given), lost="the loudspeaker was lost after 2 s")


@pytest.fixture
def muted(monkeypatch, tmp_path):
    """A computer without a loudspeaker, in an empty folder."""
    port = FakePort(DeviceError("no loudspeaker can be opened (none): cues can still be written to a file"))
    monkeypatch.setattr(demo_command, "SoundCard", lambda: port)
    monkeypatch.chdir(tmp_path)
    return port


@pytest.fixture
def output(muted, capsys):
    """What `cuekit demo` prints without a loudspeaker."""
    code = run(["demo"])
    captured = capsys.readouterr()
    assert (code, captured.err) == (0, "")
    return captured.out


def test_every_recording_is_told_beside_the_truth(output):
    """What it is, what was said and how many landings were heard, for each one, as scored apart."""
    told = " ".join(output.split())
    for truth in read_truths():
        judged = judge(truth)
        assert f"{truth.path.stem} Made: {truth.about} Says: {judged.score.advice.summary}" in told
        agreement = judged.agreement
        if agreement.landings:
            assert agreement.full == (f"all {agreement.landings} landings heard, nothing else" in told.split(truth.about)[1].split("Made:")[0])
        else:
            assert ("WRONG: nobody moved" in told) == (agreement.false > 0)


def test_landings_in_two_sounds_are_told_as_made_and_as_heard(output):
    """The jumps were made with the feet 60 ms apart, all ten of them."""
    (jump,) = [truth for truth in read_truths() if truth.path.stem == "jump-flam"]
    assert jump.split == len(jump.landings_s) == 10
    told = " ".join(output.split())
    assert f"Two sounds a landing: made in 10, heard in {judge(jump).split}." in told
    assert told.count("Two sounds a landing") == 1


def test_it_is_told_in_spanish_too(muted, capsys):
    assert run(["demo", "--quiet", "--language", "es"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    for truth in read_truths():
        assert judge(truth, load_phrases("es")).score.advice.summary in told


def test_two_bouts_are_drawn_and_the_rest_told_in_a_few_lines(output):
    assert output.count("long part") >= 2
    assert output.count("beats 1–8") == 2


def test_it_fits_a_terminal_of_80_columns(output):
    assert max(map(len, output.splitlines())) <= 79


def test_it_ends_with_the_next_step_and_the_cautions(output):
    end = output.split("NEXT")[1]
    for wanted in ("cuekit play skip --tempo 100", "cuekit score FILE --pattern skip", "WAV", "medical clearance", "Stop at pain", "Start quiet", "Local rules", "keeps no sound", "codes, never names"):
        assert wanted in " ".join(end.split())


def test_without_a_loudspeaker_the_skip_is_written_to_the_folder_one_is_in(output, tmp_path):
    assert "Not played: no loudspeaker can be opened (none). The sound is in cuekit-demo-skip.wav" in " ".join(output.split())
    with soundfile.SoundFile(tmp_path / "cuekit-demo-skip.wav") as sound:
        assert sound.frames / sound.samplerate == pytest.approx(skip_track().duration_s, abs=0.01)
    assert [path.name for path in tmp_path.iterdir()] == ["cuekit-demo-skip.wav"]


def test_with_a_loudspeaker_the_skip_is_played_and_nothing_written(monkeypatch, tmp_path, capsys):
    port = FakePort(Ended.PLAYED)
    monkeypatch.setattr(demo_command, "SoundCard", lambda: port)
    monkeypatch.chdir(tmp_path)
    assert run(["demo"]) == 0
    assert "Not played" not in capsys.readouterr().out
    np.testing.assert_array_equal(port.given, render(skip_track()))
    assert list(tmp_path.iterdir()) == []


def test_a_loudspeaker_lost_on_the_way_does_not_end_the_demo(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr(demo_command, "SoundCard", lambda: FakePort(Ended.LOST))
    monkeypatch.chdir(tmp_path)
    assert run(["demo"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Not played: the loudspeaker was lost after 2 s. The sound is in cuekit-demo-skip.wav" in told
    assert "NEXT" in told


def test_where_the_folder_cannot_be_written_it_goes_to_a_temporary_one(muted, capsys, tmp_path):
    (tmp_path / "cuekit-demo-skip.wav").mkdir()
    assert run(["demo"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    path = Path(told.partition("The sound is in ")[2].partition(" instead")[0])
    assert path.is_file()
    assert tmp_path not in path.parents
    path.unlink()
    path.parent.rmdir()


def test_quiet_opens_no_loudspeaker_and_leaves_nothing(muted, capsys, tmp_path):
    assert run(["demo", "--quiet"]) == 0
    assert "Not played" not in capsys.readouterr().out
    assert muted.given is None
    assert list(tmp_path.iterdir()) == []


def test_the_page_is_written_where_it_was_asked_for(muted, capsys, tmp_path):
    assert run(["demo", "--quiet", "--plots", "new/pages"]) == 0
    (page,) = (tmp_path / "new" / "pages").iterdir()
    assert str(page.relative_to(tmp_path)) in " ".join(capsys.readouterr().out.split())
    title = ElementTree.parse(page).getroot().find("{http://www.w3.org/2000/svg}title").text
    (truth,) = [truth for truth in read_truths() if truth.path.stem == demo_command.PAGE_OF]
    assert judge(truth).score.advice.summary in title


def test_a_page_that_cannot_be_written_is_a_refusal(muted, capsys, tmp_path):
    (tmp_path / "taken").write_text("")
    assert run(["demo", "--quiet", "--plots", "taken/pages"]) == AudioError.exit_code
    assert "cannot make the folder taken/pages" in capsys.readouterr().err


def test_the_skip_is_counted_in_and_over_in_a_few_seconds():
    """Four counts and eight beats at 100 beats a minute are 7.2 s."""
    track = skip_track()
    assert track.duration_s - track.lead_in_s == pytest.approx(7.2, abs=0.6)


def test_its_sentences_are_all_used():
    """A sentence nobody says any more would be translated for nothing."""
    source = Path(demo_command.__file__).read_text(encoding="utf-8")
    keys = [key for key in load_phrases().sentences if key.startswith("demo.")]
    assert [key for key in keys if f'"{key}"' not in source.replace("'", '"')] == []


def whole_process(*arguments, **environment):
    """Run the command as a teacher does; seconds it took, and what it printed."""
    start = time.perf_counter()
    ran = subprocess.run(
        [sys.executable, "-m", "cuekit", "demo", *arguments],
        env=os.environ | {"PYTHONPATH": str(Path(cuekit.__file__).parents[1])} | environment,
        capture_output=True,
        check=True,
    )
    return time.perf_counter() - start, ran


def test_the_whole_job_takes_a_few_seconds(tmp_path):
    """Playing lasts as long as the skip does; all the rest must fit in beside it."""
    took_s, _ = whole_process("--quiet")
    assert took_s + skip_track().duration_s < WHOLE_JOB_LIMIT_S


def test_a_terminal_of_plain_letters_gets_plain_letters():
    _, ran = whole_process("--quiet", PYTHONIOENCODING="ascii")
    assert b"O" in ran.stdout
    assert ran.stdout.isascii()


def test_the_recordings_are_the_ones_beside_their_truth():
    for truth in read_truths():
        assert truth.path.is_file()
        told = json.loads(truth.path.with_suffix(".json").read_text(encoding="utf-8"))
        assert "invented" in told["made"]
