"""What is remembered about layouts is used and said, listed, passed on and forgotten."""

from __future__ import annotations

import json

import pytest

from tests.cli.test_commands import run

BARE = "1000,5,6\n2000,6,7\n3000,7,9\n4000,8,12\n"


@pytest.fixture
def bare(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHAPP_SETTINGS", str(tmp_path / "mine"))
    path = tmp_path / "a.csv"
    path.write_text(BARE, encoding="ascii")
    return str(path)


def remember(capsys, bare):
    status, _, _ = run(capsys, "read", bare, "--answer", "columns=f/Hz, R, X", "--remember")
    assert status == 0


def test_a_remembered_answer_is_used_and_said(capsys, bare):
    remember(capsys, bare)
    status, out, err = run(capsys, "read", bare, "--json")
    assert status == 0
    assert json.loads(out)["captures"][0]["points"] == 4
    assert err.startswith(f"benchapp: {bare}: earlier answers: columns = f/Hz, R, X")


def test_as_new_leaves_it_out(capsys, bare):
    remember(capsys, bare)
    status, _, err = run(capsys, "fit", bare, "--as-new")
    assert status == 4
    assert "must state everything" in err


def test_answers_are_listed(capsys, bare, tmp_path):
    status, out, _ = run(capsys, "answers")
    assert (status, out) == (0, f"{tmp_path / 'mine' / 'answers.toml'}: no layouts\n")
    remember(capsys, bare)
    _, out, _ = run(capsys, "answers")
    lines = out.splitlines()
    assert lines[0].endswith("answers.toml: 1 layout")
    assert lines[2] == "    columns = f/Hz, R, X"
    _, out, _ = run(capsys, "answers", "--json")
    found = json.loads(out)
    assert found["schema"] == "benchapp.answers/1"
    (entry,) = found["layouts"].values()
    assert entry["answers"] == {"columns": "f/Hz, R, X"}


def test_answers_are_passed_on_to_a_colleague(capsys, bare, tmp_path, monkeypatch):
    remember(capsys, bare)
    passed = tmp_path / "for_you.toml"
    assert run(capsys, "answers", "--export", str(passed))[0] == 0
    monkeypatch.setenv("BENCHAPP_SETTINGS", str(tmp_path / "yours"))
    assert run(capsys, "answers", "--take", str(passed))[0] == 0
    assert run(capsys, "read", bare)[0] == 0


def test_an_export_replaces_no_file_unless_a_person_says_so(capsys, bare, tmp_path):
    remember(capsys, bare)
    path = tmp_path / "there.toml"
    path.touch()
    status, _, err = run(capsys, "answers", "--export", str(path))
    assert status == 2
    assert "must be a new file (it is there already)" in err
    assert path.read_bytes() == b""
    assert run(capsys, "answers", "--export", str(path), "--force")[0] == 0
    assert len(path.read_bytes()) > 0


def test_nothing_to_pass_on_is_said(capsys, bare, tmp_path):
    status, _, err = run(capsys, "answers", "--export", str(tmp_path / "x.toml"))
    assert status == 4
    assert "must be a file with remembered answers (got none)" in err


def test_answers_are_forgotten(capsys, bare):
    remember(capsys, bare)
    _, out, _ = run(capsys, "answers", "--json")
    (name,) = json.loads(out)["layouts"]
    assert run(capsys, "answers", "--forget", name)[0] == 0
    status, _, err = run(capsys, "answers", "--forget", name)
    assert status == 2
    assert "must be one that is remembered" in err
