"""Reading a small text file that a teacher may have written: capped in size, ordinary files only."""

from __future__ import annotations

import stat
from pathlib import Path

from cuekit.errors import PatternError
from cuekit.files.filenames import shown

LARGEST_FILE_BYTES = 256_000


def read_text(path: Path, kind: str) -> str:
    """The text of a file; `kind` ("ladder") names in messages what it should be.

    Raises:
        PatternError: it is not there, not an ordinary file, too large, or not text.
    """
    name = shown(path.name)
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise PatternError(f"{name} is not an ordinary file: name a {kind} file ending in .toml")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise PatternError(
            f"cannot read the {kind} file {shown(path)} ({getattr(error, 'strerror', error)}): "
            "check the name and the folder"
        ) from error
    if len(content) > LARGEST_FILE_BYTES:
        raise PatternError(f"{name} is over {LARGEST_FILE_BYTES // 1000} kB, no {kind} file: choose another")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise PatternError(f"{name} is not plain text: save it as text in the encoding UTF-8") from error
