"""A design is told in words, with its history and what changed in it."""

from __future__ import annotations

import json

from tests.cli.test_commands import NOMINAL, run


def earlier(tmp_path):
    with open(NOMINAL, encoding="utf-8") as file:  # noqa: PTH123 - a plain text file
        text = file.read()
    path = tmp_path / "before.toml"
    path.write_text(text.replace('"±3 %"', '"±5 %"'), encoding="utf-8")
    return str(path)


def test_a_design_is_told_in_words(capsys):
    status, out, err = run(capsys, "nominal", NOMINAL)
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "Gate antenna coil GA-12 rev C, circuit tank"
    assert lines[1].split() == [
        "L",
        "1.5714",
        "mH",
        "to",
        "1.6686",
        "mH,",
        "nominal",
        "1.62",
        "mH",
    ]
    assert "  guard band 1 U, U = 2 u" in lines


def test_what_changed_is_told(capsys, tmp_path):
    status, out, _ = run(capsys, "nominal", NOMINAL, "--against", earlier(tmp_path))
    assert status == 0
    assert out.splitlines()[-1] == "  L, tolerance: ±5 % -> ±3 %"
    _, out, _ = run(capsys, "nominal", NOMINAL, "--against", NOMINAL)
    assert out.splitlines()[-1] == f"nothing changed against {NOMINAL}"


def test_the_history_is_told(capsys, tmp_path):
    path = earlier(tmp_path)
    with open(path, "a", encoding="utf-8") as file:  # noqa: PTH123 - a plain text file
        file.write('[[history]]\nrevision = "B"\ndate = "2026-03-14"\nby = "M. Ito"\n')
    _, out, _ = run(capsys, "nominal", path)
    assert "  2026-03-14 rev B by M. Ito: no note" in out.splitlines()


def test_the_json_holds_texts_and_bounds(capsys, tmp_path):
    _, out, _ = run(capsys, "nominal", NOMINAL, "--against", earlier(tmp_path), "--json")
    found = json.loads(out)
    assert found["schema"] == "benchapp.nominal/1"
    assert found["limits"]["L"] == {"nominal": "1.62 mH", "tolerance": "±3 %"}
    bound = found["bounds"][0]
    assert (bound["quantity"], bound["unit"]) == ("L", "H")
    assert abs(bound["lower"] / 1.5714e-3 - 1) < 1e-12
    assert found["changed"] == ["L, tolerance: ±5 % -> ±3 %"]


def test_a_file_that_is_no_design_is_refused_with_its_line(capsys, tmp_path):
    path = tmp_path / "no.toml"
    path.write_text('title = "x"\ncolour = "red"\n', encoding="utf-8")
    status, _, err = run(capsys, "nominal", str(path))
    assert status == 4
    assert "line 2: colour must be a known key" in err
