"""What is not installed with cuekit itself: how to get it is said in one way, and is right."""

import re
import tomllib
from pathlib import Path

import pytest

from cuekit.errors import to_install

ROOT = Path(__file__).parents[1]
EXTRAS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
SOURCES = {path: path.read_text(encoding="utf-8") for path in sorted((ROOT / "cuekit").rglob("*.py"))}
NAMED = {name for text in SOURCES.values() for name in re.findall(r"to_install\('(\w+)'\)", text)}


def test_it_is_right_as_installed_and_in_a_clone():
    assert to_install("screen") == 'pip install "cuekit[screen]" (in a clone: pip install ".[screen]")'


@pytest.mark.parametrize("extra", sorted(NAMED))
def test_every_extra_that_is_named_is_there(extra):
    assert extra in EXTRAS


def test_it_is_written_in_one_place():
    assert {"lock", "pdf", "phone", "screen"} <= NAMED
    assert [path.name for path, text in SOURCES.items() if re.search(r"cuekit\[\w+\]", text)] == []
