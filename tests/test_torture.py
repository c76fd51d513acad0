"""The short form of the torture script: every third case, and those that once found something (goals R1, R17)."""

import sys

import pytest

from tests.reliability.torture import all_cases, run_all, thirds

FOUND = (
    "own word: channels-65.wav", "own word: mp3-with-garbage.mp3", "nudge: digits", "nudge: deep", "nudge: dots", "nudge: large",
    "stdout is a full disk: patterns show", "stdout is a full disk: --help", "stdout is closed: patterns show", "stored although nothing can be shown",
    "stderr is a full disk: play", "stderr is a pipe whose reader left: score", "no home: records", "no home: takes",
    "records a waiting bout that is none: bouts K-07", "records a waiting bout whose identity is a list: bouts K-07",
    "records one page: bouts K-07", "ladder: unknown adaptation", "note '\\udcff'",
    "a group of commands alone shows its help", "bouts --last '0'", "unlock text.age", "unlock gone.age", "pattern use: empty", "pattern use: twice",
    "pattern use: nul", "play --level '" + "x" * 23, "records with bytes flipped 7", "play --language ''",
)  # fmt: skip
"""Each failed before what it found was put right."""


@pytest.mark.skipif(sys.platform != "linux", reason="its worlds are those of Linux: /dev/full, links, limits of a process")
def test_hostile_and_odd_commands_are_refused_in_words_or_done():
    names = [case.name for case in all_cases()]
    assert len(names) >= 300
    short = sorted({*thirds(), *(names.index(name) for name in FOUND)})
    bad = [f"{result.name}: {'; '.join(result.faults)}; {result.err[:200]!r}" for result in run_all(short) if result.faults]
    assert bad == []


def test_the_script_sees_what_is_wrong():
    """A check that could not fail would pass for anything."""
    from tests.reliability.cases import Case, Ends
    from tests.reliability.torture import Output, faults_of, stray_files

    def wrong(code, err, out="", **case):
        return " | ".join(faults_of(Case("made", ("score", "x.wav"), **case), Output(code, out, err)))

    fine = "cuekit: x.wav: there is no such file: check the name and the folder\n"
    assert wrong(4, fine, names=("x.wav",)) == ""
    assert "ended with 0" in wrong(0, "")
    assert "ended with 70" in wrong(70, fine)
    assert "Traceback" in wrong(4, "Traceback (most recent call last)\n" + fine)
    assert "RuntimeWarning" in wrong(4, "RuntimeWarning: invalid value\n" + fine)
    assert "steering" in wrong(4, fine + "\x1b[2J")
    assert "5 lines" in wrong(4, fine * 5)
    assert "characters" in wrong(4, fine.strip() + "x" * 600)
    assert "does not name" in wrong(4, "cuekit: check the name\n", names=("x.wav",))
    assert "no mend" in wrong(4, "cuekit: x.wav\n", names=("x.wav",))
    assert "stderr although done" in wrong(0, fine, ends=Ends.DONE)
    assert "did not say" in wrong(0, "", ends=Ends.DONE, says=("beats",))
    assert stray_files({"a": "1"}, {"a": "2", "b": "1", "home/c": "1"}, ("home/*",)) == ("files changed: a, b",)
