"""Shipped words, a teacher's own words, and the rule of which words fit between cues."""

import itertools
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.cues.clips import LEVEL_DB, PEAK_LIMIT, find_word, level_db
from cuekit.cues.pcentre import find_pcentre
from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound
from cuekit.cues.voice import Voice, Word
from cuekit.cues.words import (
    AFTER_TONE_S,
    AFTER_WORD_S,
    TONE_S,
    VOICES,
    fit_sequence,
    fit_words,
    joined,
    load_own_voice,
    load_voice,
    shipped_languages,
)
from cuekit.errors import AudioError, PatternError

CLIPS = [
    clip
    for language in ("en", "es")
    for clip in tomllib.loads((VOICES / f"{language}.toml").read_text(encoding="utf-8"))["clip"]
]
EN, ES = load_voice("en"), load_voice("es")
SHIPPED = [(voice.name, word) for voice in (EN, ES) for word in voice.words]
PAIRS = {
    "en": [("step", "hop"), ("slide", "close"), ("big", "and"), ("long", "short"), ("daa", "da"),
           ("gallop", "go"), ("one", "two"), ("side", "and"), ("skip", "and"), ("step", None)],
    "es": [("paso", "salta"), ("lado", "junta"), ("gran", "y"), ("largo", "corto"), ("taa", "ta"),
           ("uno", "dos"), ("paso", "pie"), ("cae", None)],
}  # fmt: skip
TEMPOS_BPM = range(60, 161, 5)
LONG_SHARES = (3 / 5, 2 / 3, 3 / 4)


def clip_name(clip):
    return clip["file"]


def word_name(case):
    return case["file"] if isinstance(case, dict) else f"{case[0]}-{case[1].text}-{case[1].speed}"


def read_clip(clip):
    return soundfile.read(VOICES / clip["file"])


def a_word(text, head_s, tail_s, speed=1.0):
    """A word of the given lengths, in whole samples."""
    head, tail = round(head_s * SAMPLE_RATE_HZ), round(tail_s * SAMPLE_RATE_HZ)
    sound = Sound(np.full(head + tail, 0.1, np.float32), head / SAMPLE_RATE_HZ)
    return Word(text, speed, sound, 0.01)


def lag_s(one, other):
    """How much later `other` sounds than `one` when both anchors fall on the same instant, s."""
    tracks = []
    for sound in (one, other):
        track = np.zeros(1 << 18)
        start = 2 * SAMPLE_RATE_HZ - round(sound.anchor_s * SAMPLE_RATE_HZ)
        track[start : start + sound.samples.size] = sound.samples
        tracks.append(np.fft.rfft(track))
    likeness = np.fft.irfft(np.conj(tracks[0]) * tracks[1])
    shift = int(np.argmax(likeness))
    return (shift - likeness.size * (shift > likeness.size // 2)) / SAMPLE_RATE_HZ


def lost_db(whole, cut):
    """Loudest 5 ms of what `cut` lacks at its ends, against the loudest of `whole`, dB."""
    power = np.convolve(whole.samples.astype(float) ** 2, np.ones(240), mode="same")
    since_anchor_s = np.arange(power.size) / SAMPLE_RATE_HZ - whole.anchor_s
    lost = (since_anchor_s < -cut.head_s) | (since_anchor_s > cut.tail_s)
    return 10 * np.log10(max(power[lost].max(initial=0) / power.max(), 1e-12))


# --- shipped clips ----------------------------------------------------------------------------


def test_both_languages_are_shipped_and_small():
    assert shipped_languages() == ("en", "es")
    assert sum(path.stat().st_size for path in VOICES.rglob("*") if path.is_file()) < 2_000_000


def test_manifests_and_clips_match_one_to_one():
    on_disk = {path.relative_to(VOICES).as_posix() for path in VOICES.rglob("*.flac")}
    assert on_disk == {clip["file"] for clip in CLIPS}


def pattern_words(node):
    """Every `word = { en = ..., es = ... }` in a pattern file, wherever it stands."""
    if isinstance(node, list):
        return [word for item in node for word in pattern_words(item)]
    if not isinstance(node, dict):
        return []
    here = [node["word"]] if isinstance(node.get("word"), dict) else []
    return here + [word for item in node.values() for word in pattern_words(item)]


def test_every_word_of_the_shipped_patterns_can_be_spoken():
    files = sorted((Path(__file__).parent.parent / "patterns").glob("*.toml"))
    words = [word for file in files for word in pattern_words(tomllib.loads(file.read_text("utf-8")))]
    assert len(words) > 10
    assert {word["en"] for word in words if "en" in word} <= set(EN.texts)
    assert {word["es"] for word in words if "es" in word} <= set(ES.texts)


@pytest.mark.parametrize("clip", CLIPS, ids=clip_name)
def test_the_beat_of_a_clip_is_where_the_manifest_says(clip):
    samples, sample_rate_hz = read_clip(clip)
    found = find_pcentre(samples, sample_rate_hz)
    assert found.time_s == pytest.approx(clip["p_centre_s"], abs=0.010)
    assert found.uncertainty_s <= clip["uncertainty_s"] + 0.010
    assert samples.size / sample_rate_hz == pytest.approx(clip["duration_s"], abs=1e-4)


@pytest.mark.parametrize("clip", CLIPS, ids=clip_name)
def test_a_clip_placed_by_its_anchor_has_its_beat_on_the_cue(clip):
    samples, sample_rate_hz = read_clip(clip)
    cue_s = 1.2345
    track = np.random.default_rng(7).normal(scale=1e-4, size=3 * sample_rate_hz)
    start = round((cue_s - clip["p_centre_s"]) * sample_rate_hz)
    track[start : start + samples.size] += samples
    assert find_pcentre(track, sample_rate_hz).time_s == pytest.approx(cue_s, abs=0.010)


@pytest.mark.parametrize(("clip", "shipped"), list(zip(CLIPS, SHIPPED, strict=True)), ids=word_name)
def test_filtering_and_resampling_leave_the_anchor_where_it_was(clip, shipped):
    samples, sample_rate_hz = read_clip(clip)
    unfiltered = Sound(soxr.resample(samples, sample_rate_hz, SAMPLE_RATE_HZ), clip["p_centre_s"])
    assert (shipped[1].text, shipped[1].speed) == (clip["text"], clip["speed"])
    assert abs(lag_s(unfiltered, shipped[1].sound)) < 0.0005


@pytest.mark.parametrize("shipped", SHIPPED, ids=word_name)
def test_words_keep_out_of_the_band_of_the_feet(shipped):
    samples = shipped[1].sound.samples
    power = np.abs(np.fft.rfft(samples)) ** 2
    low = np.fft.rfftfreq(samples.size, 1 / SAMPLE_RATE_HZ) < 300
    assert 10 * np.log10(power[low].sum() / power.sum()) < -30


def test_words_are_equally_loud_and_leave_room():
    levels_db = [level_db(word.sound.samples, SAMPLE_RATE_HZ) for _, word in SHIPPED]
    peaks = [np.abs(word.sound.samples).max() for _, word in SHIPPED]
    assert max(peaks) <= PEAK_LIMIT + 1e-6
    assert max(levels_db) - min(levels_db) < 0.5
    assert np.median(levels_db) == pytest.approx(LEVEL_DB, abs=0.2)


def test_words_begin_and_end_without_a_click():
    for _, word in SHIPPED:
        loudest = np.abs(word.sound.samples).max()
        assert np.abs(word.sound.samples[[0, -1]]).max() < 1e-3 * loudest, word.text


@pytest.mark.parametrize("voice", [EN, ES], ids=lambda voice: voice.name)
def test_faster_words_are_shorter(voice):
    lengths_s = np.array(
        [[voice.take(text, speed).sound.duration_s for speed in (1.0, 1.15, 1.3)] for text in voice.texts]
    )
    assert np.median(lengths_s[:, 1] / lengths_s[:, 0]) < 0.92
    assert np.median(lengths_s[:, 2] / lengths_s[:, 0]) < 0.84
    assert (lengths_s[:, 2] / lengths_s[:, 0]).max() < 1.05


def test_only_the_words_asked_for_are_loaded():
    voice = load_voice("en", only=["Step", "hop"])
    assert voice.texts == ("step", "hop")
    assert voice.speeds == (1.0, 1.15, 1.3)


def test_an_unknown_word_is_refused_with_the_nearest_known_one():
    with pytest.raises(PatternError, match='no word "galop": did you mean "gallop"'):
        EN.take("galop")
    with pytest.raises(PatternError, match='no word "slide".*: it has paso|did you mean'):
        load_voice("es", only=["slide"])


def test_an_unknown_language_is_refused_with_those_there_are():
    with pytest.raises(AudioError, match='"fr": there is en, es'):
        load_voice("fr")


# --- fitting ----------------------------------------------------------------------------------


def sounding(fit, gaps_s, turns=3):
    """First and last sample of every sound of some turns of a sequence, in order."""
    cues_s = np.cumsum([1.0, *gaps_s * turns])[:-1]
    spans = []
    for cue_s, word in zip(cues_s, fit.words * turns, strict=True):
        head_s, tail_s = (word.sound.head_s, word.sound.tail_s) if word else (0.0, TONE_S)
        spans.append(((cue_s - head_s) * SAMPLE_RATE_HZ, (cue_s + tail_s) * SAMPLE_RATE_HZ))
    return spans


@pytest.mark.parametrize("voice", [EN, ES], ids=lambda voice: voice.name)
@pytest.mark.parametrize("long_share", LONG_SHARES)
def test_no_word_runs_into_the_next_cue_at_any_tempo(voice, long_share):
    spoken = []
    for (long_word, short_word), bpm in itertools.product(PAIRS[voice.name], TEMPOS_BPM):
        gaps_s = [60 / bpm * long_share, 60 / bpm * (1 - long_share)]
        fit = fit_words(voice, long_word, short_word, *gaps_s)
        spans = sounding(fit, gaps_s)
        if any(fit.words):
            for (_, stop), (start, _) in itertools.pairwise(spans):
                assert start - stop >= AFTER_TONE_S * SAMPLE_RATE_HZ - 1, (fit.clash, bpm)
        spoken.append(sum(word is not None for word in fit.words))
    # The sweep must meet all outcomes to mean anything.
    assert {0, 1, 2} <= set(spoken)


@pytest.mark.parametrize("voice", [EN, ES], ids=lambda voice: voice.name)
def test_no_word_of_an_even_pattern_runs_into_the_next_cue(voice):
    spoken = 0
    for text, bpm in itertools.product(voice.texts, TEMPOS_BPM):
        fit = fit_sequence(voice, [text], [60 / bpm])
        if fit.words[0]:
            (_, stop), (start, _) = sounding(fit, [60 / bpm], turns=2)
            assert start - stop >= AFTER_WORD_S * SAMPLE_RATE_HZ - 1, (text, bpm)
            spoken += 1
    assert spoken > 8 * len(voice.texts)


def test_words_that_fit_are_spoken_at_normal_speed():
    fit = fit_words(EN, "step", "hop", 1.2, 0.6)
    assert [word.text for word in fit.words] == ["step", "hop"]
    assert (fit.speed, fit.clash, fit.fewer) == (1.0, None, False)


def test_then_faster_but_no_more_than_needed():
    voice = Voice("made", tuple(a_word("go", 0.05 / s, 0.3 / s, s) for s in (1.0, 1.15, 1.3)))
    fit = fit_sequence(voice, ["go"], [0.35])
    assert fit.speed == fit.words[0].speed == 1.15
    assert (fit.clash.text, fit.clash.following, fit.fewer) == ("go", "go", False)


def test_then_a_word_on_the_long_beat_and_a_tone_on_the_short():
    voice = Voice("made", (a_word("hop", 0.09, 0.25), a_word("on", 0.01, 0.2)))
    fit = fit_words(voice, "hop", "on", 1 / 3, 1 / 6)
    assert [word and word.text for word in fit.words] == ["hop", None]
    assert (fit.speed, fit.clash.text, fit.clash.following, fit.fewer) == (1.0, "on", "hop", True)
    assert fit.clash.needed_s == pytest.approx(0.2 + 0.020 + 0.09)
    assert fit.clash.gap_s == pytest.approx(1 / 6)


def test_then_tones_only():
    fit = fit_words(EN, "step", "hop", 0.25, 0.125)
    assert fit.words == (None, None)
    assert fit.fewer
    assert fit.clash.needed_s > fit.clash.gap_s


def test_the_rule_at_its_edge():
    gap_s = 0.3 + 0.020 + 0.1
    voice = Voice("made", (a_word("go", 0.1, 0.3),))
    assert fit_sequence(voice, ["go"], [gap_s + 1e-6]).words != (None,)
    assert fit_sequence(voice, ["go"], [gap_s - 1e-6]).words == (None,)


def test_a_tone_before_a_word_keeps_its_distance():
    short_s = 0.060 + 0.010 + 0.1
    voice = Voice("made", (a_word("go", 0.1, 0.1),))
    assert fit_words(voice, "go", None, 0.5, short_s + 1e-6).words[0] is not None
    assert fit_words(voice, "go", None, 0.5, short_s - 1e-6).words == (None, None)


def test_of_run_run_leap_the_leap_is_kept_longest():
    voice = Voice("made", (a_word("run", 0.05, 0.3), a_word("leap", 0.02, 0.3)))
    fit = fit_sequence(voice, ["run", "run", "leap"], [0.3, 0.3, 0.6])
    assert [word and word.text for word in fit.words] == [None, None, "leap"]


def test_a_sequence_without_words_is_tones():
    fit = fit_sequence(EN, [None, None], [0.3, 0.3])
    assert (fit.words, fit.clash, fit.fewer) == ((None, None), None, False)


@settings(max_examples=60, deadline=None)
@given(
    words=st.lists(st.sampled_from([*EN.texts, None]), min_size=1, max_size=6),
    gap_s=st.floats(0.13, 1.5),
    scale=st.floats(1.0, 3.0),
)
def test_slower_never_loses_a_word(words, gap_s, scale):
    quick, slow = (fit_sequence(EN, words, [gap * gap_s for _ in words]) for gap in (1.0, scale))
    assert sum(map(bool, slow.words)) >= sum(map(bool, quick.words))
    assert slow.speed <= quick.speed or not any(quick.words)


@pytest.mark.parametrize("gaps_s", [[0.3], [0.3, 0.0], [0.3, -1.0], [0.3, math.nan], [0.3, math.inf]])
def test_gaps_that_are_no_times_are_refused(gaps_s):
    with pytest.raises(PatternError, match="gap"):
        fit_sequence(EN, ["step", "hop"], gaps_s)


def test_a_word_the_voice_lacks_is_refused_when_fitting():
    with pytest.raises(PatternError, match='did you mean "step"'):
        fit_words(EN, "stepp", "hop", 1.0, 0.5)


# --- a teacher's own words --------------------------------------------------------------------


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
