"""Render the shipped words. Run by a maintainer, not by a teacher; not part of the wheel.

    pip install py-nanotts==0.1.1
    python tools/render_words.py            all languages, into cuekit/cues/voices/

Each word is spoken at three speeds, trimmed, brought to one level and written as 16 kHz mono
FLAC, *unfiltered*; the manifest beside the folder holds where its beat lies. The engine draws its
breath noise anew on each run, so a new run gives clips that differ in detail: clips and manifest
are always written together, and the beat is measured on the file as written.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import py_nanotts
import soundfile

from cuekit.cues.clips import at_level, faded, find_word
from cuekit.cues.pcentre import find_pcentre

VOICES = Path(__file__).resolve().parent.parent / "cuekit" / "cues" / "voices"
RATE_HZ = 16_000
SPEEDS = (1.0, 1.15, 1.3)
"""Beyond 1.3 a recogniser understands fewer of the words (17 of 21 at 1.6), so no faster."""
VOLUME = 0.4
"""Share of the engine's level at which no word clips; at 1.0 most do."""

VOWEL_RISE_S = 0.030
"""An English vowel at the start of a word begins no earlier before its beat, s."""

HEAD = """\
# Spoken words in {language}: where the beat (perceptual centre) lies in each clip.
# Written by tools/render_words.py together with the clips; do not edit by hand.
# p_centre_s: s from the start of the clip, measured on the clip as it is (unfiltered).
# uncertainty_s: all four estimates lie within p_centre_s plus or minus this.
engine = "py-nanotts 0.1.1, voice {voice}"
licence = "Apache-2.0"
"""


@dataclass(frozen=True)
class Spoken:
    """A word as the engine is to say it.

    Attributes:
        text: the word.
        say: what the engine is told, where that is not the word.
        drawn_out: how much slower than the speed asked for; 1 is as spoken.
        vowel_first: the engine puts a faint throat click and some 70 ms of silence before an English
            vowel; this cuts it off, as it would push the cue before it away for nothing.
    """

    text: str
    say: str = ""
    drawn_out: float = 1.0
    vowel_first: bool = False


@dataclass(frozen=True)
class Language:
    """A shipped language: its code, the engine's voice and the words."""

    code: str
    voice: str
    words: tuple[Spoken, ...]


def plain(words: str) -> tuple[Spoken, ...]:
    """Words the engine says as they are written."""
    return tuple(Spoken(word) for word in words.split())


ENGLISH = Language(
    "en",
    "en-US",
    plain(
        "step hop skip jump leap run walk march slide gallop big long short side close together"
        " left right land tap touch one two three four five six seven"
        " ready go stop switch turn freeze push boom da"
    )
    + tuple(Spoken(word, vowel_first=True) for word in ("and", "up", "over", "eight"))
    + (Spoken("daa", say="da", drawn_out=1.5),),
)
SPANISH = Language(
    "es",
    "es-ES",
    plain(
        "paso salta salto pie corre camina marcha galopa desliza gran y largo corto lado junta"
        " izquierda derecha arriba cae toca uno dos tres cuatro cinco seis siete ocho"
        " listos ya alto cambio gira quieto empuja pum ta"
    )
    + (Spoken("taa", say="ta", drawn_out=2.0),),
)


def spoken(engine: py_nanotts.NanoTTS, voice: str, word: Spoken, speed: float) -> np.ndarray:
    """Have a word said, find it in what the engine gives, and level it; mono at `RATE_HZ`."""
    pcm = engine.speak(word.say or word.text, voice=voice, speed=speed / word.drawn_out, volume=VOLUME)
    samples = np.frombuffer(pcm, dtype="<i2") / 32768
    if np.abs(samples).max() > 0.99:
        raise SystemExit(f"{word.text} at {speed} clips: lower VOLUME")
    span = find_word(samples, RATE_HZ)
    start = span.start
    if word.vowel_first:
        start = max(start, round((find_pcentre(samples, RATE_HZ).time_s - VOWEL_RISE_S) * RATE_HZ))
    return at_level(faded(samples[start : span.stop], RATE_HZ), RATE_HZ)


def write_clip(samples: np.ndarray, language: str, word: str, speed: float) -> str:
    """Write one clip, measure the file as written, return its lines in the manifest."""
    name = f"{language}/{word}.{round(100 * speed)}.flac"
    path = VOICES / name
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, samples, RATE_HZ, subtype="PCM_16", compression_level=1.0)
    written, _ = soundfile.read(path)
    beat = find_pcentre(written, RATE_HZ)
    return (
        f'\n[[clip]]\ntext = "{word}"\nspeed = {speed}\nfile = "{name}"\n'
        f"p_centre_s = {beat.time_s:.4f}\nuncertainty_s = {beat.uncertainty_s:.4f}\n"
        f"duration_s = {written.size / RATE_HZ:.4f}\n"
    )


def render(language: Language) -> None:
    """Write all clips of a language and their manifest."""
    engine = py_nanotts.NanoTTS()
    entries = [
        write_clip(spoken(engine, language.voice, word, speed), language.code, word.text, speed)
        for word in language.words
        for speed in SPEEDS
    ]
    head = HEAD.format(language=language.code, voice=language.voice)
    (VOICES / f"{language.code}.toml").write_text(head + "".join(entries), encoding="utf-8")
    print(f"{language.code}: {len(entries)} clips")


if __name__ == "__main__":
    for each in (ENGLISH, SPANISH):
        render(each)
