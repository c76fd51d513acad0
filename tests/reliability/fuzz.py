"""Goal R2: whatever is written, typed or found in a file, only our own errors come out of each parser.

    python -m tests.reliability.fuzz SUBJECT EXAMPLES    one subject, in a process of its own
"""

import json
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import click
import numpy as np
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from cuekit.cli.options import TEMPO_BPM, Decimal, Ratio, SideChoice, Whole
from cuekit.cli.record_options import Code, Day, Moment, OneOf, YesNo
from cuekit.errors import AudioError, PatternError, RecordError
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import check_file, list_patterns, load_pattern
from cuekit.patterns.schedule import CueLevel, Fade, Plan, make_schedule
from cuekit.records.bout_record import HelpLevel
from cuekit.records.goals import Measure
from cuekit.records.record_json import from_text, to_text
from cuekit.records.store import KINDS, Store
from cuekit.records.store_waiting import take_in_waiting
from tests.made_records import bout
from tests.reliability.memory import memory_folder
from tests.reliability.pattern_cases import GALLOP
from tests.reliability.record_worlds import GOAL
from tests.reliability.sound_cases import DATA, wav

WHOLE_LIMIT = 2**32 - 1
NASTY = st.sampled_from(["nan", "inf", "-1", "0", "1e308", '"', "[", "]", "{", "}", "=", "\n", "\0", "9" * 400, "true", "[[footfall]]", "\ud800", "１"])
PIECES = st.one_of(st.text(max_size=12), NASTY)


@dataclass(frozen=True)
class Bench:
    """A folder to write in, and empty records."""

    folder: Path
    store: Store


@st.composite
def edited(draw: st.DrawFn, text: str) -> str:
    """A text with a few stretches of it cut out, doubled or written over."""
    for _ in range(draw(st.integers(1, 4))):
        at, length = draw(st.integers(0, len(text))), draw(st.integers(0, 30))
        text = text[:at] + draw(st.one_of(PIECES, st.just(text[at : at + length]))) + text[at + draw(st.integers(0, length)) :]
    return text


def pattern_text(bench: Bench, text: str) -> None:
    """A pattern file of any text is used or its problems are named."""
    path = bench.folder / "gallop.toml"
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    try:
        pattern = load_pattern(path)
        assert pattern.beats
    except PatternError:
        assert check_file(path)


PLANS = st.builds(
    Plan,
    tempo_bpm=st.one_of(st.floats(), st.integers(), st.floats(20, 300)),
    beats=st.one_of(st.integers(max_value=0), st.integers(1, 100), st.integers(100_001)),
    level=st.sampled_from(CueLevel),
    fade=st.builds(Fade, st.one_of(st.none(), st.integers(-5, 300)), st.integers(-5, 300)),
    tempo_change_percent=st.one_of(st.floats(), st.floats(-50, 100)),
    count_in=st.one_of(st.none(), st.integers(-3, 40)),
)


def pattern_object(bench: Bench, name: str, side: Side, share: Fraction, plan: Callable[[], Plan]) -> None:
    """A pattern and a plan of any numbers are laid out in order of time, or refused."""
    try:
        pattern = load_pattern(name).with_side(side)
        pattern = pattern if pattern.share is None else pattern.with_long_share(share)
        schedule = make_schedule(pattern, plan)
    except PatternError:
        return
    times_s = np.array([cue.time_s for cue in schedule.cues])
    assert np.isfinite(times_s).all()
    assert (np.diff(times_s) >= 0).all()
    assert times_s[-1] <= schedule.end_s


TYPES = (
    TEMPO_BPM, Decimal(-50, 100, "%"), Whole(0, 9999), Whole(1, 10), Ratio(), SideChoice(), Code(), Day(), Moment(), YesNo(),
    OneOf(CueLevel), OneOf(HelpLevel), OneOf(Measure),
)  # fmt: skip
TYPED = st.one_of(st.text(max_size=30), st.from_regex(r"[-+]?[0-9０-９_.:eE/]{0,12}"), NASTY, st.from_regex(r"\d{4}-\d\d-\d\d(T\d\d:\d\d)?"))


def option_text(bench: Bench, kind: click.ParamType, text: str) -> None:
    """Any text for any option becomes a value within range or wrong use."""
    try:
        value = kind.convert(text, None, None)
    except click.UsageError:
        return
    if isinstance(kind, Decimal | Whole):
        assert kind.low <= value <= kind.high


HEADER = {"tag": 0xFFFF, "channels": 0xFFFF, "rate_hz": WHOLE_LIMIT, "bits": 0xFFFF, "block": 0xFFFF, "size": WHOLE_LIMIT, "riff": WHOLE_LIMIT}
LIKELY = {"tag": [1, 3, 6, 7, 0xFFFE], "channels": [1, 2, 64], "rate_hz": [8000, 44_100], "bits": [8, 16, 24, 32, 64], "block": [2, 4], "size": [len(DATA)], "riff": [0]}


@st.composite
def headers(draw: st.DrawFn) -> dict[str, int]:
    """Fields of a WAV header: likely values and any others."""
    return {
        name: draw(st.one_of(st.sampled_from(LIKELY[name]), st.integers(0, most)))
        for name, most in HEADER.items()
        if draw(st.booleans())
    }


def wav_header(bench: Bench, fields: dict[str, int], length: int) -> None:
    """A WAV file with any header is read as sound or refused."""
    path = bench.folder / "take.wav"
    path.write_bytes(wav(DATA[:length], **fields))
    try:
        heard = read_recording(path)
    except AudioError:
        return
    assert np.isfinite(heard.samples).all()
    assert heard.duration_s > 0


VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8)),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=8), inner, max_size=3)),
    max_leaves=6,
)
STORED = (to_text(bout()), to_text(GOAL), to_text(bout(note="first try")))


@st.composite
def imported(draw: st.DrawFn) -> str:
    """A stored line with a value replaced, edited as text, or any JSON."""
    if draw(st.booleans()):
        return draw(edited(draw(st.sampled_from(STORED))))
    row = json.loads(draw(st.sampled_from(STORED)))
    key = draw(st.sampled_from(sorted(row)))
    row[key] = draw(VALUES)
    return json.dumps(draw(st.one_of(st.just(row), VALUES)))


def import_file(bench: Bench, kind: str, text: str, keys: dict[str, object]) -> None:
    """A line of records is a noun or refused; a file that waits is taken in or refused, and the records stay sound."""
    try:
        noun = from_text(KINDS[kind], text)
    except RecordError:
        pass
    else:
        assert from_text(KINDS[kind], to_text(noun)) == noun
    row = {"id": "0123456789abcdef", "at": "2026-03-02T09:30:00+00:00", "bout": text, "contract": "{}"} | keys
    path = bench.store.folder / "waiting" / "0123456789abcdef.json"
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps(row), encoding="utf-8")
    try:
        take_in_waiting(bench.store)
    except RecordError:
        path.unlink()
    bench.store.connection.execute("DELETE FROM contracts")
    bench.store.connection.execute("DELETE FROM entries")


KEYS = st.dictionaries(st.sampled_from(["id", "at", "contract", "bout", "more"]), VALUES, max_size=2)
SUBJECTS = {
    "pattern text": (pattern_text, [st.one_of(edited(GALLOP), st.text(max_size=200))]),
    "pattern objects": (pattern_object, [st.sampled_from(list_patterns()), st.sampled_from(Side), st.fractions(-1, 2), PLANS]),
    "option strings": (option_text, [st.sampled_from(TYPES), TYPED]),
    "WAV header fields": (wav_header, [headers(), st.integers(0, 4000)]),
    "import files": (import_file, [st.sampled_from(sorted(KINDS)), imported(), KEYS]),
}


@dataclass(frozen=True)
class Fuzzed:
    """What became of a subject.

    Attributes:
        subject: what was tried.
        examples: how many.
        escaped: what came out that should not; empty for nothing.
    """

    subject: str
    examples: int
    escaped: str


def fuzz(subject: str, examples: int) -> Fuzzed:
    """Try a subject in a process of its own."""
    words = [sys.executable, "-m", "tests.reliability.fuzz", subject, str(examples)]
    done = subprocess.run(words, capture_output=True, text=True, cwd=Path(__file__).parents[2])
    last = done.stdout.splitlines()[-1:] or [f'{{"examples": 0, "escaped": "died: {done.returncode}"}}']
    told = json.loads(last[0])
    return Fuzzed(subject, told["examples"], told["escaped"] or ("" if done.returncode == 0 else done.stderr[-300:]))


def tried(subject: str, examples: int) -> Fuzzed:
    """Try a subject here, with the same examples each time."""
    check, strategies = SUBJECTS[subject]
    done = 0
    with tempfile.TemporaryDirectory(dir=memory_folder()) as place, Store(Path(place) / "data") as store:
        bench = Bench(Path(place), store)

        @settings(
            max_examples=examples, deadline=None, derandomize=True, database=None,
            suppress_health_check=list(HealthCheck), phases=(Phase.generate, Phase.shrink),
        )  # fmt: skip
        @given(st.tuples(*strategies))
        def each(drawn: tuple) -> None:
            nonlocal done
            done += 1
            check(bench, *drawn)

        try:
            each()
        except (Exception, BaseExceptionGroup) as error:
            note = " ".join(getattr(error, "__notes__", []))[:300]
            return Fuzzed(subject, done, f"{type(error).__name__}: {str(error)[:200]} {note}")
    return Fuzzed(subject, done, "")


if __name__ == "__main__":
    told = tried(sys.argv[1], int(sys.argv[2]))
    print(json.dumps({"examples": told.examples, "escaped": told.escaped}))
