"""The sentences a teacher reads, by language; one TOML file each, so that none hides in code."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from cuekit.errors import PatternError


@dataclass(frozen=True, eq=False)
class Phrases:
    """The sentences of one language.

    Attributes:
        language: "en".
        sentences: text by dotted key ("fault.stopped.heard").
    """

    language: str
    sentences: MappingProxyType[str, str]

    def say(self, key: str, **values: object) -> str:
        """The sentence of a key with its {names} filled in."""
        return self.sentences[key].format(**values)


@cache
def load_phrases(language: str = "en", subject: str = "") -> Phrases:
    """Read the sentences of a language.

    Args:
        language: "en".
        subject: folder of sentences of their own, "report"; those after a bout where empty.

    Raises:
        PatternError: there are none in that language.
    """
    folder = files(__name__).joinpath(subject) if subject else files(__name__)
    known = sorted(path.name[:-5] for path in folder.iterdir() if path.name.endswith(".toml"))
    if language not in known:
        raise PatternError(f'no sentences in "{language[:20]}": choose one of {", ".join(known)}')
    table = tomllib.loads(folder.joinpath(f"{language}.toml").read_text(encoding="utf-8"))
    return Phrases(language, MappingProxyType(dict(_flat(table))))


def phrases_for_words(language: str) -> Phrases:
    """The sentences beside cue words of a language: those in it, English where there are none.

    A teacher's own pattern may have words in a language that the program does not speak.
    """
    try:
        return load_phrases(language)
    except PatternError:
        return load_phrases()


def _flat(table: dict, prefix: str = "") -> list[tuple[str, str]]:
    """Dotted keys of nested tables."""
    rows: list[tuple[str, str]] = []
    for key, value in table.items():
        rows += _flat(value, f"{prefix}{key}.") if isinstance(value, dict) else [(f"{prefix}{key}", value)]
    return rows
