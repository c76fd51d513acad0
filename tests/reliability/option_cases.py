"""Options and arguments of every command as nobody should type them, and places that cannot be written to."""

import os
from pathlib import Path

from tests.reliability.cases import MATERIAL, Case, Ends, World
from tests.reliability.record_worlds import kept

NUMBERS = ("nan", "inf", "-inf", "1e400", "0x10", "1_0", "１２", "", " ", "100bpm", "60*2", "9" * 5_000, "--", "1e1", "½", "\x1b[2J", "0.0.0")
"""What no number option takes; the ones that an option could take are left to `RANGES`."""

TAKE = f"{MATERIAL}/named.mp3"
PLAY = ("play", "gallop", "--out", "o.wav")
SCORE = ("score", TAKE, "--pattern", "gallop")
COUNT = ("count", "--learner", "K-07", "--run", "5", "--cue", "C4", "--help-level", "I")
GOAL = ("goal", "add", "K-07", "--pattern", "gallop", "--cue", "C4", "--at-least", "6")
LESSON = ("lesson", "add", "K-07", "--start", "2026-03-02")

RANGES = {
    "--tempo": (PLAY, ("0", "-1", "19.99", "300.01", "1000000000", "-0.0")),
    "--beats": (PLAY, ("0", "-1", "10001", "1.5")),
    "--seconds": (PLAY, ("0", "-1", "7201")),
    "--full": (PLAY, ("-1", "1.5", "99999")),
    "--softer": (PLAY, ("-1", "1.5", "99999")),
    "--change": (PLAY, ("-51", "101")),
    "--count-in": (PLAY, ("-1", "17", "1.5")),
    "--loudness": (PLAY, ("0", "-23.9", "100", "-200")),
    "--ratio": (PLAY, ("2", "0:0", "1:0", "-2:1", "2:1:1", "nan:1", "1e9:1", "100:1", "1:5")),
    "--side": (PLAY, ("up", "both", "r l")),
    "--level": (PLAY, ("c6", "C", "4")),
    "--sound": (PLAY, ("gong", "../wood")),
    "--language": (PLAY, ("xx", "../en", "en\0", "/", "EN_us.UTF-8")),
    "--longest": (SCORE, ("0", "601", "-5")),
    "--target": (("child", TAKE, "--pattern", "gallop"), ("0", "-1", "1.5", "99999999999")),
    "--pictures": (("child", TAKE, "--pattern", "gallop"), ("0", "-1", "1.5", "99999999999")),
    "--run": (COUNT[:3], ("-1", "10000", "5.5")),
    "--footfalls": (COUNT, ("-1", "10000", "5.5")),
    "--kept": (COUNT, ("-1", "10000")),
    "--met": (COUNT, ("maybe", "1")),
    "--cue": (COUNT, ("C9", "C", "c44")),
    "--help-level": (COUNT, ("X", "XP", "FPP")),
    "--mode": (COUNT, ("fly", "x")),
    "--at": (COUNT, ("2026-02-30", "yesterday", "2026-13-01", "0000-00-00", "2026-03-02T25:00", "２０２６-03-02")),
    "--at-least": (GOAL[:-2], ("0", "-1", "99999", "1.5")),
    "--of": (GOAL, ("0", "-1", "1000000")),
    "--days": (GOAL, ("0", "-1", "1000000")),
    "--spread": (GOAL, ("-1", "101")),
    "--since": (GOAL, ("2026-02-30", "x", "02.03.2026")),
    "--minutes": (LESSON, ("-1", "1441", "1.5")),
    "--group": (LESSON, ("0", "-1", "1.5")),
    "--owed": (LESSON, ("-1", "1441")),
    "--last": (("bouts", "K-07"), ("0", "-1", "1.5")),
    "--delete": (("takes",), ("0", "-1", "99999")),
    "--month": (("lesson", "list", "K-07"), ("March", "2026-13", "2026")),
    "--from": (("report", "K-07", "--out", "o.html"), ("2026-02-30", "x")),
    "--own-tempo": (("learner", "add", "N-01"), ("0", "301")),
    "--ceiling": (("learner", "add", "N-01"), ("100", "-100")),
}  # fmt: skip
"""Per option: the command it is tried on, and values outside its range."""

PLAIN_NUMBERS = ("--tempo", "--beats", "--seconds", "--change", "--count-in", "--loudness", "--longest", "--target", "--run", "--at-least", "--minutes", "--own-tempo")
"""Options that take a number and nothing else; each gets `NUMBERS` in turn."""

CODES = ("", " ", "K 07", "../K-07", "K-07\0", "x" * 100, "Maria Lopez", "-", "niño", "K\n07", "\x1b[2J", "K-07;drop", "%s", "=1+1", "\udcff")


def number_cases() -> list[Case]:
    """Numbers that are none, and numbers out of range."""
    cases = []
    for option, (words, values) in RANGES.items():
        tried = (*values, *NUMBERS) if option in PLAIN_NUMBERS else (*values, "", "\x1b[2J", "x" * 3_000)
        for value in tried:
            ends = Ends.DONE if (option, value) == ("--month", "") else Ends.REFUSED_OR_WRONG_USE
            names = () if option in ("--language", "--ratio") else (option,)
            cases.append(Case(f"{words[0]} {option} {ascii(value)[:24]}", (*words, f"{option}={value}"), ends, names, world=World(prepare=kept)))
    return cases  # fmt: skip


def code_cases() -> list[Case]:
    """Codes that are none, to every command that takes one."""
    cases = [Case(f"learner add {ascii(code)[:24]}", ("learner", "add", "--", code), Ends.REFUSED_OR_WRONG_USE, world=World(prepare=kept)) for code in CODES]
    for command in ("bouts", "next", "agreement", "forget", "report"):
        more = ("--out", "o.html") if command == "report" else ("--yes",) if command == "forget" else ()
        for code in ("../K-07", "Z-99", "\x1b[2J"):
            cases.append(Case(f"{command} {ascii(code)}", (command, *more, "--", code), Ends.REFUSED_OR_WRONG_USE, world=World(prepare=kept)))
    return cases  # fmt: skip


def use_cases() -> list[Case]:
    """Commands and options that do not exist or do not go together."""
    wrong = [
        ("plya", "skip"), ("\x1b[2J",), ("x" * 5_000,), ("--tempo", "100"), ("play",), ("play", "skip", "--temp0", "90"), ("play", "skip", "skip"),
        ("play", "skip", "--beats", "4", "--seconds", "4"), ("score",), ("score", TAKE), ("records", "burn"), ("patterns", "burn"), ("learner", "edit"),
        ("takes", "--delete"), ("keep", TAKE), ("count",), ("correct", "1"), ("strike", "1", "x", "--reason", "y"), ("correct", "x", "lead", "right", "--reason", "y"),
        ("sheet", "poem", "gallop", "--out", "o.html"), ("listen", "gallop", "--start", "now"), ("listen", "gallop", "--keep", "for the meeting"),
        ("listen", "gallop", "--delete-by", "2026-02-30", "--keep", "x"), ("play", "skip", "--out"), ("play", "--", "--out"), ("score", TAKE, "--pattern", "gallop", "--json=yes"),
        ("practice", "gallop", "--from", "fly"), ("observe", "1", "--by", "Maria Lopez", "--footfalls", "3"), ("void", "99", "--reason", "x"), ("export", "K-07", "--out", "k.doc"),
        ("lesson", "stop", "K-07"), ("goal", "close", "99"), ("correct", "1", "lead", "up", "--reason", "x"), ("correct", "1", "\x1b[2J", "up", "--reason", "x"), ("void", "1", "--reason", ""),
        ("void", "1", "--reason", " \n "), ("strike", "1", "999", "--reason", "x"), ("sounds", "1"), ("report", "K-07", "--out", "o.exe"), ("sheet", "plan", "gallop", "--out", "o.html"),
        ("records", "unlock", "nothing.age"), ("records", "unlock", "plain.db"), ("merge", "gone.db"), ("records", "restore", "gone.db"), ("next", "K-07", "--choose", "99"), ("next", "K-07", "--ladder", "galop"),
    ]  # fmt: skip
    alone = Case("a group of commands alone shows its help", ("goal",), Ends.DONE, says=("Commands:",))
    return [alone, *(Case(f"wrong use: {ascii(' '.join(words))[:60]}", words, Ends.REFUSED_OR_WRONG_USE, world=World(prepare=kept)) for words in wrong)]


def text_cases() -> list[Case]:
    """Free text is kept as it is and does no harm: markup, formulas, steering codes, great length."""
    texts = ("<script>alert(1)</script>", "=SUM(A1)", "%s %n {0}", "\x1b[2J\x1b]0;x\x07", "'; DROP TABLE entries; --", "x" * 20_000, "\u202eabc", "two\nlines", "\udcff", "🎵" * 500)
    return [
        Case(f"note {ascii(text)[:30]}", (*COUNT, f"--note={text}"), Ends.DONE_OR_REFUSED, writes=("data/*",), world=World(prepare=kept)) for text in texts
    ]  # fmt: skip


def output_cases() -> list[Case]:
    """Files asked for where none can be: refused, nothing half-written, what was there kept."""
    outputs = {
        "cue": ("play", "gallop", "--beats", "4", "--out"), "replay": (*SCORE, "--replay"), "plot": (*SCORE, "--plot"),
        "export": ("export", "K-07", "--out"), "sheet": ("sheet", "footprints", "gallop", "--out"), "report": ("report", "K-07", "--out"),
    }  # fmt: skip
    ending = {"cue": "wav", "replay": "wav", "plot": "svg", "export": "json", "sheet": "html", "report": "html"}
    cases = []
    for what, words in outputs.items():
        end = ending[what]
        places = {f"no/folder/o.{end}": "no/folder", f"folder.{end}": f"folder.{end}", "x" * 300 + f".{end}": "too long", f"take.file/o.{end}": "take.file", f"loop.{end}": f"loop.{end}", f"pipe.{end}": f"pipe.{end}"}
        for place, names in places.items():
            notes = ("data/*",) if what == "export" else ()
            cases.append(Case(f"{what} to {place[:30]}", (*words, place), names=(names,), writes=notes, world=World(prepare=_places(end))))
        cases.append(Case(f"{what} where nothing may be written", (*words, f"shut/o.{end}"), names=("shut",), writes=("data/*",) if what == "export" else (), world=World(prepare=_places(end), powerless=True)))
        if what not in ("export", "report"):  # they note it in the records first, which is refused too
            cases.append(Case(f"{what} larger than the account may", (*words, f"o.{end}"), names=(f"o.{end}",), world=World(prepare=_places(end), file_bytes=4_000)))
        cases.append(Case(f"{what} to a device", (*words, "/dev/full"), Ends.REFUSED, world=World(prepare=_places(end))))
    cases.append(Case("cue over a file", ("play", "gallop", "--out", "o.wav"), Ends.DONE, writes=("o.wav",), world=World(prepare=_places("wav"))))
    return cases  # fmt: skip


def _places(end: str):
    def prepare(room: Path) -> None:
        kept(room)
        (room / f"folder.{end}").mkdir()
        (room / "take.file").write_bytes(b"not a folder")
        (room / f"loop.{end}").symlink_to(f"loop.{end}")
        os.mkfifo(room / f"pipe.{end}")
        (room / "shut").mkdir(mode=0o500)

    return prepare


def option_cases() -> list[Case]:
    """All cases of what is typed."""
    return [*number_cases(), *code_cases(), *use_cases(), *text_cases(), *output_cases()]
