"""A printed page as one self-contained HTML file: escaped, black on white, for Letter and A4 alike.

No script, font, picture or style comes from outside; tables have headers and captions, the language is
marked, and headings are in order, so that a screen reader and a printer both get the whole page.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
"""Nothing is fetched, whatever a note may hold."""

STYLE = """
@page { margin: 10mm 13mm }
* { box-sizing: border-box }
body { font: 10pt/1.27 sans-serif; color: #000; background: #fff; max-width: 184mm; margin: 0 auto }
h1 { font-size: 16pt; margin: 0 0 1mm }
h2 { font-size: 12pt; margin: 2.2mm 0 0.8mm; border-bottom: 0.4mm solid #000; break-after: avoid }
section { break-inside: avoid } p { margin: 0 0 1.5mm } ul { margin: 0 0 1.5mm; padding-left: 5mm }
.whole { white-space: nowrap } .facts { margin: 0 0 1mm } .big { font-size: 11pt; font-weight: bold }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; margin: 0 0 1.5mm; break-inside: avoid }
caption { text-align: left; font-weight: bold; padding: 0 0 0.5mm }
th, td { border: 0.2mm solid #000; padding: 0.6mm 1.4mm; text-align: left; vertical-align: top }
th { background: #fff; border-bottom-width: 0.5mm }
svg { width: 100%; height: auto; display: block }
.roomy td { height: 12mm } .roomy th:last-child { width: 26% } .form { white-space: pre-wrap }
figure { margin: 0; break-inside: avoid } .legend { font-size: 9pt }
footer p { margin: 0; display: inline }
footer { font-size: 8.5pt; margin-top: 2.5mm; border-top: 0.2mm solid #000; padding-top: 1mm }
@media screen { body { padding: 8mm } }
"""


def tag(name: str, *inside: str, **attributes: str) -> str:
    """An element round markup that is already safe; `class_` becomes `class`."""
    written = "".join(f' {key.rstrip("_")}="{escape(value)}"' for key, value in attributes.items())
    return f"<{name}{written}>{''.join(inside)}</{name}>"


def says(name: str, words: str, *, whole: str = "", **attributes: str) -> str:
    """An element round plain words; `whole` is a word of them that is not broken at the end of a line."""
    safe = escape(words, quote=False)
    kept = safe.replace(whole, says("span", whole, class_="whole")) if whole else safe
    return tag(name, kept, **attributes)


def section(title: str, *inside: str) -> str:
    """A heading and what stands under it; nothing where nothing does."""
    filled = [one for one in inside if one]
    return tag("section", says("h2", title), *filled) if filled else ""


def bullets(lines: Sequence[str], *, whole: str = "") -> str:
    """A list; nothing of nothing."""
    return tag("ul", *(says("li", line, whole=whole) for line in lines)) if lines else ""


def table(headers: Sequence[str], rows: Sequence[Sequence[str]], caption: str = "") -> str:
    """A table of plain words with headers; nothing without rows."""
    if not rows:
        return ""
    head = tag("thead", tag("tr", *(says("th", word, scope="col") for word in headers)))
    body = tag("tbody", *(tag("tr", *(says("td", cell) for cell in row)) for row in rows))
    return tag("table", says("caption", caption) if caption else "", head, body)


def document(title: str, language: str, *body: str) -> str:
    """The whole file."""
    head = tag(
        "head",
        '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
        says("title", title),
        f"<style>{STYLE}</style>",
    )
    return f"<!DOCTYPE html>\n{tag('html', head, tag('body', tag('main', *body)), lang=language)}\n"
