"""`cuekit child`: the child's own result of a recording."""

import re

import pytest
import soundfile

from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, nobody, perform
from cuekit.simulation.simulate_rooms import Room, record

NEAR = Room(rt60_s=0.4, path=((0.0, 1.5),), noise_below_feet_db=45.0)


def saved(path, performance):
    take = record(performance, NEAR, seed=1, sample_rate_hz=44_100)
    soundfile.write(path, take.samples, 44_100, subtype="PCM_16")
    return path


def shown(cuekit_says, path, *more):
    outcome = cuekit_says("child", path, "--pattern", "gallop", *more)
    assert (outcome.code, outcome.err) == (0, [])
    return outcome.out


@pytest.mark.parametrize(
    ("how", "row", "words"),
    [
        ({}, "* * * * *", "You kept the whole rhythm! Again, or choose?"),
        ({"long_share": 0.5}, ". . . . .", "Your turn! Say it with me: looong, short."),
    ],
)
def test_pictures_and_one_thing_to_try_without_a_number(cuekit_says, tmp_path, how, row, words):
    bout = perform(load_pattern("gallop"), Learner(scatter_s=0.01, **how), beats=12, seed=2)
    text = shown(cuekit_says, saved(tmp_path / "feet.wav", bout))
    assert [line.strip() for line in text.splitlines() if line.strip()] == [row, words]
    assert not re.search(r"\d", text)


def test_nobody_moving_is_a_turn_to_come(cuekit_says, tmp_path):
    text = shown(cuekit_says, saved(tmp_path / "still.wav", nobody(6.0)), "--sign", "U", "--pictures", "3")
    assert "Your turn!" in text


def test_in_spanish_with_the_childs_own_sign(cuekit_says, tmp_path):
    bout = perform(load_pattern("gallop"), Learner(scatter_s=0.01), beats=12, seed=2)
    text = shown(cuekit_says, saved(tmp_path / "feet.wav", bout), "--sign", "U", "--language", "es")
    assert "U U U U U" in text
    assert "¡Mantuviste todo el ritmo!" in text
