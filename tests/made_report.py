"""Stored bouts made up for the printed pages, and the pages read back as words and tags."""

from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser

from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import Amendment, KeptBout
from cuekit.records.bout_record import BoutRecord, Conditions, EyeMark, HelpLevel, Numbers, Seen, Source
from cuekit.records.goals import Criterion, Goal, Measure
from cuekit.reports.report import team_page
from cuekit.reports.report_data import Period, report_data
from cuekit.telling.phrases import load_phrases

MONDAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
QUARTER = Period(date(2026, 3, 1), date(2026, 5, 31))
GOAL = Goal("K-07", "gallop", Measure.LONGEST_RUN, 6, Criterion(4, 5, 3), QUARTER.first, (CueLevel.C4, CueLevel.C3),
            help_levels=(HelpLevel.I, HelpLevel.V))  # fmt: skip
EN, ES = load_phrases("en", "report"), load_phrases("es", "report")
YES = EyeMark(skill=Seen.YES)


def kept(
    number,
    day,
    run=8,
    *,
    cue=CueLevel.C4,
    help_level=HelpLevel.I,
    eye=YES,
    amendments=(),
    source=Source.MICROPHONE,
    code="K-07",
):
    at = MONDAY + timedelta(days=day, minutes=number)
    bout = BoutRecord(code, at, Conditions("gallop", cue, help_level), Numbers(longest_run=run), eye, source)
    return KeptBout(str(number), number, bout, amendments)


def void(number, reason):
    return (Amendment(str(number), MONDAY, "", "", "void", reason),)


def page(bouts, goal=GOAL, *, make=team_page, phrases=EN, **more):
    data = report_data(goal, bouts, QUARTER, **more)
    pattern = load_pattern(goal.pattern, language=None, told_in=phrases.language)
    return make(data, pattern, phrases, date(2026, 6, 1))


class Reader(HTMLParser):
    """Words of a page by the element they stand in, and what would be fetched or run."""

    VOID = ("meta",)

    def __init__(self):
        super().__init__()
        self.open, self.words, self.outside, self.attributes = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.attributes.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)
        if tag in ("script", "link", "img", "iframe", "object") or any(
            n in ("src", "href") or n.startswith("on") for n, _ in attrs
        ):
            self.outside.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.attributes.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.words.append((self.open[-1], data))


def read(html):
    reader = Reader()
    reader.feed(html)
    assert reader.open == []
    assert reader.outside == []
    return reader


def words(html):
    return " ".join("".join(f" {text}" for _, text in read(html).words).split())
