"""A whole lot by one command: decision, exit status, JSON, table, record."""

from __future__ import annotations

import csv
import json
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from benchapp.jobs import sample_folder
from benchapp.logbook import open_logbook
from tests.cli.test_commands import NOMINAL, run
from tests.jobs.test_lot_facts import study_file

FOLDER = str(sample_folder() / "ga12_lot")


@pytest.fixture
def good(tmp_path):
    """The parts of the sample lot that pass."""
    folder = tmp_path / "good"
    shutil.copytree(FOLDER, folder)
    (folder / "0209.csv").unlink()
    return folder


def lot(capsys, folder, *words):
    return run(capsys, "lot", str(folder), "--nominal", NOMINAL, *words)


def told(capsys, folder, *words):
    status, out, _ = lot(capsys, folder, "--json", *words)
    return status, json.loads(out)


def test_a_lot_with_one_reject_is_rejected(capsys):
    status, out, err = lot(capsys, FOLDER)
    assert (status, err) == (1, "")
    lines = out.splitlines()
    assert lines[0] == "Gate antenna coil GA-12: REJECT (1 of 13 parts nonconforming, Re 1)"
    assert "letter B (its arrow leads to E), AQL 1 %, level II, normal: n 13, Ac 0" in lines[1]
    assert "copy of the standard in force" in lines[1]
    assert lines[2] == "  13 parts: 12 pass, 1 fail"
    assert any(line.startswith("  keep apart 0209: fail, ESR is") for line in lines)


def test_the_json_has_the_fields_of_the_contract(capsys):
    status, found = told(capsys, FOLDER)
    assert status == 1
    assert found["schema"] == "benchapp.lot/1"
    assert found["parts"] == 13
    assert found["outcomes"] == {"pass": 12, "fail": 1}
    assert {key: found["plan"][key] for key in ("letter", "n", "Ac", "Re")} == {
        "letter": "B",
        "n": 13,
        "Ac": 0,
        "Re": 1,
    }
    assert found["accepted"] is False
    figures = found["statistics"]["L"]
    assert figures["n"] == 13
    assert figures["min"] < figures["mean"] < figures["max"]
    spread = (1.6686e-3 - 1.5714e-3) / 6 / figures["sd"]
    assert figures["cp"] == pytest.approx(spread, rel=1e-9)
    assert figures["cpk_lower95"] < figures["cpk"] <= figures["cp"]
    assert found["unreadable"] == []
    assert found["seconds"] > 0


def test_a_good_lot_is_accepted(capsys, good):
    status, found = told(capsys, good)
    assert (status, found["accepted"]) == (0, True)


def test_an_unreadable_part_leaves_the_lot_undecided(capsys, good):
    (good / "0214.csv").write_text("nothing\n")
    status, found = told(capsys, good)
    assert (status, found["accepted"]) == (3, None)
    (bad,) = found["unreadable"]
    assert bad["file"].endswith("0214.csv")
    assert "must hold rows of numbers" in bad["why"]
    _, out, _ = lot(capsys, good)
    assert "not read" in out


def test_a_sampling_plan_that_asks_for_more_stays_open(capsys, good):
    status, found = told(capsys, good, "--aql", "1.0", "--level", "II", "--size", "500")
    assert (status, found["accepted"]) == (3, None)
    assert (found["plan"]["letter"], found["plan"]["n"], found["plan"]["Ac"]) == ("H", 50, 1)


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        (("--plan", "zero"), "zero"),
        (("--plan", "all"), "all"),
        (("--plan", "variables", "--size", "40", "--level", "II"), "variables"),
    ],
)
def test_other_plans_can_be_chosen(capsys, good, words, kind):
    _, found = told(capsys, good, *words)
    assert found["plan"]["kind"] == kind
    status, out, _ = lot(capsys, good, *words)
    assert out.splitlines()[1].startswith("  lot of ")
    assert status in (0, 1, 3)


def test_the_table_has_a_row_for_each_part_and_its_units(capsys, tmp_path):
    path = tmp_path / "lot.csv"
    lot(capsys, FOLDER, "--csv", str(path))
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["serial"] for row in rows] == [f"02{n:02d}" for n in range(1, 14)]
    assert rows[8]["outcome"] == "fail"
    assert 1.5e-3 < float(rows[0]["L (H)"]) < 1.7e-3
    assert float(rows[0]["u of Q at 134.2 kHz (1)"]) > 0


def test_a_table_that_cannot_be_written_is_told(capsys, tmp_path):
    status, _, err = lot(capsys, FOLDER, "--csv", str(tmp_path / "no" / "lot.csv"))
    assert status == 4
    assert "must be a file that can be written" in err


def test_parts_are_kept_with_what_stands_on_the_delivery(capsys, tmp_path, good):
    address = str(tmp_path / "parts.benchlog")
    words = ("--record", address, "--supplier", "Coil works", "--operator", "M. Ito")
    _, found = told(capsys, good, *words)
    with open_logbook(address) as logbook:
        row = logbook.lot(found["lot"])
        assert (row.form.supplier, row.form.part) == ("Coil works", "Gate antenna coil GA-12")
        assert {part.operator for part in logbook.parts(row.key)} == {"M. Ito"}
        assert row.measurements == 12


def test_a_folder_without_captures_is_no_lot(capsys, tmp_path):
    status, _, err = lot(capsys, tmp_path)
    assert status == 4
    assert "must hold at least one capture that can be read" in err


def test_an_impossible_plan_is_refused(capsys, good):
    status, _, err = lot(capsys, good, "--aql", "1.1", "--size", "100")
    assert status == 2
    assert "AQL: must be a value of the table" in err


def test_captures_are_told_as_they_arrive_and_then_the_lot_is_judged(tmp_path):
    shutil.copy(Path(FOLDER) / "0201.csv", tmp_path)
    words = ["-m", "benchapp", "lot", str(tmp_path), "--nominal", NOMINAL, "--watch", "--json"]
    work = subprocess.Popen(
        [sys.executable, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert work.stderr.readline().startswith("waiting for captures in ")
        assert work.stderr.readline() == "0201.csv: PASS\n"
        shutil.copy(Path(FOLDER) / "0209.csv", tmp_path)
        assert work.stderr.readline().startswith("0209.csv: FAIL (ESR is ")
        (tmp_path / "notes.csv").write_text("nothing\n")
        assert work.stderr.readline().startswith("NOT READ: ")
        work.send_signal(signal.SIGINT)
        out, err = work.communicate(timeout=30)
    finally:
        work.kill()
        work.communicate()
    found = json.loads(out)
    assert "Traceback" not in err
    assert work.returncode == 1
    assert (found["parts"], len(found["unreadable"])) == (2, 1)


def test_a_table_that_is_there_is_replaced_only_with_force(capsys, tmp_path):
    path = tmp_path / "lot.csv"
    path.write_text("precious", encoding="utf-8")
    status, out, err = lot(capsys, FOLDER, "--csv", str(path))
    assert (status, out) == (2, "")
    assert "lot.csv: must be a new file (it is there already)." in err
    assert "add --force" in err
    assert path.read_text(encoding="utf-8") == "precious"
    assert lot(capsys, FOLDER, "--csv", str(path), "--force")[0] == 1
    assert len(path.read_text(encoding="utf-8").splitlines()) == 14


def test_a_plan_with_zero_acceptance_is_chosen_by_fraction_and_risk(capsys, good):
    words = ("--size", "200", "--plan", "zero")
    usual = told(capsys, good, *words)[1]["plan"]
    assert (usual["n"], usual["fraction"], usual["risk"]) == (41, 0.05, 0.1)
    for percent in ("2.5", "2.5 %"):
        plan = told(capsys, good, *words, "--fraction", percent, "--risk", "5 %")[1]["plan"]
        assert (plan["n"], plan["Ac"], plan["fraction"], plan["risk"]) == (90, 0, 0.025, 0.05)
    out = lot(capsys, good, *words, "--fraction", "2.5")[1]
    assert "a lot with 2.5 % nonconforming passes with at most 10 %" in out


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--plan", "zero", "--fraction", "0"], "--fraction: must be between 0 and 100 %"),
        (["--plan", "zero", "--risk", "100"], "--risk: must be between 0 and 100 %"),
        (["--plan", "variables", "--risk", "5"], "must come with --plan zero (got variables)"),
        (["--fraction", "5"], "must come with --plan zero (got no plan)"),
    ],
)
def test_a_fraction_or_risk_that_cannot_be_is_refused(capsys, good, words, why):
    status, _, err = lot(capsys, good, *words)
    assert status == 2
    assert why in err


def test_how_a_sample_was_picked_reaches_the_checks_of_the_lot(capsys, good):
    found = told(capsys, good, "--picked", "as-it-came")[1]
    assert [one["id"] for one in found["checks"]] == ["capability-from-few", "sample-not-random"]
    ids = [one["id"] for one in told(capsys, good, "--picked", "at-random")[1]["checks"]]
    assert ids == ["capability-from-few"]
    out = lot(capsys, good, "--picked", "as-it-came")[1]
    assert "  note sample-not-random: The sample was not picked at random." in out


def test_a_gauge_study_is_told_and_kept_for_the_lots_that_follow(capsys, tmp_path, good):
    study_file(tmp_path, 9e-6)
    words = ("--record", str(tmp_path / "r.benchlog"))
    study = ("--gauge", str(tmp_path / "study.csv"))
    first = told(capsys, good, *words, *study)[1]["checks"]
    assert first[0]["id"] == "gauge-too-wide"
    assert (first[0]["level"], told(capsys, good, *words)[1]["checks"]) == ("warn", first)
    ids = [one["id"] for one in told(capsys, good)[1]["checks"]]
    assert "gauge-too-wide" not in ids
