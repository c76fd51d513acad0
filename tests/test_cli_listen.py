"""cuekit listen and cuekit takes as typed, on a device that never was."""

import json
import os
import re
import time

import numpy as np
import pytest
from fake_port import FakePort, Faults, NoDevice

import cuekit.cli.listen as listen
from cuekit.bouts.take_file import TakeFile
from cuekit.cues.tones import tone_set_names
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.store import Store
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record

STEADY = Learner(scatter_s=0.015, short_db=-6.0)


@pytest.fixture
def child():
    moved = perform(load_pattern("gallop"), STEADY, beats=10, seed=1)
    return record(moved, Room(noise_below_feet_db=45.0), seed=1).samples


@pytest.fixture
def plug_in(monkeypatch, tmp_path):
    """Put a port in the place of the sound card; takes go to a folder of the test."""

    def into(port):
        monkeypatch.setattr(listen, "SoundCard", lambda: port)
        monkeypatch.setenv("CUEKIT_TAKES", str(tmp_path / "takes"))
        return tmp_path / "takes"

    return into


def test_a_bout_is_one_sentence_and_no_sound_is_left(plug_in, child, cuekit_says):
    takes = plug_in(FakePort(child))
    said = cuekit_says("listen", "gallop")
    assert said.code == 0
    assert "10 beats heard: clear long-short" in said.out
    assert list(takes.iterdir()) == []


def test_json_is_one_object_and_nothing_else(plug_in, child, cuekit_says):
    plug_in(FakePort(child))
    said = cuekit_says("listen", "gallop", "--json")
    score = json.loads(said.out)
    assert score["pattern"] == "gallop"
    assert len(score["footfalls"]) == 20


def test_a_recording_is_kept_only_with_a_reason_and_a_day(plug_in, child, cuekit_says):
    takes = plug_in(FakePort(child))
    refused = cuekit_says("listen", "gallop", "--keep", "for the IEP meeting")
    assert refused.code == 6
    assert "give --keep and --delete-by together" in refused.err[0]
    said = cuekit_says("listen", "gallop", "--keep", "for the IEP meeting", "--delete-by", "2999-01-31")
    assert said.code == 0
    assert len(list(takes.glob("kept-*.wav"))) == 1
    listed = cuekit_says("takes")
    assert "kept until 2999-01-31: for the IEP meeting" in listed.out
    assert cuekit_says("takes", "--delete", 1).code == 0
    assert list(takes.iterdir()) == []
    assert cuekit_says("takes", "--delete", 1).code == 6


def test_no_microphone_is_one_line_with_the_mend(plug_in, cuekit_says):
    takes = plug_in(NoDevice())
    said = cuekit_says("listen", "gallop")
    assert said.code == 5
    assert said.err[-1].startswith("cuekit: the microphone cannot be opened")
    assert list(takes.iterdir()) == []


def test_a_microphone_pulled_out_is_told_beside_the_verdict(plug_in, child, cuekit_says):
    plug_in(FakePort(child, faults=Faults(lost_s=5.0)))
    said = cuekit_says("listen", "gallop")
    assert said.code == 0
    assert "disconnected after 5.0 s" in said.out
    assert "beats heard" in said.out


def test_what_a_crash_left_is_told_at_the_next_start(plug_in, child, cuekit_says):
    takes = plug_in(FakePort(child))
    crashed = TakeFile(takes)
    crashed.write(child[: 48_000 * 5])
    crashed.close()
    an_hour_ago = time.time() - 3600
    os.utime(crashed.path, (an_hour_ago, an_hour_ago))
    said = cuekit_says("listen", "gallop")
    assert said.err[0] == "An unfinished recording of 5.0 s was found."
    assert crashed.path.exists(), "only the teacher deletes it"
    assert "unfinished, 5.0 s" in cuekit_says("takes").out
    assert cuekit_says("score", crashed.path, "--pattern", "gallop").code == 0


def test_with_a_cue_the_kept_beats_are_told(plug_in, cuekit_says):
    plug_in(FakePort(lag_s=0.1, cue_gain=0.3))
    said = cuekit_says("listen", "gallop", "--cue", "C4", "--beats", 8)
    assert "No footfalls heard" in said.out
    assert "Kept" not in said.out, "nobody moved, so nothing is said of keeping"


def test_a_fade_nobody_can_follow_is_refused_before_the_microphone_opens(plug_in, cuekit_says):
    port = FakePort()
    plug_in(port)
    assert cuekit_says("listen", "gallop", "--cue", "C4", "--tempo", 290).code == 3
    assert port.opened == 0


def test_a_learner_who_is_not_to_be_recorded_keeps_the_microphone_shut(plug_in, cuekit_says, tmp_path):
    port = FakePort()
    takes = plug_in(port)
    records = tmp_path / "records"
    assert cuekit_says("learner", "add", "K07", "--recording", "no", "--data", records).code == 0
    said = cuekit_says("listen", "gallop", "--learner", "K07", "--data", records)
    assert said.code == 6
    assert "not to be recorded" in said.err[0]
    assert port.opened == 0
    assert not takes.exists()


def test_a_bout_is_stored_as_numbers_for_its_learner(plug_in, child, cuekit_says, tmp_path):
    plug_in(FakePort(child))
    records = tmp_path / "records"
    assert cuekit_says("learner", "add", "K07", "--data", records).code == 0
    said = cuekit_says("listen", "gallop", "--learner", "K07", "--data", records)
    assert said.code == 0
    assert re.search(r"Stored as bout \d+ of K07\.", said.out)
    assert "10" in cuekit_says("bouts", "K07", "--data", records).out
    kinds = {path.suffix for path in tmp_path.rglob("*") if path.is_file()}
    assert ".wav" not in kinds


def test_the_cue_is_at_the_learners_own_tempo_and_never_above_their_ceiling(plug_in, cuekit_says, tmp_path):
    records = tmp_path / "records"
    added = cuekit_says(
        "learner",
        "add",
        "K07",
        "--own-tempo",
        90,
        "--ceiling",
        -12,
        "--restrictions",
        "no jumping",
        "--data",
        records,
    )
    assert added.code == 0
    loud, capped = FakePort(), FakePort()
    plug_in(loud)
    ask = ("listen", "gallop", "--cue", "C4", "--beats", 4, "--loudness", -26)
    cuekit_says(*ask, "--tempo", 90)
    plug_in(capped)
    said = cuekit_says(*ask, "--learner", "K07", "--data", records)
    assert any("no jumping" in line for line in said.err)
    loud_cue, capped_cue = np.concatenate(loud.sounded), np.concatenate(capped.sounded)
    assert np.flatnonzero(capped_cue)[-1] == pytest.approx(np.flatnonzero(loud_cue)[-1], abs=2)
    assert np.abs(capped_cue).max() < np.abs(loud_cue).max() * 10 ** (-5 / 20)


def test_claps_are_judged_like_feet_and_named_and_stored_as_claps(plug_in, child, cuekit_says, tmp_path):
    records = tmp_path / "records"
    assert cuekit_says("learner", "add", "K07", "--data", records).code == 0
    plug_in(FakePort(child))
    feet = cuekit_says("listen", "gallop", "--learner", "K07", "--data", records)
    plug_in(FakePort(child))
    clapped = cuekit_says("listen", "gallop", "--mode", "clap", "--learner", "K07", "--data", records)
    assert "Done by clapping." in clapped.out
    assert "Done by" not in feet.out
    with Store(records) as store:
        first, second = (kept.stored for kept in store.bouts("K07"))
    assert (first.conditions.mode, second.conditions.mode) == ("feet", "clap")
    assert first.numbers == second.numbers


def test_the_cautions_come_before_the_first_bout_of_a_lesson_only(plug_in, child, cuekit_says, tmp_path):
    records = tmp_path / "records"
    assert cuekit_says("learner", "add", "K07", "--data", records).code == 0
    ask = ("listen", "gallop", "--learner", "K07", "--data", records)
    plug_in(FakePort(child))
    assert any("Piso seco" in line for line in cuekit_says(*ask, "--language", "es").err)
    plug_in(FakePort(child))
    assert cuekit_says(*ask).err == []
    assert cuekit_says("lesson", "start", "K07", "--data", records).code == 0
    plug_in(FakePort(child))
    assert any("Use a rail" in line for line in cuekit_says(*ask).err), "another lesson, another first bout"


def test_the_learners_own_tones_are_played(plug_in, cuekit_says, tmp_path):
    records = tmp_path / "records"
    other = tone_set_names()[1]
    assert cuekit_says("learner", "add", "K07", "--sound", other, "--data", records).code == 0
    ask, heard = ("listen", "gallop", "--cue", "C4", "--beats", 4), []
    for more in (("--learner", "K07", "--data", records), ("--sound", other), ()):
        port = FakePort()
        plug_in(port)
        assert cuekit_says(*ask, *more).code == 0
        heard.append(np.concatenate(port.sounded))
    own, asked, usual = heard
    assert np.array_equal(own, asked)
    assert not np.array_equal(own, usual)
