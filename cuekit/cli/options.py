"""Options that several commands share, and the number types that refuse what is no plain number.

click's own number types take "nan", "1_00" and digits of other scripts; these take ASCII digits only,
and name the option, the range and the value in every refusal.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from cuekit.errors import PatternError, RecordError
from cuekit.patterns.pattern import Pattern, Side, share_of_ratio
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.pattern_syntax import shown_value
from cuekit.records.learner import parse_code

_DECIMAL = re.compile(r"[+-]?\d{1,9}(?:\.\d{1,9})?", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d{1,9}", re.ASCII)


class Decimal(click.ParamType):
    """A plain decimal number from `low` to `high`, in `unit`."""

    name = "number"

    def __init__(self, low: float, high: float, unit: str = "") -> None:
        self.low = low
        self.high = high
        self.unit = unit

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number as a float."""
        if isinstance(value, str) and not _DECIMAL.fullmatch(value.strip()):
            self._refuse(value, param, ctx)
        number = float(value)
        if not self.low <= number <= self.high:
            self._refuse(value, param, ctx)
        return number

    def _refuse(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> None:
        unit = f" {self.unit}" if self.unit else ""
        self.fail(
            f"expected a number from {self.low:g} to {self.high:g}{unit}, got {shown_value(value)}",
            param,
            ctx,
        )


class Whole(click.ParamType):
    """A plain whole number from `low` to `high`, in `unit`."""

    name = "whole number"

    def __init__(self, low: int, high: int, unit: str = "") -> None:
        self.low = low
        self.high = high
        self.unit = unit

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number as an int."""
        plain = isinstance(value, int) or bool(_WHOLE.fullmatch(value.strip()))
        if not plain or not self.low <= int(value) <= self.high:
            unit = f" {self.unit}" if self.unit else ""
            expected = f"expected a whole number from {self.low} to {self.high}{unit}"
            self.fail(f"{expected}, got {shown_value(value)}", param, ctx)
        return int(value)


class Ratio(click.ParamType):
    """A ratio long:short, "2:1", taken as its long share, 2/3."""

    name = "long:short"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """The long share as an exact fraction."""
        if isinstance(value, Fraction):
            return value
        try:
            return share_of_ratio(value)
        except PatternError as error:
            self.fail(str(error), param, ctx)


class SideChoice(click.ParamType):
    """right or left; R and L will do."""

    name = "right|left"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Side:
        """The side."""
        for side in Side:
            if isinstance(value, str) and value.lower() in (side.value, side.value[0]):
                return side
        self.fail(f"expected right or left, got {shown_value(value)}", param, ctx)


class Code(click.ParamType):
    """A learner's code."""

    name = "code"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The code in capital letters."""
        try:
            return parse_code(value)
        except RecordError as error:
            self.fail(str(error), param, ctx)


class LanguageCode(click.ParamType):
    """A language by its letters, "en"; which there are, the words say that are looked up."""

    name = "code"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The letters as typed; an empty text is not taken for "left out"."""
        if not value.strip():
            self.fail(f"expected a language such as en or es, got {shown_value(value)}", param, ctx)
        return value


TEMPO_BPM = Decimal(20, 300, "beats/min")

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


def tempo_option(help_text: str = "Beats a minute; the pattern's own where left out.") -> Decorator:
    """--tempo, as `tempo_bpm`."""
    return click.option("--tempo", "tempo_bpm", type=TEMPO_BPM, metavar="BPM", help=help_text)


def side_option() -> Decorator:
    """--side, as `side`."""
    help_text = "right or left: the leading foot, direction or hopping foot."
    return click.option("--side", type=SideChoice(), metavar="SIDE", help=help_text)


def ratio_option() -> Decorator:
    """--ratio, as `share`."""
    help_text = "long:short of an uneven skill, such as 2:1 or 3:2."
    return click.option("--ratio", "share", type=Ratio(), metavar="LONG:SHORT", help=help_text)


def language_option() -> Decorator:
    """--language, as `language`."""
    help_text = "Language of what is told and said, such as en or es."
    return click.option(
        "--language", type=LanguageCode(), default="en", show_default=True, metavar="CODE", help=help_text
    )


def own_language_option() -> Decorator:
    """--language, as `language`; None where left out."""
    help_text = "Language, such as en or es; where left out, cue words in the learner's own."
    return click.option("--language", type=LanguageCode(), metavar="CODE", help=help_text)


def takes_unicode() -> bool:
    """Whether the terminal, or what stdout leads to, has more than ASCII."""
    return (sys.stdout.encoding or "").lower().startswith("utf")


def data_option() -> Decorator:
    """--data, as `folder`; None for the usual place."""
    return click.option(
        "--data",
        "folder",
        type=click.Path(file_okay=False, path_type=Path),
        envvar="CUEKIT_DATA",
        metavar="FOLDER",
        help="Where the records lie; also set by CUEKIT_DATA.",
    )


def folders_option() -> Decorator:
    """--patterns, as `folders`."""
    return click.option(
        "--patterns",
        "folders",
        type=click.Path(exists=True, file_okay=False, path_type=Path),
        multiple=True,
        envvar="CUEKIT_PATTERNS",
        metavar="FOLDER",
        help="A folder of your own patterns, looked in first; also set by CUEKIT_PATTERNS.",
    )


def choose_pattern(
    name: str, *, side: Side | None, share: Fraction | None, language: str, folders: Sequence[Path]
) -> Pattern:
    """The pattern as asked for on the command line; None leaves a choice to the pattern.

    Raises:
        PatternError: it is unknown, its file has a problem, or it has no such side, ratio or language.
    """
    pattern = load_pattern(name, language=language, folders=folders)
    if side is not None:
        pattern = pattern.with_side(side)
    return pattern if share is None else pattern.with_long_share(share)
