"""Pattern files as teachers write them, and as they break them."""

import os
import time
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.errors import PatternError
from cuekit.files.plain_text import LARGEST_FILE_BYTES
from cuekit.patterns.figures import Piece, compose
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import check_file, list_patterns, load_pattern
from cuekit.patterns.pattern_text import read_pattern
from cuekit.shipped import shipped_folder

SKIP = (shipped_folder("patterns") / "skip.toml").read_text(encoding="utf-8")
GALLOP = (shipped_folder("patterns") / "gallop.toml").read_text(encoding="utf-8")


def write(folder, name, text):
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def problems_of(folder, name, text):
    return [str(problem) for problem in check_file(write(folder, name, text))]


def figure(folder, segments, name="own", head=""):
    return write(folder, name, f'name = "{name}"\ntitle = "Own"\n{head}\n{segments}')


# What a teacher writes


def test_a_teachers_figure_needs_only_a_name_a_title_and_segments(tmp_path):
    path = figure(
        tmp_path,
        '[[segment]]\npattern = "walk"\nbeats = 2\n[[segment]]\nrest = 1\n[[segment]]\npattern = "hop"\nside = "left"',
    )
    assert check_file(path) == ()
    pattern = load_pattern(str(path))
    assert [beat.lead.foot.value for beat in pattern.beats] == ["R", "L", "L"]
    assert [beat.length for beat in pattern.beats] == [1, 2, 1]
    assert (pattern.tempo.low, pattern.tempo.high) == (80, 150)  # what walk and hop have in common
    assert pattern.count_in == 4


def test_a_figure_takes_its_ratio_for_every_uneven_beat(tmp_path):
    ratio = '[ratio]\ndefault = "3:2"\nlow = "3:2"\nhigh = "2:1"'
    path = figure(tmp_path, f'[[segment]]\npattern = "gallop"\nbeats = 2\n{ratio}')
    assert [beat.long_share for beat in load_pattern(path).beats] == [Fraction(3, 5)] * 2


def test_a_figure_can_use_the_pattern_beside_it_before_the_shipped_one(tmp_path):
    write(
        tmp_path,
        "gallop",
        GALLOP.replace('title = "Gallop"', 'title = "Mine"').replace("default = 100", "default = 88"),
    )
    path = figure(tmp_path, '[[segment]]\npattern = "gallop"')
    assert load_pattern(path).tempo.default == 88


def test_the_word_of_the_last_beat_can_be_another(tmp_path):
    path = figure(tmp_path, '[[segment]]\npattern = "gallop"\nbeats = 3\nlast_word = {en = "freeze"}')
    assert [beat.lead.word for beat in load_pattern(path).beats] == ["big", "big", "freeze"]


def test_a_teachers_folder_comes_before_the_shipped_patterns(tmp_path):
    write(tmp_path, "hop", SKIP.replace('name = "skip"', 'name = "hop"'))
    write(tmp_path, "sway", SKIP.replace('name = "skip"', 'name = "sway"'))
    assert load_pattern("hop", folders=[tmp_path]).length == 2
    assert load_pattern("hop").length == 1
    assert "sway" in list_patterns(folders=[tmp_path])
    assert "sway" not in list_patterns()


def test_a_file_from_an_editor_that_adds_a_byte_order_mark_is_read(tmp_path):
    path = tmp_path / "gallop.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GALLOP.replace("\n", "\r\n").encode())
    assert load_pattern(path).name == "gallop"


def test_words_come_in_the_language_asked_for():
    assert load_pattern("skip", language="es").beats[0].lead.word == "paso"
    with pytest.raises(PatternError, match='skip has no words in "fr": choose en, es'):
        load_pattern("skip", language="fr")


def test_a_word_without_a_language_is_said_in_every_language(tmp_path):
    path = write(
        tmp_path,
        "gallop",
        GALLOP.replace('{ en = "big", es = "gran" }', '"daa"').replace('{ en = "and", es = "y" }', '"da"'),
    )
    assert load_pattern(path, language="eu").beats[0].lead.word == "daa"


# Composing


def piece(name, beats, side=Side.RIGHT, **changes):
    return Piece(load_pattern(name).with_side(side), beats, **changes)


def test_a_run_that_goes_on_in_the_next_segment_is_no_change():
    beats = compose((piece("walk", 4), piece("walk", 6)))
    assert all(beat.judged for beat in beats)


def test_leaving_out_a_short_sound_that_is_not_there_is_refused():
    with pytest.raises(PatternError, match="walk here has no short sound"):
        compose((piece("walk", 4, last_short=False),))


@given(
    st.lists(
        st.builds(
            lambda name, beats, side, rest: piece(name, beats, side, rest=rest),
            st.sampled_from(["walk", "gallop", "skip", "leap"]),
            st.integers(1, 9),
            st.sampled_from(Side),
            st.fractions(0, 3, max_denominator=4),
        ),
        min_size=1,
        max_size=5,
    )
)
def test_composed_beats_follow_each_other_and_none_is_lost(pieces):
    beats = compose(tuple(pieces))
    assert len(beats) == sum(p.beats for p in pieces)
    assert beats[0].at == 0
    assert all(after.at == before.at + before.length for before, after in zip(beats, beats[1:], strict=False))
    rests = sum(p.rest for p in pieces)
    moved = sum(p.pattern.beats[n % len(p.pattern.beats)].length for p in pieces for n in range(p.beats))
    assert beats[-1].at + beats[-1].length == moved + rests


# What is wrong, where, and the mend


def test_an_unknown_pattern_is_answered_with_the_nearest():
    with pytest.raises(PatternError, match=r'there is no pattern "galop"\. Did you mean "gallop"\?'):
        load_pattern("galop")


@pytest.mark.parametrize(
    "name", ["", ".", "..", "CON", "nul", "a b", "x" * 10_000, "a\0b", "a\nb", "é", "-x", "*"]
)
def test_no_name_leads_out_of_the_folders(name):
    with pytest.raises(PatternError, match="there is no pattern") as caught:
        load_pattern(name)
    assert len(str(caught.value)) < 200
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('title = "Gallop"', 'titel = "Gallop"', "unknown"),
        ("cycle = 1", "cycle = 0", 'line 12, cycle: expected a whole number or a fraction in quotes such as "2/3", from 1/2 to 64 beats, found 0'),
        ("cycle = 1", "cycle = nan", "found nan"),
        ("cycle = 1", "cycle = -1", "found -1"),
        ("cycle = 1", "cycle = true", "found true"),
        ("cycle = 1", 'cycle = "1/0"', 'found "1/0"'),
        ("default = 100", "default = 0", "line 18, tempo, default: expected a number from 20 to 300, found 0"),
        ("default = 100", "default = inf", "found inf"),
        ("default = 100", "default = 1e308", "found 1e+308"),
        ("default = 100", 'default = "fast"', 'found "fast"'),
        ("default = 100", "default = 40", "tempo, default: expected from low 60 to high 150 beats/min, found 40"),
        ("high = 150", "high = 200", "tempo: expected high at most 160, because cues closer than 125 ms"),
        ('high = "3:1"', 'high = "3-1"', 'a ratio is written long:short, for example "2:1" or "3:2"; got "3-1"'),
        ('default = "2:1"', "default = 2:1", 'line 23: there is more than one value: a ratio or a fraction goes in quotes, "2:1"'),
        ('at = "2/3"', 'at = "3/4"', "footfall 2, at: expected 2/3, because the ratio is 2:1; found 3/4"),
        ('at = "2/3"', "at = 0.67", 'line 35, footfall 2, at: expected a whole number or a fraction in quotes such as "2/3", from 0 to 64 beats, found 0.67'),
        ('part = "short"', 'part = "shrot"', 'footfall 2, part: expected "long" or "short" or "whole", found "shrot"'),
        ('foot = "L"', 'foot = "left"', 'footfall 2, foot: expected "R" or "L" or "B", found "left"'),
        ("accent = true", 'accnt = true', 'footfall 1, accnt: unknown key. Did you mean "accent"?'),
        ("accent = true", 'accent = "yes"', 'footfall 1, accent: expected true or false (no quotes), found "yes"'),
        ('name = "gallop"', 'name = "../gallop"', "name: expected small letters a-z, digits and hyphens"),
        ('name = "gallop"', 'name = "galopp"', 'expected the file to be called after the pattern, "galopp.toml"'),
        ("count_in = 4", "count_in = 17", "count_in: expected a whole number from 0 to 16, found 17"),
        ('rhythm = "uneven"', 'rhythm = "uneven"\nrhythm = "uneven"', "this key is there twice"),
    ],
)  # fmt: skip
def test_a_slip_is_named_with_its_place_and_the_mend(tmp_path, old, new, said):
    found = problems_of(tmp_path, "gallop", GALLOP.replace(old, new, 1))
    assert old in GALLOP
    assert any(said in problem for problem in found), found
    assert all(problem.startswith("gallop.toml") and len(problem) < 300 for problem in found)


def test_footfalls_out_of_order_or_outside_the_cycle_are_named_by_number(tmp_path):
    found = problems_of(tmp_path, "skip", SKIP.replace("cycle = 2", "cycle = 1"))
    assert any("footfall 3, at: expected before the end of the cycle of 1 beats, found 1" in f for f in found)
    swapped = SKIP.replace('at = "1"', 'at = "1/2"')
    found = problems_of(tmp_path, "skip", swapped)
    assert any(
        "footfall 3, at: expected later than the footfall before it at 2/3, found 1/2" in f for f in found
    )


def test_all_problems_come_at_once_and_in_order(tmp_path):
    text = (
        GALLOP.replace('title = "Gallop"', "title = 3")
        .replace("low = 60", "low = 0")
        .replace('foot = "L"', "foot = 1")
    )
    found = problems_of(tmp_path, "gallop", text)
    assert ["title" in found[0], "tempo, low" in found[1], "footfall 2, foot" in found[2]] == [True] * 3
    with pytest.raises(PatternError, match="(?s)title.*\n2 more: cuekit patterns check"):
        load_pattern(tmp_path / "gallop.toml")


def test_a_figure_that_holds_itself_is_refused(tmp_path):
    figure(tmp_path, '[[segment]]\npattern = "two"', name="one")
    path = figure(tmp_path, '[[segment]]\npattern = "one"', name="two")
    (problem,) = check_file(path)
    assert "a figure cannot hold itself" in str(problem)
    assert "two holds one holds two" in str(problem)


def test_figures_of_figures_go_four_deep(tmp_path):
    figure(tmp_path, '[[segment]]\npattern = "hop"', name="f1")
    for n in range(2, 6):
        figure(tmp_path, f'[[segment]]\npattern = "f{n - 1}"', name=f"f{n}")
    assert check_file(tmp_path / "f3.toml") == ()
    assert "4 deep at most" in str(check_file(tmp_path / "f5.toml")[0])


@pytest.mark.parametrize(
    ("segments", "said"),
    [
        ('[[segment]]\npattern = "galop"', 'segment 1, pattern: there is no pattern "galop". Did you mean "gallop"?'),
        ('[[segment]]\nrest = 1', "segment 1, rest: expected a pattern first"),
        ('[[segment]]\npattern = "jump"\nside = "left"', "jump has no side to choose"),
        ('[[segment]]\npattern = "walk"\nlast_short = false', "the last beat of walk here has no short sound"),
        ('[[segment]]\npattern = "walk"\nbeats = 0', "segment 1, beats: expected a whole number from 1 to 512, found 0"),
        ('[[segment]]\npattern = "skip"\nbeats = 512', "expected at most 512 footfalls in all, found more"),
        ('[[segment]]\npattern = "walk"\n' * 65, "segment: expected at most 64, found 65"),
        ('[[segment]]\npattern = "walk"\n[[footfall]]\nat = 0', "either [[footfall]] or [[segment]], found both"),
    ],
)  # fmt: skip
def test_a_figure_that_cannot_be_is_refused(tmp_path, segments, said):
    found = [str(problem) for problem in check_file(figure(tmp_path, segments))]
    assert any(said in problem for problem in found), found


def test_segments_without_a_common_tempo_ask_for_one(tmp_path):
    slow = SKIP.replace('name = "skip"', 'name = "slow"').replace(
        "default = 100\nlow = 60\nhigh = 140", "default = 60\nlow = 50\nhigh = 70"
    )
    write(tmp_path, "slow", slow)
    segments = '[[segment]]\npattern = "slow"\n[[segment]]\npattern = "run"'
    assert "tempo: missing: the segments have no tempo in common" in str(
        check_file(figure(tmp_path, segments))[0]
    )
    head = "[tempo]\ndefault = 120\nlow = 100\nhigh = 130"
    assert check_file(figure(tmp_path, f"{segments}\n{head}")) == ()


# Files that are no pattern files


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        ("naïve = 1".encode("utf-16"), "not plain text: save it as text in the encoding UTF-8"),
        (bytes(range(256)), "not plain text"),
        (b"\0" * 100, "expected a key, an equals sign and a value"),
        (b"x = [" + b"[" * 900, "nested too deeply"),
        (b"x = " + b"a." * 60_000 + b"b", "at most 1000 letters in a line"),
        (b"x = " + b"9" * 900, "name: missing"),
        (b"[1, 2]", "line 1: a bracket is missing"),
        (b"gallop", "expected an equals sign after the key"),
        (b"#" * 80 + b"\n" * (LARGEST_FILE_BYTES + 1), "over 256 kB"),
    ],
)
def test_what_is_no_pattern_file_is_refused_at_once(tmp_path, content, said):
    path = tmp_path / "own.toml"
    path.write_bytes(content)
    start = time.monotonic()
    with pytest.raises(PatternError, match=said) as caught:
        load_pattern(path)
    assert time.monotonic() - start < 1
    assert len(str(caught.value).split("\n")) <= 3
    assert any(said in str(problem) for problem in check_file(path))


def test_only_ordinary_files_are_opened(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "loop.toml").symlink_to(tmp_path / "loop.toml")
    for name in ("pipe", "folder", "loop", "absent"):
        with pytest.raises(PatternError, match=rf"{name}\.toml"):
            load_pattern(tmp_path / f"{name}.toml")


def test_a_file_name_with_control_codes_is_shown_escaped(tmp_path):
    path = tmp_path / "a\x1b[31m\nb.toml"
    path.write_text("x = 1")
    with pytest.raises(PatternError) as caught:
        load_pattern(path)
    assert str(caught.value).isprintable() or "\n" in str(caught.value)
    assert "\x1b" not in str(caught.value)
    assert "\\x1b" in str(caught.value)


# Whatever is written, only our own refusal escapes


def no_pattern(name):
    raise PatternError(f"none called {name!r}")


def survives(text):
    reading = read_pattern(text, "x.toml", "en", no_pattern)
    assert (reading.pattern is None) == bool(reading.problems)
    assert all(len(str(problem)) < 600 for problem in reading.problems)


@given(st.text(max_size=300))
def test_any_text_gives_a_pattern_or_problems(text):
    survives(text)


LINES = sorted(
    set(SKIP.splitlines())
    | {"[[segment]]", 'pattern = "walk"', "rest = 1", "beats = 3", "[footfall]", "tempo = 3"}
)
VALUES = [
    "nan",
    "inf",
    "-1",
    "1e400",
    '""',
    '"x"',
    "[]",
    "{}",
    "[{}]",
    "true",
    "1979-05-27",
    '"1/0"',
    '"-1"',
    "9" * 400,
    '"2:0"',
]


@given(st.lists(st.sampled_from(LINES), max_size=40))
def test_any_shuffle_of_lines_gives_a_pattern_or_problems(lines):
    survives("\n".join(lines))


@given(st.integers(0, len(SKIP.splitlines()) - 1), st.sampled_from(VALUES))
def test_any_value_in_any_place_gives_a_pattern_or_problems(number, value):
    lines = SKIP.splitlines()
    lines[number] = f"{lines[number].split('=')[0]}= {value}"
    survives("\n".join(lines))


@given(st.integers(0, len(SKIP)), st.integers(0, 30), st.text(max_size=5))
def test_any_cut_or_insertion_gives_a_pattern_or_problems(at, cut, inserted):
    survives(SKIP[:at] + inserted + SKIP[at + cut :])
