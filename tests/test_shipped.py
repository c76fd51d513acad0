"""What ships with the package is found wherever the package lies."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import cuekit
from cuekit import shipped
from cuekit.errors import CuekitError
from cuekit.pattern_files import list_patterns

ROOT = Path(cuekit.__file__).parents[1]


def a_copy(folder, *parts):
    """A package folder with the given folders in or beside it."""
    package = folder / "cuekit"
    package.mkdir()
    for part in parts:
        (folder / part).mkdir(parents=True)
    return package


def test_a_wheel_carries_its_patterns_inside(tmp_path, monkeypatch):
    monkeypatch.setattr(shipped, "_PACKAGE", a_copy(tmp_path, "cuekit/data/patterns", "patterns"))
    (tmp_path / "pyproject.toml").touch()
    assert shipped.shipped_folder("patterns") == tmp_path / "cuekit/data/patterns"


def test_a_checkout_has_them_at_its_root(tmp_path, monkeypatch):
    monkeypatch.setattr(shipped, "_PACKAGE", a_copy(tmp_path, "patterns"))
    (tmp_path / "pyproject.toml").touch()
    assert shipped.shipped_folder("patterns") == tmp_path / "patterns"


def test_a_folder_of_that_name_beside_an_installed_package_is_not_ours(tmp_path, monkeypatch):
    monkeypatch.setattr(shipped, "_PACKAGE", a_copy(tmp_path, "patterns"))
    with pytest.raises(CuekitError, match='"patterns" of cuekit is missing'):
        shipped.shipped_folder("patterns")


@pytest.mark.slow
@pytest.mark.skipif(not (ROOT / "pyproject.toml").is_file(), reason="needs a checkout to build from")
def test_a_wheel_built_from_here_finds_its_patterns(tmp_path):
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    environment = os.environ | {"PYTHONPATH": str(site)}
    command = "import cuekit; from cuekit.cli import run; run(['patterns']); print(cuekit.__file__)"
    ran = subprocess.run(
        [sys.executable, "-P", "-c", command],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    lines = ran.stdout.splitlines()
    assert lines[-1].startswith(str(site))
    assert [line.split()[0] for line in lines[1:-3]] == list(list_patterns())
    assert (site / "cuekit" / "data" / "demo_audio").is_dir() == any((ROOT / "demo_audio").iterdir())
