"""Files that leave this computer, locked with a passphrase: exports and backups on a stick.

The format is age (C2SP age-encryption.org/v1, recipient "scrypt"), which other programs open too, through
the library pyrage, an extra ("lock"). A whole file is locked at a time, so this is for
what leaves; the records in use rely on the encryption of the disk. A passphrase is never kept, and without
it the file is lost.
"""

from __future__ import annotations

import os
import stat
import unicodedata
from pathlib import Path
from types import ModuleType

from cuekit.errors import RecordError, to_install
from cuekit.files.atomic import replacing
from cuekit.files.filenames import shown

ENDING = ".age"
SHORTEST_PASSPHRASE = 12
"""Whoever finds a file may guess without end, so a word or a date will not do (proposal), characters."""
LARGEST_BYTES = 512 * 2**20
"""A file is locked and opened in memory, whole."""
_BEGINNING = b"age-encryption.org/v1\n-> scrypt "
"""The first line and the recipient of a file locked with a passphrase, by the specification of age."""


def check_library() -> None:
    """Refuse before anybody is asked for a passphrase.

    Raises:
        RecordError: pyrage is not there.
    """
    _pyrage()


def check_passphrase(passphrase: str) -> None:
    """Refuse one that is soon guessed.

    Raises:
        RecordError: it is too short.
    """
    length = len(_one_way_to_write(passphrase).strip())
    if length < SHORTEST_PASSPHRASE:
        raise RecordError(
            f"a passphrase needs {SHORTEST_PASSPHRASE} characters or more, this has {length}: take four words"
        )


def lock(content: bytes, passphrase: str) -> bytes:
    """The content, locked.

    Takes about a second and, on purpose, memory: so does every guess. The library sets the work of scrypt by
    the speed of this computer, 2^17 to 2^20, which is 128 MB to 1 GB; it cannot be told to take less. Beside
    it the content lies in memory twice.

    Raises:
        RecordError: the passphrase is too short, or pyrage is not there.
    """
    check_passphrase(passphrase)
    return _pyrage().passphrase.encrypt(content, _one_way_to_write(passphrase))


def check_locked(content: bytes, name: str) -> None:
    """Refuse a file of another kind before anybody is asked for a passphrase.

    Raises:
        RecordError: it does not begin like one.
    """
    if not content.startswith(_BEGINNING):
        raise RecordError(f"{name} is not a file locked with a passphrase: choose one that ends in {ENDING}")


def unlock(locked: bytes, passphrase: str, name: str) -> bytes:
    """What was locked; nothing of it where a single byte was changed.

    Parameters:
        locked: the bytes of the file.
        passphrase: as given when it was locked.
        name: of the file, for messages.

    Raises:
        RecordError: it is no file locked with a passphrase, the passphrase is wrong, the file is damaged, or
            pyrage is not there.
    """
    library = _pyrage()
    check_locked(locked, name)
    try:
        return library.passphrase.decrypt(locked, _one_way_to_write(passphrase))
    except library.DecryptError as problem:
        if "xcessive" in str(problem):
            raise RecordError(
                f"{name} asks for more work than this computer can do: open it on the one that made it"
            ) from None
        raise RecordError(f"{name} did not open: the passphrase is wrong, or the file is damaged") from None


def read_whole(path: Path) -> bytes:
    """The bytes of a file to be locked or unlocked.

    Raises:
        RecordError: it cannot be read, is no ordinary file or too large.
    """
    name = shown(path)
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise RecordError(f"{name} is not an ordinary file: name one")
        if found.st_size > LARGEST_BYTES:
            raise RecordError(f"{name} is over {LARGEST_BYTES // 2**20} MB: too large to lock or unlock")
        return path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or error
        raise RecordError(f"cannot read {name} ({reason}): check the name and the folder") from None


def write_private(path: Path, content: bytes) -> None:
    """Write to a new file that only its owner may read, whole or not at all.

    Raises:
        RecordError: something is there already, or it cannot be written.
    """
    if os.path.lexists(path):
        raise RecordError(f"{shown(path)} is there already: move it away, or name another file with --out")
    with replacing(path, refusal=RecordError) as temporary:
        temporary.chmod(0o600)
        temporary.write_bytes(content)


def _one_way_to_write(passphrase: str) -> str:
    """Composed letters (NFC): keyboards and systems differ in how they write an accented one."""
    return unicodedata.normalize("NFC", passphrase)


def _pyrage() -> ModuleType:
    try:
        import pyrage
    except ImportError:
        raise RecordError(f"locking needs one more part: {to_install('lock')}") from None
    return pyrage
