"""Patterns from files: finding them by name, loading them, checking what a teacher wrote.

A pattern is one TOML file called after its name. A teacher's own folders are looked in first, then
the shipped ones; a path ending in .toml is taken as it stands. Files are capped in size before they
are parsed, and only ordinary files are opened.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from cuekit.errors import PatternError
from cuekit.files.filenames import shown
from cuekit.files.plain_text import read_text
from cuekit.patterns.pattern import ENGLISH_COUNTING, Counting, Pattern
from cuekit.patterns.pattern_fields import nearest
from cuekit.patterns.pattern_syntax import Problem, shown_value
from cuekit.patterns.pattern_text import NAME, Reading, read_pattern
from cuekit.shipped import shipped_folder

DEEPEST_FIGURE = 4
_DEVICE_NAMES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
_SUFFIX = ".toml"
_OF_ANOTHER_KIND = ("[[step]]", "[[fault]]", "[[eye]]", "rhythm_words", "shape_words")
"""How lines begin that only a ladder has, or a list of what helps."""

COUNTING = {
    "en": ENGLISH_COUNTING,
    "es": Counting(("uno", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho"), "listos", "ya"),
}
"""The count-in by language; in any other one it is counted in English."""


def load_pattern(
    name: str | Path,
    *,
    language: str | None = "en",
    told_in: str | None = None,
    folders: Sequence[Path] = (),
) -> Pattern:
    """The pattern of that name, or in that file, for the right side and its default ratio.

    Parameters
    ----------
    name: of a pattern ("gallop"), or the path of a pattern file ("my-figure.toml").
    language: of the cue words; None leaves out all but those that are alike in every language.
    told_in: language of its title and the other texts about it, where its file has them in it; that of
        the words where left out.
    folders: the teacher's own, looked in before the shipped patterns.

    Raises
    ------
    PatternError: there is no such pattern (the nearest is named), its file has a problem (the first
        is shown), or it has no words in that language.
    """
    shelf = _Shelf(_own_and_shipped(name, folders), language, told_in or language or "en")
    path = Path(name) if is_path(name) else shelf.path_of(str(name))
    reading = shelf.read(path, ())
    if reading.pattern is None:
        more = len(reading.problems) - 1
        rest = f"\n{more} more: cuekit patterns check {shown(path)} shows all." if more else ""
        raise PatternError(f"{reading.problems[0]}{rest}")
    if language is not None and reading.languages and language not in reading.languages:
        known = ", ".join(sorted(reading.languages))
        raise PatternError(f"{reading.pattern.name} has no words in {shown_value(language)}: choose {known}")
    return replace(reading.pattern, counting=COUNTING.get(language or "en", ENGLISH_COUNTING))


def list_patterns(*, folders: Sequence[Path] = ()) -> tuple[str, ...]:
    """Names of all patterns there are, in order of the alphabet; whether they load is not looked at."""
    places = [*folders, shipped_folder("patterns")]
    return tuple(sorted({name for folder in places for name in _names_in(folder)}))


def check_file(path: str | Path, *, folders: Sequence[Path] = ()) -> tuple[Problem, ...]:
    """Every problem of a pattern file; none where it can be used."""
    shelf = _Shelf(_own_and_shipped(path, folders), "en")
    try:
        return shelf.read(Path(path), ()).problems
    except PatternError as error:
        return (Problem("", None, "", str(error)),)


def is_path(name: str | Path) -> bool:
    """Whether this is the path of a file rather than the name of a pattern."""
    return isinstance(name, Path) or name.endswith(_SUFFIX) or "/" in name or "\\" in name


def _own_and_shipped(name: str | Path, folders: Sequence[Path]) -> tuple[Path, ...]:
    """Folders in order of looking: beside the file named, the teacher's own, the shipped one."""
    beside = [Path(name).parent] if is_path(name) else []
    return (*beside, *folders, shipped_folder("patterns"))


def _names_in(folder: Path) -> list[str]:
    """Names of the pattern files in a folder; none where it cannot be read."""
    try:
        found = [path for path in folder.iterdir() if path.suffix == _SUFFIX and _fit(path.stem)]
        return [path.stem for path in found if _may_be_pattern(path)]
    except OSError as error:
        raise PatternError(f"cannot look into the folder {shown(folder)}: {error.strerror}") from error


def _may_be_pattern(path: Path) -> bool:
    """Whether a file is no ladder and no list of what helps: a teacher keeps all three in one folder."""
    if path.parent == shipped_folder("patterns"):
        return True
    try:
        return not any(line.startswith(_OF_ANOTHER_KIND) for line in read_text(path, "pattern").splitlines())
    except PatternError:
        return True  # refused where it is used, with the reason


def _fit(name: str) -> bool:
    """Whether a name can be that of a pattern: it then holds nothing that could lead out of a folder."""
    return NAME.fullmatch(name) is not None and name not in _DEVICE_NAMES


class _Shelf:
    """The folders looked in for one call, each file read once.

    Reading once keeps figures of figures cheap; the trail of names stops those that hold themselves.
    """

    def __init__(self, folders: Sequence[Path], language: str | None, told_in: str = "en") -> None:
        self._folders = folders
        self._language = language
        self._told_in = told_in
        self._read: dict[Path, Reading] = {}

    def path_of(self, name: str) -> Path:
        """The file of a pattern.

        Raises:
            PatternError: there is none of that name.
        """
        if _fit(name):
            for folder in self._folders:
                path = folder / f"{name}{_SUFFIX}"
                if path.exists() and _may_be_pattern(path):
                    return path
        known = sorted({known for folder in self._folders for known in _names_in(folder)})
        hint = nearest(name, known) or " cuekit patterns lists them all."
        raise PatternError(f"there is no pattern {shown_value(name)}.{hint}")

    def read(self, path: Path, trail: tuple[str, ...]) -> Reading:
        """What a file says; `trail` names the figures being read on the way here."""
        if path not in self._read:
            self._read[path] = self._named_rightly(path, self._fresh(path, (*trail, path.stem)))
        return self._read[path]

    def _fresh(self, path: Path, trail: tuple[str, ...]) -> Reading:
        def find(name: str) -> Reading:
            if name in trail:
                held = " holds ".join((*trail, name))
                raise PatternError(f"a figure cannot hold itself, use another: {held}")
            if len(trail) >= DEEPEST_FIGURE:
                raise PatternError(f"figures can hold figures {DEEPEST_FIGURE} deep at most")
            return self.read(self.path_of(name), trail)

        return read_pattern(read_text(path, "pattern"), shown(path.name), self._language, find, self._told_in)

    @staticmethod
    def _named_rightly(path: Path, reading: Reading) -> Reading:
        """The reading, with a problem where the pattern's name is not that of its file."""
        if reading.pattern is None or (reading.pattern.name == path.stem and _fit(path.stem)):
            return reading
        name = reading.pattern.name
        message = f'expected the file to be called after the pattern, "{name}{_SUFFIX}": rename one of them'
        if name in _DEVICE_NAMES:
            message = f'"{name}" is a name some computers keep for themselves: choose another'
        problem = Problem(shown(path.name), None, "name", message)
        return replace(reading, pattern=None, problems=(*reading.problems, problem))
