"""The demo recordings are whole, small, credited, and hold what the truth beside them says."""

import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import pytest

from cuekit.hearing.soundfiles import read_recording

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "demo_audio"


def load_tool():
    spec = importlib.util.spec_from_file_location("make_demo", ROOT / "tools" / "make_demo.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


make_demo = load_tool()
NAMES = [demo.name for demo in make_demo.DEMOS]


def truth_of(name):
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))


def test_folder_holds_the_recordings_of_the_tool_and_no_others():
    assert {path.stem for path in FOLDER.glob("*.flac")} == set(NAMES)
    assert {path.stem for path in FOLDER.glob("*.json")} == set(NAMES)
    assert sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()) < 6e6


@pytest.mark.parametrize("name", NAMES)
def test_truth_is_the_one_the_tool_makes(name):
    number = NAMES.index(name)
    take = make_demo.made(make_demo.DEMOS[number], seed=1000 + number)
    told, again = truth_of(name), json.loads(make_demo.truth(make_demo.DEMOS[number], take))
    times_s = [landing["time_s"] for landing in told["landings"]]
    np.testing.assert_allclose([landing["time_s"] for landing in again["landings"]], times_s, atol=2e-5)
    assert {**told, "landings": None} == {**again, "landings": None}


@pytest.mark.parametrize("name", NAMES)
def test_each_recording_is_read_without_a_warning_and_holds_the_bout(name):
    heard, told = read_recording(FOLDER / f"{name}.flac"), truth_of(name)
    assert heard.warnings == ()
    assert heard.channels == 1
    assert all(0.5 < landing["time_s"] < heard.duration_s - 0.5 for landing in told["landings"])


@pytest.mark.parametrize("name", [name for name in NAMES if name != "nobody-moving"])
def test_sound_rises_where_the_truth_puts_a_landing(name):
    """Energy below 500 Hz just after each landing against just before it: higher in nine of ten."""
    heard, told = read_recording(FOLDER / f"{name}.flac"), truth_of(name)
    spectrum = np.fft.rfft(heard.samples)
    spectrum[np.fft.rfftfreq(heard.samples.size, 1 / heard.sample_rate_hz) > 500] = 0
    energy = np.fft.irfft(spectrum, heard.samples.size) ** 2
    rises = []
    for landing in told["landings"]:
        at, width = round(landing["time_s"] * heard.sample_rate_hz), round(0.025 * heard.sample_rate_hz)
        rises.append(energy[at : at + width].sum() > 2 * energy[at - width : at].sum())
    assert np.mean(rises) >= 0.9


def test_at_least_three_are_built_from_recorded_feet_and_every_clip_is_credited():
    recorded = [name for name in NAMES if truth_of(name)["feet"] != "made up"]
    assert len(recorded) >= 3
    notice = (FOLDER / "feet" / "NOTICE.md").read_text(encoding="utf-8")
    clips = {path.stem for path in (FOLDER / "feet").glob("*.flac")}
    assert clips == {clip for name in recorded for clip in truth_of(name)["feet"]}
    for clip in clips:
        (row,) = [line for line in notice.splitlines() if line.startswith(f"| {clip}.flac |")]
        assert f"| {make_demo.CONTACT_S:.4f} |" in row
        assert any(licence in row for licence in ("CC-BY-3.0", "CC0-1.0", "MIT"))


def test_every_recording_is_described_in_the_readme():
    readme = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert all(f"| {name} |" in readme for name in NAMES)
