"""`cuekit patterns`, and the one place where refusals become lines and exit codes."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

import cuekit
from cuekit.cli import COMMANDS, run
from cuekit.cli import patterns as patterns_module
from cuekit.patterns.pattern_files import list_patterns
from cuekit.shipped import shipped_folder


def outcome(capsys, *arguments):
    """Exit code, stdout and the lines of stderr."""
    code = run(list(arguments))
    captured = capsys.readouterr()
    return code, captured.out, captured.err.splitlines()


def test_lists_every_pattern_on_a_line_that_fits(capsys):
    code, out, err = outcome(capsys, "patterns")
    assert (code, err) == (0, [])
    assert [line.split()[0] for line in out.splitlines()[1:-2]] == list(list_patterns())
    assert max(map(len, out.splitlines())) <= 80
    (jump,) = [line.split() for line in out.splitlines() if line.startswith("jump ")]
    assert jump == ["jump", "even", "50-140", "-", "Jump"]


def test_a_broken_file_in_the_teachers_folder_does_not_hide_the_others(capsys, tmp_path):
    (tmp_path / "mine.toml").write_text("title = 1")
    code, out, _ = outcome(capsys, "patterns", "--patterns", str(tmp_path))
    assert code == 0
    assert any(line.startswith("mine ") and "has a problem" in line for line in out.splitlines())
    assert "gallop " in out


def test_the_teachers_folder_can_be_set_once(capsys, tmp_path, monkeypatch):
    skip = (shipped_folder("patterns") / "skip.toml").read_text(encoding="utf-8")
    (tmp_path / "sway.toml").write_text(skip.replace('name = "skip"', 'name = "sway"'), encoding="utf-8")
    assert outcome(capsys, "patterns", "show", "sway")[0] == 3
    monkeypatch.setenv("CUEKIT_PATTERNS", str(tmp_path))
    assert outcome(capsys, "patterns", "show", "sway")[0] == 0
    monkeypatch.delenv("CUEKIT_PATTERNS")
    assert outcome(capsys, "patterns", "--patterns", str(tmp_path), "show", "sway")[0] == 0


def test_shows_what_was_asked_for(capsys):
    code, out, err = outcome(
        capsys,
        "patterns",
        "show",
        "slide",
        "--side",
        "left",
        "--ratio",
        "3:2",
        "--tempo",
        "90",
        "--language",
        "es",
    )
    assert (code, err) == (0, [])
    assert out.startswith("Galope lateral (slide)")
    assert "lado: izquierda (dirección)" in out
    assert "90 tiempos por minuto: tiempo 667 ms, largo 400 ms, corto 267 ms (3:2)" in out
    assert "izq.  I" in out


def test_the_list_in_spanish_fits_too(capsys):
    code, out, err = outcome(capsys, "patterns", "--language", "es")
    assert (code, err) == (0, [])
    assert max(map(len, out.splitlines())) <= 80
    (jump,) = [line.split(maxsplit=4) for line in out.splitlines() if line.startswith("jump ")]
    assert jump == ["jump", "igual", "50-140", "-", "Salto con los dos pies"]
    assert "beats" not in out


def test_checks_files(capsys, tmp_path):
    good = [str(shipped_folder("patterns") / f"{name}.toml") for name in list_patterns()]
    assert outcome(capsys, "patterns", "check", *good) == (0, "no problem found\n", [])
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "bad"\ntitel = "Bad"\n')
    code, out, err = outcome(capsys, "patterns", "check", good[0], str(bad))
    assert (code, err) == (3, [])
    assert 'bad.toml, line 2, titel: unknown key. Did you mean "title"?' in out.splitlines()


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["patterns", "show", "galop"], 3, 'there is no pattern "galop". Did you mean "gallop"?'),
        (["patterns", "show", "jump", "--side", "left"], 3, "jump has no side to choose: leave it out"),
        (["patterns", "show", "walk", "--ratio", "2:1"], 3, "walk is even"),
        (["patterns", "show", "skip", "--ratio", "5:1"], 3, "skip takes a ratio from 3:2 to 3:1, got 5:1"),
        (["patterns", "show", "gallop", "--tempo", "250"], 3, "nobody can follow closer than 125 ms"),
        (["patterns", "show", "gallop", "--language", "fr"], 3, 'no words in "fr": choose en, es'),
        (["patterns", "check", "absent.toml"], 3, ""),
        (["patterns", "show"], 2, "Missing argument"),
        (["patterns", "show", "gallop", "--side", "up"], 2, 'expected right or left, got "up"'),
        (["patterns", "--patterns", "absent", "show", "x"], 2, "absent"),
        (["pattrens"], 2, 'no command "pattrens": did you mean "patterns"?'),
        (["--nonsense"], 2, "--nonsense"),
    ],
)
def test_refusals_are_short_and_have_their_exit_code(capsys, arguments, code, said):
    found, _, err = outcome(capsys, *arguments)
    assert found == code
    assert said in "\n".join(err)
    assert len(err) <= 3
    assert not any("Traceback" in line for line in err)


NO_NUMBERS = [
    "",
    "nan",
    "inf",
    "-inf",
    "1e9",
    "1e400",
    "0",
    "-1",
    "-0.0",
    "1_00",
    "１２０",
    "100bpm",
    "60*2",
    "9" * 20_000,
    "0x50",
    " ",
    "½",
]


@pytest.mark.parametrize("value", NO_NUMBERS)
def test_a_tempo_that_is_no_plain_number_is_refused_with_option_and_range(capsys, value):
    code, _, err = outcome(capsys, "patterns", "show", "gallop", f"--tempo={value}")
    assert code == 2
    assert "--tempo" in err[0]
    assert "from 20 to 300 beats/min" in err[0]
    assert len("\n".join(err)) < 300


@pytest.mark.parametrize(
    "value", ["", "2", "2/1", "2:0", "1:2", "nan:1", "-2:1", "2:1:1", "²:1", "9" * 20_000 + ":1"]
)
def test_a_ratio_that_is_none_is_refused(capsys, value):
    code, _, err = outcome(capsys, "patterns", "show", "gallop", f"--ratio={value}")
    assert code == 2
    assert "--ratio" in err[0]
    assert len("\n".join(err)) < 300


def test_control_codes_in_what_was_typed_do_not_reach_the_terminal(capsys):
    _, _, err = outcome(capsys, "patterns", "show", "a\x1b[31mb\x07")
    assert err
    assert all(line.isprintable() for line in err)


def test_ctrl_c_stops_with_its_own_code(capsys, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(patterns_module, "listing", interrupted)
    code, _, err = outcome(capsys, "patterns")
    assert code == 130
    assert err[-1] == "cuekit: stopped"


def broken(*_):
    raise ZeroDivisionError("one over none")


def test_a_fault_of_our_own_is_logged_and_its_place_named(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr(patterns_module, "listing", broken)
    monkeypatch.setattr("platformdirs.user_log_dir", lambda *_, **__: str(tmp_path / "log"))
    code, _, err = outcome(capsys, "patterns")
    assert code == 70
    assert len(err) == 2
    (log,) = (tmp_path / "log").iterdir()
    assert err[1] == str(log)
    assert "one over none" in log.read_text(encoding="utf-8")


def test_a_fault_without_a_place_for_the_log_is_still_one_message(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr(patterns_module, "listing", broken)
    (tmp_path / "file").write_text("")
    monkeypatch.setattr("platformdirs.user_log_dir", lambda *_, **__: str(tmp_path / "file" / "log"))
    code, _, err = outcome(capsys, "patterns")
    assert code == 70
    assert "could not be written down" in err[0]


def test_every_command_is_listed_without_loading_it(capsys):
    code, out, _ = outcome(capsys, "--help")
    assert code == 0
    assert all(f"  {name} " in out and entry.help in out for name, entry in COMMANDS.items())
    assert outcome(capsys)[1] == out


def test_a_window_without_line_characters_gets_plain_ones():
    shown = subprocess.run(
        [sys.executable, "-m", "cuekit", "patterns", "show", "hop"],
        env=os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONPATH": str(Path(cuekit.__file__).parents[1])},
        capture_output=True,
        check=True,
    )
    assert shown.stdout.isascii()
    assert b"R------" in shown.stdout
