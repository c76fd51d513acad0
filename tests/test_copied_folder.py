"""Records in a folder that another program copies away are warned of; elsewhere nothing is said."""

from pathlib import Path

import pytest

from cuekit.records.copied_folder import copied_away


@pytest.fixture
def drives(tmp_path):
    path = tmp_path / "mounts"
    path.write_text(
        "/dev/sda1 / ext4 rw 0 0\nserver:/home /home nfs4 rw 0 0\n//server/share /mnt/school\\040drive cifs rw 0 0\n"
        "tmpfs /home/teacher/local tmpfs rw 0 0\n"
    )
    return path


@pytest.mark.parametrize(
    ("folder", "told"),
    [
        ("/srv/records", ""),
        ("/home/teacher/records", "network"),  # the home folder of a school lies on its server
        ("/home/teacher/local/records", ""),
        ("/mnt/school drive/records", "network"),
        ("/srv/teacher/OneDrive - School/records", "sync program"),
        ("/srv/teacher/Dropbox/cuekit", "sync program"),
        ("//server/share/records", "network"),
    ],
)
def test_where_records_are_copied_away(folder, told, drives):
    assert told in copied_away(Path(folder), drives)
    assert bool(told) == bool(copied_away(Path(folder), drives))


def test_without_a_list_of_drives_names_are_looked_at(tmp_path):
    assert copied_away(Path("/home/teacher/records"), tmp_path / "none") == ""
    assert "sync" in copied_away(Path("/home/teacher/Dropbox/records"), tmp_path / "none")


def test_the_teacher_is_told_where_the_records_are_begun_shown_and_checked(cuekit_says, tmp_path):
    here, away = tmp_path / "data", tmp_path / "Dropbox" / "data"
    for words in (["learner", "add", "K-07"], ["records", "where"], ["records", "check"]):
        told = cuekit_says(*words, "--data", away)
        assert told.code == 0
        assert "a sync program watches" in "\n".join(told.err)
        assert cuekit_says(*words, "--data", here).err == []
