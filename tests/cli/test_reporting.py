from __future__ import annotations

import pytest

from benchapp.cli import main
from benchapp.cli.reporting import numbered
from tests.report.samples import SAMPLES, TIME

FILES = [str(SAMPLES / "ga12_tank.csv"), str(SAMPLES / "ga12_lot" / "0209.csv")]
NOMINAL = ["--nominal", str(SAMPLES / "ga12.toml")]


def run(*words):
    return main(words, window=lambda _: 99)


def test_each_part_has_a_report_of_its_own(tmp_path, capsys):
    out = tmp_path / "r.html"
    assert run("compare", *FILES, *NOMINAL, "--report", str(out), "--time", TIME) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["r-1.html", "r-2.html"]
    assert TIME in (tmp_path / "r-1.html").read_text(encoding="utf-8")
    assert "FAIL" in capsys.readouterr().out


def test_a_complaint_goes_into_one_file(tmp_path, capsys):
    out = tmp_path / "c.html"
    assert run("compare", *FILES, *NOMINAL, "--complaint", str(out), "--operator", "<b>") == 1
    text = out.read_text(encoding="utf-8")
    assert "Complaint to the supplier" in text
    assert "&lt;b&gt;" in text


def test_a_wrong_ending_is_refused_before_measuring(capsys, tmp_path):
    assert run("compare", *FILES, *NOMINAL, "--report", str(tmp_path / "r.doc")) == 2
    found = capsys.readouterr()
    assert found.out == ""
    assert "report: must end in .pdf" in found.err


def test_a_complaint_about_good_parts_is_refused(capsys, tmp_path):
    out = str(tmp_path / "c.html")
    assert run("compare", FILES[0], *NOMINAL, "--complaint", out) == 2
    assert "must have a part that failed" in capsys.readouterr().err


@pytest.mark.parametrize(("count", "name"), [(1, "r.pdf"), (3, "r-2.pdf")])
def test_one_file_keeps_its_name_and_several_are_numbered(count, name):
    assert numbered("r.pdf", 2, count) == name
