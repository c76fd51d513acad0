"""A printed page as a file: HTML for a browser, or the same page as a tagged PDF.

The PDF comes from WeasyPrint, an extra ("pdf"), loaded only when a PDF is asked for:
headings, tables, lists and figures are tagged, and title and language set, as PDF/UA-1 (ISO 14289-1) asks.
Whether a file meets the whole of that standard is for a validator to say; none is run here.
"""

from __future__ import annotations

import io
import warnings
from contextlib import redirect_stdout
from enum import StrEnum
from pathlib import Path
from types import ModuleType

from cuekit.errors import RecordError, to_install
from cuekit.files.atomic import write_bytes, write_text
from cuekit.files.filenames import shown

HTML_ENDINGS = (".html", ".htm")
PDF_ENDING = ".pdf"
VARIANT = "pdf/ua-1"


class Paper(StrEnum):
    """What a PDF is laid out for; a browser asks its own user."""

    LETTER = "letter"
    A4 = "a4"


def check_ending(path: Path) -> None:
    """Refuse a file that cannot be written later on, before anything is gathered for it.

    Raises:
        RecordError: the name ends in neither .html nor .pdf, or a PDF is asked for and WeasyPrint is not
            there.
    """
    ending = path.suffix.lower()
    if ending == PDF_ENDING:
        _weasyprint()
    elif ending not in HTML_ENDINGS:
        raise RecordError(
            f'{shown(path.name)}: end the name in ".html", which a web browser prints, or in ".pdf"'
        )


def write_page(path: Path, html: str, paper: Paper = Paper.LETTER) -> str:
    """Write a page as the ending of the name says, whole or not at all, and say what to do with it.

    Parameters:
        path: where to; as `check_ending`.
        html: a page of `drawing.page.document`.
        paper: what a PDF is laid out for; HTML fits both.

    Raises:
        RecordError: as `check_ending`, or the file cannot be written.
    """
    check_ending(path)
    if path.suffix.lower() == PDF_ENDING:
        write_bytes(path, as_pdf(html, paper), refusal=RecordError)
        return f"{shown(path)} written, for {'A4' if paper is Paper.A4 else 'Letter'} paper: print it."
    write_text(path, html, refusal=RecordError)
    return f"{shown(path)} written: open it in a web browser and print it."


def as_pdf(html: str, paper: Paper) -> bytes:
    """The page as a tagged PDF.

    Nothing is fetched for it, from no disk and no network, whatever the page may hold.

    Parameters:
        html: a page of `drawing.page.document`, which has a title and a language.
        paper: size of the sheets.

    Raises:
        RecordError: WeasyPrint, or the library it draws letters with, is not there.
    """
    library = _weasyprint()
    from weasyprint.urls import URLFetcher

    nothing = URLFetcher(allowed_protocols=())
    size = library.CSS(string=f"@page {{ size: {paper.value} }}", url_fetcher=nothing)
    page = library.HTML(string=html, url_fetcher=nothing)
    return page.write_pdf(stylesheets=[size], pdf_variant=VARIANT)


def _weasyprint() -> ModuleType:
    """The library; its advice to those who install it, on stdout or as a warning, is kept back.

    Raises:
        RecordError: it is not installed, or Pango is not.
    """
    browser = 'Or end the name in ".html" and print to PDF from a web browser: it gives the same page.'
    try:
        with redirect_stdout(io.StringIO()), warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)
            import weasyprint
    except ImportError:
        raise RecordError(f"a PDF needs one more part: {to_install('pdf')}\n{browser}") from None
    except OSError:
        raise RecordError(
            f"a PDF needs the library Pango (on Debian: apt install libpangoft2-1.0-0)\n{browser}"
        ) from None
    return weasyprint
