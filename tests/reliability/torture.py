"""The black-box torture script: every case run, and what is wrong with how it ended.

    python -m tests.reliability.torture             all cases
    python -m tests.reliability.torture WORD        those with WORD in their name
    python -m tests.reliability.torture --third     every third, as the ordinary tests do

Cases that need nothing but a file or a word are called in a process that runs many, with the outlets
1 and 2 of the process caught, so that what C libraries print is seen too. All others are processes of their own.
"""

import fnmatch
import hashlib
import multiprocessing
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tests.reliability.cases import MATERIAL, ROOM, Case, Ends, Outlet, World
from tests.reliability.option_cases import option_cases
from tests.reliability.pattern_cases import pattern_cases
from tests.reliability.record_cases import record_cases
from tests.reliability.sound_cases import sound_cases, sounds
from tests.reliability.surrounding_cases import surrounding_cases

ROOT = Path(__file__).parents[2]
POWERLESS = (shutil.which("setpriv") or "setpriv", "--bounding-set=-dac_override,-dac_read_search,-fowner,-chown")
"""Takes from root the right to pass over permissions, as the tests may run as root."""
HANGS_AFTER_S = 60
"""Far more than any case takes; a machine shared with others is slow."""
MOST_LINES, MOST_CHARACTERS = 3, 600
"""Of a refusal (goal R17)."""
LEAKS = re.compile(r"Traceback|a mistake in cuekit itself|\w*Warning\b|\b\w+Error\b|\bException\b|ERROR CORE|\[src/|Note: Illegal")
STEERING = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
MEND = re.compile(
    r"\b(add|ask|at most|bring|check|choose|close|copy|correct|count|cut|delete|did you mean|end the name|expected|expects|"
    r"give|goes in quotes|is long:short|is missing|is written|may have|is one of|keep|lists|look|make|move|name|needs|needed|open it|pass|plug|record|rename|run|save|say|set|shows|start|take|"
    r"there are|try|update|use|write|written to a file|such as|takes|type it again|requires|can hold|can be written)\b",
    re.IGNORECASE,
)  # fmt: skip
"""Words of a mend: what to do, or what would have been right."""


@cache
def all_cases() -> tuple[Case, ...]:
    """Every case; no two of one name."""
    kinds = (sound_cases, pattern_cases, option_cases, record_cases, surrounding_cases)
    cases = [case for kind in kinds for case in kind()]
    names = [case.name for case in cases]
    doubles = {name for name in names if names.count(name) > 1}
    assert not doubles, doubles
    return tuple(cases)


@dataclass(frozen=True)
class Result:
    """How a case ended.

    Attributes:
        name: of the case.
        code: exit code; negative for a signal.
        err: what stderr got.
        faults: what is wrong with that, each in a few words.
        took_s: how long it took.
    """

    name: str
    code: int
    err: str
    faults: tuple[str, ...]
    took_s: float


@dataclass(frozen=True)
class Output:
    """Exit code, stdout and stderr of one run."""

    code: int
    out: str
    err: str


def make_material(folder: Path) -> None:
    """The sound files that many cases share; nothing may change in there."""
    for sound in sounds():
        (folder / sound.file).write_bytes(sound.content)
    for path in folder.iterdir():
        path.chmod(0o444)


def run_all(cases: list[int], jobs: int = 2) -> list[Result]:
    """Run cases by their numbers, and see that none touched the shared material."""
    with tempfile.TemporaryDirectory(prefix="torture-") as place:
        folder = Path(place)
        folder.chmod(0o755)
        (folder / "material").mkdir()
        make_material(folder / "material")
        before = contents(folder / "material")
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(jobs, mp_context=context) as pool:
            results = list(pool.map(run_numbered, cases, [folder] * len(cases), chunksize=4))
        changed = contents(folder / "material") != before
    untouched = () if not changed else ("the shared material was changed",)
    return [*results, Result("the material is as it was", 0, "", untouched, 0.0)]


def run_numbered(number: int, folder: Path) -> Result:
    """Run one case in a room of its own."""
    case = all_cases()[number]
    room = folder / f"room-{number}"
    room.mkdir()
    (room / "home").mkdir()
    try:
        if case.world.prepare is not None:
            case.world.prepare(room)
        before = contents(room)
        words = [word.replace(MATERIAL, str(folder / "material")).replace(ROOM, str(room)) for word in case.words]
        start = time.perf_counter()
        output = called(words, room) if case.world.usual else started(words, room, folder, case.world)
        took_s = time.perf_counter() - start
        faults = (*faults_of(case, output), *stray_files(before, contents(room), case.writes))
        return Result(case.name, output.code, output.err, faults, took_s)
    finally:
        for path in room.rglob("*"):
            if path.is_dir() and not path.is_symlink():
                path.chmod(0o700)
        shutil.rmtree(room)


def environment_of(room: Path) -> dict[str, str]:
    """The variables of an ordinary computer whose home is the room, without a sound card."""
    kept = {name: os.environ[name] for name in ("PATH", "LANG", "LD_LIBRARY_PATH") if name in os.environ}
    return kept | {
        "HOME": str(room / "home"),
        "USER": "teacher",
        "TERM": "xterm",
        "CUEKIT_DATA": str(room / "data"),
        "PYTHONPATH": str(ROOT),
        "PULSE_SERVER": "unix:/nonexistent/socket",
        "PYTHONDONTWRITEBYTECODE": "1",
    }


def called(words: list[str], room: Path) -> Output:
    """Call the command line in this process."""
    from cuekit.cli import run

    environment, here = dict(os.environ), Path.cwd()
    os.environ.clear()
    os.environ.update(environment_of(room))
    os.chdir(room)
    signal.signal(signal.SIGALRM, _too_long)
    signal.alarm(HANGS_AFTER_S)
    try:
        with caught(room.with_suffix(".out"), room.with_suffix(".err")):
            try:
                code = run(words)
            except SystemExit as leaving:
                code = leaving.code if isinstance(leaving.code, int) else 1
            except BaseException as escaped:
                print(f"Traceback: {type(escaped).__name__} {escaped}", file=sys.stderr)
                code = 255
    finally:
        signal.alarm(0)
        os.chdir(here)
        os.environ.clear()
        os.environ.update(environment)
    return Output(code, _text(room.with_suffix(".out")), _text(room.with_suffix(".err")))


def _too_long(number: int, frame: object) -> None:
    raise TimeoutError(f"no end after {HANGS_AFTER_S} s")


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8", "backslashreplace")
    finally:
        path.unlink()


@contextmanager
def caught(out: Path, err: Path):
    """Outlets 1 and 2 of this process lead to files, inlet 0 to nothing, Python's streams with them."""
    streams, kept = (sys.stdin, sys.stdout, sys.stderr), [os.dup(n) for n in range(3)]
    sys.stdout.flush()
    sys.stderr.flush()
    with Path(os.devnull).open("rb") as nothing, out.open("wb") as one, err.open("wb") as two:
        for number, file in enumerate((nothing, one, two)):
            os.dup2(file.fileno(), number)
    sys.stdin = os.fdopen(0, "r", closefd=False)
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = os.fdopen(2, "w", encoding="utf-8", errors="backslashreplace", closefd=False)
    try:
        yield
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        sys.stdin, sys.stdout, sys.stderr = streams
        for number, descriptor in enumerate(kept):
            os.dup2(descriptor, number)
            os.close(descriptor)


def started(words: list[str], room: Path, folder: Path, world: World) -> Output:
    """Start the program in a world of its own."""
    env = environment_of(room)
    for name, value in world.env:
        filled = value.replace(ROOM, str(room)).replace(MATERIAL, str(folder / "material"))
        env[name] = f"{filled}:{ROOT}" if name == "PYTHONPATH" else filled
    for name in world.without:
        env.pop(name, None)
    files = [outlet_file(outlet, room.with_suffix(end)) for outlet, end in ((world.stdout, ".out"), (world.stderr, ".err"))]
    child = subprocess.Popen(
        [*(POWERLESS if world.powerless and os.geteuid() == 0 else ()), sys.executable, *world.python, "-m", "cuekit", *words],
        cwd=room, env=env, stdin=subprocess.DEVNULL, stdout=files[0], stderr=files[1], preexec_fn=lambda: _limit(world),
    )  # fmt: skip
    for file in files:
        os.close(file)
    try:
        code = child.wait(HANGS_AFTER_S)
    except subprocess.TimeoutExpired:
        child.kill()
        code = child.wait()
    return Output(code, *(_text(room.with_suffix(end)) if room.with_suffix(end).exists() else "" for end in (".out", ".err")))


def outlet_file(outlet: Outlet, path: Path) -> int:
    """A descriptor that leads where it should; a closed one is closed by the child itself."""
    if outlet is Outlet.BROKEN_PIPE:
        reader, writer = os.pipe()
        os.close(reader)
        return writer
    places = {Outlet.FILE: path, Outlet.CLOSED: path, Outlet.FULL: Path("/dev/full")}
    return os.open(places[outlet], os.O_WRONLY | os.O_CREAT, 0o600)


def _limit(world: World) -> None:
    """In the child, before the program: limits, and what is to be closed."""
    for kind, value in ((resource.RLIMIT_NOFILE, world.open_files), (resource.RLIMIT_FSIZE, world.file_bytes), (resource.RLIMIT_AS, world.memory_bytes)):
        if value:
            resource.setrlimit(kind, (value, value))
    for number, outlet in ((1, world.stdout), (2, world.stderr)):
        if outlet is Outlet.CLOSED:
            os.close(number)
    if world.stdin_closed:
        os.close(0)


def contents(folder: Path) -> dict[str, str]:
    """What lies in a folder: kind, rights and digest of each thing by its name."""
    found = {}
    for path in folder.rglob("*"):
        facts = path.lstat()
        digest = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() and not path.is_symlink() else ""
        found[str(path.relative_to(folder))] = f"{facts.st_mode:o} {digest}"
    return found


def stray_files(before: dict[str, str], after: dict[str, str], writes: tuple[str, ...]) -> tuple[str, ...]:
    """Files new, changed or gone that should not be."""
    moved = {name for name in before.keys() | after.keys() if before.get(name) != after.get(name)}
    bad = [name for name in sorted(moved) if not any(fnmatch.fnmatch(name, allowed) for allowed in writes)]
    return (f"files changed: {', '.join(bad)[:200]}",) if bad else ()


def faults_of(case: Case, output: Output) -> tuple[str, ...]:
    """What is wrong with how a case ended."""
    faults, both = [], output.out + output.err
    if output.code not in case.ends.value:
        faults.append(f"ended with {output.code}, not {sorted(case.ends.value)}")
    for found in {match.group() for match in LEAKS.finditer(both)} - set(case.words):
        faults.append(f"leaked {found!r}")
    if STEERING.search(both):
        faults.append(f"steering code {STEERING.search(both).group()!r}")
    if output.code == 0:
        faults += [f"did not say {text!r}" for text in case.says if text not in output.out]
        faults += [f"stderr although done: {output.err[:80]!r}"] if output.err else []
        return tuple(faults)
    return (*faults, *refusal_faults(case, output))


def refusal_faults(case: Case, output: Output) -> tuple[str, ...]:
    """What is wrong with a refusal (goal R17); a command that lists problems tells them on stdout."""
    told = output.err or output.out
    if case.world.stderr is not Outlet.FILE or case.world.stdout is Outlet.BROKEN_PIPE:
        return ()
    lines, length = output.err.rstrip("\n").count("\n") + 1, len(output.err)
    faults = [f"{lines} lines"] if lines > MOST_LINES else []
    faults += [f"{length} characters"] if length > MOST_CHARACTERS else []
    faults += [f"does not name {name!r}" for name in case.names if name not in told]
    stopped = output.code in Ends.STOPPED.value
    faults += ["names no mend"] if not stopped and not MEND.search(told) else []
    return (*faults,)


def thirds() -> list[int]:
    """Numbers of the cases of the short form."""
    return list(range(0, len(all_cases()), 3))


def chosen(arguments: list[str]) -> list[int]:
    """Numbers of the cases asked for on the command line."""
    if "--third" in arguments:
        return thirds()
    wanted = arguments[0] if arguments else ""
    return [number for number, case in enumerate(all_cases()) if wanted in case.name]


def main() -> int:
    """Run and print what failed."""
    start = time.perf_counter()
    results = run_all(chosen(sys.argv[1:]))
    bad = [result for result in results if result.faults]
    for result in bad:
        print(f"{result.name}\n    {'; '.join(result.faults)}\n    said: {result.err[:300]!r}")
    slowest = max(results, key=lambda result: result.took_s)
    print(f"{len(results)} cases, {len(bad)} failed, {time.perf_counter() - start:.0f} s; slowest {slowest.took_s:.1f} s: {slowest.name}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
