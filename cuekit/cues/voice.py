"""The nouns of speech: a spoken word with its beat, and a voice that has several."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from cuekit.cues.sounds import Sound
from cuekit.errors import PatternError


@dataclass(frozen=True)
class Word:
    """One word as spoken by one voice.

    Attributes:
        text: what is said.
        speed: 1 is the voice's normal speed, 1.3 is 1.3 times as fast.
        sound: ready to be added to a track, anchored at its perceptual centre.
        uncertainty_s: the beat lies within the anchor plus or minus this.
    """

    text: str
    speed: float
    sound: Sound
    uncertainty_s: float


@dataclass(frozen=True)
class Voice:
    """The words of one speaker.

    Attributes:
        name: a language code, or the name of the teacher's folder.
        words: every word at every speed there is.
        notes: what the teacher should know about single clips, a sentence each.
    """

    name: str
    words: tuple[Word, ...]
    notes: tuple[str, ...] = ()

    @property
    def texts(self) -> tuple[str, ...]:
        """The words it can say."""
        return tuple(dict.fromkeys(word.text for word in self.words))

    @property
    def speeds(self) -> tuple[float, ...]:
        """The speeds it can say them at, slowest first."""
        return tuple(sorted({word.speed for word in self.words}))

    def take(self, text: str, speed: float = 1.0) -> Word:
        """The word at this speed, or at the nearest slower one that there is.

        Raises:
            PatternError: the voice cannot say it; the nearest word it can say is named.
        """
        takes = [word for word in self.words if word.text == text.casefold()]
        if not takes:
            raise unknown_word(text, self.texts, self.name)
        slowest_first = sorted(takes, key=lambda word: word.speed)
        slow_enough = [word for word in slowest_first if word.speed <= speed + 1e-9]
        return slow_enough[-1] if slow_enough else slowest_first[0]


def joined(first: Voice, second: Voice) -> Voice:
    """A voice that says what `first` can say, and the rest as `second` does."""
    rest = tuple(word for word in second.words if word.text not in first.texts)
    return Voice(f"{first.name} + {second.name}", first.words + rest, first.notes + second.notes)


def unknown_word(text: str, texts: Sequence[str], voice: str) -> PatternError:
    """The refusal of a word no clip exists for, naming the nearest one that does."""
    return PatternError(f'the voice "{voice}" has no word "{text}"{did_you_mean(text, texts)}')


def did_you_mean(text: str, texts: Sequence[str]) -> str:
    """End of a refusal: the nearest known word, or all of them."""
    near = difflib.get_close_matches(text.casefold(), texts, n=1, cutoff=0.5)
    return f': did you mean "{near[0]}"?' if near else f": it has {', '.join(texts)}"
