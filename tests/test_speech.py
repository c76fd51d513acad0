"""The one sentence spoken after a bout: heard, not loud, gone at a key, and never in the way of the records."""

import sys

import numpy as np
import pytest
from fake_port import FakePort

import cuekit.cli.listen as listen
import cuekit.cli.live_bout as live_bout
import cuekit.cli.practice as practice
from cuekit.cues.loudness import LOUDEST_LUFS, PEAK_CEILING_DB, QUIET_LUFS, integrated_lufs, true_peak
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.cues.speech import SOFT_START_S, check_speech, spoken
from cuekit.errors import AudioError, DeviceError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.learner import Learner as Kept
from cuekit.records.store import Store
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record

SHORT = {"en": "Too few beats.", "es": "Faltan pulsos."}
LONG = {
    "en": "16 beats heard: clear long-short, steady. Same again, sound softer.",
    "es": "Se oyeron 16 pulsos: largo y corto claro, constante. Otra vez igual, con el sonido más suave.",
}
LETTERS_A_SECOND = 8, 25
"""Slow and quick speech, from memory; the sentences above have 14 to 92 letters."""


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("loudness_lufs", [-40.0, QUIET_LUFS, LOUDEST_LUFS])
def test_a_sentence_is_heard_and_is_as_loud_as_asked_at_most(language, loudness_lufs):
    samples = spoken(LONG[language], language, loudness_lufs)
    assert loudness_lufs - 3.0 < integrated_lufs(samples) <= loudness_lufs + 0.1
    assert 20 * np.log10(true_peak(samples)) <= PEAK_CEILING_DB + 0.1
    assert np.abs(samples[:24]).max() < 1e-3, "it begins softly"
    assert SOFT_START_S > 0.005


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_longer_sentence_takes_longer(language):
    for sentence in (SHORT[language], LONG[language]):
        took_s = spoken(sentence, language, QUIET_LUFS).size / SAMPLE_RATE_HZ
        slow, quick = LETTERS_A_SECOND
        assert len(sentence) / quick < took_s < 1.0 + len(sentence) / slow


def test_louder_than_the_limit_is_refused():
    with pytest.raises(AudioError, match="can be from"):
        spoken(SHORT["en"], "en", LOUDEST_LUFS + 1.0)


def test_what_would_steer_the_engine_is_read_as_words():
    plain = spoken("Kip and hop.", "en", QUIET_LUFS).size
    assert spoken("Kip <break time='9s'/> and hop.", "en", QUIET_LUFS).size < plain + 6 * SAMPLE_RATE_HZ


def test_a_language_without_a_voice_and_a_missing_engine_are_told_with_the_mend(monkeypatch):
    with pytest.raises(AudioError, match="no voice"):
        check_speech("xx")
    monkeypatch.setitem(sys.modules, "py_nanotts", None)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(AudioError, match=r"cuekit\[speech\]"):
        check_speech("en")
    with pytest.raises(AudioError, match=r"cuekit\[speech\]"):
        spoken(SHORT["en"], "en", QUIET_LUFS)


def heard_child(beats=10):
    moved = perform(load_pattern("gallop"), Learner(scatter_s=0.015, short_db=-6.0), beats=beats, seed=1)
    return record(moved, Room(noise_below_feet_db=45.0), seed=1).samples


@pytest.mark.parametrize("language", ["en", "es"])
def test_listen_speaks_the_sentence_it_shows(language, monkeypatch, cuekit_says, tmp_path):
    port, said_aloud = FakePort(heard_child()), []
    monkeypatch.setattr(listen, "SoundCard", lambda: port)
    made = spoken

    def kept(sentence, *rest):
        said_aloud.append((sentence, *rest))
        return made(sentence, *rest)

    monkeypatch.setattr(live_bout, "spoken", kept)
    said = cuekit_says("listen", "gallop", "--say", "--language", language, "--takes", tmp_path)
    assert said.code == 0
    ((sentence, spoken_in, lufs),) = said_aloud
    assert (spoken_in, lufs) == (language, QUIET_LUFS)
    assert sentence in said.out
    sounded = np.concatenate(port.sounded)
    assert sounded.any()
    assert integrated_lufs(sounded[np.flatnonzero(sounded)[0] :]) <= QUIET_LUFS + 0.1


def test_practice_speaks_after_each_bout_under_the_learners_ceiling(monkeypatch, cuekit_says, tmp_path):
    port, lufs = FakePort(heard_child(), lag_s=0.1), []
    monkeypatch.setattr(practice, "SoundCard", lambda: port)
    made = spoken
    monkeypatch.setattr(live_bout, "spoken", lambda *asked: lufs.append(asked[2]) or made(*asked))
    with Store(tmp_path / "records") as store:
        store.add(Kept("K-07", own_tempo_bpm=100.0, ceiling_db=-12.0))
    asked = ["--from", "step", "--beats", 4, "--say", "--learner", "K-07", "--data", tmp_path / "records"]
    said = cuekit_says("practice", "gallop", *asked, "--takes", tmp_path / "takes")
    assert said.code == 0
    assert lufs == [QUIET_LUFS - 12.0] * 2


def test_a_key_silences_it_as_soon_as_the_port_is_asked():
    """How soon that is on a card: `test_audio.py`, asked to stop."""
    port, asked = FakePort(), iter(range(1000))
    live_bout.Speaker("en", QUIET_LUFS).say(LONG["en"], port, lambda: next(asked) >= 20)
    assert len(port.sounded) == 20
    assert np.concatenate(port.sounded).any()


def test_a_loudspeaker_that_fails_then_costs_no_bout(monkeypatch, cuekit_says, tmp_path):
    class Mute(FakePort):
        def play(self, cue, stop, on_clock=None):
            raise DeviceError("the loudspeaker cannot be opened")

    monkeypatch.setattr(listen, "SoundCard", lambda: Mute(heard_child()))
    with Store(tmp_path / "records") as store:
        store.add(Kept("K-07"))
    asked = ["--say", "--learner", "K-07", "--data", tmp_path / "records", "--takes", tmp_path / "takes"]
    said = cuekit_says("listen", "gallop", *asked)
    assert said.code == 0
    assert "cannot be opened" in said.err[-1]
    assert "Stored as bout" in said.out


def test_without_the_engine_it_is_refused_before_the_microphone_opens(monkeypatch, cuekit_says, tmp_path):
    port = FakePort()
    monkeypatch.setattr(listen, "SoundCard", lambda: port)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    said = cuekit_says("listen", "gallop", "--say", "--takes", tmp_path)
    assert said.code == AudioError.exit_code
    assert "cuekit[speech]" in said.err[-1]
    assert port.opened == 0
