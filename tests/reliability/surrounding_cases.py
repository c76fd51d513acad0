"""The computer around the program: no home, full disk, closed outlets, odd languages and terminals, no sound."""

import os
import shutil
from pathlib import Path

from tests.reliability import record_worlds as worlds
from tests.reliability.cases import MATERIAL, ROOM, Case, Ends, Outlet, World

SCORE = ("score", f"{MATERIAL}/named.mp3", "--pattern", "gallop")
PLAY = ("play", "gallop", "--beats", "4", "--out", "o.wav")
SHOW = ("patterns", "show", "skip")
COUNT = ("count", "--learner", "K-07", "--run", "5", "--cue", "C4", "--help-level", "I")
READ = ("bouts", "K-07")
WORK = (SCORE, PLAY, SHOW, ("--help",), ("patterns",), ("ladder", "gallop"), ("demo", "--quiet"))
"""What must work wherever a program can run at all."""


def odd_env(**env: str) -> World:
    return World(env=tuple(env.items()))


def _locked(room: Path) -> None:
    """A folder in which nothing can be made."""
    (room / "locked").mkdir(mode=0o500)


SURROUNDINGS = {
    "no home": World(without=("HOME", "USER", "LOGNAME")),
    "home relative": odd_env(HOME="here"),
    "home missing": odd_env(HOME=f"{ROOM}/missing/home"),
    "home a file": odd_env(HOME="/dev/null"),
    "no path": World(without=("PATH",)),
    "C locale, no UTF-8": odd_env(LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0"),
    "ASCII only": odd_env(PYTHONIOENCODING="ascii"),
    "Latin-1": odd_env(PYTHONIOENCODING="latin-1"),
    "Windows western": odd_env(PYTHONIOENCODING="cp1252"),
    "Windows console": odd_env(PYTHONIOENCODING="cp437"),
    "unknown locale": odd_env(LC_ALL="xx_XX.nonsense", LANG="\x1b[2J"),
    "Turkish": odd_env(LC_ALL="tr_TR.UTF-8"),
    "dumb terminal": odd_env(TERM="dumb"),
    "no terminal name": World(without=("TERM",)),
    "one column": odd_env(COLUMNS="1", LINES="1"),
    "no columns": odd_env(COLUMNS="0"),
    "negative columns": odd_env(COLUMNS="-5"),
    "columns of text": odd_env(COLUMNS="wide"),
    "twenty columns": odd_env(COLUMNS="20"),
    "a million columns": odd_env(COLUMNS="1000000"),
    "no colour": odd_env(NO_COLOR="1"),
    "forced colour": odd_env(FORCE_COLOR="1", CLICOLOR_FORCE="1"),
    "time zone of nowhere": odd_env(TZ="Nowhere/City"),
    "time zone a path": odd_env(TZ=":/etc/passwd"),
    "no temporary folder": odd_env(TMPDIR="/nonexistent"),
    "warnings are errors": World(python=("-W", "error")),
    "development mode": World(python=("-X", "dev", "-W", "error")),
    "optimised": World(python=("-OO",)),
    "few open files": World(open_files=24),
    "little memory": World(memory_bytes=1_500_000_000),
    "home locked": World(powerless=True, prepare=_locked, env=(("HOME", f"{ROOM}/locked/home"),)),
    "stdin closed": World(stdin_closed=True),
}


def working_cases() -> list[Case]:
    """Playing to a file, scoring, showing and helping work in each surrounding, or refuse in words."""
    cases = []
    for name, world in SURROUNDINGS.items():
        for words in WORK if name in ("no home", "ASCII only", "Windows western", "one column", "warnings are errors") else WORK[:3]:
            writes = ("o.wav",) if words is PLAY else ()
            ends = Ends.DONE_OR_REFUSED if name in ("few open files", "little memory") else Ends.DONE
            cases.append(Case(f"{name}: {' '.join(words[:2])}", words, ends, writes=writes, world=world))
    return cases  # fmt: skip


def outlet_cases() -> list[Case]:
    """stdout and stderr that take nothing."""
    cases = []
    for outlet in (Outlet.CLOSED, Outlet.FULL, Outlet.BROKEN_PIPE):
        ends = Ends.DONE if outlet is Outlet.CLOSED else Ends.REFUSED
        for words in (SCORE, SHOW, ("--help",), ("--version",), ("patterns",)):
            names = ("disk",) if outlet is Outlet.FULL else ()
            cases.append(Case(f"stdout is {outlet.value}: {' '.join(words[:2])}", words, ends, names, world=World(stdout=outlet)))
        for words in (("score", "gone.wav", "--pattern", "gallop"), ("play", "skip", "--tempo", "nan")):
            cases.append(Case(f"stderr is {outlet.value}: {words[0]}", words, Ends.REFUSED_OR_WRONG_USE, world=World(stderr=outlet)))
            cases.append(Case(f"both are {outlet.value}: {words[0]}", words, Ends.REFUSED_OR_WRONG_USE, world=World(stdout=outlet, stderr=outlet)))
    cases.append(Case("stored although nothing can be shown", COUNT, Ends.REFUSED, writes=("data/*",), world=World(prepare=worlds.kept, stdout=Outlet.FULL)))
    return cases  # fmt: skip


def storing_cases() -> list[Case]:
    """Saving where there is no place to save says so and says how to set one."""
    home = (("HOME", f"{ROOM}/locked/home"),)
    lost = ("--data",)
    no_data = ("CUEKIT_DATA",)
    return [
        Case("no home: records", READ, names=lost, world=World(prepare=_homeless, without=("HOME", *no_data), env=(("PYTHONPATH", f"{ROOM}"),))),
        Case("no home: takes", ("listen", "gallop"), names=("--takes",), world=World(prepare=_homeless, without=("HOME",), env=(("PYTHONPATH", f"{ROOM}"),))),
        Case("home missing: records", ("learner", "add", "N-01"), names=lost, world=World(env=home, without=no_data, powerless=True, prepare=_locked)),
        Case("records only to be read: list", READ, Ends.DONE_OR_REFUSED, world=World(prepare=worlds.only_to_read, powerless=True)),
        Case("records only to be read: add", COUNT, names=lost, world=World(prepare=worlds.only_to_read, powerless=True)),
        Case("data a device", READ, Ends.REFUSED_OR_WRONG_USE, world=World(env=(("CUEKIT_DATA", "/dev/null"),))),
        Case("data empty", READ, Ends.DONE_OR_REFUSED, world=World(env=(("CUEKIT_DATA", ""), ("HOME", f"{ROOM}/home")), own_process=True), writes=("home/*",)),
        Case("disk full: add", COUNT, names=("disk",), world=World(prepare=worlds.kept, file_bytes=20_000), writes=("data/*",)),
        Case("disk full: backup", ("records", "backup"), names=("disk",), world=World(prepare=worlds.kept, file_bytes=20_000), writes=("data/*-shm", "data/*-wal")),
        Case("disk full: begin", ("learner", "add", "K-07"), names=("disk",), world=World(file_bytes=4_000), writes=("data",)),
        Case("few open files: add", COUNT, Ends.DONE_OR_REFUSED, world=World(prepare=worlds.kept, open_files=24), writes=("data/*",)),
        Case("folder of patterns missing", ("patterns",), Ends.WRONG_USE, names=("nowhere",), world=odd_env(CUEKIT_PATTERNS="nowhere")),
        Case("folder of patterns empty text", ("patterns",), Ends.DONE, world=odd_env(CUEKIT_PATTERNS="")),
        Case("takes in a file", ("listen", "gallop"), Ends.REFUSED_OR_WRONG_USE, world=World(env=(("CUEKIT_TAKES", "take.file"),), prepare=lambda room: (room / "take.file").write_bytes(b""), own_process=True)),
        Case("fault log where none can be written", ("--version",), Ends.DONE, world=World(env=home, powerless=True, prepare=_locked)),
    ]  # fmt: skip


def _homeless(room: Path) -> None:
    """A Python to which no account is known, as in a container."""
    (room / "sitecustomize.py").write_text("import pwd\ndef unknown(number): raise KeyError(number)\npwd.getpwuid = unknown\n")


def _without_portaudio(room: Path) -> None:
    """A sounddevice that finds no library, as on a Linux computer without PortAudio."""
    (room / "sounddevice.py").write_text('raise OSError("PortAudio library not found")\n')


def sound_card_cases() -> list[Case]:
    """No loudspeaker, no microphone, no library."""
    silent = World(own_process=True)
    missing = World(prepare=_without_portaudio, env=(("PYTHONPATH", f"{ROOM}"),))
    cases = []
    takes = ("home/.local", "home/.local/*")  # the folder of recordings is made before the microphone is asked
    for words in (("play", "skip", "--beats", "2"), ("listen", "gallop"), ("room",), ("check",), ("practice", "gallop"), ("listen", "gallop", "--cue", "c4")):
        cases.append(Case(f"no sound device: {' '.join(words)}", words, writes=takes, world=silent))
        cases.append(Case(f"no PortAudio: {' '.join(words)}", words, names=("PortAudio",), writes=takes, world=missing))
    for words in (SCORE, PLAY, ("--help",), ("demo", "--quiet")):
        writes = ("o.wav",) if words is PLAY else ()
        cases.append(Case(f"no PortAudio: {words[0]}", words, Ends.DONE, writes=writes, world=missing))
    cases.append(Case("demo aloud without a device", ("demo",), Ends.DONE_OR_REFUSED, writes=("cuekit-demo-skip.wav",), world=silent))
    return cases  # fmt: skip


def surrounding_cases() -> list[Case]:
    """All cases of the world around."""
    assert shutil.which("true")
    assert os.name == "posix"
    return [*working_cases(), *outlet_cases(), *storing_cases(), *sound_card_cases()]
