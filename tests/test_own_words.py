"""A teacher's own words: found in a recording, put on the beat, refused with the mend."""

import numpy as np
import pytest
import soundfile
import soxr

from cuekit.cues.clips import LEVEL_DB, find_word, level_db
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.cues.words import (
    VOICES,
    fit_words,
    joined,
    load_own_voice,
    load_voice,
)
from cuekit.errors import AudioError
from tests.made_sounds import lag_s

EN = load_voice("en")


def lost_db(whole, cut):
    """Loudest 5 ms of what `cut` lacks at its ends, against the loudest of `whole`, dB."""
    power = np.convolve(whole.samples.astype(float) ** 2, np.ones(240), mode="same")
    since_anchor_s = np.arange(power.size) / SAMPLE_RATE_HZ - whole.anchor_s
    lost = (since_anchor_s < -cut.head_s) | (since_anchor_s > cut.tail_s)
    return 10 * np.log10(max(power[lost].max(initial=0) / power.max(), 1e-12))


def record(folder, name, text, *, gain=0.3, silence_s=0.4, sample_rate_hz=44_100, voice="en"):
    """A clip as a phone would make it: stereo, silence around the word, some noise."""
    samples, rate_hz = soundfile.read(VOICES / voice / f"{text}.100.flac")
    word = soxr.resample(samples, rate_hz, sample_rate_hz) * gain
    around = np.zeros(round(silence_s * sample_rate_hz))
    mono = np.concatenate([around, word, around])
    mono += np.random.default_rng(5).normal(scale=3e-4, size=mono.size)
    soundfile.write(folder / name, np.column_stack([mono, 0.8 * mono]), sample_rate_hz)


@pytest.mark.parametrize("silence_s", [0.4, 0.0])
@pytest.mark.parametrize("text", EN.texts)
def test_own_words_get_the_anchor_of_the_same_word_and_all_of_it(tmp_path, text, silence_s):
    record(tmp_path, f"{text}.wav", text, silence_s=silence_s)
    own, shipped = load_own_voice(tmp_path).take(text), EN.take(text)
    assert abs(lag_s(shipped.sound, own.sound)) < 0.020
    assert level_db(own.sound.samples, SAMPLE_RATE_HZ) == pytest.approx(LEVEL_DB, abs=0.5)
    # Noise 40 dB down hides the breath of an /f/; nothing louder may be cut.
    assert lost_db(shipped.sound, own.sound) < -30


def test_own_words_may_be_in_any_language_rate_and_format(tmp_path):
    record(tmp_path, "Brücke.flac", "step", sample_rate_hz=22_050)
    record(tmp_path, "ねこ.ogg", "hop", sample_rate_hz=48_000)
    (tmp_path / "notes.txt").write_text("not a sound")
    voice = load_own_voice(tmp_path)
    assert voice.texts == ("brücke", "ねこ")
    assert voice.take("Brücke").speed == 1.0


def test_a_click_of_the_button_before_the_word_is_left_out(tmp_path):
    record(tmp_path, "hop.wav", "hop", silence_s=0.8)
    samples, sample_rate_hz = soundfile.read(tmp_path / "hop.wav")
    samples[5000:5100] += 0.3
    soundfile.write(tmp_path / "hop.wav", samples, sample_rate_hz)
    span = find_word(samples[:, 0], sample_rate_hz)
    assert span.start / sample_rate_hz == pytest.approx(0.8, abs=0.05)
    assert abs(lag_s(EN.take("hop").sound, load_own_voice(tmp_path).take("hop").sound)) < 0.020


def test_own_words_too_long_for_the_gap_give_way_to_tones_and_say_so(tmp_path):
    """Story 22: warns if longer than the gap, falls back to a tone for the short."""
    record(tmp_path, "paso.wav", "paso", voice="es")
    record(tmp_path, "salta.wav", "salta", voice="es")
    fit = fit_words(load_own_voice(tmp_path), "paso", "salta", 0.45, 0.225)
    assert [word and word.text for word in fit.words] == ["paso", None]
    assert (fit.clash.text, fit.clash.following, fit.fewer) == ("salta", "paso", True)


def test_a_nudge_plays_a_word_later_or_earlier(tmp_path):
    record(tmp_path, "step.wav", "step")
    record(tmp_path, "uno.wav", "uno", voice="es")
    plain = load_own_voice(tmp_path)
    (tmp_path / "nudge.toml").write_text("step = 15\nuno = 90", encoding="utf-8")
    nudged = load_own_voice(tmp_path)
    assert lag_s(plain.take("step").sound, nudged.take("step").sound) == pytest.approx(0.015, abs=1e-4)
    assert lag_s(plain.take("uno").sound, nudged.take("uno").sound) == pytest.approx(0.090, abs=1e-4)


def test_an_uncertain_beat_is_told_to_the_teacher(tmp_path):
    record(tmp_path, "lado.wav", "lado", voice="es")
    record(tmp_path, "hop.wav", "hop")
    (note,) = load_own_voice(tmp_path).notes
    assert note.startswith("lado.wav: the beat is only known to")


def test_own_words_come_first_and_shipped_ones_fill_in(tmp_path):
    record(tmp_path, "step.wav", "hop")
    both = joined(load_own_voice(tmp_path), load_voice("en", only=["step", "ready"]))
    assert [word.speed for word in both.words if word.text == "step"] == [1.0]
    assert both.take("ready", 1.3).speed == 1.3
    assert both.take("step", 1.3).speed == 1.0


def write_bad(path, kind):
    rate_hz = 16_000
    tone = 0.3 * np.sin(2 * np.pi * 500 * np.arange(rate_hz) / rate_hz)
    made = {
        "silent": lambda: soundfile.write(path, np.zeros(rate_hz), rate_hz),
        "empty": lambda: soundfile.write(path, np.zeros(0), rate_hz),
        "nan": lambda: soundfile.write(path, np.full(rate_hz, np.nan), rate_hz, subtype="FLOAT"),
        "text": lambda: path.write_text("this is not a sound"),
        "no bytes": lambda: path.write_bytes(b""),
        "low rate": lambda: soundfile.write(path, tone, 4000),
        "long": lambda: soundfile.write(path, np.r_[0 * tone, tone, tone, 0 * tone], rate_hz),
        "very long": lambda: soundfile.write(path, np.tile(tone, 40), rate_hz),
        "hum": lambda: soundfile.write(path, np.sin(np.arange(rate_hz) * 0.02), rate_hz),
        "noise": lambda: soundfile.write(path, np.random.default_rng(0).normal(0, 0.1, rate_hz), rate_hz),
        "tick": lambda: soundfile.write(path, np.r_[np.zeros(8000), 0.5, np.zeros(8000)], rate_hz),
    }
    made[kind]()


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("silent", "silent"), ("empty", "empty"), ("nan", "damaged"), ("text", "give a WAV"),
        ("no bytes", "holds no sound"), ("low rate", "4000 Hz"), ("long", "one word alone"),
        ("very long", "lasts over 30 s"), ("hum", "record"), ("noise", "record"), ("tick", "too short"),
    ],
)  # fmt: skip
def test_a_bad_clip_gets_one_line_naming_it_and_the_mend(tmp_path, kind, said):
    write_bad(tmp_path / "step.wav", kind)
    with pytest.raises(AudioError, match=said) as refused:
        load_own_voice(tmp_path)
    assert "step.wav" in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("stp = 5", 'did you mean "step"'),
        ("step = 900", "between -150 and 150"),
        ("step = 'late'", "between -150 and 150"),
        ("step = nan", "between -150 and 150"),
        ("step =", "step = 10"),
    ],
)
def test_a_bad_nudge_is_refused(tmp_path, text, said):
    record(tmp_path, "step.wav", "step")
    (tmp_path / "nudge.toml").write_text(text, encoding="utf-8")
    with pytest.raises(AudioError, match=said):
        load_own_voice(tmp_path)


def test_a_folder_that_cannot_be_used_is_refused(tmp_path):
    with pytest.raises(AudioError, match="is not a folder"):
        load_own_voice(tmp_path / "nowhere")
    with pytest.raises(AudioError, match="holds no sound file"):
        load_own_voice(tmp_path)
    (tmp_path / "hop.m4a").write_bytes(b"x")
    with pytest.raises(AudioError, match=r"hop\.m4a is a phone format"):
        load_own_voice(tmp_path)


def test_one_word_recorded_twice_is_refused(tmp_path):
    record(tmp_path, "step.wav", "step")
    record(tmp_path, "Step.flac", "step")
    with pytest.raises(AudioError, match="more than once"):
        load_own_voice(tmp_path)
