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
files patterns cues hearing rhythm telling drawing teaching records reports bouts simulation screen
errors
bouts.audio_port bouts.one_recording bouts.lost_time hearing.spool hearing.events hearing.filekinds files.filenames patterns.pattern patterns.pattern_syntax cues.pcentre telling.phrases files.quiet files.outlets files.places shipped cues.sounds drawing.svg records.record_json records.store_schema records.row_sums records.copied_folder drawing.page bouts.interrupts bouts.keys hearing.thirds hearing.phone_files
rhythm.theil_sen rhythm.place_grid
bouts.own_rate hearing.belief hearing.ear rhythm.asynchrony rhythm.decoding rhythm.long_share records.learner screen.view screen.feed screen.guard screen.uploads
hearing.landings records.step_choice screen.server rhythm.alignment files.atomic cues.clips patterns.figures cues.loudness patterns.pattern_fields patterns.schedule files.plain_text bouts.exchange rhythm.cue_timing bouts.equipment
bouts.sound_card hearing.detection records.bout_record rhythm.measures patterns.pattern_text hearing.recordings simulation.simulate simulation.simulate_feet hearing.soundheaders patterns.timeline teaching.ladder bouts.take_file teaching.supports teaching.cautions
telling.recording_told rhythm.bout_changes records.bout_history hearing.live_ear hearing.room_check reports.pdf
drawing.bounce drawing.bout_marks telling.faults cues.glide patterns.pattern_files simulation.simulate_rooms hearing.soundfiles cues.tones cues.voice teaching.ladder_text teaching.progression records.goals records.locking records.agreement records.lessons records.store_file telling.child_view bouts.cue_arrival bouts.live rhythm.kept bouts.checked_devices bouts.practice
telling.advice drawing.bounce_text drawing.bout_chart drawing.bout_path cues.own_words teaching.ladder_files teaching.progress_text records.progress teaching.ladder_page records.goal_text bouts.cue_leak bouts.cued_ear reports.report_plot telling.cue_faults records.ladder_records records.own_tempo records.eye_keys records.nameless records.goal_steps
telling.scoring cues.words records.store records.store_moving reports.report_data reports.plain_goal
drawing.bout_plot drawing.feet_plot drawing.bout_text telling.contract cues.cueing records.store_check records.put_away records.roster reports.report reports.gathering reports.sheets
cues.render cues.speech records.store_merge records.keeping records.export drawing.score_text telling.cue_told records.store_forget
demo cues.replay cues.cue_sound records.rescoring records.standing records.store_waiting
records.correcting screen.mending screen.goal_fields
bouts.given bouts.gaps
bouts.live_verdict
cli.options bouts.replaying bouts.room bouts.equipment_text bouts.session bouts.preparing bouts.storing
cli.cue_choice cli.record_options screen.plan screen.picture screen.past screen.shelf screen.sounds_plot cli.takes bouts.live_text cli.eye_marks cli.live_view
cli.live_records cli.live_bout screen.state screen.desk screen.fields
screen.show screen.running screen.wire screen.told screen.ground cli.practice_run
screen.bouts screen.show_told screen.show_choices screen.show_past screen.mending_actions screen.goal_actions
screen.views
screen.actions
screen.lesson
cli.demo cli.patterns cli.play cli.score cli.ladder cli.learners cli.keep cli.bouts cli.goals cli.lessons cli.records cli.report cli.next_step cli.sounds cli.sheet cli.listen cli.practice cli.room cli.check cli.child cli.screen
cli.turns
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
        "def f():\n    from cuekit.cues.render import render\n    from cuekit.cues import words\n    import cuekit.cli"
    )
    assert list(own_imports(tree)) == ["cues.render", "cues.words", "cli"]
    assert all(LAYER_OF[name] > LAYER_OF["patterns.pattern"] for name in own_imports(tree))


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


def test_folders_are_layers_too():
    """Between folders imports run one way as well, so that each can be read without the ones above it."""
    above = {}
    for module, path in MODULES.items():
        folder = module.partition(".")[0]
        for name in own_imports(ast.parse(path.read_text(encoding="utf-8"))):
            other = name.partition(".")[0]
            if "." in module and "." in name and other != folder:
                above.setdefault(folder, set()).add(other)
    reached = {folder: set(below) for folder, below in above.items()}
    for _ in reached:
        for below in reached.values():
            below.update(*(reached.get(folder, set()) for folder in tuple(below)))
    assert [folder for folder, below in reached.items() if folder in below] == []
