"""A person's thresholds are kept in one file for window and command line."""

from __future__ import annotations

import pytest

from benchapp.errors import FileAccessError, UsageError
from benchapp.jobs import ThresholdBook, threshold_book

CHANGES = {"low-q-resonance": {"q": 20.0}, "points-left-out": {"share": 0.02}}


def test_what_is_kept_comes_back(tmp_path):
    book = ThresholdBook(path=str(tmp_path / "new" / "checks.toml"))
    assert book.changes() == {}
    book.keep({**CHANGES, "unit-slip": {}})
    assert book.changes() == CHANGES
    book.keep({})
    assert book.changes() == {}
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["checks.toml"]


def test_a_threshold_that_does_not_exist_is_not_kept(tmp_path):
    book = ThresholdBook(path=str(tmp_path / "checks.toml"))
    with pytest.raises(UsageError, match="must be one of q"):
        book.keep({"low-q-resonance": {"x": 1.0}})
    assert not (tmp_path / "checks.toml").exists()


def test_a_place_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    book = ThresholdBook(path=str(tmp_path / "file" / "checks.toml"))
    with pytest.raises(FileAccessError, match="must be a file that can be written"):
        book.keep(CHANGES)


def test_the_file_lies_in_the_folder_of_settings():
    book = threshold_book({"BENCHAPP_SETTINGS": "/some/place"})
    assert book.path.replace("\\", "/") == "/some/place/checks.toml"


def test_a_place_without_permission_is_told(tmp_path, monkeypatch):
    def refuse(_path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("benchapp.jobs.thresholds.Path.is_file", refuse)
    book = ThresholdBook(path=str(tmp_path / "checks.toml"))
    with pytest.raises(FileAccessError, match=r"must be a file that can be read \(got Permission"):
        book.changes()
