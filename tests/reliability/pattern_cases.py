"""Pattern files, ladders, supports and nudges as they should not be written, and a few that are only odd."""

import os
from pathlib import Path

from cuekit.shipped import shipped_folder
from tests.reliability.cases import Case, Ends, World
from tests.reliability.sound_cases import walk

GALLOP = (shipped_folder("patterns") / "gallop.toml").read_text(encoding="utf-8")
WORDS = Path(__file__).parents[2] / "cuekit" / "cues" / "voices" / "en"
LADDER = Path(__file__).parents[2] / "cuekit" / "teaching" / "ladders" / "gallop.toml"


def _changed(old: str, new: str) -> bytes:
    assert GALLOP.count(old) >= 1, old
    return GALLOP.replace(old, new, 1).encode("utf-8", "surrogatepass")


def _steps(count: int) -> bytes:
    head, _, _ = GALLOP.partition("[[footfall]]")
    return (head + '[[footfall]]\nat = "0"\nfoot = "R"\n' * count).encode()


TEMPO_VALUES = ("0", "-1", "nan", "inf", "-inf", "1e308", "1e9", '"fast"', "true", "[100]", "{a = 1}", "1979-05-27", "9" * 400, "100.5.5", "")
AT_VALUES = ('"1/0"', '"-1/3"', '"1"', '"2"', '"0"', '"nan"', '"0.67"', "0.67", '"2/3/4"', '"１/３"', '"2 / 3"', '"99999999999/3"', "true", '""', '"1e-9"')
NAME_VALUES = ("../gallop", "a/b", "a\\\\b", "con", "", " ", "gal\\u0000lop", "gal\\nlop", "x" * 61, "x" * 900, "\\u001b[2J", "Gallop!", "nul", "\\u202e")

BROKEN = {
    "empty": b"", "blank": b"\n\n  \n", "only-comment": b"# nothing\n", "binary": bytes(range(256)), "zeros": bytes(500),
    "utf16": GALLOP.encode("utf-16"), "latin1": _changed("Gallop", "Galopé").decode().encode("latin-1"), "list-at-top": b"[1, 2, 3]\n",
    "word-at-top": b"gallop\n", "json": b'{"name": "gallop"}\n', "yaml": b"name: gallop\ntempo: 190:20:30\n", "html": b"<html></html>\n",
    "two-documents": GALLOP.encode() + b"---\n" + GALLOP.encode(), "alias": b"a: &a [x, x]\nb: &b [*a, *a, *a]\n",
    "tag": b"name: !!python/object/apply:os.mkdir [yaml-was-run]\n", "include": b"name = !include /etc/passwd\n",
    "brackets": b"name = " + b"[" * 400 + b"]" * 400 + b"\n", "deep-brackets": b"".join(b"a%d = [[[[[[[[[[\n" % n for n in range(500)),
    "long-line": b'name = "' + b"x" * 60_000 + b'"\n', "dots": b"a" + b".a" * 60_000 + b" = 1\n", "many-dots": b"\n".join(b"a" + b".a" * 480 + b"%d = 1" % n for n in range(120)),
    "long-number": b"cycle = " + b"9" * 900 + b"\n", "too-large": GALLOP.encode() + b"#" * 300_000, "many-steps": _steps(65), "ten-thousand-steps": _steps(7_000),
    "no-end-quote": _changed('title = "Gallop"', 'title = "Gallop'), "curly-quotes": _changed('title = "Gallop"', "title = “Gallop”"),
    "no-equals": _changed('title = "Gallop"', 'title "Gallop"'), "colon": _changed('title = "Gallop"', 'title: "Gallop"'),
    "twice": _changed('title = "Gallop"', 'title = "Gallop"\ntitle = "Gallop"'), "tempo-twice": GALLOP.encode() + b"\n[tempo]\ndefault = 100\n",
    "unknown-field": _changed('title = "Gallop"', 'title = "Gallop"\ncolour = "red"'), "near-field": _changed("title =", "titel ="),
    "field-of-controls": _changed('title = "Gallop"', 'title = "Gallop"\n"\\u001b[2J" = 1'), "no-footfalls": GALLOP.partition("[[footfall]]")[0].encode(),
    "footfall-a-table": GALLOP.replace("[[footfall]]", "[footfall]", 1).replace("[[footfall]]", "[other]").encode(), "foot-of-three": _changed('foot = "R"', 'foot = "RLR"'),
    "unordered": _changed('at = "0"', 'at = "5/6"'), "equal": _changed('at = "2/3"', 'at = "0"'), "beyond": _changed('at = "2/3"', 'at = "3/2"'),
    "cycle-0": _changed("cycle = 1", "cycle = 0"), "cycle-65": _changed("cycle = 1", "cycle = 65"), "cycle-nan": _changed("cycle = 1", "cycle = nan"), "cycle-half": _changed("cycle = 1", 'cycle = "1/2"'),
    "count-in--1": _changed("count_in = 4", "count_in = -1"), "count-in-1e6": _changed("count_in = 4", "count_in = 1000000"), "low-over-high": _changed("low = 60", "low = 140"),
    "ratio-none": _changed('default = "2:1"', 'default = "0:0"'), "ratio-text": _changed('default = "2:1"', 'default = "two to one"'), "ratio-bare": _changed('default = "2:1"', "default = 2:1"), "ratio-huge": _changed('high = "3:1"', 'high = "999999999:1"'),
    "word-list": _changed('word = { en = "big", es = "gran" }', "word = [1]"), "word-escape": _changed('en = "big"', 'en = "\\u001b[31m"'), "word-long": _changed('en = "big"', f'en = "{"x" * 500}"'),
    "bom-only": b"\xef\xbb\xbf", "surrogate": b'name = "\\ud800"\n', "nul": GALLOP.replace("Gallop", "Gal\0lop").encode(),
}  # fmt: skip

FIGURES = {
    "itself": b'[[segment]]\npattern = "figure"\nbeats = 4\n',
    "nobody": b'[[segment]]\npattern = "galop"\nbeats = 4\n',
    "outside": b'[[segment]]\npattern = "../../etc/passwd"\nbeats = 4\n',
    "no-beats": b'[[segment]]\npattern = "gallop"\nbeats = 0\n',
    "many-beats": b'[[segment]]\npattern = "gallop"\nbeats = 1000000\n',
    "many-segments": b'[[segment]]\npattern = "gallop"\nbeats = 1\n' * 500,
    "rest-of-nan": b'[[segment]]\npattern = "gallop"\nbeats = 4\nrest = nan\n',
    "no-side": b'[[segment]]\npattern = "gallop"\nside = "up"\nbeats = 4\n',
}

ODD = {
    "with-bom": b"\xef\xbb\xbf" + GALLOP.encode(), "with-crlf": GALLOP.replace("\n", "\r\n").encode(),
    "accents": _changed('title = "Gallop"', 'title = "Galope, niño 🎵"'), "cycle-text": _changed("cycle = 1", 'cycle = "1"'), "tempo-hex": _changed("default = 100", "default = 0x64"), "tempo-underscore": _changed("default = 100", "default = 1_00"),
    "percent": _changed('title = "Gallop"', 'title = "%s {0} [bold] $(rm)"'),
    "many-comments": ("# note\n" * 20_000 + GALLOP).encode(),
}  # fmt: skip
"""Unusual, and right."""


def _file(name: str, content: bytes):
    def prepare(room: Path) -> None:
        (room / name).write_bytes(content)

    return World(prepare=prepare)


def _both(name: str, content: bytes, names: tuple[str, ...] = ()) -> list[Case]:
    """Checked, and used: what the check finds must stop its use in at most three lines."""
    world = _file("gallop.toml", content)
    check = Case(f"pattern check: {name}", ("patterns", "check", "gallop.toml"), names=("gallop.toml", *names), world=world)
    use = Case(f"pattern use: {name}", ("play", "./gallop.toml", "--out", "o.wav"), names=("gallop.toml", *names), world=world)
    return [check, use]


def broken_cases() -> list[Case]:
    """Files with one thing wrong."""
    cases = [case for name, content in BROKEN.items() for case in _both(name, content)]
    for value in TEMPO_VALUES:
        cases += _both(f"tempo {value[:20]}", _changed("default = 100", f"default = {value}"))[:1]
    for value in AT_VALUES:
        cases += _both(f"at {ascii(value)}", _changed('at = "2/3"', f"at = {value}"))[1:]
    for value in NAME_VALUES:
        cases += _both(f"name {ascii(value)[:20]} of {len(value)}", _changed('name = "gallop"', f'name = "{value}"'))[:1]
    return cases


def figure_cases() -> list[Case]:
    """Figures made of pieces."""
    head = b'name = "figure"\ntitle = "Figure"\nside = "foot"\nheard_when_right = "steady"\n'
    return [
        Case(f"figure: {name}", ("play", "./figure.toml", "--out", "o.wav"), names=("figure.toml",), world=_file("figure.toml", head + content))
        for name, content in FIGURES.items()
    ]  # fmt: skip


def odd_cases() -> list[Case]:
    """Files that are right all the same."""
    return [
        Case(f"odd pattern: {name}", ("patterns", "check", "gallop.toml"), Ends.DONE, world=_file("gallop.toml", content))
        for name, content in ODD.items()
    ]


def name_cases() -> list[Case]:
    """Names given in the place of a pattern's."""
    names = ("gallp", "GALLOP", "", " ", "..", "../gallop", "/etc/passwd", "gallop\0", "-", "con", "x" * 5000, "\x1b[2J", "gallop.toml", "niño", "nope/", "\udcff", "%s", "patterns")
    cases = [Case(f"pattern named {ascii(name)[:30]}", ("play", "--out", "o.wav", "--", name), Ends.REFUSED_OR_WRONG_USE) for name in names]
    cases.append(Case("a misspelt pattern is set right", ("play", "galop"), names=("galop", "gallop")))
    cases.append(Case("a folder for a pattern", ("play", "./folder.toml"), names=("folder.toml", "ordinary"), world=World(prepare=lambda room: (room / "folder.toml").mkdir())))
    cases.append(Case("a pipe for a pattern", ("play", "./pipe.toml"), names=("pipe.toml", "ordinary"), world=World(prepare=lambda room: os.mkfifo(room / "pipe.toml"))))
    cases.append(Case("a pattern without end", ("play", "/dev/zero.toml"), Ends.REFUSED))
    cases.append(Case("patterns in a folder that is none", ("patterns", "--patterns", "nowhere"), Ends.WRONG_USE, names=("nowhere",)))
    cases.append(Case("patterns in a file", ("patterns", "--patterns", "take.wav"), Ends.WRONG_USE, names=("take.wav",), world=_file("take.wav", walk())))
    return cases  # fmt: skip


def ladder_cases() -> list[Case]:
    """Ladders, supports and nudges: the same parser, other fields."""
    good = LADDER.read_text(encoding="utf-8")
    bad = {
        "empty": b"", "binary": bytes(range(256)), "no-steps": good.partition("[[step]]")[0].encode(), "deep": b"a = " + b"[" * 450,
        "unknown-pattern": good.replace('pattern = "gallop"', 'pattern = "galop"', 1).encode(), "level": good.replace('"C4"', '"C9"', 1).encode(),
        "count": good.replace("count = 4", "count = nan", 1).encode(), "count-huge": good.replace("count = 4", "count = 999999999999", 1).encode(),
        "twice": good.replace('title = "Gallop"', 'title = "Gallop"\ntitle = "Gallop"', 1).encode(), "other-name": good.replace('name = "gallop"', 'name = "../x"', 1).encode(),
        "mode": good.replace('modes = "say, ', 'modes = "fly, ', 1).encode(), "too-large": good.encode() + b"#" * 300_000, "id": good.replace('id = "listen"', 'id = "\\u001b"', 1).encode(),
        "same-id": good.replace('id = "say-and-clap"', 'id = "listen"', 1).encode(),
    }  # fmt: skip
    cases = [
        Case(f"ladder: {name}", ("ladder", "--check", "gallop.toml"), names=("gallop.toml",), world=_file("gallop.toml", content))
        for name, content in bad.items()
    ]
    cases += [
        Case("ladder: missing", ("ladder", "--check", "gone.toml"), names=("gone.toml",)),
        Case("ladder: unknown", ("ladder", "galop"), names=("galop", "gallop")),
        Case("ladder: a step too far", ("ladder", "gallop", "--step", "99"), names=("99",)),
        Case("ladder: a step of controls", ("ladder", "gallop", "--step", "\x1b[2J")),
        Case("ladder: unknown fault", ("ladder", "gallop", "--fault", "x" * 3000)),
        Case("ladder: unknown adaptation", ("ladder", "--for", "\x1b[2J\n\n\n\n")),
        Case("ladder: own folder missing", ("ladder", "--own", "nowhere"), Ends.REFUSED_OR_WRONG_USE, names=("nowhere",)),
        Case("ladder: own folder holds rubbish", ("ladder", "gallop", "--own", "."), names=("rubbish.toml",), world=_file("rubbish.toml", b"[[step]]\n" + bytes(range(256)))),
    ]  # fmt: skip
    nudges = {"empty": b"", "binary": bytes(range(256)), "nan": b"step = nan\n", "far": b"step = 1000\n", "text": b'step = "late"\n', "list": b"step = [1]\n", "digits": b"step = " + b"9" * 5000 + b"\n", "deep": b"step = " + b"[" * 3000 + b"]" * 3000, "unknown": b"stap = 1\n", "dots": b"a" + b".a" * 60_000 + b" = 1\n", "large": b"#" * 20_000_000}  # fmt: skip
    for name, content in nudges.items():
        ends = Ends.DONE_OR_REFUSED if name in ("empty",) else Ends.REFUSED
        cases.append(Case(f"nudge: {name}", ("play", "gallop", "--level", "c5", "--voice", "voice", "--out", "o.wav"), ends, ("nudge.toml",), writes=("o.wav",), world=_voice(content)))
    return cases


def _voice(nudge: bytes) -> World:
    def prepare(room: Path) -> None:
        (room / "voice").mkdir()
        (room / "voice" / "nudge.toml").write_bytes(nudge)
        for word in WORDS.glob("*.100.flac"):
            (room / "voice" / f"{word.name.split('.')[0]}.flac").write_bytes(word.read_bytes())

    return World(prepare=prepare)


def pattern_cases() -> list[Case]:
    """All cases of written files."""
    return [*broken_cases(), *figure_cases(), *odd_cases(), *name_cases(), *ladder_cases()]
