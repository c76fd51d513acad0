"""`cuekit ladder`: a teacher reads the steps, one step in full, what helps and what to mind."""

import re

import pytest

from cuekit.cli import run
from cuekit.teaching.ladder_files import SHIPPED, list_ladders, load_ladder


def shown(capsys, *arguments):
    """What the command prints, in one line of single spaces."""
    assert run(["ladder", *arguments]) == 0
    return " ".join(capsys.readouterr().out.split())


def refused(capsys, *arguments):
    assert run(["ladder", *arguments]) == 3
    return capsys.readouterr().err


def test_alone_it_lists_all_ladders(capsys):
    text = shown(capsys)
    assert all(f"{name} {len(load_ladder(name).steps)} steps" in text for name in list_ladders())


@pytest.mark.parametrize("name", list_ladders())
def test_a_ladder_shows_every_step_and_what_comes_before_and_after(capsys, name):
    text, ladder = shown(capsys, name), load_ladder(name)
    assert all(f"{step.number} {step.task}" in text for step in ladder.steps)
    assert (f"Before it: cuekit ladder {ladder.comes_after}." in text) == bool(ladder.comes_after)
    assert (f"After it: cuekit ladder {ladder.leads_to}." in text) == bool(ladder.leads_to)


@pytest.mark.parametrize("name", list_ladders())
def test_every_step_says_target_eye_and_the_commands_that_play_and_score_it(capsys, name):
    for step in load_ladder(name).steps:
        text = shown(capsys, name, "--step", str(step.number))
        assert f"cuekit play {step.pattern} --level {step.level}" in text
        assert f"cuekit score FILE --pattern {step.pattern}" in text
        assert step.eye in text
        assert "Stop at: pain" in text


def test_the_ends_of_a_ladder_say_so(capsys):
    assert "Easier: this is the first step. Fewer beats" in shown(capsys, "gallop", "--step", "1")
    assert "Harder: this is the last step. More beats" in shown(capsys, "gallop", "--step", "12")


def test_touch_is_never_shown_without_its_condition(capsys):
    assert "Tap the knee that lifts. (only with the child's leave and training)" in shown(
        capsys, "skip", "--step", "alone"
    )


def test_the_teachers_note_is_shown_and_the_tool_neither_clears_nor_forbids(capsys):
    text = shown(capsys, "jump", "--step", "4", "--note", "no jumping until cleared")
    assert '"no jumping until cleared" You and your team decide.' in text
    assert "does not clear and does not forbid" in text


@pytest.mark.parametrize("name", list_ladders())
def test_a_whole_ladder_and_each_step_of_it_in_spanish(capsys, name):
    english, spanish = load_ladder(name), load_ladder(name, language="es")
    whole = shown(capsys, name, "--language", "es")
    assert whole.startswith(spanish.title)
    for said, step in zip(english.steps, spanish.steps, strict=True):
        assert step.task in whole
        text = shown(capsys, name, "--step", str(step.number), "--language", "es")
        assert step.task in text
        assert step.eye in text
        assert said.task not in text
        assert "--language es" in text
        assert not re.search(r"(?<!-)\b(the|your|judged|until|beats on|of the)\b(?!-)", text), text


def test_what_helps_and_what_to_mind_in_spanish(capsys):
    assert "pare y avise" in shown(capsys, "hop", "--step", "alone", "--language", "es")
    helps = shown(capsys, "skip", "--fault", "every-other-short-not-heard", "--language", "es")
    assert "Saltito también con este amigo." in helps
    assert "Freno puesto" in shown(capsys, "--for", "wheelchair", "--language", "es")
    assert "Galope (después de walk)" in shown(capsys, "--language", "es")


def test_what_helps_with_a_fault_and_whom(capsys):
    assert "Hop on this friend too." in shown(capsys, "skip", "--fault", "every-other-short-not-heard")
    assert "Brakes on for tapping" in shown(capsys, "--for", "wheelchair")


def test_a_file_is_checked(capsys, tmp_path):
    good = tmp_path / "hop.toml"
    good.write_text((SHIPPED / "hop.toml").read_text(encoding="utf-8"), encoding="utf-8")
    assert shown(capsys, "--check", str(good)) == "no problem found"
    good.write_text('name = "hop"', encoding="utf-8")
    assert run(["ladder", "--check", str(good)]) == 3
    assert "hop.toml, title: missing" in capsys.readouterr().out


OWN_HELP = """name = "skip"
title = "Skip"
rhythm_words = "HUP-la"
[[fault]]
id = "every-other-short-not-heard"
see = "The left hop is lost."
say = "Hop for the dragon too."
"""


def test_a_teachers_own_words_and_helps_are_shown_first_and_the_shipped_ones_stay(capsys, tmp_path):
    (tmp_path / "skip.toml").write_text(OWN_HELP, encoding="utf-8")
    own = ("--own", str(tmp_path))
    helps = shown(capsys, "skip", "--fault", "every-other-short-not-heard", *own)
    assert helps.index("Hop for the dragon too.") < helps.index("Hop on this friend too.")
    step = shown(capsys, "skip", "--step", "alone", *own)
    assert "Rhythm: HUP-la" in step
    assert "Shape: Pop, then swap." in step
    assert shown(capsys, "--check", str(tmp_path / "skip.toml")) == "no problem found"


def test_a_ladder_of_ones_own_hides_no_pattern_and_no_help_of_its_name(capsys, tmp_path):
    text = (SHIPPED / "hop.toml").read_text(encoding="utf-8").replace("Hop alone, 3", "Hop to the frog, 3")
    (tmp_path / "hop.toml").write_text(text, encoding="utf-8")
    step = shown(capsys, "hop", "--step", "alone", "--own", str(tmp_path))
    assert "Hop to the frog, 3 in a row" in step
    assert "Shape: One foot sleeps." in step
    assert run(["patterns", "--patterns", str(tmp_path)]) == 0
    assert "has a problem" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ('say = "Hop for the dragon too."', "", "skip.toml, line 4, fault 1, say: missing"),
        ("say =", "sya =", 'Did you mean "say"?'),
        ("[[fault]]", "[[fualt]]", 'fualt: unknown key. Did you mean "fault"?'),
        ('see = "The left', "see = The left", "skip.toml, line 6"),
    ],
)
def test_a_slip_in_a_teachers_own_helps_is_refused_with_file_line_and_mend(
    capsys, tmp_path, right, wrong, said
):
    (tmp_path / "skip.toml").write_text(OWN_HELP.replace(right, wrong), encoding="utf-8")
    err = refused(capsys, "skip", "--step", "alone", "--own", str(tmp_path))
    assert "skip.toml" in err
    assert said in err or "more: cuekit ladder --check" in err
    assert len(err.strip().splitlines()) <= 3
    assert "Traceback" not in err
    assert run(["ladder", "--check", str(tmp_path / "skip.toml")]) == 3
    assert said in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["galop"], 'Did you mean "gallop"?'),
        (["gallop", "--step", "40"], "choose 1 to 12"),
        (["gallop", "--fault", "lazy"], "choose one of"),
        (["--for", "everyone"], "choose one of deaf"),
        (["gallop", "--step", "1", "--language", "xx"], "choose one of en, es"),
        (["--check", "no-such-file.toml"], "cannot read"),
    ],
)
def test_what_cannot_be_shown_is_refused_with_the_mend(capsys, arguments, said):
    code = run(["ladder", *arguments])
    output = capsys.readouterr()
    assert code == 3
    assert said in output.err + output.out
    assert "Traceback" not in output.err
