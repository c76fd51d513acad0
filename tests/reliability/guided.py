"""Goal R4: files grown by what they reach in the program (libFuzzer by way of atheris), read by each parser.

    python -m tests.reliability.guided SECONDS            every subject for so long
    python -m tests.reliability.guided SECONDS "pattern file" "waiting file"

It needs the extra "fuzz". Before a release an hour each of the pattern file and the waiting file. What is
found becomes an ordinary test beside its mend.
"""

import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from tests.reliability.memory import memory_folder

ROOT = Path(__file__).parents[2]
SUBJECTS = ("pattern file", "waiting file", "record line", "ladder file", "sound file")
ESCAPED = re.compile(r"=== Uncaught Python exception: ===\n(.+)|(SUMMARY: libFuzzer: .+)")
RUNS = re.compile(r"Done (\d+) runs")
REACHED = re.compile(r"cov: (\d+)")
GROW = "import sys, pathlib; from tests.reliability.guided import grow; grow(sys.argv[1], int(sys.argv[2]), pathlib.Path(sys.argv[3]))"
SLOWEST_S, MOST_MB = 10, 1_000
"""A file that takes so long, or so much memory, is a find."""


@dataclass(frozen=True)
class Guided:
    """What became of a subject.

    Attributes:
        subject: what was tried.
        runs: how many files.
        reached: branches of the program that they reached.
        escaped: what came out that should not; empty for nothing.
    """

    subject: str
    runs: int
    reached: int
    escaped: str


def can_guide() -> bool:
    """Whether the fuzzer is there."""
    return find_spec("atheris") is not None


def guide(subjects: tuple[str, ...], seconds: int) -> tuple[Guided, ...]:
    """Try subjects for so long each, two at a time, each in a process of its own."""
    found = []
    with tempfile.TemporaryDirectory(dir=memory_folder()) as folder:
        for pair in (subjects[n : n + 2] for n in range(0, len(subjects), 2)):
            running = [_started(subject, seconds, Path(folder) / subject) for subject in pair]
            found += [told(subject, child) for subject, child in zip(pair, running, strict=True)]
    return tuple(found)


def _started(subject: str, seconds: int, folder: Path) -> subprocess.Popen:
    words = [sys.executable, "-c", GROW, subject, str(seconds), str(folder)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace", cwd=ROOT)


def told(subject: str, child: subprocess.Popen) -> Guided:
    """What a process of the fuzzer said when it ended."""
    said, _ = child.communicate()
    escaped = ESCAPED.search(said)
    wrong = (escaped[1] or escaped[2]) if escaped else "" if child.returncode == 0 else f"died: {said[-300:]}"
    runs, reached = RUNS.search(said), REACHED.findall(said)
    return Guided(subject, int(runs[1]) if runs else 0, int(reached[-1]) if reached else 0, wrong)


def grow(name: str, seconds: int, folder: Path) -> None:
    """Grow files of one subject here; the process ends with it."""
    import atheris

    with atheris.instrument_imports(include=["cuekit", "tomllib"]):
        from tests.reliability.guided_subjects import subjects
    grown = folder / "grown"
    grown.mkdir(parents=True)
    subject = subjects(folder)[name]
    for number, seed in enumerate(subject.seeds):
        (grown / str(number)).write_bytes(seed)
    limits = [f"-max_total_time={seconds}", f"-max_len={subject.longest}", f"-timeout={SLOWEST_S}", f"-rss_limit_mb={MOST_MB}", "-seed=1"]
    atheris.Setup([sys.argv[0], *limits, f"-artifact_prefix={tempfile.gettempdir()}/", str(grown)], subject.read)
    atheris.Fuzz()


if __name__ == "__main__":
    for one in guide(tuple(sys.argv[2:]) or SUBJECTS, int(sys.argv[1])):
        print(one, flush=True)
