"""Reading the keys of a pattern file one by one, noting every problem instead of stopping at the first.

A problem says where (file, line where known, key counted from 1 as people count), what was expected
and what was found. Positions are exact fractions, so decimals are turned away: 0.67 is not 2/3.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from cuekit.errors import PatternError
from cuekit.patterns.pattern import share_of_ratio
from cuekit.patterns.pattern_syntax import LONGEST_SHOWN, Problem, Source, shown_value

MOST_UNKNOWN = 20
_FRACTION = re.compile(r"(?:(\d{1,4}) )?(\d{1,4})(?:/(\d{1,4}))?", re.ASCII)
_LANGUAGE = re.compile(r"[a-z]{2,3}")
_TOLD_IN = re.compile(r"(\w+)_([a-z]{2})", re.ASCII)


def nearest(name: str, known: Sequence[str]) -> str:
    """' Did you mean "x"?', or nothing where no known name is near."""
    close = difflib.get_close_matches(name[:LONGEST_SHOWN], known, n=1, cutoff=0.6)
    return f' Did you mean "{close[0]}"?' if close else ""


class Fields:
    """One table of a pattern file. What is asked for is checked; what is wrong goes to `problems`.

    A reading method returns None where the value is missing or wrong, after noting why. A key with a
    default may be left out. `finish` notes the keys nobody asked for. `language` is that of the texts
    for people: "title_es" stands beside "title", and is taken where it is there.
    """

    def __init__(
        self,
        source: Source,
        table: dict[str, Any],
        problems: list[Problem],
        name: str = "",
        nth: int = 0,
        language: str = "en",
    ) -> None:
        self.source = source
        self.problems = problems
        self.name = name
        self.nth = nth
        self.language = language
        self._table = table
        self._asked: list[str] = []

    def note(self, key: str, message: str) -> None:
        """Note a problem with a key of this table; an empty key is the table itself."""
        table = f"{self.name} {self.nth}" if self.nth else self.name
        line = self.source.line_of(self.name, self.nth or 1, key)
        place = ", ".join(part for part in (table, key) if part)
        self.problems.append(Problem(self.source.file, line, place, message))

    def has(self, key: str) -> bool:
        """Whether the key is there."""
        return key in self._table

    def _take(self, key: str, expected: str, default: object) -> Any:
        """The raw value, its default, or None after noting that it is missing."""
        self._asked.append(key)
        if key in self._table:
            return self._table[key]
        if default is None:
            self.note(key, f"missing: expected {expected}")
        return default

    def _refuse(self, key: str, expected: str, found: object) -> None:
        self.note(key, f"expected {expected}, found {shown_value(found)}")

    def text(self, key: str, *, default: str | None = None, longest: int = 300) -> str | None:
        """A text on one line; it may be empty only where the default is."""
        expected = f"a text in quotes, on one line, at most {longest} letters"
        value = self._take(key, expected, default)
        if value is None or (value == "" and default == ""):
            return value
        if not isinstance(value, str) or not value.strip() or len(value) > longest or not value.isprintable():
            return self._refuse(key, expected, value)
        return value.strip()

    def told(self, key: str, *, default: str | None = None, longest: int = 300) -> str | None:
        """A text for people, as `text`, in the language asked for; the plain one where it has no other."""
        plain = self.text(key, default=default, longest=longest)
        others = {}
        for name in self._table:
            match = _TOLD_IN.fullmatch(name)
            if match and match[1] == key:
                others[match[2]] = self.text(name, default="" if plain == "" else None, longest=longest)
        return others.get(self.language) or plain

    def choice(self, key: str, options: Sequence[str], *, default: str | None = None) -> str | None:
        """One of a few words."""
        expected = " or ".join(f'"{option}"' for option in options)
        value = self._take(key, expected, default)
        if value is not None and value not in options:
            return self._refuse(key, expected, value)
        return value

    def yes_no(self, key: str, *, default: bool) -> bool:
        """true or false."""
        value = self._take(key, "true or false", default)
        if not isinstance(value, bool):
            self._refuse(key, "true or false (no quotes)", value)
            return default
        return value

    def whole(self, key: str, low: int, high: int, *, default: int | None = None) -> int | None:
        """A whole number from low to high."""
        expected = f"a whole number from {low} to {high}"
        value = self._take(key, expected, default)
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            return self._refuse(key, expected, value)
        return value

    def number(self, key: str, low: float, high: float) -> float | None:
        """A finite number from low to high."""
        expected = f"a number from {low:g} to {high:g}"
        value = self._take(key, expected, None)
        if value is None:
            return None
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        if not plain or not low <= value <= high or not math.isfinite(value):
            return self._refuse(key, expected, value)
        return float(value)

    def fraction(self, key: str, low: Fraction, high: Fraction) -> Fraction | None:
        """An exact number of beats: 1, "2/3" or "1 2/3", from low to high."""
        expected = f'a whole number or a fraction in quotes such as "2/3", from {low} to {high} beats'
        value = self._take(key, expected, None)
        if value is None:
            return None
        exact = _exact(value)
        if exact is None or not low <= exact <= high:
            return self._refuse(key, expected, value)
        return exact

    def share(self, key: str) -> Fraction | None:
        """A long share, written as the ratio long:short."""
        expected = 'a ratio long:short in quotes, such as "2:1"'
        value = self._take(key, expected, None)
        if value is None:
            return None
        if not isinstance(value, str):
            return self._refuse(key, expected, value)
        try:
            return share_of_ratio(value)
        except PatternError as error:
            self.note(key, str(error))
            return None

    def word(self, key: str) -> dict[str, str] | str:
        """A cue word: one text for every language, or a table of languages; empty for a tone only."""
        self._asked.append(key)
        value = self._table.get(key, "")
        words = value if isinstance(value, dict) else {"en": value}
        for language, text in words.items():
            if not _LANGUAGE.fullmatch(language):
                self._refuse(key, 'a language of two or three small letters, such as "en"', language)
                return ""
            if not isinstance(text, str) or len(text) > 20 or not text.isprintable():
                self._refuse(key, 'a short word in quotes, or {en = "step", es = "paso"}', text)
                return ""
        return value

    def table(self, key: str) -> Fields | None:
        """A table of its own, [key]."""
        value = self._take(key, f"a part headed [{key}]", None)
        if value is None:
            return None
        if not isinstance(value, dict):
            return self._refuse(key, f"a part headed [{key}]", value)
        return Fields(self.source, value, self.problems, key, language=self.language)

    def tables(self, key: str, most: int) -> list[Fields]:
        """All tables headed [[key]], in order; none where there are none."""
        self._asked.append(key)
        value = self._table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
            self._refuse(key, f"parts headed [[{key}]]", value)
            return []
        if len(value) > most:
            self.note(key, f"expected at most {most}, found {len(value)}")
            return []
        return [
            Fields(self.source, entry, self.problems, key, n, self.language)
            for n, entry in enumerate(value, 1)
        ]

    def finish(self) -> None:
        """Note the keys nobody asked for, with the nearest one that exists."""
        unknown = [key for key in self._table if key not in self._asked]
        for key in unknown[:MOST_UNKNOWN]:
            known = ", ".join(dict.fromkeys(self._asked))
            hint = nearest(key, self._asked) or f" Known here: {known}."
            self.note(shown_value(key).strip('"'), f"unknown key.{hint}")
        if len(unknown) > MOST_UNKNOWN:
            self.note("", f"{len(unknown) - MOST_UNKNOWN} more unknown keys")


def _exact(value: object) -> Fraction | None:
    """A fraction written as a whole number, "2/3" or "1 2/3"; None for anything else."""
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return Fraction(value) if abs(value) < 10_000 else None
    match = _FRACTION.fullmatch(value.strip()) if isinstance(value, str) else None
    if not match or (match[1] and not match[3]) or (match[3] and int(match[3]) == 0):
        return None
    return int(match[1] or 0) + Fraction(int(match[2]), int(match[3] or 1))
