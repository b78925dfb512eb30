"""The door to disk: what is let in, what is refused, and that nothing is ever written."""

from __future__ import annotations

import hashlib
import os
import threading
from pathlib import Path

import pytest

from benchapp.errors import CancelledError, FileAccessError, ReadError
from benchapp.readers import source as room
from benchapp.readers.source import Watch, load, looks_wide, open_source, pieces_of
from tests.readers.writing import written

TEXT = "Frequency (Hz),R (ohm),X (ohm)\n1000,1,2\n"


def test_bytes_are_kept_as_they_are_with_their_digest(tmp_path):
    path = written(tmp_path, "a.csv", b"\xef\xbb\xbf1;2\r\n\xb5")
    loaded = load(open_source(path), Watch())
    assert loaded.data == path.read_bytes()
    assert loaded.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (loaded.name, loaded.path) == ("a.csv", str(path))


def test_a_file_is_never_touched(tmp_path):
    path = written(tmp_path, "a.csv", TEXT)
    path.chmod(0o444)
    before = path.stat()
    load(open_source(path), Watch())
    after = path.stat()
    assert path.read_text() == TEXT
    assert (before.st_mtime_ns, before.st_size) == (after.st_mtime_ns, after.st_size)
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.csv"]


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(FileAccessError, match=r"must exist \(got nothing of that name\)") as error:
        open_source(tmp_path / "none.csv")
    assert error.value.hint == "Check the name and the folder."


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(FileAccessError, match=r"must be a file \(got a folder\)"):
        open_source(tmp_path)


def test_a_path_through_a_file_is_refused(tmp_path):
    path = written(tmp_path, "a.csv", TEXT)
    with pytest.raises(FileAccessError, match=r"must exist \(got a path through a file\)"):
        open_source(path / "b.csv")


def test_a_pipe_is_refused_without_waiting_for_a_writer(tmp_path):
    path = tmp_path / "pipe.csv"
    os.mkfifo(path)
    caught = []

    def attempt():
        with pytest.raises(FileAccessError, match="got a pipe or a device") as error:
            open_source(path)
        caught.append(error.value)

    thread = threading.Thread(target=attempt, daemon=True)
    thread.start()
    thread.join(2.0)
    assert len(caught) == 1


def test_a_device_is_refused():
    with pytest.raises(FileAccessError, match="got a pipe or a device"):
        open_source("/dev/zero")


def test_a_loop_of_links_is_refused(tmp_path):
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(FileAccessError, match=r"must be readable \(got .*symbolic links"):
        open_source(tmp_path / "a")


def test_a_link_to_a_file_is_followed(tmp_path):
    path = written(tmp_path, "a.csv", TEXT)
    (tmp_path / "link.csv").symlink_to(path)
    assert load(open_source(tmp_path / "link.csv"), Watch()).data.decode() == TEXT


@pytest.mark.parametrize("name", ["a\0b.csv", "x" * 300 + ".csv"])
def test_a_name_that_no_file_can_have_is_refused(tmp_path, name):
    with pytest.raises(FileAccessError, match="must be readable"):
        open_source(tmp_path / name)


def test_a_file_without_permission_is_refused(tmp_path, monkeypatch):
    path = written(tmp_path, "a.csv", TEXT)

    def no_entry(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(room, "open", no_entry, raising=False)
    with pytest.raises(FileAccessError, match=r"must be readable \(got no permission\)"):
        open_source(path)


def test_a_disk_that_fails_while_reading_is_reported(tmp_path, monkeypatch):
    opened = open_source(written(tmp_path, "a.csv", TEXT))

    def failing(*_args, **_kwargs):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(room, "open", failing, raising=False)
    with pytest.raises(FileAccessError, match=r"must be readable \(got Input/output error\)"):
        load(opened, Watch())


def test_an_empty_file_is_refused(tmp_path):
    with pytest.raises(ReadError, match=r"must hold a capture \(got an empty file\)"):
        open_source(written(tmp_path, "a.csv", ""))


def test_a_file_beyond_the_limit_is_refused_by_its_size_alone(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as stream:
        stream.truncate(room.LIMIT + 1)
    with pytest.raises(FileAccessError, match=r"must be at most 1024 MiB \(got 1024 MiB\)"):
        open_source(path)


def test_a_long_file_is_not_taken_apart_line_by_line(tmp_path):
    path = tmp_path / "long.csv"
    path.write_bytes(b"a,b\n" * (room.LOADED // 4 + 1))
    with pytest.raises(FileAccessError, match="unless it is one plain table of numbers"):
        load(open_source(path), Watch())


@pytest.mark.parametrize(
    ("head", "words"),
    [
        (b"PK\x03\x04\x14\0\0\0\x08\0", "compressed archive or a spreadsheet workbook"),
        (b"\x1f\x8b\x08\0\0\0\0\0", "a compressed file"),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n\0\1\2\3\4\5", "a PDF document"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "a picture"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\0\0", "a spreadsheet workbook"),
        (b"SQLite format 3\0\x10\0\1\1", "a database"),
        (b"\x7fELF\2\1\1\0\0\0", "a program"),
        (bytes(range(256)) * 4, "binary data"),
        (bytes(4096), "binary data"),
    ],
)
def test_what_cannot_be_text_is_refused_by_its_first_bytes(tmp_path, head, words):
    with pytest.raises(ReadError, match=rf"must be a text file \(got .*{words}"):
        open_source(written(tmp_path, "a.csv", head + b"\0\1\2\3" * 8))


def test_a_text_that_starts_like_a_signature_is_text(tmp_path):
    assert open_source(written(tmp_path, "a.csv", "BM,R,X\n1,2,3\n" * 50)).size == 650


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_wide_text_is_let_in(tmp_path, encoding):
    path = written(tmp_path, "a.csv", TEXT * 9, encoding)
    assert open_source(path).size == path.stat().st_size


def test_wide_text_is_told_from_its_zero_bytes():
    assert looks_wide("1000,5\n".encode("utf-16-le"))
    assert looks_wide("1000,5\n".encode("utf-16-be"))
    assert not looks_wide(b"1000,5\n")
    assert not looks_wide(bytes(64))


def test_progress_runs_from_the_first_piece_to_one(tmp_path):
    told = []
    opened = open_source(written(tmp_path, "a.csv", "1,2\n" * 1000))
    watch = Watch(progress=lambda what, fraction: told.append((what, fraction)))
    assert b"".join(pieces_of(opened, watch, size=1000)) == b"1,2\n" * 1000
    assert told == [
        ("reading a.csv", 0.25),
        ("reading a.csv", 0.5),
        ("reading a.csv", 0.75),
        ("reading a.csv", 1.0),
    ]


def test_a_reading_can_be_stopped(tmp_path):
    opened = open_source(written(tmp_path, "a.csv", "1,2\n" * 1000))
    asked = iter([False, True])
    pieces = pieces_of(opened, Watch(cancelled=lambda: next(asked)), size=1000)
    with pytest.raises(CancelledError, match="stopped before it was done"):
        list(pieces)


def test_a_file_that_grows_is_read_to_the_size_it_had(tmp_path):
    path = written(tmp_path, "a.csv", "1,2\n" * 10)
    opened = open_source(path)
    with path.open("a") as stream:
        stream.write("3,4\n")
    assert load(opened, Watch()).data == b"1,2\n" * 10


def test_a_name_may_be_given_as_text(tmp_path):
    path = written(tmp_path, "a.csv", TEXT)
    assert open_source(str(path)).head == Path(path).read_bytes()
