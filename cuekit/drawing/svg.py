"""Elements of a drawing as text: escaped, black, white and grey only, and text whose room is known.

No style sheet, script or font travels with a drawing, so the viewer's own sans-serif font is used.
Widths are therefore estimated on the wide side: a line that fits here fits in the common fonts.
"""

from __future__ import annotations

import unicodedata
from html import escape

INK = "#000000"
SOFT_INK = "#202020"
LINE = "#5c5c5c"
SHADE = "#e4e4e4"
PAPER = "#ffffff"

_SETS_EM = (
    (frozenset("iIjl.,:;'| "), 0.34),
    (frozenset("frt()[]/!-"), 0.41),
    (frozenset("cskvxyz"), 0.59),
    (frozenset("mwMW@%"), 1.0),
)
_CAPITAL_EM, _USUAL_EM, _FULL_EM = 0.75, 0.64, 1.05
_BOLD = 1.14


def element(tag: str, *inside: str, **attributes: object) -> str:
    """One element round others; `stroke_width=2` becomes `stroke-width="2"`, None is left out."""
    written = "".join(
        f' {name.rstrip("_").replace("_", "-")}="{escape(_plain(_shown(value)))}"'
        for name, value in attributes.items()
        if value is not None
    )
    return f"<{tag}{written}>{''.join(inside)}</{tag}>" if inside else f"<{tag}{written}/>"


def text(x: float, y: float, words: str, size: float, **attributes: object) -> str:
    """A line of text with its baseline at `y`."""
    return element("text", escaped(words), x=x, y=y, font_size=size, **attributes)


def line(x1: float, y1: float, x2: float, y2: float, **attributes: object) -> str:
    """A straight line, black unless told otherwise."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **({"stroke": INK} | attributes))


def circle(x: float, y: float, radius: float, **attributes: object) -> str:
    """A circle, filled black unless told otherwise."""
    return element("circle", cx=x, cy=y, r=radius, **({"fill": INK} | attributes))


def ring(x: float, y: float, radius: float, *, dashed: bool = False, width: float = 2.0) -> str:
    """An open circle, its rim dashed where nothing was heard."""
    dash = f"{radius / 2.5:.1f} {radius / 3.2:.1f}" if dashed else None
    return circle(x, y, radius, fill=PAPER, stroke=INK, stroke_width=width, stroke_dasharray=dash)


def cross(x: float, y: float, reach: float) -> str:
    """A small x."""
    down = f"M{x - reach:.1f} {y - reach:.1f}L{x + reach:.1f} {y + reach:.1f}"
    d = f"{down}M{x + reach:.1f} {y - reach:.1f}L{x - reach:.1f} {y + reach:.1f}"
    return element("path", d=d, stroke=INK, stroke_width=2.2, fill="none")


def shade(x: float, y: float, width: float, height: float) -> str:
    """A grey field with a dotted rim, which a photocopier keeps where it loses the grey."""
    rim = {"stroke": INK, "stroke_width": 1.1, "stroke_dasharray": "1.5 4"}
    return element("rect", x=x, y=y, width=width, height=height, fill=SHADE, **rim)


def group(name: str, *inside: str) -> str:
    """Elements that belong together, named so that they can be found again."""
    return element("g", *inside, class_=name) if inside else ""


def escaped(words: str) -> str:
    """Text safe inside an element, without characters that XML has no place for."""
    return escape(_plain(words), quote=False)


def width_of(words: str, size: float, *, bold: bool = False) -> float:
    """About how wide a line of text is, on the wide side, in units of the drawing."""
    return sum(_em(character) for character in words) * size * (_BOLD if bold else 1.0)


def wrapped(words: str, size: float, room: float, *, most: int = 99, bold: bool = False) -> list[str]:
    """Text in lines no wider than `room`; what passes `most` lines ends in an ellipsis."""
    lines: list[str] = []
    for word in words.split():
        for piece in _pieces(word, size, room, bold):
            longer = f"{lines[-1]} {piece}" if lines else piece
            if lines and width_of(longer, size, bold=bold) <= room:
                lines[-1] = longer
            else:
                lines.append(piece)
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], shortened(" ".join(lines[most - 1 :]), size, room, bold=bold)]


def shortened(words: str, size: float, room: float, *, bold: bool = False) -> str:
    """Text cut to `room` with an ellipsis where it is longer."""
    if width_of(words, size, bold=bold) <= room:
        return words
    while words and width_of(words + "…", size, bold=bold) > room:
        words = words[:-1]
    return words.rstrip() + "…"


def _pieces(word: str, size: float, room: float, bold: bool) -> list[str]:
    """A word, broken where it alone is wider than the room."""
    pieces = [""]
    for character in word:
        if pieces[-1] and width_of(pieces[-1] + character, size, bold=bold) > room:
            pieces.append("")
        pieces[-1] += character
    return pieces


def _em(character: str) -> float:
    """Width of a character against the font size, after a wide common sans-serif font."""
    for characters, em in _SETS_EM:
        if character in characters:
            return em
    if unicodedata.combining(character):
        return 0.0
    if unicodedata.east_asian_width(character) in "WF":
        return _FULL_EM
    return _CAPITAL_EM if character.isupper() else _USUAL_EM


def _shown(value: object) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def _plain(words: str) -> str:
    """Text without the characters XML 1.0 forbids (section 2.2), such as controls and lone surrogates."""
    return "".join(character for character in words if _allowed(ord(character)))


def _allowed(code: int) -> bool:
    return code in (0x09, 0x0A, 0x0D) or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code > 0xFFFF
