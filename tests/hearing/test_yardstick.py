"""The yardstick itself: the energy rule, levels, child models and scoring."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from tests.hearing import channel, levels
from tests.hearing.children import SKILLS, land, random_child
from tests.hearing.material import material_file
from tests.hearing.onsets import contact_onset_s
from tests.hearing.recipes import CORE, benchmark_recipes
from tests.hearing.sources import DEVELOPMENT, FOOT_SOURCES, PARTS, SOUND_SOURCES, TRAINING, UNTOUCHED

RATE_HZ = 48000
built = pytest.mark.skipif(not material_file(DEVELOPMENT, RATE_HZ).exists(), reason="material not built")


def burst(at_s: float, floor: float, rise_s: float = 0.001) -> np.ndarray:
    """A decaying noise burst over a noise floor."""
    rng = np.random.default_rng(3)
    time = np.arange(round(0.3 * RATE_HZ)) / RATE_HZ - at_s
    shape = np.where(time >= 0, np.exp(-time / 0.02) * (1 - np.exp(-time / rise_s)), 0.0)
    return rng.standard_normal(len(time)) * (shape + floor)


@pytest.mark.parametrize("at_s", [0.02, 0.1234])
@pytest.mark.parametrize("floor", [0.0, 1e-4, 0.01])
def test_contact_is_placed_within_a_millisecond(at_s, floor):
    assert contact_onset_s(burst(at_s, floor), RATE_HZ) == pytest.approx(at_s, abs=0.001)


def test_a_clip_that_starts_on_the_contact_has_its_onset_there():
    assert contact_onset_s(burst(0.0, 0.0), RATE_HZ) < 0.001


def test_level_of_a_steady_sound_is_its_rms():
    tone = np.sin(2 * np.pi * 1000 * np.arange(RATE_HZ) / RATE_HZ)
    assert levels.peak_20ms_rms(tone, RATE_HZ) == pytest.approx(np.sqrt(0.5), rel=1e-3)
    assert levels.median_event_level(tone, np.array([0.1, 0.5]), RATE_HZ) == pytest.approx(np.sqrt(0.5), rel=1e-3)


@pytest.mark.parametrize("name", ["gallop 2:1", "skip 3:2", "gallop 3:1"])
def test_a_child_without_scatter_has_the_skills_long_share(name):
    rng = np.random.default_rng(1)
    child = replace(random_child(SKILLS[name], rng), scatter_s=0.0, drift=0.0, missed=0.0, pause_s=0.0)
    done = land(child, 1.0, rng)
    assert done.long_share == pytest.approx(SKILLS[name].long_share, abs=1e-6)
    assert len(done.times_s) == 2 * child.n_beats


def test_transform_coder_keeps_time():
    sound = np.zeros(16000, dtype=np.float32)
    sound[8000] = 1.0
    assert abs(int(np.argmax(np.abs(channel.transform_coded(sound)))) - 8000) <= 2


def test_no_recording_serves_two_parts():
    """Feet: no file in two parts. Voices and whistles: no folder of files in two parts."""
    feet = {part: {(s.package, c.path, c.member) for s in FOOT_SOURCES if s.part == part for c in s.clips}
            for part in (*PARTS, TRAINING)}
    other = {part: {(s.package, s.path.rpartition("/")[0] if "*" in s.path else s.path, s.member)
                    for s in SOUND_SOURCES if s.part == part} for part in (*PARTS, TRAINING)}
    for one, two in ((DEVELOPMENT, UNTOUCHED), (TRAINING, UNTOUCHED), (TRAINING, DEVELOPMENT)):
        for files in (feet, other):
            assert files[one]
            assert files[two]
            assert not files[one] & files[two]


def test_benchmark_is_large_and_has_every_core_condition():
    recipes = benchmark_recipes()
    assert sum(not r.negative for r in recipes) >= 100
    assert set(CORE) <= {r.condition for r in recipes}
    assert {r.follower_db for r in recipes if r.condition == "quiet"} == {0.0, -10.0, -15.0, -20.0}


def test_scoring_matches_one_to_one():
    pytest.importorskip("mir_eval")
    from tests.hearing import scoring

    truth = scoring.Truth("a", "quiet", 3.0, np.array([1.0, 2.0]), np.array([2.0]), -15.0)
    heard = scoring.Detection(np.array([0.99, 1.01, 2.03]), np.array([0.9, 0.2, 0.5]), None, 1.0)
    assert scoring.f1([truth], [heard], 0.025) == pytest.approx(2 * 1 / 5)
    assert scoring.f1([truth], [heard], 0.050) == pytest.approx(2 * 2 / 5)
    assert scoring.followers_found([truth], [heard], -15.0) == 0.0


@built
@pytest.mark.parametrize("condition", ["quiet", "phone", "other rates"])
def test_truth_is_where_the_sound_begins(condition):
    """In a loud, noiseless copy of a scene the 5 ms after an onset hold far more than the 5 ms before."""
    from tests.hearing.scenes import make_scene

    recipe = replace(next(r for r in benchmark_recipes() if r.condition == condition),
                     skill="walk", noise_db=-80.0)
    scene = make_scene(recipe, 5, DEVELOPMENT)
    rate, gains = scene.sample_rate_hz, []
    for onset in scene.onsets_s[1:]:
        at = round(onset * rate)
        before, after = scene.samples[at - rate // 200 : at], scene.samples[at : at + rate // 200]
        gains.append(10 * np.log10(np.mean(after**2) / (np.mean(before**2) + 1e-12)))
    assert np.median(gains) > 6.0


@built
def test_a_scene_can_be_made_again():
    from tests.hearing.scenes import make_scene

    recipe = benchmark_recipes()[40]
    first, second = (make_scene(recipe, 77, DEVELOPMENT) for _ in range(2))
    assert np.array_equal(first.samples, second.samples)


@built
def test_mixing_needs_numpy_and_scipy_only():
    blocked = ["soundfile", "pyroomacoustics", "librosa", "mir_eval", "aubio", "madmom", "soxr"]
    code = (f"import sys\nfor name in {blocked!r}: sys.modules[name] = None\n"
            "from tests.hearing import scenes, recipes\n"
            "scenes.make_scene(recipes.benchmark_recipes()[0], 1, 'development')\n")
    assert subprocess.run([sys.executable, "-c", code], capture_output=True).returncode == 0
