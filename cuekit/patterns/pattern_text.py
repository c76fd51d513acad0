"""The text of a pattern file turned into a pattern, with everything that is wrong with it.

A file holds either footfalls (a simple pattern) or segments (a figure put together from patterns).
Files are written for the right side; the left is its mirror image.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from cuekit.errors import PatternError
from cuekit.patterns.figures import Piece, compose
from cuekit.patterns.pattern import Beat, Foot, Pattern, ShareRange, Side, Step, TempoRange, as_ratio
from cuekit.patterns.pattern_fields import Fields
from cuekit.patterns.pattern_syntax import Problem, Source, parse, shown_value
from cuekit.patterns.schedule import CLOSEST_CUES_S, FURTHEST_CUES_S

MOST_FOOTFALLS = 64
MOST_COMPOSED = 512
LONGEST_CYCLE = Fraction(64)
LONGEST_REST = Fraction(16)
COUNT_IN = 4
NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_PARTS = ("long", "short", "whole")
_STARTS_ON = {"en": "side it starts on", "es": "lado con que empieza"}
"""What the side of a figure stands for where its file does not say."""


@dataclass(frozen=True)
class Reading:
    """What a pattern file says.

    Attributes:
        pattern: None where there are problems.
        languages: of the cue words; empty where words are the same in every language.
        problems: in the order of their lines, those without a known line first.
    """

    pattern: Pattern | None
    languages: frozenset[str]
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class _Landing:
    """One [[footfall]] as written."""

    at: Fraction
    part: str
    step: Step


def read_pattern(
    text: str, file: str, language: str | None, find: Callable[[str], Reading], told_in: str = "en"
) -> Reading:
    """Read the text of a pattern file.

    Parameters
    ----------
    text: the file's content.
    file: its name, for messages.
    language: of the cue words taken, such as "en"; a footfall without it gets a tone only. None takes
        only the words that are alike in every language.
    find: gives the reading of the pattern a segment names; raises PatternError where it cannot.
    told_in: language of the title and the other texts about it, where they are written in it.
    """
    problems: list[Problem] = []
    table = parse(file, text)
    if isinstance(table, Problem):
        return Reading(None, frozenset(), (table,))
    fields = Fields(Source(file, text), table, problems, language=told_in)
    languages: set[str] = set()
    if fields.has("segment"):
        pattern = _read_figure(fields, language, find, languages)
    else:
        pattern = _read_simple(fields, language, languages)
    fields.finish()
    problems.sort(key=lambda problem: problem.line or 0)
    return Reading(None if problems else pattern, frozenset(languages), tuple(problems))


def _read_simple(fields: Fields, language: str | None, languages: set[str]) -> Pattern | None:
    """A pattern written as footfalls."""
    name, title = _read_name(fields), fields.told("title", longest=80)
    beat_means, side_means = fields.told("beat"), fields.told("side", default="", longest=60)
    rhythm = fields.choice("rhythm", ("even", "uneven"))
    length = fields.fraction("cycle", Fraction(1, 2), LONGEST_CYCLE)
    count_in = fields.whole("count_in", 0, 16, default=COUNT_IN)
    heard = fields.told("heard_when_right")
    tempo = _read_tempo(fields)
    share = _read_share(fields) if rhythm == "uneven" else None
    parts = fields.tables("footfall", MOST_FOOTFALLS)
    if not parts:
        fields.note("", "expected at least one [[footfall]] (or [[segment]] for a figure), found none")
    landings = [_read_landing(part, language, languages) for part in parts]
    if fields.problems or length is None:
        return None
    beats = _beats(parts, landings, length, share)
    if rhythm == "even" and any(beat.uneven for beat in beats):
        fields.note("rhythm", 'expected "uneven", because a footfall is short; found "even"')
    if rhythm == "uneven" and beats and not any(beat.uneven for beat in beats):
        fields.note("rhythm", 'expected "even", because no footfall is short; found "uneven"')
    if fields.problems:
        return None
    pattern = Pattern(name, title, beat_means, side_means, Side.RIGHT, beats, tempo, share, count_in, heard)
    return _followable(fields, pattern)


def _read_name(fields: Fields) -> str | None:
    """The name, which must be fit to be a file's."""
    name = fields.text("name", longest=40)
    if name is not None and not NAME.fullmatch(name):
        fields.note("name", f"expected small letters a-z, digits and hyphens, found {shown_value(name)}")
    return name


def _read_tempo(fields: Fields) -> TempoRange | None:
    """The [tempo] part."""
    part = fields.table("tempo")
    if part is None:
        return None
    default, low, high = (part.number(key, 20.0, 300.0) for key in ("default", "low", "high"))
    part.finish()
    if default is None or low is None or high is None:
        return None
    if not low <= default <= high:
        part.note("default", f"expected from low {low:g} to high {high:g} beats/min, found {default:g}")
        return None
    return TempoRange(default, low, high)


def _read_share(fields: Fields) -> ShareRange | None:
    """The [ratio] part, as shares."""
    part = fields.table("ratio")
    if part is None:
        return None
    default, low, high = (part.share(key) for key in ("default", "low", "high"))
    part.finish()
    if default is None or low is None or high is None:
        return None
    if not low <= default <= high:
        expected = f"expected from low {as_ratio(low)} to high {as_ratio(high)}"
        part.note("default", f"{expected}, found {as_ratio(default)}")
        return None
    return ShareRange(default, low, high)


def _read_landing(part: Fields, language: str | None, languages: set[str]) -> _Landing | None:
    """One [[footfall]]."""
    at = part.fraction("at", Fraction(0), LONGEST_CYCLE)
    foot = part.choice("foot", tuple(Foot))
    kind = part.choice("part", _PARTS)
    accent = part.yes_no("accent", default=False)
    word = _word_in(part, "word", language, languages)
    part.finish()
    if at is None or foot is None or kind is None:
        return None
    return _Landing(at, kind, Step(Foot(foot), word, accent))


def _word_in(part: Fields, key: str, language: str | None, languages: set[str]) -> str:
    """A word in the language asked for; the languages there are get added to `languages`."""
    word = part.word(key)
    if isinstance(word, str):
        return word
    languages.update(word)
    return word.get(language, "") if language else ""


def _beats(
    parts: list[Fields], landings: list[_Landing], length: Fraction, share: ShareRange | None
) -> tuple[Beat, ...]:
    """Landings gathered into beats; what does not add up is noted."""
    _check_order(parts, landings, length, share)
    if parts[0].problems:
        return ()
    leads = [n for n, landing in enumerate(landings) if landing.part != "short"]
    ends = [landings[n].at for n in leads[1:]] + [length]
    beats = []
    for n, end in zip(leads, ends, strict=True):
        lead = landings[n]
        if end - lead.at < 1:
            found = f"expected at least 1 beat until the next one, found {end - lead.at}"
            parts[n].note("at", f'{found}; a second footfall inside a beat is written part = "short"')
            return ()
        if lead.part == "long":
            beats.append(Beat(lead.at, end - lead.at, lead.step, landings[n + 1].step, share.default))
        else:
            beats.append(Beat(lead.at, end - lead.at, lead.step))
    return tuple(beats)


def _check_order(
    parts: list[Fields], landings: list[_Landing], length: Fraction, share: ShareRange | None
) -> None:
    """Note footfalls that are out of order, outside the cycle, or a long without its short one."""
    if landings[0].at != 0:
        parts[0].note("at", f"expected 0, because a cycle starts with a footfall, found {landings[0].at}")
    for part, (before, after) in zip(parts[1:], pairwise(landings), strict=True):
        if after.at <= before.at:
            part.note("at", f"expected later than the footfall before it at {before.at}, found {after.at}")
    for n, (part, landing) in enumerate(zip(parts, landings, strict=True)):
        if landing.at >= length:
            part.note("at", f"expected before the end of the cycle of {length} beats, found {landing.at}")
        before = landings[n - 1] if n else None
        after = landings[n + 1] if n + 1 < len(landings) else None
        if landing.part == "long" and (after is None or after.part != "short"):
            part.note("part", 'a "long" footfall needs a "short" one next; write "whole" where there is none')
        if landing.part == "short":
            _check_short(part, landing, before, share)


def _check_short(part: Fields, landing: _Landing, before: _Landing | None, share: ShareRange | None) -> None:
    """Note a short footfall without its long one, or away from the default ratio."""
    if before is None or before.part != "long":
        part.note("part", 'a "short" footfall needs a "long" one just before it')
    elif share is None:
        part.note("part", 'expected "whole", because rhythm is "even"; found "short"')
    elif landing.at != before.at + share.default:
        expected = f"expected {before.at + share.default}, because the ratio is {as_ratio(share.default)}"
        part.note("at", f"{expected}; found {landing.at}")


def _read_figure(
    fields: Fields, language: str | None, find: Callable[[str], Reading], languages: set[str]
) -> Pattern | None:
    """A figure written as segments; what it leaves out is taken from the patterns it is made of."""
    pieces = _read_pieces(fields.tables("segment", MOST_FOOTFALLS), language, find, languages)
    if fields.has("footfall"):
        fields.tables("footfall", MOST_FOOTFALLS)
        fields.note("footfall", "expected either [[footfall]] or [[segment]], found both")
    name, title = _read_name(fields), fields.told("title", longest=80)
    beat_means = fields.told("beat", default=pieces[0].pattern.beat_means if pieces else "")
    side_means = fields.told("side", default=_STARTS_ON.get(fields.language, _STARTS_ON["en"]), longest=60)
    count_in = fields.whole("count_in", 0, 16, default=COUNT_IN)
    heard = fields.told("heard_when_right", default="")
    tempo = _read_tempo(fields) if fields.has("tempo") else _common_tempo(fields, pieces)
    share = _read_share(fields) if fields.has("ratio") else _common_share(fields, pieces)
    if fields.problems:
        return None
    try:
        beats = compose(pieces)
    except PatternError as error:
        return fields.note("segment", str(error))
    if sum(len(beat.steps) for beat in beats) > MOST_COMPOSED:
        return fields.note("segment", f"expected at most {MOST_COMPOSED} footfalls in all, found more")
    if share is not None and not any(beat.uneven for beat in beats):
        return fields.note("ratio", "expected no ratio, because no segment has a short sound")
    if share is not None:
        beats = tuple(replace(beat, long_share=share.default) if beat.uneven else beat for beat in beats)
    pattern = Pattern(name, title, beat_means, side_means, Side.RIGHT, beats, tempo, share, count_in, heard)
    return _followable(fields, pattern)


def _read_pieces(
    parts: list[Fields], language: str | None, find: Callable[[str], Reading], languages: set[str]
) -> tuple[Piece, ...]:
    """The [[segment]] parts: patterns, each with the rest written after it."""
    pieces: list[Piece] = []
    for part in parts:
        if not part.has("rest"):
            piece = _read_piece(part, language, find, languages)
            if piece is not None:
                pieces.append(piece)
            continue
        rest = part.fraction("rest", Fraction(0), LONGEST_REST)
        part.finish()
        if part.nth == 1:
            part.note("rest", "expected a pattern first: a rest makes the beat before it longer")
        elif rest is not None and pieces:
            pieces[-1] = replace(pieces[-1], rest=pieces[-1].rest + rest)
    return tuple(pieces)


def _read_piece(
    part: Fields, language: str | None, find: Callable[[str], Reading], languages: set[str]
) -> Piece | None:
    """One [[segment]] that names a pattern."""
    name = part.text("pattern", longest=40)
    side = part.choice("side", tuple(Side), default=Side.RIGHT)
    beats = part.whole("beats", 1, MOST_COMPOSED) if part.has("beats") else 0
    last_short = part.yes_no("last_short", default=True)
    word = _word_in(part, "last_word", language, languages) if part.has("last_word") else None
    part.finish()
    if name is None or side is None or beats is None:
        return None
    try:
        reading = find(name)
        if reading.pattern is None:
            raise PatternError(f"has a problem of its own: {reading.problems[0]}")
        pattern = reading.pattern.with_side(Side(side))
    except PatternError as error:
        return part.note("pattern", str(error))
    languages.update(reading.languages)
    return Piece(pattern, beats or len(pattern.beats), last_short, word)


def _common_tempo(fields: Fields, pieces: tuple[Piece, ...]) -> TempoRange | None:
    """The tempo that suits every piece; the first one's default, as near as that comes."""
    if not pieces:
        return None
    low = max(piece.pattern.tempo.low for piece in pieces)
    high = min(piece.pattern.tempo.high for piece in pieces)
    if low > high:
        return fields.note("tempo", f"missing: the segments have no tempo in common ({low:g} to {high:g})")
    return TempoRange(min(max(pieces[0].pattern.tempo.default, low), high), low, high)


def _common_share(fields: Fields, pieces: tuple[Piece, ...]) -> ShareRange | None:
    """The long share that suits every uneven piece; None where none is uneven."""
    shares = [piece.pattern.share for piece in pieces if piece.pattern.share is not None]
    if not shares:
        return None
    low, high = max(share.low for share in shares), min(share.high for share in shares)
    if low > high:
        return fields.note("ratio", "missing: the segments have no ratio in common")
    return ShareRange(min(max(shares[0].default, low), high), low, high)


def _followable(fields: Fields, pattern: Pattern) -> Pattern | None:
    """The pattern, unless its own tempo range puts cues where nobody can follow."""
    ats = [beat.place_at(place) for beat in pattern.beats for place in range(len(beat.steps))]
    closest = min(after - before for before, after in pairwise([*ats, pattern.length]))
    tempo = pattern.tempo
    if float(closest) * 60.0 / tempo.high < CLOSEST_CUES_S:
        most = math.floor(float(closest) * 60.0 / CLOSEST_CUES_S)
        why = f"because cues closer than {1000 * CLOSEST_CUES_S:.0f} ms cannot be followed"
        return fields.note("tempo", f"expected high at most {most}, {why}; found {tempo.high:g}")
    if not pattern.uneven and 60.0 / tempo.low > FURTHEST_CUES_S:
        why = f"because cues further apart than {FURTHEST_CUES_S} s cannot be followed"
        least = math.ceil(60.0 / FURTHEST_CUES_S)
        return fields.note("tempo", f"expected low at least {least}, {why}; found {tempo.low:g}")
    return pattern
