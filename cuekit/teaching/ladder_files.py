"""Ladders from files: one TOML file a skill. A teacher's own folder is looked in before the shipped one."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from cuekit.errors import PatternError
from cuekit.files.filenames import shown
from cuekit.files.plain_text import read_text
from cuekit.patterns.pattern_fields import nearest
from cuekit.patterns.pattern_files import is_path, list_patterns
from cuekit.patterns.pattern_syntax import Problem, shown_value
from cuekit.teaching.ladder import Ladder
from cuekit.teaching.ladder_text import LadderReading, read_ladder

SHIPPED = Path(__file__).parent / "ladders"


def load_ladder(name: str | Path, *, language: str = "en", folders: Sequence[Path] = ()) -> Ladder:
    """The ladder of that name, or in that file.

    Parameters
    ----------
    name: of a ladder ("gallop"), or the path of a ladder file.
    language: of its texts, where its file has them in it.
    folders: the teacher's own, looked in first; their patterns are known too.

    Raises
    ------
    PatternError: there is no such ladder (the nearest is named), or its file has a problem.
    """
    path = Path(name) if is_path(name) else _path_of(str(name), folders)
    reading = _read(path, folders, language)
    if reading.ladder is None:
        more = len(reading.problems) - 1
        rest = f"\n{more} more: cuekit ladder --check {shown(path)} shows all." if more else ""
        raise PatternError(f"{reading.problems[0]}{rest}")
    return reading.ladder


def list_ladders(*, folders: Sequence[Path] = ()) -> tuple[str, ...]:
    """Names of all ladders, in order of the alphabet; a teacher's file is one where it has steps."""
    return tuple(sorted({path.stem for folder in (*folders, SHIPPED) for path in _files(folder)}))


def key_of_step(which: str, skill: str, *, folders: Sequence[Path] = ()) -> str | None:
    """The key of a step, by its number, its key or the end of its key; None where it is of no ladder.

    Parameters
    ----------
    which: what a teacher typed.
    skill: whose ladder is looked in first; a whole key is found in any.
    folders: the teacher's own ladders.
    """
    names = list_ladders(folders=folders)
    for name in sorted(names, key=lambda name: name != skill):
        ladder = load_ladder(name, folders=folders)
        if name == skill and ladder.finds(which):
            return ladder.step(which).key
        if ladder.has(which):
            return which
    return None


def check_ladder(path: str | Path, *, folders: Sequence[Path] = ()) -> tuple[Problem, ...]:
    """Every problem of a ladder file; none where it can be used."""
    try:
        return _read(Path(path), (Path(path).parent, *folders)).problems
    except PatternError as error:
        return (Problem("", None, "", str(error)),)


def _read(path: Path, folders: Sequence[Path], language: str = "en") -> LadderReading:
    ladders = {*list_ladders(folders=folders), path.stem}
    reading = read_ladder(
        read_text(path, "ladder"), shown(path.name), list_patterns(folders=folders), ladders, language
    )
    if reading.ladder is not None and reading.ladder.name != path.stem:
        message = f'expected the file to be called after the ladder, "{reading.ladder.name}.toml"'
        return LadderReading(None, (Problem(shown(path.name), None, "name", message),))
    return reading


def _path_of(name: str, folders: Sequence[Path]) -> Path:
    for folder in (*folders, SHIPPED):
        for path in _files(folder):
            if path.stem == name:
                return path
    known = list_ladders(folders=folders)
    hint = nearest(name, known) or f" There are {', '.join(known)}."
    raise PatternError(f"there is no ladder {shown_value(name)}.{hint}")


def _files(folder: Path) -> list[Path]:
    """The ladder files of a folder: those that hold steps, as patterns may lie beside them."""
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix == ".toml")
    except OSError as error:
        raise PatternError(f"cannot look into the folder {shown(folder)}: {error.strerror}") from error
    return paths if folder == SHIPPED else [path for path in paths if "[[step]]" in read_text(path, "ladder")]
