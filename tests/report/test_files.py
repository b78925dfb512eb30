from __future__ import annotations

import pytest

from benchapp.errors import FileAccessError
from benchapp.report.files import write_bytes


def test_a_file_is_replaced_whole_and_no_draft_stays(tmp_path):
    path = tmp_path / "report.pdf"
    path.write_bytes(b"old")
    write_bytes(str(path), b"new")
    assert path.read_bytes() == b"new"
    assert [each.name for each in tmp_path.iterdir()] == ["report.pdf"]


def test_a_folder_that_does_not_exist_is_named(tmp_path):
    with pytest.raises(FileAccessError, match="must be a file that can be written"):
        write_bytes(str(tmp_path / "no" / "report.pdf"), b"x")
