"""Whether a folder is copied away by another program: a sync program's folder, or a drive of the network.

A sync program may copy the records in the middle of a change, or the file without its log, and what it copies
leaves the computer. On a network drive the locks that keep two programs apart cannot be trusted
(SQLite, "How To Corrupt An SQLite Database File", parts 1.2 and 2.1). Both are told by names only, so what is
not found here may still be one.
"""

from __future__ import annotations

from pathlib import Path

SYNCED = (
    "onedrive", "dropbox", "google drive", "googledrive", "icloud", "mobile documents", "nextcloud",
    "owncloud", "syncthing", "pcloud", "my drive",
)  # fmt: skip
"""In the names of folders that sync programs watch (from memory)."""
NETWORK = (
    "nfs", "nfs4", "cifs", "smb3", "smbfs", "fuse.sshfs", "fuse.rclone", "afs", "9p", "webdav", "davfs",
)  # fmt: skip
"""Kinds of file systems whose files lie on another computer, as Linux names them (from memory)."""
_MOUNTS = Path("/proc/mounts")


def copied_away(folder: Path, mounts: Path = _MOUNTS) -> str:
    """What copies a folder away, in words for a sentence; empty where nothing is known to.

    Parameters:
        folder: it need not exist yet.
        mounts: the system's list of drives; where there is none only names are looked at.
    """
    whole = folder.absolute()
    if str(whole).startswith(("\\\\", "//")):
        return "a drive of the network"
    if any(name in part.lower() for part in whole.parts for name in SYNCED):
        return "a folder that a sync program watches"
    try:
        rows = [line.split() for line in mounts.read_text(encoding="utf-8", errors="replace").splitlines()]
    except OSError:
        return ""
    kinds = {row[1].replace("\\040", " "): row[2] for row in rows if len(row) > 2}
    nearest = next((kinds[str(place)] for place in (whole, *whole.parents) if str(place) in kinds), "")
    return "a drive of the network" if nearest in NETWORK else ""


def advice(folder: Path) -> tuple[str, ...]:
    """What the teacher should know of where the records lie; nothing where all is well."""
    what = copied_away(folder)
    if not what:
        return ()
    return (
        f"Note: the records lie in {what}: copies made in the middle of a change can spoil them,\n"
        "and they leave this computer. A folder of this computer is safer: --data FOLDER.",
    )
