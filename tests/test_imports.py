"""Imports run one way, heavy libraries stay away from the start, and the command answers at once."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

import cuekit
from tests.whole_process import run_cuekit

PACKAGE = Path(cuekit.__file__).parent
NEVER_AT_START = {"librosa", "numba", "matplotlib", "sounddevice", "scipy"}
HELP_LIMIT_S = 0.25
"""The budget for `cuekit --help`, warm, on two cores (issue "The main job from a fresh clone")."""

# A module may import from the lines above its own only. The package itself ("") stands above them all.
LAYERS = """
errors
audio_port ear events filekinds filenames pattern pattern_syntax pcentre phrases quiet shipped sounds svg learner record_json store_schema page interrupts keys thirds phone_files
asynchrony decoding long_share step_choice
landings alignment atomic clips figures loudness pattern_fields schedule plain_text sound_card cue_timing equipment
detection bout_record measures pattern_text recordings simulate simulate_feet soundheaders timeline ladder take_file supports cautions pattern_title
bout_changes bout_history live_ear room_check
bout_marks faults glide pattern_files simulate_rooms soundfiles tones voice ladder_text progression goals agreement lessons store_file child_view cue_arrival live kept checked_devices practice
advice bout_chart bout_path own_words ladder_files progress_text progress ladder_page goal_text cue_leak report_plot cue_faults ladder_records own_tempo
scoring words store report_data
bout_plot bout_text contract cueing store_check store_forget report sheets
render store_merge keeping export score_text
demo replay rescoring live_verdict store_waiting
cli.options cli.replays session cli.cue_choice
cli.record_options cli.takes live_text
cli.live_records
cli.demo cli.patterns cli.play cli.score cli.ladder cli.learners cli.keep cli.bouts cli.goals cli.lessons cli.records cli.report cli.next_step cli.sounds cli.sheet cli.listen cli.practice cli.room cli.check cli.child
cli
__main__
"""
LAYER_OF = {module: layer for layer, line in enumerate(LAYERS.split("\n")) for module in line.split()} | {
    "": 0
}


def module_name(path):
    """Name of a module below the package: "cli.options"; "" for the package itself."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


MODULES = {module_name(path): path for path in sorted(PACKAGE.rglob("*.py"))}


def own_imports(tree):
    """Our own modules that a module imports, wherever in it the import stands."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            full = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports name the whole module"
            full = [f"{node.module}.{alias.name}" for alias in node.names]
        else:
            continue
        for name in full:
            package, _, rest = name.partition(".")
            if package == "cuekit":
                yield rest if rest in MODULES else rest.rpartition(".")[0]


@pytest.mark.parametrize("module", MODULES)
def test_imports_run_one_way(module):
    assert module in LAYER_OF, f"give {module} a layer in {Path(__file__).name}"
    tree = ast.parse(MODULES[module].read_text(encoding="utf-8"))
    upward = [name for name in own_imports(tree) if LAYER_OF[name] >= LAYER_OF[module]]
    assert upward == []


def test_the_check_sees_an_import_that_runs_the_wrong_way():
    tree = ast.parse(
        "def f():\n    from cuekit.render import render\n    from cuekit import words\n    import cuekit.cli"
    )
    assert list(own_imports(tree)) == ["render", "words", "cli"]
    assert all(LAYER_OF[name] > LAYER_OF["pattern"] for name in own_imports(tree))


def loaded_by(code):
    """Top-level modules loaded once the code has run in a fresh interpreter."""
    report = "; import sys; print(*{name.partition('.')[0] for name in sys.modules}, file=sys.stderr)"
    return set(python("-c", code + report).stderr.split())


def python(*arguments):
    """A fresh interpreter that finds this copy of the package."""
    environment = os.environ | {"PYTHONPATH": str(PACKAGE.parent)}
    return subprocess.run(
        [sys.executable, *arguments], env=environment, capture_output=True, text=True, check=True
    )


def test_importing_the_package_loads_no_library():
    assert loaded_by("import cuekit").isdisjoint(NEVER_AT_START | {"numpy", "click", "soundfile"})


def test_no_module_loads_a_heavy_library_on_import():
    modules = [f"cuekit.{module}".rstrip(".") for module in MODULES if module != "__main__"]
    assert loaded_by(f"import {', '.join(modules)}").isdisjoint(NEVER_AT_START)


def test_help_loads_click_only():
    loaded = loaded_by("from cuekit.cli import run; run(['--help'])")
    assert "click" in loaded
    assert loaded.isdisjoint(NEVER_AT_START | {"numpy", "soundfile", "platformdirs"})


def test_help_answers_at_once():
    ran = run_cuekit("--help", tries=5)
    assert b"Commands:" in ran.printed
    assert ran.took_s < HELP_LIMIT_S
