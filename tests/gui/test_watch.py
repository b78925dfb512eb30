"""A watched folder tells each new file once, when it is complete."""

from __future__ import annotations

import pytest

from benchapp.gui.watch import FolderWatch


@pytest.fixture
def watch(qtbot, tmp_path):
    made = FolderWatch()
    made.start(str(tmp_path))
    made._timer.stop()
    yield made
    made.stop()


def found(watch):
    told = []
    watch.found.connect(told.append)
    return told


def test_what_was_there_already_does_not_count(qtbot, tmp_path):
    (tmp_path / "old.csv").write_text("1")
    made = FolderWatch()
    made.start(str(tmp_path))
    told = found(made)
    made.look()
    made.look()
    made.stop()
    assert told == []


def test_a_file_counts_once_its_size_rests(watch, tmp_path):
    told = found(watch)
    path = tmp_path / "new.csv"
    path.write_text("1")
    watch.look()
    path.write_text("12")
    watch.look()
    assert told == [], "it still grows"
    watch.look()
    watch.look()
    assert told == [str(path)]


def test_empty_hidden_and_temporary_files_do_not_count(watch, tmp_path):
    told = found(watch)
    for name in ("a.csv.part", ".b.csv", "c.tmp"):
        (tmp_path / name).write_text("1")
    (tmp_path / "empty.csv").write_text("")
    watch.look()
    watch.look()
    assert told == []


def test_a_folder_that_is_gone_is_told_and_watched_no_more(qtbot, tmp_path):
    folder = tmp_path / "gone"
    folder.mkdir()
    made = FolderWatch()
    made.start(str(folder))
    folder.rmdir()
    with qtbot.waitSignal(made.lost):
        made.look()
    assert made.folder == ""
