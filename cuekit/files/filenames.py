"""A file name fit for a message, whatever it is made of."""

from __future__ import annotations

from pathlib import Path

LONGEST_SHOWN = 160
"""Longer names are shown with their middle left out, so that a message stays readable, characters."""


def shown(path: Path | str) -> str:
    r"""A file name with what would not print, or would turn the text round, escaped.

    Bytes that are no text (a name written by a system with another encoding) appear as \xNN.
    """
    text = "".join(_shown_character(character) for character in str(path))
    if len(text) <= LONGEST_SHOWN:
        return text
    return f"{text[:100]}...{text[-50:]}"


def _shown_character(character: str) -> str:
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:  # a byte carried by surrogateescape
        return f"\\x{code - 0xDC00:02x}"
    return character if character.isprintable() else character.encode("unicode_escape").decode("ascii")
