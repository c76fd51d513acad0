"""Goal R7: a disk whose k-th write, sync, cut, rename or link fails, once or from then on.

    python -m tests.reliability.failing_disk FOLDER    stores and checks there, prints what was said

The failures are put between the program and the C library, so a C compiler on Linux is needed.
"""

import ctypes
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from cuekit.errors import RecordError
from cuekit.records.store import Store
from cuekit.records.store_check import check
from tests.made_records import AT, bout, heard

ROOT = Path(__file__).parents[2]
NEVER = 10**9
FAILING = """
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdlib.h>
#include <unistd.h>
static long call, from, to;
static int fails(void) {
    if (!from) { from = atol(getenv("FAIL_FROM")); to = atol(getenv("FAIL_TO")); }
    call++;
    return call >= from && call <= to;
}
#define REAL(name) ((__typeof__(&name)) dlsym(RTLD_NEXT, #name))
ssize_t pwrite64(int f, const void *b, size_t n, off64_t o) { if (fails()) { errno = ENOSPC; return -1; } return REAL(pwrite64)(f, b, n, o); }
ssize_t pwrite(int f, const void *b, size_t n, off_t o) { if (fails()) { errno = ENOSPC; return -1; } return REAL(pwrite)(f, b, n, o); }
int fsync(int f) { if (fails()) { errno = EIO; return -1; } return REAL(fsync)(f); }
int fdatasync(int f) { if (fails()) { errno = EIO; return -1; } return REAL(fdatasync)(f); }
int ftruncate64(int f, off64_t n) { if (fails()) { errno = EIO; return -1; } return REAL(ftruncate64)(f, n); }
int rename(const char *a, const char *b) { if (fails()) { errno = ENOSPC; return -1; } return REAL(rename)(a, b); }
int link(const char *a, const char *b) { if (fails()) { errno = ENOSPC; return -1; } return REAL(link)(a, b); }
long cuekit_calls(void) { return call; }
"""


@dataclass(frozen=True)
class Failed:
    """What became of the records on a failing disk.

    Attributes:
        places: calls of the disk that could fail.
        runs: how many were let fail, once or from then on.
        refused: runs that ended in a refusal.
        wrong: what was lost, left behind or said at too great a length, each in a few words.
    """

    places: int
    runs: int
    refused: int
    wrong: tuple[str, ...]


def can_fail() -> bool:
    """Whether failures can be made here."""
    return sys.platform.startswith("linux") and shutil.which("cc") is not None


def made_library(folder: Path) -> Path:
    """The library that lets calls fail."""
    (folder / "disk.c").write_text(FAILING)
    library = folder / "disk.so"
    subprocess.run(["cc", "-shared", "-fPIC", "-o", library, folder / "disk.c", "-ldl"], check=True)
    return library


def stored_with_failures(library: Path, folder: Path, first: int, last: int) -> dict[str, int]:
    """Store and check with calls `first` to `last` failing; what was said."""
    failures = {"LD_PRELOAD": str(library), "FAIL_FROM": str(first), "FAIL_TO": str(last)}
    done = subprocess.run(
        [sys.executable, "-m", "tests.reliability.failing_disk", str(folder)],
        env=os.environ | failures, capture_output=True, text=True, cwd=ROOT,
    )  # fmt: skip
    if done.returncode:
        return {"stored": 0, "calls": 0, "broke": 1}
    return {name: int(number) for name, number in (line.split() for line in done.stdout.splitlines())}


def fail_everywhere(folder: Path, *, ever_after: bool, every: int = 1) -> Failed:
    """Let the k-th call fail for k = 1, 1 + every ...; then look at what is there."""
    library = made_library(folder)
    places = stored_with_failures(library, folder / "whole", NEVER, NEVER)["calls"]
    refused, wrong, tried = 0, [], range(1, places + 1, every)
    for k in tried:
        place = folder / str(k)
        said = stored_with_failures(library, place, k, NEVER if ever_after else k)
        refused += "refused" in said
        wrong += [f"call {k}: {what}" for what in _wrong(place, said)]
    return Failed(places, len(tried), refused, tuple(wrong))


def _wrong(folder: Path, said: dict[str, int]) -> list[str]:
    """What is wrong with the records after a failure."""
    found = ["ended in a trace"] if "broke" in said else []
    found += ["more than three lines"] if said.get("refused", 1) > 3 else []
    with Store(folder) as store:
        more = len(store.bouts("K-07")) - said["stored"]
        problems = check(store, AT).problems
    found += [] if more in (0, 1) else [f"{more} bouts more than were said"]  # the one in hand is whole or absent
    left = {path.name for path in folder.rglob("*") if path.is_file()}
    stray = left - {"records.db", "records.db-wal", "records.db-shm"}
    return [*found, *problems, *(f"left {name}" for name in sorted(stray))]


def _store_here(folder: Path) -> None:
    said = 0
    try:
        for run in range(2):
            with Store(folder) as store:
                store.add(bout(run=run), contract=heard(900))
                said += 1
                check(store, AT)
    except RecordError as refusal:
        print("refused", str(refusal).count("\n") + 1)
    print("stored", said)
    print("calls", ctypes.CDLL(None).cuekit_calls())


if __name__ == "__main__":
    _store_here(Path(sys.argv[1]))
