"""A watched folder tells each new file once, when it is complete; the window goes on."""

from __future__ import annotations

import threading

import pytest

from benchapp.errors import FileAccessError
from benchapp.gui.watch import FolderWatch


@pytest.fixture
def watch(qtbot, tmp_path):
    made = FolderWatch()
    yield made
    made.stop()


def found(watch):
    told = []
    watch.found.connect(told.append)
    return told


def test_a_new_file_is_told_once_and_what_was_there_is_not(qtbot, watch, tmp_path):
    (tmp_path / "old.csv").write_text("1")
    told = found(watch)
    watch.start(str(tmp_path))
    path = tmp_path / "new.csv"
    path.write_text("1")
    qtbot.waitUntil(lambda: told == [str(path)], timeout=10_000)
    qtbot.wait(800)
    assert told == [str(path)]


def test_a_file_that_is_written_anew_under_its_old_name_is_told_again(qtbot, watch, tmp_path):
    told = found(watch)
    watch.start(str(tmp_path))
    path = tmp_path / "latest.csv"
    path.write_text("1")
    qtbot.waitUntil(lambda: len(told) == 1, timeout=10_000)
    path.write_text("2")
    qtbot.waitUntil(lambda: told == [str(path)] * 2, timeout=10_000)


def test_files_that_are_not_whole_do_not_count(qtbot, watch, tmp_path):
    told = found(watch)
    watch.start(str(tmp_path))
    for name in ("a.csv.part", ".b.csv", "c.tmp"):
        (tmp_path / name).write_text("1")
    (tmp_path / "empty.csv").write_text("")
    qtbot.wait(900)
    assert told == []


def test_a_folder_that_is_gone_is_told_and_watched_no_more(qtbot, watch, tmp_path):
    folder = tmp_path / "gone"
    folder.mkdir()
    watch.start(str(folder))
    with qtbot.waitSignal(watch.lost, timeout=10_000) as lost:
        folder.rmdir()
    assert isinstance(lost.args[0], FileAccessError)
    assert watch.folder == ""


def test_a_folder_that_never_was_is_told(qtbot, watch, tmp_path):
    with qtbot.waitSignal(watch.lost):
        watch.start(str(tmp_path / "nowhere"))
    assert watch.folder == ""


def test_another_folder_takes_the_place_of_the_first(qtbot, watch, tmp_path):
    first, second = tmp_path / "first", tmp_path / "second"
    first.mkdir()
    second.mkdir()
    told = found(watch)
    watch.start(str(first))
    watch.start(str(second))
    (first / "a.csv").write_text("1")
    (second / "b.csv").write_text("1")
    qtbot.waitUntil(lambda: bool(told), timeout=10_000)
    qtbot.wait(500)
    assert told == [str(second / "b.csv")]


def test_no_thread_is_left_when_the_watch_ends(qtbot, watch, tmp_path):
    before = threading.active_count()
    watch.start(str(tmp_path))
    assert threading.active_count() == before + 1
    watch.stop()
    assert threading.active_count() == before
