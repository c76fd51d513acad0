"""`cuekit screen` where something is missing: one line with the mend, before a page is served."""

import importlib
import sys

import pytest

from cuekit.errors import CuekitError, RecordError, to_install


def test_without_its_two_libraries_it_says_how_to_get_them(monkeypatch, cuekit_says, tmp_path):
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    monkeypatch.delitem(sys.modules, "cuekit.screen.server", raising=False)
    said = cuekit_says("screen", "--no-browser", "--data", tmp_path)
    assert said.code == CuekitError.exit_code
    assert said.err == [f"cuekit: the screen needs two more libraries: {to_install('screen')}"]


def test_records_that_cannot_be_opened_are_told_before_a_page_is(cuekit_says, tmp_path):
    (tmp_path / "records.db").write_bytes(b"")
    said = cuekit_says("screen", "--no-browser", "--data", tmp_path)
    assert said.code == RecordError.exit_code
    assert 1 <= len(said.err) <= 3
    assert "The screen is at" not in said.out


@pytest.mark.parametrize("address", ["203.0.113.7", "nowhere.invalid", "x" * 300])
def test_a_remote_control_only_at_an_address_of_this_computer(cuekit_says, tmp_path, address):
    said = cuekit_says("screen", "--no-browser", "--remote", address, "--data", tmp_path)
    assert said.code == CuekitError.exit_code
    assert len(said.err) <= 3
    assert "give an address of this computer" in said.err[0]


@pytest.mark.parametrize("name", ["latency", "opening", "probes"])
def test_what_measures_the_screen_begins(name):
    """They run by hand only, so that a name they use may be gone without a test that fails."""
    assert importlib.import_module(f"tests.screen.{name}").__doc__
