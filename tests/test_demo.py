"""`cuekit demo`: the whole job on made recordings, told beside the truth, and nothing left behind."""

import json
import re
import xml.etree.ElementTree as ElementTree
from contextlib import redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import mir_eval
import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from cuekit.bouts.audio_port import Ended, Passage
from cuekit.cli import demo as demo_command
from cuekit.cli import run
from cuekit.cues.render import render
from cuekit.demo import FOUND_WITHIN_S, Agreement, compare, judge, read_truths, skip_track
from cuekit.errors import AudioError, DeviceError
from cuekit.telling.phrases import load_phrases
from tests.whole_process import run_cuekit

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


NO_LOUDSPEAKER = DeviceError("no loudspeaker can be opened (none): cues can still be written to a file")


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
    port = FakePort(NO_LOUDSPEAKER)
    monkeypatch.setattr(demo_command, "SoundCard", lambda: port)
    monkeypatch.chdir(tmp_path)
    return port


@dataclass(frozen=True)
class Demo:
    """What `cuekit demo` printed, and the folder it was run in."""

    printed: str
    folder: Path

    @property
    def flowing(self):
        """What it printed, as one line."""
        return " ".join(self.printed.split())


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """`cuekit demo` without a loudspeaker."""
    folder, printed = tmp_path_factory.mktemp("demo"), StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(printed):
        patch.setattr(demo_command, "SoundCard", lambda: FakePort(NO_LOUDSPEAKER))
        patch.chdir(folder)
        assert run(["demo"]) == 0
    return Demo(printed.getvalue(), folder)


@pytest.fixture(scope="module")
def judged():
    """All demo recordings, scored apart from the command."""
    return {truth.path.stem: judge(truth) for truth in read_truths()}


def test_every_recording_is_told_beside_the_truth(demo, judged):
    """What it is, what was said and how many landings were heard, for each one, as scored apart."""
    for name, one in judged.items():
        about, agreement = one.truth.about, one.agreement
        assert f"{name} Made: {about} Says: {one.score.advice.summary}" in demo.flowing
        told = demo.flowing.partition(about)[2].partition("Made:")[0]
        if agreement.landings:
            assert agreement.full == (f"all {agreement.landings} landings heard, nothing else" in told)
            assert agreement.full != (f"{agreement.found} of {agreement.landings} landings heard;" in told)
        else:
            assert (agreement.false > 0) == ("WRONG: nobody moved" in told)
            assert (agreement.false > 0) != ("no footfalls were heard" in told)


def test_the_total_adds_up_all_recordings(demo, judged):
    landings = sum(one.agreement.landings for one in judged.values())
    found = sum(one.agreement.found for one in judged.values())
    assert f"In all: {found} of {landings} landings heard" in demo.flowing


def test_the_demo_recordings_are_heard_well_enough_to_show(judged):
    """These are easy rooms: nine in ten landings found, and as few sounds taken for feet."""
    moving = [one.agreement for one in judged.values() if one.agreement.landings]
    assert sum(one.found for one in moving) >= 0.9 * sum(one.landings for one in moving)
    assert sum(one.false for one in moving) <= 0.1 * sum(one.landings for one in moving)


def test_landings_in_two_sounds_are_told_as_made_and_as_heard(demo, judged):
    """The jumps were made with the feet 60 ms apart, all ten of them."""
    jump = judged["jump-flam"]
    assert jump.truth.split == len(jump.truth.landings_s) == 10
    assert f"Two sounds a landing: made in 10, heard in {jump.split}." in demo.flowing
    assert demo.flowing.count("Two sounds a landing") == 1


def test_it_is_told_in_spanish_too(muted, capsys):
    assert run(["demo", "--quiet", "--language", "es"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert judge(read_truths()[0], load_phrases("es")).score.advice.summary in told
    assert "En total" in told


def test_two_bouts_are_drawn_and_the_rest_told_in_a_few_lines(demo):
    shown = re.findall(r"^  beats 1-|^[a-z-]+$", demo.printed, flags=re.MULTILINE)
    assert shown[:4] == ["skip-clear", "  beats 1-", "skip-one-side", "  beats 1-"]
    assert shown.count("  beats 1-") == 2


def test_it_fits_a_terminal_of_80_columns(demo):
    assert max(map(len, demo.printed.splitlines())) <= 79


def test_it_ends_with_the_next_step_and_the_cautions(demo):
    end = demo.flowing.split("NEXT")[1]
    for wanted in ("cuekit play skip --tempo 100", "cuekit score FILE --pattern skip", "WAV", "medical clearance", "Stop at pain", "Start quiet", "Local rules", "keeps no sound", "codes, never names"):
        assert wanted in end


def test_without_a_loudspeaker_the_skip_is_written_to_the_folder_one_is_in(demo):
    written = "Not played: no loudspeaker can be opened (none). The sound is in cuekit-demo-skip.wav instead."
    assert written in demo.flowing
    with soundfile.SoundFile(demo.folder / "cuekit-demo-skip.wav") as sound:
        assert sound.frames / sound.samplerate == pytest.approx(skip_track().duration_s, abs=0.01)
    assert [path.name for path in demo.folder.iterdir()] == ["cuekit-demo-skip.wav"]


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


def test_the_whole_job_takes_a_few_seconds():
    """Playing lasts as long as the skip does; all the rest must fit in beside it."""
    assert run_cuekit("demo", "--quiet").took_s + skip_track().duration_s < WHOLE_JOB_LIMIT_S


def test_a_terminal_of_plain_letters_gets_plain_letters():
    printed = run_cuekit("demo", "--quiet", PYTHONIOENCODING="ascii").printed
    assert b"O" in printed
    assert printed.isascii()


def test_the_recordings_are_the_ones_beside_their_truth():
    for truth in read_truths():
        assert truth.path.is_file()
        told = json.loads(truth.path.with_suffix(".json").read_text(encoding="utf-8"))
        assert "invented" in told["made"]
