"""Writing a file so that it is there whole or not at all.

The new content goes to a temporary name in the same folder, is forced to the disk and then takes
the place of the old file in one step (a rename that replaces, on Windows too). A
reader, a crash or a full disk never meets half a file, and the old one stays until the new one is
complete.
"""

from __future__ import annotations

import errno
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from cuekit.errors import AudioError, CuekitError
from cuekit.files.filenames import shown

LONGEST_SUFFIX = 8
"""A longer ending is not one that a writer goes by, and might not fit into a file name."""


@contextmanager
def replacing(path: Path, *, refusal: type[CuekitError] = AudioError) -> Iterator[Path]:
    """A temporary file to write to, which becomes `path` when the block ends well.

    The temporary file exists already, is empty and has the ending of `path`, as sound libraries go
    by it. When the block raises, the temporary file is removed and whatever was at `path` is left
    as it was. A link is followed: the file it points to is replaced.

    An `OSError` from the block is told as one of ours. A library that hides the system's reason
    (soundfile does) must have its own error turned into a refusal inside the block.

    Parameters:
        path: where the file is wanted.
        refusal: the class of error raised.

    Raises:
        CuekitError: of class `refusal`: the folder is missing, `path` is a folder or not an ordinary
            file, writing is not permitted, the disk is full, the name is too long.
    """
    try:
        goal = _goal(path)
        temporary = _new_beside(goal)
    except OSError as problem:
        raise refusal(_reason(path, problem)) from None
    try:
        yield temporary
        _force_to_disk(temporary)
        temporary.replace(goal)
    except OSError as problem:
        raise refusal(_reason(path, problem)) from None
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
    _force_folder_to_disk(goal.parent)


def write_bytes(path: Path, content: bytes, *, refusal: type[CuekitError] = AudioError) -> None:
    """Write `content` to `path`, whole or not at all.

    Raises:
        CuekitError: as `replacing`.
    """
    with replacing(path, refusal=refusal) as temporary:
        temporary.write_bytes(content)


def write_text(path: Path, content: str, *, refusal: type[CuekitError] = AudioError) -> None:
    """Write `content` to `path` as UTF-8 with plain line feeds, whole or not at all.

    Raises:
        CuekitError: as `replacing`.
    """
    write_bytes(path, content.encode("utf-8", "surrogateescape"), refusal=refusal)


def _goal(path: Path) -> Path:
    """The file to be replaced, links followed.

    Raises:
        OSError: its folder is missing, or something that is not an ordinary file is in its place.
    """
    if "\0" in str(path):
        raise OSError(errno.EINVAL, "a name cannot hold a NUL character")
    goal = Path(os.path.realpath(path))
    if not goal.parent.is_dir():
        raise FileNotFoundError(errno.ENOENT, "no folder")
    try:
        mode = goal.stat().st_mode
    except FileNotFoundError:
        return goal
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, "folder")
    if not stat.S_ISREG(mode):
        raise OSError(errno.ENODEV, "device")
    if not os.access(goal, os.W_OK):
        raise PermissionError(errno.EACCES, "not to be written")
    return goal


def _new_beside(goal: Path) -> Path:
    """An empty file in the same folder: permissions of the file it will replace, else the usual ones."""
    ending = goal.suffix if len(os.fsencode(goal.suffix)) <= LONGEST_SUFFIX else ""
    temporary = goal.with_name(f".cuekit-{secrets.token_hex(8)}{ending}")
    os.close(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
    with suppress(FileNotFoundError, PermissionError):
        temporary.chmod(stat.S_IMODE(goal.stat().st_mode))
    return temporary


def _force_to_disk(path: Path) -> None:
    descriptor = os.open(path, os.O_RDWR)  # Windows syncs only what is open for writing
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _force_folder_to_disk(folder: Path) -> None:
    """Make the new name last through a power cut, where a folder can be synced (not on Windows)."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


_REASONS = {
    errno.ENOENT: "there is no folder {folder}: make it first, or choose another place",
    errno.ENOTDIR: "{folder} is not a folder: choose another place",
    errno.EISDIR: "that is a folder: add a file name",
    errno.ENODEV: "that is not an ordinary file: choose another name",
    errno.EACCES: "writing there is not permitted: choose another place",
    errno.EPERM: "writing there is not permitted: choose another place",
    errno.EROFS: "that disk can only be read: choose another place",
    errno.ENOSPC: "the disk is full: make room, or choose another disk",
    errno.EDQUOT: "your share of the disk is full: make room, or choose another disk",
    errno.EFBIG: "the file would be larger than this disk or account allows: make it shorter",
    errno.ENAMETOOLONG: "the name is too long: choose a shorter one",
    errno.ELOOP: "the link leads back to itself: choose another name",
}


def _reason(path: Path, problem: OSError) -> str:
    """Why a file was not written, and the mend."""
    known = _REASONS.get(problem.errno or 0)
    if known is None:
        return f"cannot write {shown(path)}: {problem.strerror or 'no reason given'}: choose another place"
    return f"cannot write {shown(path)}: {known.format(folder=shown(Path(path).parent))}"
