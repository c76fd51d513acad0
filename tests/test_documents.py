"""What the documents promise is there: commands, options, patterns, sounds, modules, files."""

import re
import shlex
import tomllib
from pathlib import Path

import click
import pytest

import cuekit
from cuekit.cli import group, run
from cuekit.cli.patterns import rhythm
from cuekit.cues.loudness import LOUDEST_LUFS, PEAK_CEILING_DB, QUIET_LUFS
from cuekit.cues.tones import tone_set_names
from cuekit.patterns.pattern_files import list_patterns, load_pattern
from cuekit.rhythm.long_share import CLIPPED_ABOVE, EVEN_BELOW, UNEVEN_FROM
from cuekit.telling.phrases import load_phrases

PACKAGE = Path(cuekit.__file__).parent
ROOT = PACKAGE.parent
DOCUMENTS = ("README.md", "DEVELOPERS.md")

pytestmark = pytest.mark.skipif(not (ROOT / "README.md").is_file(), reason="the documents lie in a checkout")


def text_of(name):
    return (ROOT / name).read_text(encoding="utf-8")


def blocks(document, language):
    """Code blocks of a language in a document; "" are those without one."""
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", text_of(document), flags=re.MULTILINE | re.DOTALL)
    return [code for named, code in fenced if named == language]


def own_commands(document):
    """Every call of cuekit in the shell blocks of a document, as its arguments."""
    for block in blocks(document, "sh"):
        for line in block.splitlines():
            for part in line.split("&&"):
                words = shlex.split(part, comments=True)
                if words and Path(words[0]).name == "cuekit":
                    yield words[1:]


CALLS = [call for document in DOCUMENTS if (ROOT / document).is_file() for call in own_commands(document)]


def resolved(arguments):
    """The command that is called, its context and the arguments that are its own."""
    command, context = group, None
    while isinstance(command, click.Group) and arguments:
        context = command.make_context(command.name or "cuekit", list(arguments), parent=context)
        arguments = context._protected_args + context.args
        if not arguments:
            break
        _, command, arguments = command.resolve_command(context, arguments)
    return command, context, arguments


@pytest.mark.parametrize("call", CALLS, ids=" ".join)
def test_a_command_of_the_documents_exists_with_its_options(call):
    """The arguments are taken by the command itself; only files are not looked for."""
    command, parent, rest = resolved(call)
    if command is not group and not isinstance(command, click.Group):
        command.make_context(command.name, list(rest), parent=parent)


@pytest.mark.parametrize("path", sorted({tuple(call[:1]) for call in CALLS}), ids=" ".join)
def test_a_command_of_the_documents_has_help(path, capsys):
    assert run([*path, "--help"]) == 0
    assert f"Usage: cuekit {' '.join(path)}" in capsys.readouterr().out


def test_a_misspelt_command_or_option_would_be_seen():
    with pytest.raises(click.UsageError):
        resolved(["plays", "skip"])
    command, parent, rest = resolved(["play", "skip", "--temp0", "90"])
    with pytest.raises(click.UsageError):
        command.make_context("play", list(rest), parent=parent)


def test_patterns_named_in_commands_exist():
    named = [call[1] for call in CALLS if call[0] == "play"]
    named += [call[call.index("--pattern") + 1] for call in CALLS if call[0] == "score"]
    named += [call[2] for call in CALLS if call[:2] == ["patterns", "show"]]
    shipped = [name for name in named if not name.endswith(".toml")]
    assert len(shipped) >= 5
    assert set(shipped) <= set(list_patterns())


def table(document, heading):
    """Rows of the first table below a heading, as lists of cells without backticks."""
    part = text_of(document).partition(f"## {heading}\n")[2]
    assert part, f"{document} has no part {heading}"
    rows = re.findall(r"^\|(.+)\|$", part.split("\n## ")[0], flags=re.MULTILINE)
    return [[cell.strip().replace("`", "") for cell in row.split("|")] for row in rows][2:]


def test_the_table_of_patterns_is_the_shipped_ones():
    rows = table("README.md", "The patterns")
    patterns = [load_pattern(name) for name in list_patterns()]
    real = [[p.name, p.title, rhythm(p), f"{p.tempo.low:g}-{p.tempo.high:g}"] for p in patterns]
    assert sorted(rows) == sorted(real)


def test_every_fault_that_can_be_said_is_explained():
    """The left side of "What each result means" holds the wording of each; numbers stand for its {names}."""
    told = " | ".join(row[0] for row in table("README.md", "A first lesson in five minutes"))
    faults = {
        key: max(re.split(r"\{\w+\}", sentence), key=len).strip(" %")
        for key, sentence in load_phrases().sentences.items()
        if key.startswith("fault.") and key.endswith(".short")
    }
    assert len(faults) >= 10
    assert [key for key, wording in faults.items() if wording not in told] == []


def test_nothing_is_explained_that_is_never_said():
    sentences = [re.sub(r"\{\w+\}", "0", sentence) for sentence in load_phrases().sentences.values()]
    told = [re.sub(r"\d+", "0", row[0]) for row in table("README.md", "A first lesson in five minutes")]
    unsaid = [
        one
        for one in told
        if not any(one in sentence for sentence in sentences)
        and not all(any(part in sentence for sentence in sentences) for part in one.split(", "))
    ]
    assert unsaid == ["too few ... to say"]


def test_limits_quoted_are_the_ones_in_force():
    readme = " ".join(text_of("README.md").split())
    assert f"a long part of {UNEVEN_FROM:.2f} to {CLIPPED_ABOVE:.2f}" in readme
    assert f"the long part was below {EVEN_BELOW:.2f}" in readme
    assert (
        f"never above {LOUDEST_LUFS:g} LUFS and a peak of {PEAK_CEILING_DB:g} dB, {QUIET_LUFS:g} LUFS"
        in readme
    )


def test_the_sets_of_sounds_are_all_named():
    readme = " ".join(text_of("README.md").split())
    assert all(f"`{name}`" in readme for name in tone_set_names())


def test_the_figure_of_the_readme_can_be_used_as_it_stands(tmp_path, capsys, monkeypatch):
    (figure,) = blocks("README.md", "toml")
    monkeypatch.chdir(tmp_path)
    Path("my-figure.toml").write_text(figure, encoding="utf-8")
    assert run(["patterns", "check", "my-figure.toml"]) == 0
    assert run(["play", "my-figure.toml", "--beats", "16", "--out", "figure.wav"]) == 0
    assert capsys.readouterr().err == ""
    pattern = load_pattern(Path("my-figure.toml"))
    assert [beat.uneven for beat in pattern.beats] == [True] * 4 + [False] * 4


def test_the_result_of_the_readme_is_the_one_cuekit_gives(capsys, monkeypatch):
    """The sentence word for word; the drawing in its footfalls, as columns may shift with the detector."""
    monkeypatch.setattr("cuekit.cli.score.takes_unicode", lambda: True)
    assert run(["score", str(ROOT / "demo_audio" / "skip-clear.flac"), "--pattern", "skip"]) == 0
    printed = capsys.readouterr().out.splitlines()
    sentence, drawing = (block.splitlines() for block in blocks("README.md", ""))
    assert sentence == printed[:1]
    start = next(n for n, line in enumerate(printed) if line.startswith("  beats 1"))
    for told, real in zip(drawing[:2], printed[start : start + 2], strict=True):
        assert told.split() == real.split()
    assert [line.split()[:2] for line in drawing] == [line.split()[:2] for line in printed[start : start + 3]]


def test_set_up_is_two_commands_and_ci_runs_them_as_printed():
    set_up = [block.strip() for block in blocks("README.md", "sh") if ".venv/bin/pip" in block]
    assert [len(command.splitlines()) for command in set_up] == [1, 1]
    ci = text_of(".ci/run").splitlines()
    assert all(f"({command})" in ci for command in set_up)


def test_every_link_of_a_document_leads_to_a_file():
    for document in (*DOCUMENTS, "THIRD_PARTY.md"):
        for target in re.findall(r"\]\(([^)#]+)\)", text_of(document)):
            assert "://" in target or (ROOT / target).exists(), f"{document} links to {target}"


def real_modules():
    names = (path.relative_to(PACKAGE).with_suffix("").parts for path in PACKAGE.rglob("*.py"))
    return {".".join(part for part in parts if part != "__init__") for parts in names} - {""}


def test_the_module_map_is_the_real_modules():
    rows = table("DEVELOPERS.md", "Layout")
    named = [name for row in rows for name in row[1].replace(",", " ").split()]
    assert len(named) == len(set(named)), "a module stands in two rows"
    assert sorted(named) == sorted(real_modules())


def test_every_dependency_is_told_with_its_licence():
    project = tomllib.loads(text_of("pyproject.toml"))["project"]
    names = {re.match(r"[A-Za-z0-9_-]+", line).group() for line in project["dependencies"]}
    rows = {row[0]: row[1] for row in table("THIRD_PARTY.md", "Libraries used at run time")}
    assert names <= rows.keys()
    assert all(rows[name] for name in names)


def test_every_recorded_foot_is_told_with_its_licence():
    notice = text_of("demo_audio/feet/NOTICE.md")
    told = text_of("THIRD_PARTY.md")
    for licence in set(re.findall(r"CC-BY-3\.0|CC0-1\.0|MIT", notice)):
        assert licence in told


def test_every_licence_of_the_training_material_is_told():
    from tests.hearing.sources import DEVELOPMENT, FOOT_SOURCES, SOUND_SOURCES

    told = [line for line in text_of("THIRD_PARTY.md").splitlines() if line]
    missing = [
        f"{source.package}: {source.licence}"
        for source in (*FOOT_SOURCES, *SOUND_SOURCES)
        if source.part == DEVELOPMENT
        and not any(f"`{source.package}`" in line and source.licence in line for line in told)
    ]
    assert missing == []
