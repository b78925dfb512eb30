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


REPORTS = {
    "compare": ["compare", FILES[0], *NOMINAL],
    "lot": ["lot", str(SAMPLES / "ga12_lot"), *NOMINAL],
    "nominal": ["nominal", NOMINAL[1]],
    "tank": ["tank", "--L", "1.62mH", "--C", "868pF", "--drive", "10V", "--R", "17"],
    "coil": ["coil", "straight", "--length", "50mm", "--wire", "0.5mm"],
    "wires": ["coil", "wires"],
    "marking": ["marking", "103K"],
}
TITLES = {"compare": "Part report", "lot": "Lot report", "nominal": "Nominal design"}


@pytest.mark.parametrize("name", REPORTS)
def test_every_report_is_the_same_again_and_is_not_written_over_unasked(name, tmp_path, capsys):
    out = tmp_path / "r.html"
    words = [*REPORTS[name], "--report", str(out), "--time", TIME]
    first = run(*words)
    assert first in (0, 1)
    text = out.read_text(encoding="utf-8")
    assert f"<h1>{TITLES.get(name, 'Calculation')}</h1>" in text
    capsys.readouterr()
    assert run(*words) == 2
    found = capsys.readouterr()
    assert found.out == ""
    assert "must be a new file" in found.err
    assert "--force" in found.err
    assert run(*words, "--force") == first
    assert out.read_text(encoding="utf-8") == text


@pytest.mark.parametrize("name", REPORTS)
def test_a_wrong_ending_is_refused_by_every_command(name, tmp_path, capsys):
    assert run(*REPORTS[name], "--report", str(tmp_path / "r.txt")) == 2
    assert "report: must end in .pdf" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_calculation_says_what_was_given_and_warns_of_what_it_found(tmp_path, capsys):
    out = tmp_path / "r.html"
    assert run(*REPORTS["tank"], "--report", str(out), "--operator", "A. Brandt") == 0
    text = out.read_text(encoding="utf-8")
    given = text.split("<h2>Given</h2>")[1].split("<h2>Results</h2>")[0]
    for name, value in (("L", "1.62mH"), ("C", "868pF"), ("drive", "10V")):
        assert f'<th scope="row">{name}</th><td>{value}</td>' in given
    assert "A. Brandt" not in given
    assert text.count("above the touch limit") == 1


def test_a_gauge_study_is_reported_and_its_plan_is_not(tmp_path, capsys):
    rows = ["part,person,trial,value"]
    rows += [
        f"{p},{q},{t},{p + 0.01 * q + 0.001 * t * p}"
        for p in range(1, 6)
        for q in (1, 2)
        for t in (1, 2)
    ]
    study, out = tmp_path / "s.csv", tmp_path / "r.html"
    study.write_text("\n".join(rows), encoding="utf-8")
    assert run("gauge", str(study), "--report", str(out)) == 0
    assert "<h1>Gauge study</h1>" in out.read_text(encoding="utf-8")
    assert run("gauge", "--plan", "3x2x2", "--report", str(tmp_path / "p.html")) == 2
    assert "--report: must be on a finished study" in capsys.readouterr().err


def test_the_lot_report_says_what_is_on_the_delivery(tmp_path, capsys):
    out = tmp_path / "r.html"
    run(
        *REPORTS["lot"],
        "--supplier",
        "<i>Coil works",
        "--operator",
        "B. Cole",
        "--report",
        str(out),
    )
    text = out.read_text(encoding="utf-8")
    assert "&lt;i&gt;Coil works" in text
    assert text.count("B. Cole") == 2
