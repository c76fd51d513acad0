"""Frozen nouns of the records as plain JSON values and back, checked by their own type hints.

Every noun is stored, exported and merged through these two functions, so none has a reader of its own.
"""

from __future__ import annotations

import json
import math
import types
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from functools import cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from cuekit.errors import RecordError

Noun = TypeVar("Noun")


def to_text(noun: Any) -> str:
    """A noun as one line of strict JSON.

    Raises:
        RecordError: a text in it was typed in another encoding, so that it is none.
    """
    text = json.dumps(to_plain(noun), allow_nan=False, ensure_ascii=False, separators=(",", ":"))
    if not text.isascii() and any("\ud800" <= letter <= "\udfff" for letter in text):
        raise RecordError("a text holds bytes that are no letters: type it again")
    return text


def from_text(kind: type[Noun], text: str) -> Noun:
    """The noun of a line of JSON.

    Raises:
        RecordError: it is no JSON, or not such a noun.
    """
    try:
        plain = json.loads(text)
    except (ValueError, RecursionError):
        raise RecordError(f"a stored {kind.__name__} is no JSON: {text[:40]!r}") from None
    return from_plain(kind, plain)


def to_plain(value: Any) -> Any:
    """A noun as dicts, lists, texts and numbers."""
    if is_dataclass(value):
        return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):  # a datetime is one too
        return value.isoformat()
    return [to_plain(one) for one in value] if isinstance(value, tuple) else value


def from_plain(kind: Any, plain: Any) -> Any:
    """The value of type `kind` that `to_plain` made into `plain`.

    Raises:
        RecordError: `plain` is not of that form.
    """
    return _reader(kind)(plain)


@cache
def _reader(kind: Any) -> Callable[[Any], Any]:
    """The function that reads one type; made once a type, as a list of bouts reads a hundred thousand."""
    if get_origin(kind) in (Union, types.UnionType):
        (inner,) = (_reader(one) for one in get_args(kind) if one is not type(None))
        return lambda plain: None if plain is None else inner(plain)
    if get_origin(kind) is tuple:
        each = _reader(get_args(kind)[0])
        return lambda plain: tuple([each(one) for one in _of(list, plain)])
    if is_dataclass(kind):
        return _noun_reader(kind)
    if issubclass(kind, Enum | date):
        return _word_reader(kind)
    return _number if kind is float else lambda plain: _of(kind, plain)


def _noun_reader(kind: type) -> Callable[[Any], Any]:
    hints = get_type_hints(kind)
    readers = {field.name: _reader(hints[field.name]) for field in fields(kind)}

    def read(plain: Any) -> Any:
        row = _of(dict, plain)
        if not row.keys() <= readers.keys():
            raise RecordError(f"a {kind.__name__} has no {min(row.keys() - readers.keys())[:40]!r}")
        try:
            return kind(**{name: readers[name](value) for name, value in row.items()})
        except TypeError:
            raise RecordError(f"a {kind.__name__} is not complete: {str(sorted(row))[:80]}") from None

    return read


def _word_reader(kind: Any) -> Callable[[Any], Any]:
    """Of a word of a list, or a day or moment."""
    make = kind if issubclass(kind, Enum) else kind.fromisoformat

    def read(plain: Any) -> Any:
        try:
            return make(_of(str, plain))
        except ValueError:
            raise RecordError(f"expected a {kind.__name__}, got {str(plain)[:40]!r}") from None

    return read


def _number(plain: Any) -> float:
    if isinstance(plain, bool) or not isinstance(plain, int | float) or not math.isfinite(plain):
        raise RecordError(f"expected a number, got {str(plain)[:40]!r}")
    return float(plain)


def _of(kind: type, plain: Any) -> Any:
    if not isinstance(plain, kind) or (kind is int and isinstance(plain, bool)):
        raise RecordError(f"expected {kind.__name__}, got {str(plain)[:40]!r}")
    if kind is str and not _is_text(plain):
        raise RecordError(f"half a letter in {plain[:40]!r}: no file can hold it")
    return plain


def _is_text(words: str) -> bool:
    """Whether every sign is one: JSON can spell half of a pair of UTF-16, which is none."""
    return not any("\ud800" <= sign <= "\udfff" for sign in words)
