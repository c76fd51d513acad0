"""Stories and scenarios of the trade page from a made recording to the printed page, as a teacher types them.

Beside `tests/test_what_next_stories.py`: what ends on a report, what is done with the hands, and the weeks of
a ladder. Recordings are made; nobody clapped or moved for them.
"""

import json
import re

import numpy as np
import pytest

from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.eye_keys import eye_keys, pressed
from cuekit.teaching.ladder import beats_to_play
from cuekit.teaching.ladder_files import load_ladder
from cuekit.telling.phrases import load_phrases
from tests.made_desk import bout_maker, desk_with


class Hands:
    """Claps, or taps on a plate: a burst of noise that dies away in some ms, most of it in a band of frequencies.

    Claps have most of their sound between about 0.7 and 2.5 kHz (Repp 1987, J Acoust Soc Am 81:1100, from
    memory); the plate is invented.
    """

    def __init__(self, low_hz, high_hz, decay_s):
        self.low_hz, self.high_hz, self.decay_s = low_hz, high_hz, decay_s

    def landing(self, rng, place):
        n = 2400
        frequencies_hz = np.maximum(np.fft.rfftfreq(n, 1 / SAMPLE_RATE_HZ), 1.0)
        octaves = np.log2(frequencies_hz / np.sqrt(self.low_hz * self.high_hz))
        gain = np.exp(-0.5 * (octaves / (np.log2(self.high_hz / self.low_hz) / 2)) ** 2)
        noise = np.fft.irfft(np.fft.rfft(rng.normal(size=n)) * gain, n)
        sound = noise * np.exp(-np.arange(n) / SAMPLE_RATE_HZ / (self.decay_s * rng.uniform(0.8, 1.2)))
        return sound / np.abs(sound).max()


CLAPS, PLATE = Hands(700.0, 2500.0, 0.006), Hands(200.0, 1500.0, 0.010)


@pytest.fixture
def made(tmp_path):
    return bout_maker(tmp_path, beats=10)


@pytest.fixture
def desk(tmp_path, monkeypatch, cuekit_says):
    return desk_with("M-12", tmp_path / "data", monkeypatch, cuekit_says)


def kept(desk, path, pattern, step, day, *more):
    """Score a file and store it; the number of the bout."""
    said = desk(
        *("keep", path, "--learner", "M-12", "--pattern", pattern, "--step", step),
        *("--cue", "C4", "--help-level", "I", "--at", f"2026-03-{day:02d}", *more),
    )
    return re.search(r"bout (\d+)", said)[1]


def team_page(desk, tmp_path):
    """The words of the team's page of March."""
    path = tmp_path / "page.html"
    desk("report", "M-12", "--for", "team", "--from", "2026-03-01", "--to", "2026-03-31", "--out", path)
    body = path.read_text(encoding="utf-8").partition("<body")[2]
    return " ".join(re.sub(r"<[^>]*>", " ", body).split())


def goal(desk, *more):
    target = ("--at-least", "6", "--cue", "C4", "--since", "2026-03-01", "--eye", "no")
    desk("goal", "add", "M-12", "--pattern", "gallop", *target, *more)


def test_story_8_no_side_is_on_the_page_that_was_not_entered(desk, made, tmp_path):
    goal(desk)
    kept(desk, made("gallop"), "gallop", "gallop-alone", 2)
    assert not re.search(r"\b(right|left)\b", team_page(desk, tmp_path), re.IGNORECASE)
    number = kept(desk, made("gallop", seed=4), "gallop", "gallop-alone", 3)
    state = eye_keys(load_pattern("gallop"), load_phrases())
    for key in "r\nsyi":
        state = pressed(state, key)
    desk("correct", number, "lead", state.eye.lead, "--reason", "seen")
    assert re.search(r"\bright\b", team_page(desk, tmp_path), re.IGNORECASE)
    assert not re.search(r"\bleft\b", team_page(desk, tmp_path), re.IGNORECASE)


def test_story_14_the_machine_is_corrected_and_the_page_says_how_often(desk, made, tmp_path):
    goal(desk)
    number = kept(desk, made("gallop"), "gallop", "gallop-alone", 2)
    before = desk("bouts", "M-12")
    heard = int(re.search(r"(\d+) footfalls", before)[1])
    assert f"footfalls {heard} -> {heard + 1}" in desk(
        "correct", number, "footfalls", heard + 1, "--reason", "one more seen"
    )
    struck = desk("strike", number, "1", "2", "--reason", "not the child: the para stepped")
    assert re.search(r"longest-run 10 -> 9", struck)
    assert "met in 1 of 1 bouts" in desk("next", "M-12")
    listed = desk("bouts", "M-12")
    assert "one more seen" in listed
    assert "not the child: the para stepped" in listed
    page = team_page(desk, tmp_path)
    assert "Corrections: 2. What was there before is kept." in page
    other = kept(desk, made("gallop", seed=5), "gallop", "gallop-alone", 3)
    desk("void", other, "--reason", "the bell rang")
    page = team_page(desk, tmp_path)
    assert "the bell rang" in page
    assert "met in 1 of 1 bouts" in desk("next", "M-12")


@pytest.mark.parametrize(("mode", "hands", "told"), [("clap", CLAPS, "clapping"), ("tap", PLATE, "tapping")])
def test_story_21_hands_are_judged_by_the_same_rule_and_named(desk, made, tmp_path, mode, hands, told):
    path = made("gallop", beats=8, feet=hands)
    found = json.loads(desk("score", path, "--pattern", "gallop", "--json"))
    assert found["rhythm"] == "uneven"
    assert found["longest_run"] >= 6
    assert "long-short" in found["summary"]
    goal(desk, "--mode", mode)
    kept(desk, path, "gallop", "gallop-say-and-clap", 2, "--mode", mode)
    assert "met in 1 of 1 bouts so far" in desk("next", "M-12")
    assert told in team_page(desk, tmp_path)


@pytest.mark.parametrize("name", ["walk", "gallop", "slide", "skip", "gallop-to-skip", "hop", "jump", "leap"])
def test_story_21_the_first_two_steps_of_each_ladder_can_be_done_with_hands_voice_or_wheels(desk, name):
    for step in load_ladder(name).steps[:2]:
        said = desk("ladder", name, "--step", step.number)
        assert all(way in said for way in ("say", "clap", "tap", "push"))


def test_scenario_2_from_the_weak_side_back_to_both_sides(desk, made):
    """Four of five on two days at each step; the eye says whether the hop was on the side asked for."""
    lost = frozenset((beat, 1) for beat in range(1, 12, 2))
    limping = made("skip", beats=12, not_made=lost)
    found = json.loads(desk("score", limping, "--pattern", "skip", "--json"))["fault"]
    assert "not made, or not heard" in found["may_also_be"]
    assert "Teach that side alone." in desk("ladder", "skip", "--fault", found["id"])
    for week, (step, then) in enumerate(
        (
            ("other-side-at-a-rail", "Walk and put in a hop"),
            ("walk-with-a-hop", "Step, hop, step"),
            ("hop-on-one-side", "Slow step-hops"),
        )
    ):
        for day, bouts in ((2 + 7 * week, 3), (3 + 7 * week, 2)):
            for minute in range(bouts):
                desk(
                    *(
                        "count",
                        "--learner",
                        "M-12",
                        "--pattern",
                        "skip",
                        "--step",
                        f"skip-{step}",
                        "--run",
                        4,
                    ),
                    *("--met", "yes", "--skill", "yes", "--at", f"2026-03-{day:02d}T09:{minute:02d}"),
                    *("--cue", "C4", "--help-level", "I"),
                )
        said = desk("next", "M-12", "--ladder", "skip")
        assert "on 2 days. Next:" in said
        assert then in said


def test_scenario_4_a_push_keeps_7_after_the_sound_and_counts_in_full(desk, made, tmp_path):
    target = ("--measure", "kept-beats", "--at-least", "6", "--cue", "C1", "--mode", "push", "--eye", "no")
    desk("goal", "add", "M-12", "--pattern", "gallop", "--since", "2026-03-01", *target)
    desk(
        *("keep", made("gallop", feet=PLATE), "--learner", "M-12", "--pattern", "gallop", "--mode", "push"),
        *("--cue", "C1", "--help-level", "I", "--kept", "7", "--at", "2026-03-02"),
    )
    assert "kept 7" in desk("bouts", "M-12")
    page = team_page(desk, tmp_path)
    assert "with push strokes" in page
    assert "beats after the sound has stopped" in page
    assert not re.search(r"not (possible|applicable)|cannot do|unable", page, re.IGNORECASE)


def test_scenario_5_the_note_is_shown_the_teacher_chooses_and_six_beats_get_a_verdict(desk, made):
    desk("learner", "set", "M-12", "--restrictions", "no jumping until cleared")
    said = desk("next", "M-12", "--ladder", "jump")
    assert said.splitlines()[0] == 'Your note on this child: "no jumping until cleared"'
    assert "does not clear and does not forbid" in said
    assert 'note on this child: "no jumping until cleared"' in desk(
        "ladder", "jump", "--step", 4, "--note", "no jumping until cleared"
    )
    short, long = made("step-touch", beats=4), made("step-touch", beats=10, seed=5)
    assert "too few" in desk("score", short, "--pattern", "step-touch").splitlines()[0]
    told = desk("score", long, "--pattern", "step-touch").splitlines()[0]
    assert "10 beats heard" in told
    assert "even" in told


@pytest.mark.slow
def test_scenario_8_four_weeks_over_the_bridge_and_no_planned_gap_is_a_fault(desk, made):
    """Each rung met twice on two days with made recordings; at 1 and 1 only the eye can say that it is a skip."""
    ladder = load_ladder("gallop-to-skip")
    rungs = [step for step in ladder.steps if step.pattern.startswith("gallop-") and step.number > 2]
    assert [step.pattern for step in rungs][-3:] == ["gallop-switch-2", "gallop-hop-2", "gallop-hop-1"]
    for week, step in enumerate(rungs):
        for day in (2 + 5 * week, 3 + 5 * week):
            for seed in (1, 2):
                beats = beats_to_play(step, load_pattern(step.pattern)) + 2
                path = made(step.pattern, beats=beats, seed=seed)
                found = json.loads(desk("score", path, "--pattern", step.pattern, "--json"))
                assert (found["fault"], found["pauses"], found["rhythm"]) == (None, [], "uneven")
                last = step is rungs[-1]
                kept(desk, path, step.pattern, step.key, day, *(() if last else ("--skill", "yes")))
        said = desk("next", "M-12", "--ladder", "gallop-to-skip")
        if step is rungs[-1]:
            assert "Waiting for your eye mark" in said
            assert "Not counted: 4" in said
        else:
            assert said.startswith("Up: met in 4 of the last 4 bouts on 2 days."), (step.key, said)


def test_what_was_there_and_is_lost_stops_and_reports_before_any_fault(desk, made):
    for day in (2, 3):
        for seed in (1, 2):
            kept(desk, made("gallop", seed=seed), "gallop", "gallop-alone", day)
    for seed in (1, 2, 3):
        kept(desk, made("gallop", seed=seed, long_share=0.5), "gallop", "gallop-alone", 9)
    said = desk("next", "M-12")
    assert said.startswith("Stop and report: this was met before, and in none of the last 3 bouts.")
    assert "Do not treat it as a fault of rhythm" in said
    assert desk("next", "M-12", "--language", "es").startswith("Pare y avise")
