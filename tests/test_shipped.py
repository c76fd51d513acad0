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
from cuekit.patterns.pattern_files import list_patterns

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


needs_checkout = pytest.mark.skipif(
    not (ROOT / "pyproject.toml").is_file(), reason="needs a checkout to build from"
)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """A wheel built from here, unpacked as pip would, far from the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder / "site")
    return folder / "site"


def from_wheel(site, *arguments):
    """Run cuekit out of the unpacked wheel; what it printed."""
    command = "import sys; from cuekit.cli import run; sys.exit(run(sys.argv[1:]))"
    return subprocess.run(
        [sys.executable, "-P", "-c", command, *arguments],
        cwd=site.parent,
        env=os.environ | {"PYTHONPATH": str(site), "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        text=True,
        check=True,
    ).stdout


@needs_checkout
def test_a_wheel_lists_its_patterns(site):
    lines = from_wheel(site, "patterns").splitlines()
    assert [line.split()[0] for line in lines[1:-2]] == list(list_patterns())


@needs_checkout
def test_a_wheel_does_the_main_job_without_a_checkout(site):
    """Recordings, network, sentences and drawing are all in it, and so are the spoken words."""
    told = from_wheel(site, "demo", "--quiet")
    assert "skip-clear" in told
    assert "cuekit score FILE" in told
    assert "written" in from_wheel(site, "play", "skip", "--level", "c5", "--beats", "4", "--out", "skip.wav")


@needs_checkout
def test_a_wheel_carries_every_file_of_the_package_and_the_notices(site):
    """Whatever lies beside the code, of any kind, is used by it; and no sound goes without its notice."""
    wanted = {
        path.relative_to(ROOT)
        for path in (ROOT / "cuekit").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert len(wanted) > 100
    assert [str(path) for path in sorted(wanted) if not (site / path).is_file()] == []
    carried = {path.name for path in site.rglob("*") if path.is_file()}
    assert {"LICENSE", "THIRD_PARTY.md", "nanotts-NOTICE.md", "nanotts-Apache-2.0.txt", "NOTICE.md"} <= carried
