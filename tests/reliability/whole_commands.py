"""Goals R12, R18 and R20: a file of three hours, a lesson under a trace of its system calls, and the start."""

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from tests.reliability.broken_recordings import galloping
from tests.whole_process import run_cuekit

ROOT = Path(__file__).parents[2]
PEAK = (
    "import sys\nfrom cuekit.cli import main\nfrom tests.reliability.memory import peak_mb\n"
    "try:\n    main()\nfinally:\n    print(f'peak {peak_mb()}', file=sys.stderr)"
)
"""The command as it is called, and the most memory it held."""
CALL = re.compile(r"\b(connect|bind|sendto|sendmsg|accept4?|listen)\(")
ADDRESS = re.compile(r"sa_family=(AF_\w+)(?:.*?(?:inet_addr\(\"|inet_pton\(AF_INET6, \")([^\"]+))?")


@dataclass(frozen=True)
class LongFile:
    """What three hours of sound cost.

    Attributes:
        hours: of sound at 44.1 kHz.
        took_s: of the processor, to score it.
        peak_mb: the most memory held, MB.
        answered_s: the longest from Ctrl-C to the end, of three moments.
        code: exit code of scoring.
    """

    hours: float
    took_s: float
    peak_mb: float
    answered_s: float
    code: int


def score_long_file(hours: float, stops: int = 3) -> LongFile:
    """Score a long recording, and stop it at a few moments."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.wav"
        minute = _minute()
        with soundfile.SoundFile(path, "w", 44_100, 1, "PCM_16") as out:
            for _ in range(round(60 * hours)):
                out.write(minute)
        words = [sys.executable, "-c", PEAK, "score", str(path), "--pattern", "gallop", "--longest", "600"]
        before = os.times()
        done = subprocess.run(words, capture_output=True, text=True, cwd=ROOT)
        after = os.times()
        took_s = after.children_user + after.children_system - before.children_user - before.children_system
        peak = re.search(r"peak ([\d.]+)", done.stderr)
        answered_s = max(_answered_s(words, took_s * (n + 1) / (stops + 1)) for n in range(stops))
    return LongFile(hours, took_s, float(peak[1]) if peak else float("inf"), answered_s, done.returncode)


def _minute() -> np.ndarray:
    """A minute of steps with pauses between the bouts, 44.1 kHz."""
    at_48 = galloping(50.0)
    at = np.arange(0, at_48.size, 48_000 / 44_100)
    moved = np.interp(at, np.arange(at_48.size), at_48)
    quiet = 1e-4 * np.random.default_rng(0).normal(size=60 * 44_100)
    quiet[: moved.size] += moved[: quiet.size]
    return quiet


def _answered_s(words: list[str], after_s: float) -> float:
    """From Ctrl-C to the end of the program, s; it must leave with 130."""
    child = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=ROOT)
    time.sleep(after_s)
    child.send_signal(signal.SIGINT)
    start = time.perf_counter()
    code = child.wait(120)
    return time.perf_counter() - start if code in (0, 130) else float("inf")


@dataclass(frozen=True)
class Traced:
    """Calls of a lesson that reach for a network.

    Attributes:
        commands: how many were traced, with all they started.
        calls: calls on sockets in all.
        beyond: those to anything but this computer.
        live: whether a bout was played and heard on a (made) sound card.
    """

    commands: int
    calls: int
    beyond: tuple[str, ...]
    live: bool


def can_trace() -> bool:
    """Whether system calls can be traced here."""
    return shutil.which("strace") is not None


def trace_lesson() -> Traced:
    """A lesson from the learner's first row to export and deletion, each command under strace."""
    calls, lines, live = 0, [], False
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        soundfile.write(folder / "take.wav", galloping(12.0), 48_000)
        server = _sound_server()
        env = os.environ | server | {"CUEKIT_DATA": str(folder / "data"), "CUEKIT_TAKES": str(folder / "takes"), "CUEKIT_STATE": str(folder / "state"), "PYTHONPATH": str(ROOT)}
        try:
            commands = _lesson(folder)
            for words in commands:
                trace = folder / "trace"
                told = subprocess.run(
                    ["strace", "-f", "-qq", "-e", "trace=network", "-o", str(trace), sys.executable, "-m", "cuekit", *words],
                    env=env, cwd=folder, capture_output=True, text=True, stdin=subprocess.DEVNULL, timeout=300,
                )  # fmt: skip
                live = live or (words[0] == "play" and "--out" not in words and told.returncode == 0)
                found = [line for line in trace.read_text(errors="replace").splitlines() if CALL.search(line)]
                calls += len(found)
                lines += [line for line in found if not _stays_here(line)]
        finally:
            _stop(server)
    return Traced(len(commands), calls, tuple(line[:160] for line in lines), live)


def _lesson(folder: Path) -> list[list[str]]:
    return [
        ["learner", "add", "K-07", "--skill", "gallop"],
        ["lesson", "start", "K-07"],
        ["check"],
        ["play", "gallop", "--beats", "4"],
        ["listen", "gallop", "--cue", "c4", "--beats", "6", "--learner", "K-07"],
        ["keep", str(folder / "take.wav"), "--learner", "K-07", "--cue", "C4"],
        ["bouts", "K-07"],
        ["next", "K-07"],
        ["goal", "add", "K-07", "--at-least", "6", "--cue", "C4"],
        ["report", "K-07", "--for", "family", "--out", str(folder / "k.html")],
        ["lesson", "stop", "K-07"],
        ["records", "backup"],
        ["export", "K-07", "--out", str(folder / "k.csv")],
        ["forget", "K-07", "--yes"],
        ["demo", "--quiet"],
    ]


def _stays_here(line: str) -> bool:
    """Whether a call names only this computer: a socket file, a kernel's socket, loopback, or no address."""
    address = ADDRESS.search(line)
    if address is None:
        return True
    family, host = address[1], address[2] or ""
    return family in ("AF_UNIX", "AF_NETLINK", "AF_UNSPEC") or host.startswith("127.") or host == "::1"


def _sound_server() -> dict[str, str]:
    """Variables of a sound card made in user space; none where it cannot be made."""
    if shutil.which("pulseaudio") is None:
        return {}
    done = subprocess.run(["sh", str(ROOT / "tests" / "audio_server.sh"), "start"], capture_output=True, text=True)
    return dict(re.findall(r"(PULSE_\w+)='([^']*)'", done.stdout))


def _stop(server: dict[str, str]) -> None:
    if server:
        subprocess.run(["sh", str(ROOT / "tests" / "audio_server.sh"), "stop"], env=os.environ | server, capture_output=True)


@dataclass(frozen=True)
class Start:
    """The start of the program.

    Attributes:
        help_s, version_s: of the processor, s.
        heavy: libraries loaded that should not be.
        bare: whether both work without PortAudio, home and terminal.
    """

    help_s: float
    version_s: float
    heavy: tuple[str, ...]
    bare: bool


def start() -> Start:
    """Help and version, timed, and what they load."""
    code = "import sys; from cuekit.cli import run; run(['--help']); run(['--version']); print(*sys.modules, file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT)
    loaded = {name.partition(".")[0] for name in done.stderr.split()}
    bare = {"PATH": "/usr/bin:/bin", "PYTHONPATH": str(ROOT), "HOME": "/nonexistent"}
    codes = [
        subprocess.run([sys.executable, "-m", "cuekit", word], env=bare, capture_output=True).returncode
        for word in ("--help", "--version")
    ]
    return Start(
        run_cuekit("--help", tries=5).took_s,
        run_cuekit("--version", tries=5).took_s,
        tuple(sorted(loaded & {"numpy", "librosa", "sounddevice", "soundfile", "scipy", "matplotlib", "numba"})),
        codes == [0, 0],
    )
