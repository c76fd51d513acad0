"""A teacher's own words: a folder of recordings made into a voice.

Own words are always at speed 1: they are played as they were spoken. Samples are mono, times are
seconds, nudges are milliseconds as the teacher writes them.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile

from cuekit.cues.clips import find_word, word_sound
from cuekit.cues.pcentre import find_pcentre
from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound
from cuekit.cues.voice import Voice, Word, did_you_mean
from cuekit.errors import AudioError
from cuekit.files.plain_text import read_text
from cuekit.hearing.soundfiles import TooLongError, read_clip
from cuekit.patterns.pattern_syntax import Problem, parse, shown_value

LONGEST_WORD_S = 1.5
"""A clip that sounds longer holds more than one word, s."""

LONGEST_FILE_S = 30.0
"""A longer file is not a clip of one word, s."""

UNSURE_S = 0.030
"""From this uncertainty on the teacher is told to check a word by ear, s."""

LARGEST_NUDGE_MS = 150.0
"""A beat further off than this is a bad clip, not a matter of the ear, ms."""

OTHER_SUFFIXES = frozenset({".aif", ".oga", ".opus"})
"""Readable files whose ending is not the name of their format."""

PHONE_SUFFIXES = frozenset({".m4a", ".aac", ".amr", ".3gp", ".wma", ".mp4"})
"""Sound that phones make and soundfile does not read."""


def load_own_voice(folder: Path) -> Voice:
    """Load a teacher's own words: one sound file a word, named after it, in any language.

    Each is trimmed, its perceptual centre found, levelled like the shipped words. A file
    `nudge.toml` beside them may shift words by ear: `step = 10` plays "step" 10 ms later,
    a negative number earlier. Files that hold no sound are left alone.

    Raises
    ------
    AudioError
        The folder, one of its sounds or the nudges cannot be used; the text names it and the mend.
    """
    if not folder.is_dir():
        raise AudioError(f"{folder} is not a folder: give the folder that holds your recorded words")
    files = _word_files(folder)
    words = [_own_word(path) for path in files]
    notes = [
        f"{path.name}: the beat is only known to {1000 * word.uncertainty_s:.0f} ms;"
        " listen, and shift it in nudge.toml if it sounds early or late"
        for path, word in zip(files, words, strict=True)
        if word.uncertainty_s >= UNSURE_S
    ]
    return Voice(folder.resolve().name, _nudged(tuple(words), folder / "nudge.toml"), tuple(notes))


def _word_files(folder: Path) -> list[Path]:
    """The sound files of a folder, by name; phone formats are refused, other files left alone."""
    readable = {f".{kind.lower()}" for kind in soundfile.available_formats()} | OTHER_SUFFIXES
    files = [path for path in sorted(folder.iterdir()) if not path.name.startswith(".")]
    for path in files:
        if path.suffix.lower() in PHONE_SUFFIXES:
            raise AudioError(f"{path.name} is a phone format that cannot be read here: save it as WAV")
    files = [path for path in files if path.suffix.lower() in readable and path.is_file()]
    if not files:
        raise AudioError(f"{folder} holds no sound file: record one file a word, such as step.wav")
    stems = [path.stem.casefold() for path in files]
    for path in files:
        if stems.count(path.stem.casefold()) > 1:
            raise AudioError(f'"{path.stem}" is there more than once in {folder}: keep one file of it')
    return files


def _own_word(path: Path) -> Word:
    samples, sample_rate_hz = _read_clip(path)
    try:
        span = find_word(samples, sample_rate_hz)
        samples = samples[span.start : span.stop]
        beat = find_pcentre(samples, sample_rate_hz)
        sound = word_sound(samples, sample_rate_hz, pcentre_s=beat.time_s)
    except AudioError as error:
        raise AudioError(f"{path.name}: {error}; record the word again, close to the microphone") from error
    if sound.duration_s > LONGEST_WORD_S:
        raise AudioError(
            f"{path.name} sounds for {sound.duration_s:.1f} s: record one word alone,"
            f" under {LONGEST_WORD_S} s, in a quiet room"
        )
    return Word(path.stem.casefold(), 1.0, sound, beat.uncertainty_s)


def _read_clip(path: Path) -> tuple[np.ndarray, int]:
    """Samples of the strongest channel of a clip, and their rate."""
    try:
        samples, sample_rate_hz = read_clip(path, limit_s=LONGEST_FILE_S)
    except TooLongError:
        raise AudioError(
            f"{path.name} lasts over {LONGEST_FILE_S:.0f} s: record one word alone in each file"
        ) from None
    if sample_rate_hz < 8000:
        raise AudioError(f"{path.name} has {sample_rate_hz} Hz: record with 8000 Hz or more")
    if not samples.size or not np.isfinite(samples).all() or np.abs(samples).max() < 0.001:
        raise AudioError(f"{path.name} is empty, silent or damaged: record the word again")
    return samples, sample_rate_hz


def _nudged(words: tuple[Word, ...], path: Path) -> tuple[Word, ...]:
    """Words with their anchors moved as the teacher's file says."""
    if not path.exists():
        return words
    written = read_text(path, "nudge")
    nudges_ms = parse(path.name, written) if written.strip() else {}
    if isinstance(nudges_ms, Problem):
        raise AudioError(f"{nudges_ms}; write lines such as step = 10")
    texts = tuple(word.text for word in words)
    for text, nudge_ms in nudges_ms.items():
        if text.casefold() not in texts:
            raise AudioError(f'{path.name}: there is no clip "{text[:40]}"{did_you_mean(text, texts)}')
        if type(nudge_ms) not in (int, float) or not abs(nudge_ms) <= LARGEST_NUDGE_MS:
            raise AudioError(
                f"{path.name}: {text[:40]} = {shown_value(nudge_ms)}: give milliseconds"
                f" between -{LARGEST_NUDGE_MS:.0f} and {LARGEST_NUDGE_MS:.0f}"
            )
    by_text = {text.casefold(): nudge_ms for text, nudge_ms in nudges_ms.items()}
    return tuple(replace(w, sound=_later(w.sound, by_text.get(w.text, 0) / 1000)) for w in words)


def _later(sound: Sound, shift_s: float) -> Sound:
    """The sound placed later by a shift: silence is added where the anchor would leave it."""
    anchor_s = sound.anchor_s - shift_s
    before = max(math.ceil(-anchor_s * SAMPLE_RATE_HZ), 0)
    after = max(math.ceil((anchor_s - sound.duration_s) * SAMPLE_RATE_HZ), 0)
    return Sound(np.pad(sound.samples, (before, after)), anchor_s + before / SAMPLE_RATE_HZ)
