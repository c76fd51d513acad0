"""Shipped words, and the rule of which words fit between cues."""

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

from cuekit.cues.clips import LEVEL_DB, PEAK_LIMIT, level_db
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
    load_voice,
    shipped_languages,
)
from cuekit.errors import AudioError, PatternError
from tests.made_sounds import lag_s

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
