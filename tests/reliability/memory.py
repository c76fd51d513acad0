"""Memory and open files of this process, as Linux tells them, and a folder in memory.

Not `getrusage`: its peak begins with that of the process that started this one.
"""

from pathlib import Path


def peak_mb() -> float:
    """The most memory this process has held, MB."""
    return _status("VmHWM")


def held_mb() -> float:
    """The memory this process holds, MB."""
    return _status("VmRSS")


def open_files() -> int:
    """How many files and pipes this process has open."""
    return sum(1 for _ in Path("/proc/self/fd").iterdir())


def memory_folder() -> str | None:
    """A folder in memory for thousands of short-lived files; None where there is none, for the usual one."""
    return "/dev/shm" if Path("/dev/shm").is_dir() else None


def _status(key: str) -> float:
    return int(Path("/proc/self/status").read_text().split(f"{key}:")[1].split()[0]) / 1024
