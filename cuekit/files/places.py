"""Folders of this account for what the program keeps; None where the account has no home folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path


def data_place() -> Path | None:
    """For records."""
    import platformdirs

    return _found(platformdirs.user_data_dir)


def state_place() -> Path | None:
    """For recordings under way and what was measured of the equipment."""
    import platformdirs

    return _found(platformdirs.user_state_dir)


def log_place() -> Path | None:
    """For what is written down of a fault."""
    import platformdirs

    return _found(platformdirs.user_log_dir)


def _found(folder_of: Callable[..., str]) -> Path | None:
    try:
        folder = Path(folder_of("cuekit", appauthor=False))
    except (RuntimeError, KeyError, OSError):  # neither a variable nor the system's list of accounts tells
        return None
    return folder if folder.is_absolute() else None
