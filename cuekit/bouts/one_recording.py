"""One recording at a time: a second program would hear the same feet, and the cue of the first.

A take is locked by the system while it is made, so that one whose program was killed is not taken for one
that runs.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import BinaryIO

_BEYOND_BYTES = 2**31 - 2
"""Windows keeps others from what is locked, so a byte is locked that no take reaches."""


def hold(take: Path) -> BinaryIO:
    """Mark a take as being made, until what is given back is closed or the program ends.

    Raises:
        OSError: the file system cannot lock.
    """
    file = take.open("r+b")
    try:
        _lock(file)
    except BaseException:
        file.close()
        raise
    return file


def is_held(take: Path) -> bool:
    """Whether another program, or another take of this one, makes this recording."""
    try:
        hold(take).close()
    except BlockingIOError:
        return True
    except PermissionError:
        return os.name == "nt"  # what Windows says of a lock; elsewhere it is another account's
    except OSError:
        return False
    return False


def _lock(file: BinaryIO) -> None:
    if os.name == "nt":
        import msvcrt  # on Windows only

        file.seek(_BEYOND_BYTES)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl  # not on Windows

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
