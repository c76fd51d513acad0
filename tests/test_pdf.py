"""A page printed to PDF: tagged for a screen reader, on the paper asked for, and nothing fetched for it."""

import re
import sys
from dataclasses import replace
from datetime import date

import pytest

from cuekit.cli import run
from cuekit.drawing.page import document, says
from cuekit.errors import RecordError, to_install
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import EyeMark, HelpLevel, Seen, Source
from cuekit.records.learner import Learner
from cuekit.reports.pdf import Paper, as_pdf, check_ending
from cuekit.reports.report import family_page
from cuekit.reports.sheets import cards_page, data_page, footprints_page, plan_page
from cuekit.teaching.cautions import cautions_for
from cuekit.teaching.ladder_files import load_ladder
from cuekit.telling.phrases import load_phrases
from tests.test_report import GOAL, kept, page

ES = load_phrases("es", "report")
POINTS = {Paper.LETTER: (8.5 * 72, 11 * 72), Paper.A4: (210 / 25.4 * 72, 297 / 25.4 * 72)}
"""Width and height in points of 1/72 inch: Letter is 8.5 x 11 inches (ANSI A), A4 is 210 x 297 mm (ISO 216)."""


@pytest.fixture
def weasyprint():
    """The library, where it and its own libraries are installed."""
    return pytest.importorskip("weasyprint", exc_type=(ImportError, OSError))


@pytest.fixture
def readable(weasyprint, monkeypatch):
    """The PDF as text that can be searched: the same call, without compression."""
    print_pdf = weasyprint.HTML.write_pdf

    def written(self, *arguments, **more):
        return print_pdf(self, *arguments, **more, uncompressed_pdf=True)

    monkeypatch.setattr(weasyprint.HTML, "write_pdf", written)
    return lambda html, paper=Paper.LETTER: as_pdf(html, paper).decode("latin-1")


def roles(pdf):
    return set(re.findall(r"/Type /StructElem/S /(\w+)", pdf))


def test_a_report_is_tagged_with_its_title_and_language(readable):
    """What PDF/UA-1 (ISO 14289-1, clause 7; from memory) asks of the document as a whole, and the roles used."""
    pdf = readable(page([kept(n, n) for n in range(6)], phrases=ES))
    catalog = re.search(r"<</Type /Catalog.*", pdf)[0]
    assert "/Lang (es)" in catalog
    assert "/StructTreeRoot" in catalog
    assert "/MarkInfo <</Marked true>>" in catalog
    assert "/DisplayDocTitle true" in catalog
    assert re.search(r"/Title [(<]", pdf)
    assert "<pdfuaid:part>1</pdfuaid:part>" in pdf or 'pdfuaid:part="1"' in pdf
    assert roles(pdf) >= {"Document", "H1", "H2", "P", "L", "LI", "Table", "TH", "TD", "Figure"}


def test_every_drawing_is_told_in_words(readable):
    report = readable(page([kept(n, n) for n in range(6)]))
    sheet = readable(footprints_page(load_pattern("gallop"), ES))
    figures = re.findall(r"/S /Figure.*", report), re.findall(r"/S /Figure.*", sheet)
    assert all(figures)
    assert all(re.search(r"/Alt [(<]\w", figure) for figure in (*figures[0], *figures[1]))


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_family_page_is_one_sheet_of_the_paper_asked_for(readable, paper, language):
    bouts = [kept(n, n // 4, n % 11) for n in range(60)]
    pdf = readable(page(bouts, make=family_page, phrases=load_phrases(language, "report")), paper)
    (box,) = re.findall(r"/Type /Page/.*?/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert tuple(map(float, box)) == pytest.approx(POINTS[paper], abs=0.01)


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("language", ["en", "es"])
def test_it_is_one_sheet_with_both_sides_and_all_that_can_stand_on_it(readable, paper, language):
    """Two plots, help letters, a reached criterion on each side, paper bouts, a review."""
    levels = (HelpLevel.I, HelpLevel.V)
    goal = replace(GOAL, sides=tuple(Side), help_levels=levels, review=date(2026, 6, 12))
    bouts = [
        kept(
            n,
            n // 3,
            4 + n // 6,
            eye=EyeMark(lead=list(Side)[n % 2], skill=Seen.YES),
            help_level=levels[n % 5 == 0],
            source=Source.PAPER if n % 9 == 0 else Source.MICROPHONE,
            cue=CueLevel.C4 if n < 30 else CueLevel.C3,
        )
        for n in range(60)
    ]
    pdf = readable(page(bouts, goal, make=family_page, phrases=load_phrases(language, "report")), paper)
    assert sheets_of(pdf) == 1


def sheets_of(pdf):
    return len(re.findall(r"/Type /Page/", pdf))


@pytest.mark.slow
@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_sheet_for_a_lesson_is_one_sheet_of_paper(readable, paper, language):
    """The longest figures among them: 31 footprints of gallops eight and eight."""
    phrases = load_phrases(language, "report")
    for name in list_patterns():
        pattern = load_pattern(name, language=language)
        for make in (footprints_page, cards_page, data_page):
            assert sheets_of(readable(make(pattern, phrases), paper)) == 1, (name, make)


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_aides_plan_is_one_sheet_with_its_step_goal_and_cautions(readable, paper, language):
    phrases = load_phrases(language, "report")
    note = "no jumping until cleared; ear defenders; " * 4
    learner = Learner("K-07", "jump", restrictions=note, words="up and down, land quiet")
    pattern = load_pattern("jump", language=language)
    step = load_ladder("jump", language=language).steps[-1]
    cautions = cautions_for(pattern, load_phrases(language), note=note)
    goal = replace(GOAL, pattern="jump", sides=tuple(Side), spread_at_most_percent=12.0)
    assert sheets_of(readable(plan_page(learner, pattern, goal, cautions, phrases, step), paper)) == 1


def test_nothing_is_fetched_for_a_page(readable, tmp_path):
    """Even where a page held a picture and a style from this disk, neither would be read."""
    (tmp_path / "style.css").write_text("p { font-size: 40pt; color: #123456 }", encoding="utf-8")
    (tmp_path / "secret.txt").write_text("do not take me along", encoding="utf-8")
    uri = tmp_path.as_uri()
    taken = f'<link rel="stylesheet" href="{uri}/style.css"><link rel="attachment" href="{uri}/secret.txt">'
    plain, more = (readable(document("A page", "en", extra, says("p", "Words"))) for extra in ("", taken))
    assert "do not take me along" not in more
    assert re.findall(r"[\d.]+ Tf", more) == re.findall(r"[\d.]+ Tf", plain) != []


def test_a_report_and_a_sheet_are_written_as_pdf(weasyprint, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("CUEKIT_DATA", str(tmp_path / "data"))
    for arguments in (
        ("learner", "add", "K-07", "--skill", "gallop"),
        ("goal", "add", "K-07", "--at-least", "6", "--met", "4", "--of", "5", "--days", "2", "--cue", "C4"),
        ("report", "K-07", "--to", str(date.today()), "--out", str(tmp_path / "page.PDF"), "--paper", "a4"),
        ("sheet", "cards", "gallop", "--out", str(tmp_path / "cards.pdf")),
    ):
        assert run(list(arguments)) == 0
    told = capsys.readouterr().out
    assert "page.PDF written, for A4 paper" in told
    assert "cards.pdf written, for Letter paper" in told
    assert all((tmp_path / name).read_bytes().startswith(b"%PDF-1.7") for name in ("page.PDF", "cards.pdf"))


def test_without_the_library_one_line_names_the_part_and_the_browser(tmp_path, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "weasyprint", None)  # as if not installed
    out = tmp_path / "cards.pdf"
    assert run(["sheet", "cards", "gallop", "--out", str(out)]) == RecordError.exit_code
    told = capsys.readouterr().err
    assert to_install("pdf") in told
    assert "from a web browser" in told
    assert len(told.splitlines()) == 2
    assert not out.exists()
    assert run(["sheet", "cards", "gallop", "--out", str(out.with_suffix(".html"))]) == 0


def test_without_pango_the_library_to_install_is_named(monkeypatch, capsys):
    class NoPango:
        """Finds WeasyPrint as it is found where its own library is missing: it prints, then fails."""

        def find_spec(self, name, path=None, target=None):
            if name == "weasyprint":
                print("WeasyPrint could not import some external libraries.")
                raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(sys, "meta_path", [NoPango(), *sys.meta_path])
    with pytest.raises(RecordError, match=r"Pango.*\n.*web browser"):
        as_pdf("<p>", Paper.A4)
    assert capsys.readouterr().out == ""


def test_another_ending_is_refused_and_html_needs_no_library(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    check_ending(tmp_path / "page.HTM")
    with pytest.raises(RecordError, match=r'page.doc: end the name in ".html".* or in ".pdf"'):
        check_ending(tmp_path / "page.doc")
