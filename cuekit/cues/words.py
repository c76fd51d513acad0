"""Spoken cues: the shipped voices, and which words fit between the cues.

A word is placed by its perceptual centre (`pcentre.py`), its anchor. HEAD is the time from its
start to the anchor, TAIL from the anchor to its end. A word fits before the next cue if

    TAIL + 0.020 s + HEAD of the next word <= gap       after a word
    tone + 0.010 s + HEAD of the next word <= gap       after a tone

and is never cut short: what does not fit is spoken faster, and then gives way to a tone. Times are
seconds, gaps run from anchor to anchor.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import soundfile

from cuekit.cues.clips import word_sound
from cuekit.cues.own_words import load_own_voice
from cuekit.cues.voice import Voice, Word, joined, unknown_word
from cuekit.errors import AudioError, PatternError

__all__ = [
    "Voice",
    "Word",
    "WordFit",
    "fit_sequence",
    "fit_words",
    "joined",
    "load_own_voice",
    "load_voice",
    "shipped_languages",
]

VOICES = Path(__file__).resolve().parent / "voices"

AFTER_WORD_S = 0.020
"""Silence kept between the end of a word and the start of the next sound, s."""

AFTER_TONE_S = 0.010
"""The same after a tone, whose end is sharper, s."""

TONE_S = 0.060
"""Length of the tone that stands in for a word, s."""


@dataclass(frozen=True)
class Clash:
    """A sound that would run into the next one.

    Attributes:
        text, following: the word and the next one; empty for a tone.
        needed_s, gap_s: the time needed and the time there, s.
    """

    text: str
    following: str
    needed_s: float
    gap_s: float


@dataclass(frozen=True)
class WordFit:
    """Which words are spoken.

    Attributes:
        words: one for each cue of the sequence; None means a tone.
        speed: the speed they are spoken at.
        clash: why not all words are said at their normal speed; None where they are, or none is wanted.
        fewer: whether a word gave way to a tone.
    """

    words: tuple[Word | None, ...]
    speed: float
    clash: Clash | None = None
    fewer: bool = False


def shipped_languages() -> tuple[str, ...]:
    """Codes of the languages that come with cuekit."""
    return tuple(sorted(path.stem for path in VOICES.glob("*.toml")))


def load_voice(language: str, *, only: Collection[str] | None = None) -> Voice:
    """Load the shipped voice of a language.

    Parameters
    ----------
    language : one of `shipped_languages()`, such as "en"
    only : load just these words, which is faster; None loads all

    Raises
    ------
    AudioError
        The language is not shipped.
    PatternError
        A word in `only` is not in this voice.
    """
    if language not in shipped_languages():
        raise AudioError(
            f'no voice for language "{language}": there is {", ".join(shipped_languages())};'
            " for another language record your own words into a folder"
        )
    clips = tomllib.loads((VOICES / f"{language}.toml").read_text(encoding="utf-8"))["clip"]
    texts = tuple(dict.fromkeys(clip["text"] for clip in clips))
    wanted = texts if only is None else tuple(text.casefold() for text in only)
    for text in wanted:
        if text not in texts:
            raise unknown_word(text, texts, language)
    return Voice(language, tuple(_shipped_word(clip) for clip in clips if clip["text"] in wanted))


def _shipped_word(clip: dict) -> Word:
    samples, sample_rate_hz = soundfile.read(VOICES / clip["file"])
    sound = word_sound(samples, sample_rate_hz, pcentre_s=clip["p_centre_s"])
    return Word(clip["text"], clip["speed"], sound, clip["uncertainty_s"])


def fit_words(voice: Voice, long_word: str, short_word: str | None, long_s: float, short_s: float) -> WordFit:
    """Choose what is said on the two footfalls of an uneven beat; see `fit_sequence`."""
    return fit_sequence(voice, (long_word, short_word), (long_s, short_s))


def fit_sequence(
    voice: Voice, words: Sequence[str | None], gaps_s: Sequence[float], *, tone_s: float = TONE_S
) -> WordFit:
    """Choose what is said in a sequence of cues that repeats.

    Tried in this order, the first that fits is taken: all words at normal speed; all words faster,
    step by step; tones in place of the words with the shortest gaps after them, then of the next
    shortest, each at every speed; tones only.

    Parameters
    ----------
    voice : who speaks
    words : the word of each cue of one turn, None where a tone is wanted
    gaps_s : from each cue to the next, the last one to the first of the next turn, s
    tone_s : length of the tone after its cue, s

    Raises
    ------
    PatternError
        The voice lacks a word, or there is not one positive gap a word.
    """
    _check_sequence(words, gaps_s)
    if not any(words):
        return WordFit((None,) * len(words), 1.0)
    first_clash = None
    for kept in _fewer_and_fewer(words, gaps_s):
        for speed in voice.speeds:
            takes = tuple(voice.take(text, speed) if text else None for text in kept)
            clash = _worst_clash(takes, gaps_s, tone_s)
            if clash is None:
                spoken = max(take.speed for take in takes if take)
                return WordFit(takes, spoken, first_clash, fewer=sum(map(bool, kept)) < sum(map(bool, words)))
            first_clash = first_clash or clash
    return WordFit((None,) * len(words), 1.0, first_clash, fewer=True)


def _check_sequence(words: Sequence[str | None], gaps_s: Sequence[float]) -> None:
    if not words or len(words) != len(gaps_s):
        raise PatternError(f"each word needs the gap after it: {len(words)} words, {len(gaps_s)} gaps")
    for gap_s in gaps_s:
        if not (math.isfinite(gap_s) and gap_s > 0):
            raise PatternError(f"a gap between cues must be a positive time, got {gap_s} s")


def _fewer_and_fewer(
    words: Sequence[str | None], gaps_s: Sequence[float]
) -> Iterator[tuple[str | None, ...]]:
    """The words; then without those before the shortest gaps; and so on while any is left."""
    kept = tuple(words)
    while any(kept):
        yield kept
        # Gaps of one length reach here as slightly different floats.
        shortest_s = min(gap_s for text, gap_s in zip(kept, gaps_s, strict=True) if text) * 1.001
        kept = tuple(text if gap_s > shortest_s else None for text, gap_s in zip(kept, gaps_s, strict=True))


def _worst_clash(takes: Sequence[Word | None], gaps_s: Sequence[float], tone_s: float) -> Clash | None:
    """The sound that overruns the next one by most; None where all fit."""
    clashes = []
    for i, gap_s in enumerate(gaps_s):
        here, following = takes[i], takes[(i + 1) % len(takes)]
        tail_s = here.sound.tail_s + AFTER_WORD_S if here else tone_s + AFTER_TONE_S
        needed_s = tail_s + (following.sound.head_s if following else 0.0)
        if needed_s > gap_s and (here or following):
            clashes.append(Clash(_text(here), _text(following), needed_s, gap_s))
    return max(clashes, key=lambda clash: clash.needed_s - clash.gap_s, default=None)


def _text(word: Word | None) -> str:
    return word.text if word else ""
