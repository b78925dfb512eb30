"""Accuracy, thresholds and acknowledgements at the command line."""

from __future__ import annotations

import json

import pytest

from benchapp.__main__ import main
from benchapp.jobs import SAMPLE_CAPTURE, SAMPLE_NOMINAL, sample_folder, threshold_book

CAPTURE = str(sample_folder() / SAMPLE_CAPTURE)
NOMINAL = str(sample_folder() / SAMPLE_NOMINAL)
METER = str(sample_folder() / "bench_meter.accuracy.toml")


def run(capsys, *words: str) -> tuple[int, str, str]:
    status = main(list(words))
    shown = capsys.readouterr()
    return status, shown.out, shown.err


def test_without_an_accuracy_the_verdict_says_what_u_holds(capsys):
    status, out, _ = run(capsys, "compare", CAPTURE, "--nominal", NOMINAL)
    assert status == 0
    assert "note: The accuracy of the instrument is not stated. U holds the scatter" in out
    assert "U = 2 u, holding the scatter of this capture only" in out
    _, out, _ = run(capsys, "compare", CAPTURE, "--nominal", NOMINAL, "--json")
    found = json.loads(out)
    assert found["U_holds"] == "scatter"
    assert [each["id"] for each in found["checks"]] == ["accuracy-not-stated"]


def test_with_an_accuracy_u_is_combined_and_its_budget_told(capsys):
    words = ("compare", CAPTURE, "--nominal", NOMINAL, "--accuracy", METER)
    status, out, _ = run(capsys, *words)
    assert status == 0
    assert "holding scatter and the stated accuracy of the instrument" in out
    assert "% of the variance: reading of the instrument. To halve U, bring" in out
    _, out, _ = run(capsys, *words, "--json")
    found = json.loads(out)
    assert found["U_holds"] == "scatter and instrument"
    assert found["checks"] == []
    for limit in found["limits"]:
        budget = limit["budget"]
        assert sum(term["share"] for term in budget["terms"]) == pytest.approx(1)
        assert limit["U"] == pytest.approx(2 * budget["u"], rel=1e-6)
        assert limit["probability_conforming"] == pytest.approx(1 - limit["probability_outside"])
        assert limit["false_accept_at_limit"] == pytest.approx(0.02275, abs=1e-4)
    assert found["limits"][0]["uncertainty_ratio"] > 4


def test_fit_gives_both_uncertainties(capsys):
    _, plain, _ = run(capsys, "fit", CAPTURE, "--json")
    status, out, _ = run(capsys, "fit", CAPTURE, "--accuracy", METER, "--json")
    assert status == 0
    before, after = json.loads(plain), json.loads(out)
    assert before["combined"] is None
    assert after["estimates"] == before["estimates"]
    assert after["combined"]["holds"] == "scatter and instrument"
    assert after["combined"]["u"]["L"] > 5 * after["estimates"]["L"]["u"]
    _, out, _ = run(capsys, "fit", CAPTURE, "--accuracy", METER)
    assert "holding scatter and the stated accuracy of the instrument" in out


def test_thresholds_of_a_file_are_used_and_a_slip_is_refused(capsys, tmp_path):
    path = tmp_path / "checks.toml"
    path.write_text("[low-q-resonance]\nq = 90\n", encoding="utf-8")
    _, out, _ = run(capsys, "fit", CAPTURE, "--checks", str(path))
    assert "note: At Q = 78 zero phase lies" in out
    path.write_text("[low-q-resonance]\nQ = 90\n", encoding="utf-8")
    status, _, err = run(capsys, "fit", CAPTURE, "--checks", str(path))
    assert status == 2
    assert "checks.toml, line 2: low-q-resonance.Q must be a known key" in err


def test_an_acknowledged_finding_is_printed_with_name_and_reason(capsys):
    words = ("compare", CAPTURE, "--nominal", NOMINAL)
    who = "accuracy-not-stated=A. Brandt: only compared with yesterday"
    status, out, _ = run(capsys, *words, "--acknowledge", who)
    assert status == 0
    assert "acknowledged by A. Brandt: only compared with yesterday" in out
    _, out, _ = run(capsys, *words, "--acknowledge", who, "--json")
    (check,) = json.loads(out)["checks"]
    assert check["acknowledged"] == {
        "name": "A. Brandt",
        "reason": "only compared with yesterday",
    }


def test_a_stop_cannot_be_acknowledged_at_the_command_line(capsys, tmp_path):
    path = tmp_path / "design.toml"
    path.write_text(
        'title = "x"\ncircuit = "tank"\n[limits.L]\nnominal = "1.62 uH ±3 %"\n', encoding="utf-8"
    )
    words = ("compare", CAPTURE, "--nominal", str(path), "--acknowledge", "unit-slip=A. B.: fine")
    status, _, err = run(capsys, *words)
    assert status == 2
    assert "must be of a warning or a note (got unit-slip, a stop)" in err


@pytest.mark.parametrize("text", ["unit-slip", "unit-slip=A. B.", "unit-slip A: b"])
def test_an_acknowledgement_needs_its_form(capsys, text):
    status, _, err = run(capsys, "compare", CAPTURE, "--nominal", NOMINAL, "--acknowledge", text)
    assert status == 2
    assert "--acknowledge: must be CHECK=NAME:REASON" in err


def test_a_missing_accuracy_file_is_one_sentence(capsys):
    status, _, err = run(capsys, "fit", CAPTURE, "--accuracy", "nowhere.toml")
    assert status == 4
    assert "nowhere.toml" in err


def test_facts_come_from_a_file_and_reach_the_verdict(capsys, tmp_path):
    facts = tmp_path / "facts.toml"
    facts.write_text('dwell = "100 us"\nreference_within = false\n', encoding="utf-8")
    words = ("compare", CAPTURE, "--nominal", NOMINAL, "--facts", str(facts))
    status, out, _ = run(capsys, *words, "--json")
    found = json.loads(out)
    assert status == 3
    assert found["outcome"] == "not-judged"
    assert found["reason"].startswith("The reference coil was outside its limits")
    levels = {each["id"]: each["level"] for each in found["checks"]}
    assert levels["reference-coil-out"] == "stop"
    assert levels["dwell-too-short"] == "warn"


def test_a_broken_file_of_facts_is_told_with_its_line(capsys, tmp_path):
    facts = tmp_path / "facts.toml"
    facts.write_text('dwell = "5 V"\n', encoding="utf-8")
    status, _, err = run(capsys, "compare", CAPTURE, "--nominal", NOMINAL, "--facts", str(facts))
    assert status == 2
    assert "facts.toml, line 1: dwell must" in err


def test_thresholds_kept_in_the_settings_hold_unless_a_file_is_named(
    capsys, tmp_path, monkeypatch
):
    monkeypatch.setenv("BENCHAPP_SETTINGS", str(tmp_path))
    threshold_book({"BENCHAPP_SETTINGS": str(tmp_path)}).keep({"low-q-resonance": {"q": 200.0}})
    words = ("compare", CAPTURE, "--nominal", NOMINAL)
    _, out, _ = run(capsys, *words)
    assert "At Q = 78" in out
    own = tmp_path / "own.toml"
    own.write_text("[low-q-resonance]\nq = 10\n", encoding="utf-8")
    _, out, _ = run(capsys, *words, "--checks", str(own))
    assert "At Q = 78" not in out
