"""The path of a bout on paper: a line of beats after another, places due as rings, footfalls as dots.

Time runs to the right on the same scale on every line, so that long and short are seen as distance;
size tells which is which once more. Nothing is told by colour.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from cuekit.drawing import svg
from cuekit.drawing.bout_marks import BoutLine, LineScale, Mark, bout_lines, scale_to_fit
from cuekit.rhythm.alignment import Alignment
from cuekit.telling.phrases import Phrases

SPLIT_LANDING_S = 0.030
"""Two feet this far apart are drawn as two contacts, s."""
UNEVEN_BEATS_A_LINE, EVEN_BEATS_A_LINE = (8, 10, 12), (8, 12, 16)
LABEL_ROOM = 118.0
BEFORE = 26.0
GAP = 116.0
SMALL, SMALLER = 14.0, 13.0
_LANE, _ABOVE = 17.0, 22.0

Place = Callable[[float], float]


@dataclass(frozen=True)
class Path:
    """The drawn path.

    Attributes:
        drawing: elements.
        bottom: where it ends, units.
        lines: the lines shown; the rest had no room.
    """

    drawing: str
    bottom: float
    lines: tuple[BoutLine, ...]


@dataclass(frozen=True)
class Sizes:
    """Radii of the rings; the dot of a footfall is smaller, so that both are seen.

    Attributes:
        lead: of the ring of the footfall that starts a beat, units.
        short: of the short one.
    """

    lead: float
    short: float

    def ring(self, place: int) -> float:
        """Radius of the ring of a place, units."""
        return self.short if place else self.lead

    def dot(self, place: int) -> float:
        """Radius of the footfall at a place, units."""
        return 0.6 * self.ring(place)


def draw_path(
    alignment: Alignment, phrases: Phrases, left: float, top: float, width: float, height: float
) -> Path:
    """Draw as many lines as the height has room for, at least one, with few beats on each where it can."""
    choices = UNEVEN_BEATS_A_LINE if alignment.pattern.uneven else EVEN_BEATS_A_LINE
    for beats in choices:
        page = _lay_out(alignment, bout_lines(alignment, beats), phrases, left, width)
        tall = [_height(line, page) for line in page.lines]
        if sum(tall) <= height:
            break
    drawn, y, shown = [], top, []
    for line, high in zip(page.lines, tall, strict=True):
        if shown and y + high > top + height:
            break
        drawn.append(_draw_line(line, page, y))
        shown.append(line)
        y += high
    return Path("".join(drawn), y, tuple(shown))


def draw_strays(times_s: Sequence[float], phrases: Phrases, left: float, top: float, width: float) -> Path:
    """Sounds of which no rhythm could be made: a cross each, along the recording."""
    y = top + 40
    parts = [svg.line(left, y, left + width, y, stroke=svg.LINE, stroke_width=3)]
    first_s, span_s = (times_s[0], max(times_s[-1] - times_s[0], 1.0)) if times_s else (0.0, 1.0)
    crosses = [svg.cross(left + 20 + (width - 40) * (time_s - first_s) / span_s, y, 7) for time_s in times_s]
    words = phrases.say("draw.strays" if times_s else "draw.nothing")
    parts += [svg.group("stray", *crosses), svg.text(left, y + 34, words, SMALL)]
    return Path("".join(parts), y + 50, ())


@dataclass(frozen=True)
class _Page:
    """What all lines have in common.

    Attributes:
        lines: all there are.
        scale: of time.
        sizes: of the rings.
        example: the beat whose parts are named; None where none is fit for it.
        left, right: edges, units.
        tries: whether there are several, so that each is named.
        two_feet: whether a landing may be of both feet, so that a split one can be told.
        phrases: the language of the words.
    """

    lines: tuple[BoutLine, ...]
    scale: LineScale
    sizes: Sizes
    example: int | None
    left: float
    right: float
    tries: bool
    two_feet: bool
    phrases: Phrases


def _lay_out(
    alignment: Alignment, lines: tuple[BoutLine, ...], phrases: Phrases, left: float, width: float
) -> _Page:
    room = width - LABEL_ROOM - BEFORE
    scale = scale_to_fit(lines, room, gap=GAP, before=BEFORE, longest_beat=room / 6)
    sizes, tries = _sizes(alignment, lines, scale), len(alignment.bouts) > 1
    two_feet = alignment.pattern.two_feet
    return _Page(lines, scale, sizes, _example(lines), left, left + width, tries, two_feet, phrases)


def _sizes(alignment: Alignment, lines: Sequence[BoutLine], scale: LineScale) -> Sizes:
    """Rings as large as neighbours allow."""
    beat = min(line.beat_s for line in lines) * scale.per_s
    shares = [float(one.long_share) for one in alignment.pattern.beats if one.uneven]
    room = min([0.42 * beat, *((1.0 - share) * beat / 1.6 for share in shares)])
    lead = max(5.0, min(21.0, 0.92 * room))
    return Sizes(lead, 0.58 * lead)


def _example(lines: Sequence[BoutLine]) -> int | None:
    """The first beat whose long and short part can be named without running into anything."""
    for line in lines:
        for lead, short, after in zip(line.marks, line.marks[1:], line.marks[2:], strict=False):
            both = lead.beat == short.beat and None not in (lead.heard_s, short.heard_s) and lead.judged
            from_s, to_s = lead.due_s - 1.5 * line.beat_s, after.due_s + 1.5 * line.beat_s
            free = not any(from_s <= time_s <= to_s for time_s in line.extras_s)
            if both and free and after.heard_s is not None and after.beat == lead.beat + 1:
                return lead.beat
    return None


def _above(line: BoutLine, example: int | None) -> bool:
    """Whether words or crosses stand above the line."""
    return bool(line.extras_s) or any(mark.beat == example for mark in line.marks)


def _half(line: BoutLine, page: _Page) -> float:
    """From the middle of the line up to what stands above it: rings, or the words of a pause."""
    return max(page.sizes.lead, 16.0) if line.gaps else page.sizes.lead


def _height(line: BoutLine, page: _Page) -> float:
    below = _LANE * (1 + any(mark.heard_s is None for mark in line.marks))
    high = _ABOVE * _above(line, page.example) + _half(line, page) + page.sizes.lead + below + 14
    return max(high, 66.0) if page.tries and line.first else high


def _draw_line(line: BoutLine, page: _Page, top: float) -> str:
    """One line: label, ground, rings, dots, and the words of what was not as planned."""
    sizes, x0 = page.sizes, page.left + LABEL_ROOM + BEFORE
    y = top + _ABOVE * _above(line, page.example) + _half(line, page) + 2
    if page.tries and line.first:
        y = max(y, top + 26)

    def at(time_s: float) -> float:
        return x0 + page.scale.at(line, time_s)

    heard = [mark for mark in line.marks if mark.heard_s is not None]
    lost = [mark for mark in line.marks if mark.heard_s is None]
    crosses = [at(time_s) for time_s in line.extras_s]
    over, under = y - _half(line, page), y + sizes.lead + 2 * _LANE - 2
    unheard = page.phrases.say("draw.not_heard")
    return svg.group(
        "line",
        _label(line, page, y),
        svg.group("unjudged", *_unjudged(line, at, sizes, y)),
        svg.group("ground", *_ground(line, at, page.phrases.say("draw.pause"), y)),
        svg.group("due", *(svg.ring(at(m.due_s), y, sizes.ring(m.place)) for m in heard)),
        svg.group("missed", *(svg.ring(at(m.due_s), y, sizes.ring(m.place), dashed=True) for m in lost)),
        svg.group("heard", *(svg.circle(at(m.heard_s), y, sizes.dot(m.place)) for m in heard)),
        svg.group("split", *_second_contacts(heard if page.two_feet else (), at, sizes, y)),
        svg.group("extra", *(svg.cross(x, over - 8, 5) for x in crosses)),
        *_named(crosses, over - 4, page.phrases.say("draw.extra"), page.right, beside=True),
        *_named([at(mark.due_s) for mark in lost], under, unheard, page.right, beside=False),
        *_numbers(line, at, sizes, y),
        *_long_and_short(line, at, page, y),
    )


def _label(line: BoutLine, page: _Page, y: float) -> str:
    """Which beats the line holds, which try it begins and when that began."""
    (first, last), left, say = line.beats, page.left, page.phrases.say
    parts = []
    if line.first and page.tries:
        parts.append(svg.text(left, y - 10, say("draw.try", number=line.bout), 17, font_weight="bold"))
    beats = say("draw.beats" if last > first else "draw.beat", first=first, last=last, to="–")
    parts.append(svg.text(left, y + 6, beats, SMALL))
    begun_s = line.marks[0].heard_s if line.marks[0].heard_s is not None else line.marks[0].due_s
    parts.append(svg.text(left, y + 22, say("draw.from", begun_s=begun_s), SMALLER, fill=svg.SOFT_INK))
    return "".join(parts)


def _ground(line: BoutLine, at: Place, pause: str, y: float) -> Iterator[str]:
    """The line itself, open where time is drawn short, with the length of a pause in the opening."""
    begin_s = line.start_s
    for gap in line.gaps:
        a, b = at(gap.start_s), at(gap.end_s)
        middle, reach = (a + b) / 2, 31.0 if gap.pause_s is not None else 5.0
        yield svg.line(at(begin_s), y, middle - reach - 5, y, stroke=svg.LINE, stroke_width=3)
        for x in (middle - reach, middle + reach):
            yield svg.line(x - 4, y + 9, x + 4, y - 9, stroke_width=2)
        if gap.pause_s is not None:
            yield svg.text(middle, y - 3, pause, SMALL, text_anchor="middle")
            yield svg.text(
                middle, y + 13, f"{gap.pause_s:.1f} s", SMALL, text_anchor="middle", font_weight="bold"
            )
        begin_s = gap.end_s
        yield svg.line(middle + reach + 5, y, b, y, stroke=svg.LINE, stroke_width=3)
    yield svg.line(at(begin_s), y, at(line.end_s), y, stroke=svg.LINE, stroke_width=3)


def _unjudged(line: BoutLine, at: Place, sizes: Sizes, y: float) -> Iterator[str]:
    """Shade behind what is not judged."""
    half = sizes.lead + 3
    for mark in line.marks:
        if not mark.judged:
            wide = sizes.ring(mark.place) + 6
            yield svg.shade(at(mark.due_s) - wide, y - half, 2 * wide, 2 * half)


def _second_contacts(heard: Sequence[Mark], at: Place, sizes: Sizes, y: float) -> Iterator[str]:
    """The second contact of a landing that fell apart."""
    for mark in heard:
        if mark.spread_s >= SPLIT_LANDING_S:
            x = at(mark.heard_s + mark.spread_s)
            yield svg.circle(x, y, 0.6 * sizes.dot(mark.place), stroke=svg.PAPER, stroke_width=1)


def _named(xs: Sequence[float], y: float, word: str, right: float, *, beside: bool) -> Iterator[str]:
    """The word at each place, said once with their number where they stand too close for it.

    Beside the places it stands on their right, or on their left where the page ends.
    """
    clusters: list[list[float]] = []
    for x in sorted(xs):
        if clusters and x - clusters[-1][-1] < _room(word) + (24 if beside else 4):
            clusters[-1].append(x)
        else:
            clusters.append([x])
    if beside and clusters and clusters[-1][-1] + 9 + _room(word) > right:
        last = clusters.pop()
        while clusters and last[0] - clusters[-1][-1] < 2 * (_room(word) + 12):
            last = clusters.pop() + last
        yield _name(last, last[0] - 9 - _room(word) / 2, y, word)
    for cluster in clusters:
        middle = cluster[-1] + 9 + _room(word) / 2 if beside else (cluster[0] + cluster[-1]) / 2
        yield _name(cluster, min(middle, right - _room(word) / 2), y, word)


def _room(word: str) -> float:
    """Room for a word with a number before it, units."""
    return svg.width_of(f"9 {word}", SMALLER)


def _name(cluster: Sequence[float], x: float, y: float, word: str) -> str:
    words = word if len(cluster) == 1 else f"{len(cluster)} {word}"
    return svg.text(x, y, words, SMALLER, text_anchor="middle")


def _numbers(line: BoutLine, at: Place, sizes: Sizes, y: float) -> Iterator[str]:
    """The number of each beat under the ring of its lead."""
    for mark in line.marks:
        if mark.place == 0:
            x, words_y = at(mark.due_s), y + sizes.lead + _LANE - 2
            yield svg.text(x, words_y, str(mark.beat), SMALLER, text_anchor="middle", fill=svg.SOFT_INK)


def _long_and_short(line: BoutLine, at: Place, page: _Page, y: float) -> Iterator[str]:
    """Brackets that name the long and the short part of one beat."""
    start = next((n for n, mark in enumerate(line.marks) if mark.beat == page.example), None)
    if start is None:
        return
    xs = [at(mark.heard_s) for mark in line.marks[start : start + 3]]
    over = y - page.sizes.lead - 5
    long, short = page.phrases.say("draw.long"), page.phrases.say("draw.short")
    for a, b in pairwise(xs):
        d = f"M{a + 1.5:.1f} {over + 4:.1f}V{over:.1f}H{b - 1.5:.1f}V{over + 4:.1f}"
        yield svg.element("path", d=d, fill="none", stroke=svg.INK)
    half = svg.width_of(long, SMALLER) / 2, svg.width_of(short, SMALLER) / 2
    long_x = min((xs[0] + xs[1]) / 2, xs[1] - 3 - half[0])
    short_x = max((xs[1] + xs[2]) / 2, xs[1] + 3 + half[1])
    for word, x in ((long, long_x), (short, short_x)):
        yield svg.text(x, over - 4, word, SMALLER, text_anchor="middle")
