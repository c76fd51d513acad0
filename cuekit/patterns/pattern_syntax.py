"""The text of a pattern file as tables and keys, and the line each of them is on.

TOML is read by the standard library; what it says of a slip is put into words a teacher can act on.
Lines are capped before it reads them: it takes minutes over one key of 60,000 dots.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import Any

LONGEST_LINE = 1000
LONGEST_SHOWN = 40
_HEADER = re.compile(r"\s*\[\[?\s*([A-Za-z0-9_-]+)\s*\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")
_SAID = (
    ("illegal character '\\n'", "the quote at the end of the text is missing"),
    ("after a statement", 'there is more than one value: a ratio or a fraction goes in quotes, "2:1"'),
    ("invalid value", "this is no value: a text goes in quotes"),
    ("invalid statement", "expected a key, an equals sign and a value"),
    ("expected ']", "a bracket is missing"),
    ("expected '='", "expected an equals sign after the key"),
    ("overwrite a value", "this key is there twice: keep one"),
    ("twice", "this part is there twice: keep one"),
    ("unterminated string", "a quote is missing"),
    ("illegal character", "there is a character that does not belong in a text: delete it"),
    ("invalid character", "there is a character that does not belong in a text: delete it"),
)


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a pattern file.

    Attributes:
        file: name of the file, as shown; empty where the message has it.
        line: counted from 1; None where it is not known.
        key: what in the file, "footfall 2, at"; empty for the file as a whole.
        message: what was expected and what was found.
    """

    file: str
    line: int | None
    key: str
    message: str

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        place = ", ".join(part for part in (self.file, line, self.key) if part)
        return f"{place}: {self.message}" if place else self.message


def shown_value(value: object) -> str:
    """A value as it may be put into a message: short, on one line, control codes escaped."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = "".join(c if c.isprintable() else repr(c)[1:-1] for c in value[: LONGEST_SHOWN + 1])
        return f'"{text}"' if len(value) <= LONGEST_SHOWN else f'"{text[:LONGEST_SHOWN]}..."'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, int) and abs(value) >= 10**LONGEST_SHOWN:
        return "a number too long to show"
    return str(value)[:LONGEST_SHOWN]


class Source:
    """The text of a pattern file with the place of every table and key, as far as a plain scan can tell."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self._lines: dict[tuple[str, int, str], int] = {}
        if '"""' in text or "'''" in text:
            return  # a key inside a text of several lines would be taken for a real one
        table, counts = "", {"": 1}
        for number, line in enumerate(text.splitlines(), 1):
            if header := _HEADER.match(line):
                table = header[1]
                counts[table] = counts.get(table, 0) + 1
                self._lines.setdefault((table, counts[table], ""), number)
            elif key := _KEY.match(line):
                self._lines.setdefault((table, counts[table], key[1]), number)

    def line_of(self, table: str, number: int, key: str) -> int | None:
        """Line of a key in the number-th table of that name, else of the table's header."""
        return self._lines.get((table, number, key)) or self._lines.get((table, number, ""))


def parse(file: str, text: str) -> dict[str, Any] | Problem:
    """The tables and keys of a file, or why it cannot be read."""
    if not text.strip():
        return Problem(file, None, "", "the file is empty: copy one that works and change it")
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            return Problem(file, number, "", f"expected at most {LONGEST_LINE} letters in a line, found more")
    try:
        return tomllib.loads(text)
    except RecursionError:
        return Problem(file, None, "", "brackets are nested too deeply")
    except ValueError as error:  # TOMLDecodeError, and numbers of too many digits
        return _slip(file, text, str(error))


def _slip(file: str, text: str, error: str) -> Problem:
    """A slip of writing, in a teacher's words, with the line it is on."""
    said = re.sub(r"\s*\(at .*\)", "", error)
    words = next((ours for theirs, ours in _SAID if theirs in said.lower()), said[:80].lower())
    place = re.search(r"\(at line (\d+), column \d+\)", error)
    if not place:
        return Problem(file, None, "", f"cannot be read to the end: {words}")
    line = int(place[1])
    return Problem(file, line, "", f"{words}; found {shown_value(text.split(chr(10))[line - 1].strip())}")
