"""A watched folder: what arrives, when it is complete, what is left alone."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import pytest

from benchapp.errors import CancelledError, FileAccessError
from benchapp.jobs import AwaitFiles, files_now, not_cancelled, silent

QUICK = {"settle": 0.05, "interval": 0.01}


def waited(folder, **changes):
    return AwaitFiles(folder=str(folder), **{**QUICK, **changes})(silent, not_cancelled)


def names(found) -> list[str]:
    return [Path(path).name for path in found.paths]


def test_a_file_that_lies_there_already_does_not_arrive_but_a_new_one_does(tmp_path):
    (tmp_path / "old.csv").write_text("1,2\n")
    before = files_now(str(tmp_path))
    (tmp_path / "new.csv").write_text("1,2\n")
    assert names(waited(tmp_path, seen=before)) == ["new.csv"]


def test_what_arrived_is_not_told_twice(tmp_path):
    (tmp_path / "1.csv").write_text("1,2\n")
    first = waited(tmp_path)
    (tmp_path / "2.csv").write_text("1,2\n")
    assert names(waited(tmp_path, seen=first.seen)) == ["2.csv"]


def test_a_file_written_anew_under_its_old_name_arrives_again(tmp_path):
    path = tmp_path / "sweep.csv"
    path.write_text("1,2\n")
    first = waited(tmp_path)
    path.write_text("1,2\n3,4\n")
    assert names(waited(tmp_path, seen=first.seen)) == ["sweep.csv"]


def test_several_files_arrive_in_the_order_in_which_they_were_written(tmp_path):
    for place, name in enumerate(("b.csv", "c.csv", "a.csv")):
        (tmp_path / name).write_text("1,2\n")
        os.utime(tmp_path / name, (1e9 + place, 1e9 + place))
    assert names(waited(tmp_path)) == ["b.csv", "c.csv", "a.csv"]


def test_a_file_still_growing_is_waited_for(tmp_path):
    path = tmp_path / "slow.csv"
    rows = 12

    def write():
        with path.open("w") as file:
            for row in range(rows):
                file.write(f"{row},1\n")
                file.flush()
                time.sleep(0.03)

    writer = threading.Thread(target=write)
    writer.start()
    found = waited(tmp_path, settle=0.4)
    size = path.stat().st_size
    writer.join()
    assert names(found) == ["slow.csv"]
    assert size == sum(len(f"{row},1\n") for row in range(rows))


@pytest.mark.parametrize(
    "name", ["x.csv.tmp", "x.part", "~x.csv", ".~lock.x.csv#", ".hidden.csv", "design.toml"]
)
def test_unfinished_hidden_and_other_files_never_arrive(tmp_path, name):
    (tmp_path / name).write_text("1,2\n")
    assert files_now(str(tmp_path)) == {}


def test_an_empty_file_is_not_there_yet(tmp_path):
    (tmp_path / "x.csv").touch()
    assert files_now(str(tmp_path)) == {}


def test_folders_below_are_watched_too_and_what_is_gone_is_forgotten(tmp_path):
    (tmp_path / "gone.csv").write_text("1\n")
    before = files_now(str(tmp_path))
    (tmp_path / "gone.csv").unlink()
    (tmp_path / "tray 2").mkdir()
    (tmp_path / "tray 2" / "1.csv").write_text("1,2\n")
    found = waited(tmp_path, seen=before)
    assert names(found) == ["1.csv"]
    assert set(found.seen) == set(found.paths)


def test_a_person_can_stop_waiting(tmp_path):
    asked = iter([False, False, True])
    with pytest.raises(CancelledError):
        AwaitFiles(folder=str(tmp_path), **QUICK)(silent, lambda: next(asked))


def test_a_folder_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(FileAccessError, match=r"must be a folder with captures \(got nothing"):
        waited(tmp_path / "none")
