"""Ladders: every step of the trade's ladders as data, tied to a pattern that can be played and scored."""

import tomllib

import numpy as np
import pytest

from cuekit.errors import PatternError
from cuekit.hearing.events import Heard, Hearing, Recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Fade, Plan, make_schedule
from cuekit.simulation.simulate import Learner, perform
from cuekit.teaching.ladder import Change, Judge, Mode, beats_to_play
from cuekit.teaching.ladder_files import SHIPPED, check_ladder, list_ladders, load_ladder
from cuekit.telling.scoring import score_hearing

LADDERS = {name: load_ladder(name) for name in list_ladders()}
STEPS = [(ladder, step) for ladder in LADDERS.values() for step in ladder.steps]
by_step = pytest.mark.parametrize(("ladder", "step"), STEPS, ids=lambda value: getattr(value, "key", ""))


def test_every_skill_has_a_ladder_and_the_bridge_is_one_too():
    assert set(LADDERS) == {"walk", "gallop", "slide", "skip", "gallop-to-skip", "hop", "jump", "leap"}
    assert len(STEPS) == sum(
        len(tomllib.loads(path.read_text(encoding="utf-8"))["step"]) for path in SHIPPED.glob("*.toml")
    )


@by_step
def test_every_step_has_an_easier_and_a_harder_one_or_is_the_end(ladder, step):
    easier, harder = ladder.easier_than(step), ladder.harder_than(step)
    assert (easier is None) == (step is ladder.steps[0])
    assert (harder is None) == (step is ladder.steps[-1])
    assert easier is None or ladder.harder_than(easier) is step
    assert ladder.step(step.number) is ladder.step(step.key) is step


def test_every_ladder_is_reached_from_walking():
    reached, left = set(), {name for name, ladder in LADDERS.items() if not ladder.comes_after}
    assert left == {"walk"}
    while left:
        reached |= left
        left = {
            ladder.name
            for ladder in LADDERS.values()
            if ladder.comes_after in reached or ladder.name in {LADDERS[name].leads_to for name in reached}
        } - reached
    assert reached == set(LADDERS)


@by_step
def test_every_step_changes_one_named_thing(ladder, step):
    assert (step.change is None) == (step.number == 1)
    below = ladder.easier_than(step)
    if step.change is Change.CUE:
        assert (step.level, step.sound_beats) != (below.level, below.sound_beats)
    if step.change is Change.TEMPO and step.tempo_change_percent == 0:
        assert step.pattern != below.pattern or "own tempo" in step.task or "Run" in step.task


@by_step
def test_every_step_can_be_played(ladder, step):
    pattern = load_pattern(step.pattern)
    fade = Fade(step.sound_beats)
    tempo_bpm = pattern.tempo.default * (1 + step.tempo_change_percent / 100)
    schedule = make_schedule(pattern, Plan(tempo_bpm, max(step.target.count, 6), step.level, fade))
    assert len(schedule.footfalls) >= step.target.count


@by_step
def test_the_bout_that_is_played_for_a_step_can_meet_it(ladder, step):
    """Played as the ladder says and moved exactly: beats beside a planned change do not count."""
    pattern = load_pattern(step.pattern)
    beats = beats_to_play(step, pattern)
    bout = perform(pattern, Learner(tempo_bpm=pattern.tempo.default), beats=beats, seed=1)
    recording = Recording("made", np.zeros(8, np.float32), 16_000, 16_000, 1, bout.end_s, 0.0, ())
    score = score_hearing(recording, Hearing(bout.footfalls, (), Heard.CLEAR, "", -60.0), pattern)
    assert score.measures.longest_run >= step.target.count
    assert beats >= 8


@by_step
def test_every_step_can_be_scored(ladder, step):
    pattern = load_pattern(step.pattern)
    bout = perform(
        pattern, Learner(tempo_bpm=pattern.tempo.default), beats=max(step.target.count, 12), seed=1
    )
    recording = Recording("made", np.zeros(8, np.float32), 16_000, 16_000, 1, bout.end_s, 0.0, ())
    hearing = Hearing(bout.footfalls, (), Heard.CLEAR, "", -60.0)
    measures = score_hearing(recording, hearing, pattern).measures
    assert measures.longest_run >= min(step.target.count, measures.judged_beats - 1)


@by_step
def test_what_only_the_eye_can_judge_has_a_question_for_it(ladder, step):
    assert step.target.judge is Judge.EAR or step.eye.endswith(("?", "."))


@pytest.mark.parametrize("ladder", LADDERS.values(), ids=LADDERS)
def test_the_first_two_steps_and_going_on_alone_can_be_done_in_any_way(ladder):
    anyhow = {Mode.SAY, Mode.CLAP, Mode.TAP, Mode.STEP, Mode.PUSH}
    alone = [step for step in ladder.steps if step.level is CueLevel.C1 or step.sound_beats]
    assert all(set(step.modes) >= anyhow for step in (*ladder.steps[:2], *alone))


@by_step
def test_past_the_first_steps_the_usual_way_is_with_the_feet(ladder, step):
    """The usual way stands first: goals and the gym screen take it, and an annual goal is no clapping."""
    lead_ups = {"listen", "say-and-clap", "clap-the-change", "ready", "stand", "heel-lifts", "bend"}
    if step.key.removeprefix(f"{ladder.name}-") not in lead_ups:
        assert step.modes[0] in (Mode.MOVE, Mode.STEP)


@by_step
def test_a_step_that_fits_an_annual_goal_needs_three_days(ladder, step):
    assert step.days_needed == (3 if step.annual_goal else 2)


def test_a_teachers_own_ladder_is_found_first(tmp_path):
    text = (SHIPPED / "hop.toml").read_text(encoding="utf-8").replace("Hop on one foot", "Hops for us", 1)
    (tmp_path / "hop.toml").write_text(text, encoding="utf-8")
    (tmp_path / "my-figure.toml").write_text('name = "my-figure"', encoding="utf-8")
    assert "my-figure" not in list_ladders(folders=[tmp_path])
    assert load_ladder("hop", folders=[tmp_path]).title.startswith("Hop")


SMALL = """name = "hop"
title = "Hop"
easier = "Less."
harder = "More."
[[step]]
id = "alone"
task = "Hop."
pattern = "hop"
modes = "move"
level = "C4"
count = 3
judge = "ear"
"""


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ('pattern = "hop"', 'pattern = "hopp"', 'there is no pattern "hopp". Did you mean "hop"?'),
        ('level = "C4"', 'level = "C9"', 'found "C9"'),
        ("count = 3", "count = 0", "expected a whole number from 1 to 64, found 0"),
        ('modes = "move"', 'modes = "move, fly"', 'found "move, fly"'),
        ('judge = "ear"', 'judge = "eye"', "expected a question for the eye"),
        ("count = 3", "count = 3\nout_of = 2", "expected at least the count, 3, found 2"),
        ("count = 3", "count = 3\ncuont = 3", 'Did you mean "count"?'),
        ('title = "Hop"', 'title = "Hop"\nleads_to = "flying"', 'there is no ladder "flying"'),
        ('task = "Hop."', 'task = "Hop."\nchanges = "mood"', 'found "mood"'),
        ('name = "hop"', 'name = "hops"', 'called after the ladder, "hops.toml"'),
        ("[[step]]", "[[stop]]", "expected at least one part headed [[step]]"),
    ],
)
def test_a_slip_is_named_with_file_line_and_what_was_found(tmp_path, right, wrong, said):
    path = tmp_path / "hop.toml"
    path.write_text(SMALL, encoding="utf-8")
    assert check_ladder(path) == ()
    path.write_text(SMALL.replace(right, wrong), encoding="utf-8")
    problems = check_ladder(path)
    assert any(said in str(problem) for problem in problems)
    assert all(str(problem).startswith("hop.toml") for problem in problems)
    with pytest.raises(PatternError, match="hop.toml"):
        load_ladder(path)


def test_an_unknown_ladder_names_the_nearest():
    with pytest.raises(PatternError, match='no ladder "galop". Did you mean "gallop"'):
        load_ladder("galop")


def test_an_unknown_step_says_which_there_are():
    with pytest.raises(PatternError, match='has no step "99": choose 1 to 12'):
        LADDERS["gallop"].step(99)
