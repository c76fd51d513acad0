"""`cuekit score` as a teacher meets it: a result for every recording, a clear line for everything else."""

import json
import os
import wave
from xml.etree import ElementTree

import numpy as np
import pytest
import soundfile

from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, nobody, perform
from cuekit.simulation.simulate_rooms import Room, record

NEAR = Room(rt60_s=0.4, path=((0.0, 1.5),), noise_below_feet_db=45.0)
RATE_HZ = 44_100


def saved(path, take, subtype="PCM_16"):
    soundfile.write(path, take.samples, take.sample_rate_hz, subtype=subtype)
    return path


@pytest.fixture(scope="module")
def feet(tmp_path_factory):
    """Twelve beats of a clear gallop as a file."""
    performance = perform(load_pattern("gallop"), Learner(tempo_bpm=100, scatter_s=0.01), beats=12, seed=4)
    return saved(
        tmp_path_factory.mktemp("feet") / "feet.wav",
        record(performance, NEAR, seed=4, sample_rate_hz=RATE_HZ),
    )


@pytest.fixture(scope="module")
def stillness(tmp_path_factory):
    """A quiet room in which nobody moves."""
    take = record(nobody(8.0), Room(noise_below_feet_db=45.0), seed=2, sample_rate_hz=RATE_HZ)
    return saved(tmp_path_factory.mktemp("still") / "still.wav", take)


def refused(outcome, code, *parts):
    """A refusal: its own exit code, one to three lines that say these things, nothing on stdout."""
    assert outcome.code == code
    assert outcome.out == ""
    assert 1 <= len(outcome.err) <= 3
    said = "\n".join(outcome.err)
    assert "Traceback" not in said
    assert all(part in said for part in parts), said
    return True


# A result


def test_the_sentence_comes_first_and_the_numbers_it_rests_on_after(cuekit_says, feet):
    outcome = cuekit_says("score", feet, "--pattern", "gallop")
    assert (outcome.code, outcome.err) == (0, [])
    lines = outcome.out.splitlines()
    assert lines[0] == "12 beats heard: clear long-short, steady. Same again, sound softer."
    assert "  On the pattern: 12 of 12 beats, longest run 12." in lines
    assert any(line.startswith("  A microphone cannot tell: which foot landed;") for line in lines)


def test_json_is_one_object_and_nothing_else(cuekit_says, feet):
    outcome = cuekit_says("score", feet, "--pattern", "gallop", "--json")
    assert (outcome.code, outcome.err) == (0, [])
    told = json.loads(outcome.out)
    assert outcome.out.count("\n") == 1
    assert (told["rhythm"], told["beats"]) == ("uneven", 12)
    assert told["recording"]["file"] == "feet.wav"
    assert told["recording"]["sample_rate_hz"] == RATE_HZ


def test_nobody_moving_is_a_result_not_a_failure(cuekit_says, stillness):
    outcome = cuekit_says("score", stillness, "--pattern", "gallop", "--json")
    assert outcome.code == 0
    told = json.loads(outcome.out)
    assert told["heard"] == "not enough"
    assert (told["beats"], told["fault"], told["rhythm"]) == (0, None, "unclear")


def test_an_unclear_rhythm_is_a_result_too(cuekit_says, tmp_path):
    performance = perform(load_pattern("gallop"), Learner(tempo_bpm=100), beats=4, seed=4)
    path = saved(tmp_path / "short.wav", record(performance, NEAR, seed=4))
    outcome = cuekit_says("score", path, "--pattern", "gallop", "--json")
    assert outcome.code == 0
    assert json.loads(outcome.out)["rhythm"] == "unclear"


def test_digital_silence_is_told_and_is_strict_json(cuekit_says, tmp_path):
    path = tmp_path / "silent.wav"
    soundfile.write(path, np.zeros(5 * RATE_HZ), RATE_HZ)
    outcome = cuekit_says("score", path, "--pattern", "gallop", "--json")
    assert outcome.code == 0
    told = json.loads(outcome.out, parse_constant=pytest.fail)
    assert told["summary"].startswith("No footfalls heard.")


def test_the_language_asked_for_is_the_language_of_the_sentence(cuekit_says, feet):
    english, spanish = (
        cuekit_says("score", feet, "--pattern", "gallop", "--language", code) for code in ("en", "es")
    )
    assert (english.code, spanish.code) == (0, 0)
    assert spanish.out.splitlines()[0] != english.out.splitlines()[0]
    assert "largo-corto" in spanish.out.splitlines()[0]


def told_below(cuekit_says, path):
    """The lines below the sentence of a recording scored as a gallop."""
    outcome = cuekit_says("score", path, "--pattern", "gallop")
    assert (outcome.code, outcome.err) == (0, [])
    return outcome.out.splitlines()[1:]


def test_what_is_told_below_the_sentence_fits_a_narrow_screen(cuekit_says, feet):
    assert all(len(line) <= 78 for line in told_below(cuekit_says, feet))


def test_of_three_beats_no_long_part_is_told(cuekit_says, tmp_path):
    """trade.md 6.4: a middle of three beats claims too much."""
    performance = perform(load_pattern("gallop"), Learner(tempo_bpm=100, scatter_s=0.01), beats=3, seed=4)
    path = saved(tmp_path / "three.wav", record(performance, NEAR, seed=4))
    lines = told_below(cuekit_says, path)
    assert "  On the pattern: 3 of 3 beats, longest run 3." in lines
    assert not any("Long part" in line for line in lines)


@pytest.mark.parametrize(("drift_percent", "told"), [(3.0, False), (9.0, True)])
def test_a_small_change_of_tempo_is_not_told(cuekit_says, tmp_path, drift_percent, told):
    """trade.md 6.4: under 5 % it claims too much."""
    learner = Learner(tempo_bpm=100, drift_percent=drift_percent)
    performance = perform(load_pattern("gallop"), learner, beats=14, seed=4)
    path = saved(tmp_path / "drift.wav", record(performance, NEAR, seed=4))
    (tempo,) = [line for line in told_below(cuekit_says, path) if line.startswith("  Tempo")]
    assert ("faster by the end" in tempo) == told


def test_where_nothing_was_heard_no_list_says_what_could_not_be(cuekit_says, stillness):
    assert not any("cannot tell" in line for line in told_below(cuekit_says, stillness))


# Drawn and played back


def test_the_drawing_is_a_page_of_its_own(cuekit_says, feet, tmp_path):
    page = tmp_path / "bout.svg"
    outcome = cuekit_says("score", feet, "--pattern", "gallop", "--plot", page)
    assert (outcome.code, outcome.err) == (0, [])
    root = ElementTree.parse(page).getroot()
    assert root.tag.endswith("svg")
    assert len(list(root.iter("{http://www.w3.org/2000/svg}circle"))) >= 24


def test_a_replay_that_cannot_be_written_is_refused_before_the_scoring(cuekit_says, feet, tmp_path):
    outcome = cuekit_says("score", feet, "--pattern", "gallop", "--replay", tmp_path / "replay.mp3")
    assert refused(outcome, 4, "replay.mp3", ".wav")


def test_yours_then_this_one(cuekit_says, feet, tmp_path):
    """12 beats at 100 a minute take 7 s, twice, with a pause between."""
    path = tmp_path / "replay.wav"
    outcome = cuekit_says("score", feet, "--pattern", "gallop", "--replay", path)
    assert (outcome.code, outcome.err) == (0, [])
    samples, rate_hz = soundfile.read(path)
    assert 15.0 < len(samples) / rate_hz < 18.5
    assert 0.0 < np.abs(samples).max() < 0.9


def test_a_replay_of_nothing_says_why_and_keeps_the_result(cuekit_says, stillness, tmp_path):
    outcome = cuekit_says(
        "score", stillness, "--pattern", "gallop", "--json", "--replay", tmp_path / "replay.wav"
    )
    assert outcome.code == 4
    assert json.loads(outcome.out)["beats"] == 0
    assert len(outcome.err) == 1
    assert list(tmp_path.iterdir()) == []


# Bad input: a line with the mend, an exit code of its own, no traceback, nothing half-written


def cut_wav(path):
    with wave.open(str(path), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE_HZ)
        sound.writeframes(b"\x00\x01" * RATE_HZ)
    path.write_bytes(path.read_bytes()[:30])


def three_hours(path):
    soundfile.write(path, np.zeros(3 * 3600 * 4_000, np.int8).astype(np.int16), 4_000, format="FLAC")


BAD_FILES = {
    "empty.wav": (lambda path: path.write_bytes(b""), "empty"),
    "letter.wav": (lambda path: path.write_text("Dear parents, " * 40), "letter.wav"),
    "cut.wav": (cut_wav, "cut.wav"),
    "broken.wav": (
        lambda path: soundfile.write(path, np.full(RATE_HZ, np.nan), RATE_HZ, subtype="FLOAT"),
        "broken.wav",
    ),
    "hours.flac": (three_hours, "3 h 0 min"),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_file_that_cannot_be_scored_is_refused_in_words(cuekit_says, tmp_path, name):
    make, said = BAD_FILES[name]
    make(tmp_path / name)
    assert refused(cuekit_says("score", tmp_path / name, "--pattern", "gallop", "--json"), 4, said)


def test_a_recording_cut_short_is_scored_with_a_warning(cuekit_says, feet, tmp_path):
    path = tmp_path / "cut.wav"
    path.write_bytes(feet.read_bytes()[: feet.stat().st_size * 2 // 3])
    outcome = cuekit_says("score", path, "--pattern", "gallop", "--json")
    told = json.loads(outcome.out)
    assert outcome.code == 0
    assert told["recording"]["warnings"] != []
    assert 4 <= told["beats"] < 12


def test_a_missing_file_is_named(cuekit_says, tmp_path):
    assert refused(cuekit_says("score", tmp_path / "gone.wav", "--pattern", "gallop"), 4, "gone.wav")


@pytest.mark.parametrize(
    ("asked", "meant"), [("galop", "gallop"), ("skp", "skip"), ("wlak", "walk"), ("hopp", "hop")]
)
def test_an_unknown_pattern_is_answered_with_the_nearest_name(cuekit_says, feet, asked, meant):
    assert refused(cuekit_says("score", feet, "--pattern", asked), 3, asked, f'"{meant}"')


@pytest.mark.parametrize("tempo", ["0", "-100", "nan", "inf", "1e3", "fast", "", "100,5", "301"])
def test_a_tempo_nobody_can_follow_is_refused(cuekit_says, feet, tempo):
    outcome = cuekit_says("score", feet, "--pattern", "gallop", f"--tempo={tempo}")
    assert refused(outcome, 2, "--tempo", "from 20 to 300 beats/min")


@pytest.mark.parametrize("option", ["--plot", "--replay"])
@pytest.mark.parametrize("place", ["no/such/folder/out", "is-a-folder"])
def test_an_output_that_cannot_be_written_is_refused_and_nothing_is_left(
    cuekit_says, feet, tmp_path, option, place
):
    suffix = ".svg" if option == "--plot" else ".wav"
    (tmp_path / f"is-a-folder{suffix}").mkdir()
    outcome = cuekit_says("score", feet, "--pattern", "gallop", option, tmp_path / f"{place}{suffix}")
    assert outcome.code == 4
    assert 1 <= len(outcome.err) <= 3
    assert place.split("/")[-1] in "\n".join(outcome.err)
    assert [each.name for each in tmp_path.iterdir()] == [f"is-a-folder{suffix}"]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="permissions do not bind here")
def test_a_folder_without_permission_is_refused(cuekit_says, feet, tmp_path):
    tmp_path.chmod(0o500)
    outcome = cuekit_says("score", feet, "--pattern", "gallop", "--plot", tmp_path / "bout.svg")
    tmp_path.chmod(0o700)
    assert outcome.code == 4


def test_a_drawing_of_another_kind_is_refused_before_anything_is_read(cuekit_says, tmp_path):
    outcome = cuekit_says("score", tmp_path / "gone.wav", "--pattern", "gallop", "--plot", "bout.png")
    assert refused(outcome, 4, "bout.png", ".svg")
