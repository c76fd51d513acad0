"""A file is written whole or not at all, and a refusal says why and what to do."""

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from cuekit.errors import AudioError, CuekitError, RecordError
from cuekit.files.atomic import replacing, write_bytes, write_text
from cuekit.files.filenames import shown

as_root = hasattr(os, "geteuid") and os.geteuid() == 0
posix_only = pytest.mark.skipif(os.name != "posix", reason="links, pipes and limits of POSIX")


def test_new_file_holds_what_was_written_and_nothing_lies_beside_it(tmp_path):
    write_bytes(tmp_path / "skip.wav", b"sound")
    assert (tmp_path / "skip.wav").read_bytes() == b"sound"
    assert [found.name for found in tmp_path.iterdir()] == ["skip.wav"]


def test_old_file_stays_until_the_new_one_is_whole(tmp_path):
    goal = tmp_path / "skip.wav"
    goal.write_bytes(b"old")
    with replacing(goal) as temporary:
        temporary.write_bytes(b"new")
        assert goal.read_bytes() == b"old"
        assert temporary.suffix == ".wav"
        assert temporary.parent == tmp_path
    assert goal.read_bytes() == b"new"


def write_half_then_raise(goal, interruption):
    with replacing(goal) as temporary:
        temporary.write_bytes(b"half of the n")
        raise interruption


@pytest.mark.parametrize("interruption", [ValueError, KeyboardInterrupt, AudioError])
def test_interrupted_writer_leaves_the_old_file_alone(tmp_path, interruption):
    goal = tmp_path / "skip.wav"
    goal.write_bytes(b"old")
    with pytest.raises(interruption):
        write_half_then_raise(goal, interruption)
    assert goal.read_bytes() == b"old"
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("step", ["open", "fsync", "replace"])
def test_each_step_that_fails_is_told_and_leaves_no_stray_file(tmp_path, monkeypatch, step):
    goal = tmp_path / "skip.wav"
    goal.write_bytes(b"old")

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, step, full)
    with pytest.raises(AudioError, match=r"cannot write .*skip\.wav: the disk is full: make room"):
        write_bytes(goal, b"new")
    monkeypatch.undo()
    assert goal.read_bytes() == b"old"
    assert len(list(tmp_path.iterdir())) == 1


@posix_only
def test_write_the_system_cuts_short_is_told(tmp_path):
    code = (
        "import resource, signal, sys; from pathlib import Path; from cuekit.files.atomic import write_bytes\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "write_bytes(Path(sys.argv[1]), bytes(2000))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "long.wav")],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[1],
    )
    assert "the file would be larger than this disk or account allows" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_missing_folder_folder_and_long_name_are_refused_with_the_mend(tmp_path):
    with pytest.raises(AudioError, match=r"there is no folder .*nowhere: make it first"):
        write_bytes(tmp_path / "nowhere" / "skip.wav", b"")
    with pytest.raises(AudioError, match="that is a folder: add a file name"):
        write_bytes(tmp_path, b"")
    with pytest.raises(AudioError, match="the name is too long: choose a shorter one"):
        write_bytes(tmp_path / ("x" * 300), b"")
    with pytest.raises(AudioError, match="NUL"):
        write_bytes(tmp_path / "a\0b", b"")


def test_long_but_lawful_name_and_long_ending_are_written(tmp_path):
    goal = tmp_path / ("x" * 100 + "." + "y" * 154)
    write_bytes(goal, b"sound")
    assert goal.read_bytes() == b"sound"


@posix_only
def test_pipe_and_device_are_refused_at_once_and_left_in_place(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    for special in (tmp_path / "pipe", Path("/dev/null")):
        with pytest.raises(AudioError, match="not an ordinary file"):
            write_bytes(special, b"")
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)


@posix_only
def test_link_is_followed_and_a_loop_refused(tmp_path):
    (tmp_path / "link").symlink_to(tmp_path / "real.wav")
    write_bytes(tmp_path / "link", b"sound")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real.wav").read_bytes() == b"sound"
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    with pytest.raises(AudioError, match="link leads back to itself"):
        write_bytes(tmp_path / "loop", b"")


@posix_only
def test_permissions_are_those_of_the_old_file_or_the_usual_ones(tmp_path):
    write_bytes(tmp_path / "new", b"")
    (tmp_path / "usual").touch()
    assert (tmp_path / "new").stat().st_mode == (tmp_path / "usual").stat().st_mode
    (tmp_path / "new").chmod(0o640)
    write_bytes(tmp_path / "new", b"again")
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o640


@pytest.mark.skipif(as_root or os.name != "posix", reason="root may write anywhere")
def test_folder_that_may_not_be_written_is_refused(tmp_path):
    tmp_path.chmod(0o555)
    with pytest.raises(AudioError, match="not permitted"):
        write_bytes(tmp_path / "skip.wav", b"")
    tmp_path.chmod(0o755)


def test_records_can_ask_for_their_own_class_of_refusal(tmp_path):
    with pytest.raises(RecordError):
        write_text(tmp_path, "x", refusal=RecordError)
    write_text(tmp_path / "t", "a\nñ")
    assert (tmp_path / "t").read_bytes() == b"a\n\xc3\xb1"


@pytest.mark.parametrize(
    ("name", "as_shown"),
    [
        ("skip left.wav", "skip left.wav"),
        ("niño 🎵 %s {0} [bold] $(rm).wav", "niño 🎵 %s {0} [bold] $(rm).wav"),
        ("a\nb\x1b[31m.wav", "a\\nb\\x1b[31m.wav"),
        ("\u202egnp.wav", "\\u202egnp.wav"),
        (os.fsdecode(b"\xff.wav"), "\\xff.wav"),
    ],
)
def test_names_are_shown_without_control_over_the_screen(name, as_shown):
    assert shown(Path(name)) == as_shown


def test_refusals_stay_short_for_the_longest_and_strangest_name(tmp_path):
    with pytest.raises(CuekitError) as refusal:
        write_bytes(tmp_path / ("\x1b" * 300), b"")
    assert len(str(refusal.value)) <= 600
    assert "\x1b" not in str(refusal.value)
