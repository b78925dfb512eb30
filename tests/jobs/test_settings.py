"""Settings lie where the system keeps them; answers survive in a file that a person can read."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchapp.errors import FileAccessError, ReadError, UsageError
from benchapp.jobs import AnswerBook, answer_book, settings_folder
from benchapp.readers import Answers, Remembered

PORT = Remembered(answers=Answers(port="reflection"), layout="touchstone | S | 1")
COLUMNS = Remembered(answers=Answers(columns="f/Hz, R, X"), layout="table | comma")


@pytest.fixture
def book(tmp_path):
    return AnswerBook(path=str(tmp_path / "deep" / "answers.toml"))


def test_the_folder_can_be_named_outright():
    assert settings_folder({"BENCHAPP_SETTINGS": "/some/place"}) == Path("/some/place")


def test_on_linux_the_folder_follows_the_xdg_specification(monkeypatch):
    monkeypatch.setattr("sys.platform", "linux")
    assert settings_folder({"XDG_CONFIG_HOME": "/conf"}) == Path("/conf/benchapp")
    assert settings_folder({}) == Path.home() / ".config" / "benchapp"
    # The specification: a relative path is invalid and must be ignored.
    assert settings_folder({"XDG_CONFIG_HOME": "conf"}) == Path.home() / ".config" / "benchapp"


def test_other_systems_have_their_own_place(monkeypatch):
    monkeypatch.setattr("sys.platform", "darwin")
    assert settings_folder({}).parts[-3:] == ("Library", "Application Support", "benchapp")
    monkeypatch.setattr("sys.platform", "win32")
    assert settings_folder({"APPDATA": "/roaming"}) == Path("/roaming/benchapp")


def test_what_is_kept_is_there_again(book):
    assert book.entries() == {}
    book.keep("a", PORT)
    book.keep("b", COLUMNS)
    assert AnswerBook(path=book.path).entries() == {"a": PORT, "b": COLUMNS}
    assert [path.name for path in Path(book.path).parent.iterdir()] == ["answers.toml"]


def test_a_later_answer_takes_the_place_of_an_earlier_one(book):
    book.keep("a", PORT)
    book.keep("a", COLUMNS)
    assert book.entries() == {"a": COLUMNS}


def test_a_colleague_s_answers_are_added(book, tmp_path):
    book.keep("a", PORT)
    other = AnswerBook(path=str(tmp_path / "theirs.toml"))
    other.keep("b", COLUMNS)
    book.take_over(other.entries_there())
    assert book.entries() == {"a": PORT, "b": COLUMNS}


def test_a_colleague_s_file_must_hold_something(book):
    with pytest.raises(FileAccessError, match="must be a file with remembered answers"):
        book.entries_there()


def test_answers_are_forgotten_by_name(book):
    book.keep("a", PORT)
    book.forget("a")
    assert book.entries() == {}
    with pytest.raises(UsageError, match=r"layout: must be one that is remembered \(got 'a'\)"):
        book.forget("a")


def test_a_damaged_file_is_never_overwritten(book):
    book.keep("a", PORT)
    Path(book.path).write_text("[layouts", encoding="utf-8")
    with pytest.raises(ReadError, match="must be TOML"):
        book.keep("b", COLUMNS)
    assert Path(book.path).read_text(encoding="utf-8") == "[layouts"


def test_a_file_that_cannot_be_read_or_written_is_told(tmp_path):
    folder = AnswerBook(path=str(tmp_path))
    with pytest.raises(FileAccessError, match="must be a file of remembered answers"):
        folder.entries()
    (tmp_path / "file").touch()
    below = AnswerBook(path=str(tmp_path / "file" / "answers.toml"))
    with pytest.raises(FileAccessError, match="must be a file"):
        below.keep("a", PORT)


def test_the_person_s_own_book_lies_in_the_folder():
    book = answer_book({"BENCHAPP_SETTINGS": "/some/place"})
    assert book.path == str(Path("/some/place") / "answers.toml")
