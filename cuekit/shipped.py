"""Where the files shipped with cuekit lie: inside the package, or at the root of a checkout.

A wheel carries `patterns/` and `demo_audio/` as `cuekit/data/...`. An editable install and a plain
checkout have them at the repository root instead, where people edit them; both places are looked at.
"""

from __future__ import annotations

from pathlib import Path

from cuekit.errors import CuekitError

_PACKAGE = Path(__file__).parent


def shipped_folder(name: str) -> Path:
    """The folder `name` ("patterns", "demo_audio") that came with this copy of cuekit.

    Raises:
        CuekitError: it lies in neither place, so the installation is incomplete.
    """
    inside = _PACKAGE / "data" / name
    if inside.is_dir():
        return inside
    root = _PACKAGE.parent
    if (root / "pyproject.toml").is_file() and (root / name).is_dir():
        return root / name
    raise CuekitError(f'the folder "{name}" of cuekit is missing from this copy: install cuekit again')
