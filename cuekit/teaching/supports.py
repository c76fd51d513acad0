"""What helps: words, pictures, floor marks, equipment and changes, for a skill and for what was heard.

Data in `supports/*.toml`; a teacher's own files add to them and are shown first. Touch is always
shown with its condition, leave and training, which stands in `cuekit.telling.phrases`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cuekit.errors import PatternError
from cuekit.files.filenames import shown
from cuekit.files.plain_text import read_text
from cuekit.patterns.pattern_fields import Fields, nearest
from cuekit.patterns.pattern_syntax import Problem, Source, parse, shown_value

SHIPPED = Path(__file__).parent / "supports"
GENERAL = "any"
ADAPTATIONS = "adaptations"
MOST_ENTRIES = 60
LONGEST = 240


@dataclass(frozen=True)
class Support:
    """What helps with one thing that was heard.

    Attributes:
        fault: its id, as in `cuekit.telling.faults`.
        see: what the eye may see.
        say: words for the child.
        show: a picture or floor mark; empty where there is none.
        touch: only with leave and training; empty where there is none.
        use: equipment; empty where there is none.
        change: what to change; empty where there is nothing.
    """

    fault: str
    see: str
    say: str
    show: str = ""
    touch: str = ""
    use: str = ""
    change: str = ""


@dataclass(frozen=True)
class Look:
    """What only the eye finds: what it sees, words for the child, why no microphone hears it."""

    see: str
    say: str
    why: str


@dataclass(frozen=True)
class SkillSupports:
    """What helps with one skill.

    Attributes:
        name, title: "gallop", "Gallop".
        patterns: names of the patterns it is for.
        rhythm_words, shape_words: words that carry the rhythm, and the shape.
        picture, touch, equipment: as named.
        faults: for what was heard, a teacher's own first.
        looks: for what only the eye finds.
    """

    name: str
    title: str
    patterns: tuple[str, ...]
    rhythm_words: str
    shape_words: str
    picture: str
    touch: str
    equipment: str
    faults: tuple[Support, ...]
    looks: tuple[Look, ...]

    def for_fault(self, fault: str) -> tuple[Support, ...]:
        """What helps with a fault; empty where nothing is known."""
        return tuple(support for support in self.faults if support.fault == fault)


@dataclass(frozen=True)
class Adaptation:
    """What may help whom: the cue, what is measured, what to watch. Nothing follows from a label alone."""

    id: str
    who: str
    cue: str
    measure: str
    watch: str


def load_supports(skill: str, *, language: str = "en", folders: Sequence[Path] = ()) -> SkillSupports:
    """What helps with a skill, in a teacher's own folders first, then shipped, then for any skill.

    Texts are in the language where a file has them in it ("say_es" beside "say").

    Raises:
        PatternError: nothing is known of the skill, or a file has a problem.
    """
    own = _own(skill, folders)
    shipped = [path for path in (SHIPPED / f"{skill}.toml",) if skill in list_supports()]
    if not own and not shipped:
        known = list_supports()
        raise PatternError(f"no supports for {shown_value(skill)}.{nearest(skill, known) or _listed(known)}")
    parts = [_required(path, language) for path in (*own, *shipped)]
    general = _required(SHIPPED / f"{GENERAL}.toml", language)
    return _joined(parts, general)


def supports_for_pattern(
    pattern: str, *, language: str = "en", folders: Sequence[Path] = ()
) -> SkillSupports:
    """What helps with a pattern: the teacher's file of its name, else the skill that names it, else any."""
    if _own(pattern, folders):
        return load_supports(pattern, language=language, folders=folders)
    for skill in sorted(list_supports(), key=lambda name: (name != pattern, name)):
        supports = load_supports(skill, language=language, folders=folders)
        if pattern in supports.patterns:
            return supports
    return load_supports(GENERAL, language=language, folders=folders)


def _own(skill: str, folders: Sequence[Path]) -> list[Path]:
    """A teacher's own files on a skill."""
    named = [folder / f"{skill}.toml" for folder in folders]
    return [path for path in named if path.exists() and is_supports(path)]


def list_supports() -> tuple[str, ...]:
    """Names of the skills with supports."""
    return tuple(sorted(path.stem for path in SHIPPED.glob("*.toml") if path.stem != ADAPTATIONS))


def is_supports(path: Path) -> bool:
    """Whether a file is one of supports: no ladder and no pattern, as a teacher keeps all in one folder.

    Raises:
        PatternError: it cannot be read.
    """
    text = read_text(path, "ladder or support")
    return not any(part in text for part in ("[[step]]", "[[footfall]]", "[[segment]]"))


def check_supports(path: Path) -> tuple[Problem, ...]:
    """Every problem of a file of supports; none where it can be used."""
    try:
        return _read_supports(path).problems
    except PatternError as error:
        return (Problem("", None, "", str(error)),)


def _read_supports(path: Path, language: str = "en") -> _Reading:
    """A file of supports, or everything that is wrong with it.

    Raises:
        PatternError: the file cannot be read.
    """
    top, problems = _opened(path, language)
    if top is None:
        return _Reading(None, tuple(problems))
    words = {"name": top.text("name", longest=LONGEST), "title": top.told("title", longest=LONGEST)}
    words |= {key: top.told(key, default="", longest=LONGEST) or "" for key in _WORDS}
    patterns = top.text("patterns", default="", longest=400) or ""
    faults = [_support(fields) for fields in top.tables("fault", MOST_ENTRIES)]
    looks = [_look(fields) for fields in top.tables("eye", MOST_ENTRIES)]
    top.finish()
    if problems:
        return _Reading(None, tuple(problems))
    names = tuple(name.strip() for name in patterns.split(",") if name.strip())
    return _Reading(SkillSupports(**words, patterns=names, faults=tuple(faults), looks=tuple(looks)), ())


def load_adaptations(language: str = "en") -> tuple[Adaptation, ...]:
    """What may help whom.

    Raises:
        PatternError: the file has a problem.
    """
    path = SHIPPED / f"{ADAPTATIONS}.toml"
    top, problems = _opened(path, language)
    if top is None:
        raise PatternError(str(problems[0]))
    top.text("name")
    rows = []
    for fields in top.tables("adaptation", MOST_ENTRIES):
        told = [fields.told(key, longest=LONGEST) for key in ("who", "cue", "measure", "watch")]
        rows.append([fields.text("id", longest=LONGEST), *told])
        fields.finish()
    top.finish()
    if problems:
        raise PatternError(str(problems[0]))
    return tuple(Adaptation(*row) for row in rows)


_WORDS = ("rhythm_words", "shape_words", "picture", "touch", "equipment")


@dataclass(frozen=True)
class _Reading:
    """What a file says; nothing where there are problems."""

    supports: SkillSupports | None
    problems: tuple[Problem, ...]


def _joined(parts: Sequence[SkillSupports], general: SkillSupports) -> SkillSupports:
    """Files of one skill as one, earlier ones first; the general help where no file says any."""
    faults = tuple(support for part in parts for support in part.faults)
    covered = {support.fault for support in faults}
    rest = tuple(support for support in general.faults if support.fault not in covered)
    words = {key: next((value for part in parts if (value := getattr(part, key))), "") for key in _WORDS}
    return replace(
        parts[0],
        patterns=tuple(dict.fromkeys(name for part in parts for name in part.patterns)),
        faults=faults + rest,
        looks=tuple(look for part in parts for look in part.looks),
        **words,
    )


def _opened(path: Path, language: str) -> tuple[Fields | None, list[Problem]]:
    text, file = read_text(path, "support"), shown(path.name)
    table = parse(file, text)
    if isinstance(table, Problem):
        return None, [table]
    problems: list[Problem] = []
    return Fields(Source(file, text), table, problems, language=language), problems


def _support(fields: Fields) -> Support:
    """One [[fault]]."""
    fault = fields.text("id", longest=60) or ""
    see, say = (fields.told(key, longest=LONGEST) or "" for key in ("see", "say"))
    rest = [fields.told(key, default="", longest=LONGEST) or "" for key in ("show", "touch", "use", "change")]
    fields.finish()
    return Support(fault, see, say, *rest)


def _look(fields: Fields) -> Look:
    """One [[eye]]."""
    see, say, why = (fields.told(key, longest=LONGEST) or "" for key in ("see", "say", "why"))
    fields.finish()
    return Look(see, say, why)


def _required(path: Path, language: str) -> SkillSupports:
    """What was read.

    Raises:
        PatternError: there are problems; the first is shown.
    """
    reading = _read_supports(path, language)
    if reading.supports is None:
        more = len(reading.problems) - 1
        rest = f"\n{more} more: cuekit ladder --check {shown(path)} shows all." if more else ""
        raise PatternError(f"{reading.problems[0]}{rest}")
    return reading.supports


def _listed(known: Sequence[str]) -> str:
    return f" There are {', '.join(known)}."
