"""`cuekit play` to a file: the rhythm asked for, and a clear line for what cannot be played."""

import numpy as np
import pytest
import soundfile

from cuekit.patterns.pattern_files import list_patterns


def refused(outcome, code, *parts):
    """A refusal: its own exit code, one to three lines that say these things, nothing on stdout."""
    assert outcome.code == code
    assert outcome.out == ""
    assert 1 <= len(outcome.err) <= 3
    said = "\n".join(outcome.err)
    assert "Traceback" not in said
    assert all(part in said for part in parts), said
    return True


def onsets_s(path):
    """When each sound of a rendered file begins, s: loud again after a twentieth of a second of quiet."""
    samples, rate_hz = soundfile.read(path)
    mono = np.abs(samples if samples.ndim == 1 else samples.mean(axis=1))
    loud_s = np.flatnonzero(mono > 0.05 * mono.max()) / rate_hz
    return loud_s[np.diff(loud_s, prepend=-1.0) > 0.05]


def test_a_gallop_sounds_long_short_after_the_count(cuekit_says, tmp_path):
    """trade.md 8.1, story 1: every 0.60 s a long sound, the short one 0.40 s after it, within 2 ms."""
    path = tmp_path / "gallop.wav"
    outcome = cuekit_says(
        "play", "gallop", "--tempo", "100", "--beats", "8", "--sound", "wood", "--out", path
    )
    assert (outcome.code, outcome.err) == (0, [])
    assert "8 beats at 100 a minute, long to short 2:1" in outcome.out
    gaps_s = np.diff(onsets_s(path)[-16:])
    np.testing.assert_allclose(gaps_s, [0.4, 0.2] * 7 + [0.4], atol=0.002)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ((), ""),
        (("--full", "16"), ""),  # longer than the bout: nothing fades
        (("--full", "4"), "; full for 4 beats, silent for 12"),
        (("--full", "4", "--softer", "4"), "; full for 4 beats, softer for 4, silent for 8"),
        (("--full", "12", "--softer", "9"), "; full for 12 beats, softer for 4"),
        (("--full", "0", "--softer", "16"), "; softer for 16"),
    ],
)
def test_how_the_cue_leaves_is_told(cuekit_says, tmp_path, asked, said):
    outcome = cuekit_says("play", "hop", "--beats", "16", *asked, "--out", tmp_path / "hop.wav")
    line = outcome.out.splitlines()[0]
    assert line == f"Hop: 16 beats at 125 a minute. Cue: the count is spoken, then tones only{said}."


def test_what_will_sound_is_told_in_the_language_of_the_words(cuekit_says, tmp_path):
    asked = ("play", "gallop", "--level", "c5", "--language", "es", "--out", tmp_path / "galope.wav")
    line = cuekit_says(*asked).out.splitlines()[0]
    assert line.startswith("Galope: 16 tiempos a 100 por minuto, largo a corto 2:1. Sonido: ")
    assert '"y" pisaría a "gran"' in line


@pytest.mark.parametrize("name", list_patterns())
def test_every_pattern_plays_and_the_same_again_is_the_same_sound(cuekit_says, tmp_path, name):
    first, second = tmp_path / "a.wav", tmp_path / "b.wav"
    for path in (first, second):
        assert cuekit_says("play", name, "--beats", "4", "--out", path).code == 0
    assert first.read_bytes() == second.read_bytes()
    assert 0.0 < np.abs(soundfile.read(first)[0]).max() < 10 ** (-1 / 20)


@pytest.mark.parametrize("level", ["C5", "C4", "C3", "C2", "C1"])
def test_every_cue_level_plays(cuekit_says, tmp_path, level):
    path = tmp_path / "cue.flac"
    assert (
        cuekit_says("play", "skip", "--tempo", "70", "--beats", "4", "--level", level, "--out", path).code
        == 0
    )
    assert np.abs(soundfile.read(path)[0]).max() > 0


def test_seconds_instead_of_beats(cuekit_says, tmp_path):
    path = tmp_path / "walk.wav"
    assert (
        cuekit_says(
            "play", "walk", "--tempo", "120", "--seconds", "10", "--count-in", "0", "--out", path
        ).code
        == 0
    )
    assert 10.0 <= soundfile.info(path).duration <= 11.5  # silence before and after


@pytest.mark.parametrize("tempo", ["0", "-60", "nan", "inf", "quick", "1e2", "301"])
def test_a_tempo_that_is_none_is_refused(cuekit_says, tmp_path, tempo):
    outcome = cuekit_says("play", "gallop", f"--tempo={tempo}", "--out", tmp_path / "x.wav")
    assert refused(outcome, 2, "--tempo", "from 20 to 300 beats/min")
    assert list(tmp_path.iterdir()) == []


def test_a_tempo_too_fast_for_long_short_says_what_can_be_followed(cuekit_says, tmp_path):
    """science.md 3a: cues closer than 125 ms cannot be followed (Repp 2006)."""
    outcome = cuekit_says("play", "gallop", "--tempo", "250", "--out", tmp_path / "x.wav")
    assert refused(outcome, 3, "gallop", "250")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("galop",), 3, '"gallop"'),
        (("walk", "--ratio", "2:1"), 3, "even"),
        (("gallop", "--ratio", "1:2"), 2, "long:short"),
        (("gallop", "--ratio", "9:1"), 3, "3:1"),
        (("jump", "--side", "left"), 3, "no side"),
        (("gallop", "--beats", "0"), 2, "from 1 to 10000"),
        (("gallop", "--beats", "8", "--seconds", "8"), 2, "not both"),
        (("gallop", "--seconds", "nan"), 2, "from 1 to 7200"),
        (("gallop", "--level", "C9"), 2, "C9"),
        (("gallop", "--loudness", "0"), 2, "--loudness"),
    ],
)
def test_what_cannot_be_played_is_named_with_the_mend(cuekit_says, tmp_path, arguments, code, said):
    assert refused(cuekit_says("play", *arguments, "--out", tmp_path / "x.wav"), code, said)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["no/such/folder/x.wav", "x.mp3", "x"])
def test_an_output_that_cannot_be_written_leaves_nothing(cuekit_says, tmp_path, name):
    outcome = cuekit_says("play", "gallop", "--beats", "4", "--out", tmp_path / name)
    assert outcome.code == 4
    assert 1 <= len(outcome.err) <= 3
    assert list(tmp_path.iterdir()) == []
