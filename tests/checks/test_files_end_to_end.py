"""From the bytes of a file to the findings: what each kind of damage and doubt leads to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchapp.checks import Evidence, examine, withhold
from benchapp.fit import fit
from benchapp.nominal import Outcome, judge, load_nominal
from benchapp.readers import Answers, understand
from tests.checks.scene import sweep

SAMPLES = Path(__file__).parents[2] / "sample_captures"
SCATTER = "accuracy-not-stated"
NOMINAL = load_nominal(SAMPLES / "ga12.toml")
HEAD = "# Test level: 1 V\n# Temperature: 23 degC\n# Fixture: four-terminal clip\n"


def _findings(path, circuit="tank", answers=None):
    """Read, fit, judge and examine a file; give the ids by level and the verdict that remains."""
    read = understand(path, answers or Answers())
    capture = read.captures[0]
    found = fit(capture, circuit)
    verdict = judge(NOMINAL, found, capture)
    findings = examine(
        Evidence(capture=capture, fit=found, nominal=NOMINAL, verdict=verdict, reading=read)
    )
    return {finding.id: finding for finding in findings}, withhold(verdict, findings)


def _write(tmp_path, rows, heading="Frequency (Hz),R (ohm),X (ohm)", preamble=HEAD):
    path = tmp_path / "capture.csv"
    path.write_text(preamble + heading + "\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def _rows(capture=None, *, separator=","):
    capture = capture or sweep()
    return [
        separator.join((f"{f:.0f}", f"{z.real:.7g}", f"{z.imag:.7g}"))
        for f, z in zip(capture.frequency, capture.impedance, strict=True)
    ]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("ga12_tank.csv", set()),
        ("ga12_tank_german.csv", {"set-up-differs"}),
        ("ga12_tank_status.txt", {"rows-left-out", "conditions-not-stated"}),
    ],
)
def test_the_samples_of_the_tank_pass_with_the_notes_they_deserve(name, expected):
    findings, verdict = _findings(SAMPLES / name)
    assert set(findings) == expected | {SCATTER}
    assert {finding.level for finding in findings.values()} <= {"note"}
    assert verdict.outcome is Outcome.PASS


def test_a_coil_without_its_capacitor_is_not_taken_for_the_tank():
    findings, verdict = _findings(SAMPLES / "ga12_coil.csv")
    assert findings["fit-misses-data"].level == "stop"
    assert verdict.outcome is Outcome.NOT_JUDGED
    findings, _ = _findings(SAMPLES / "ga12_coil.csv", "auto")
    assert "circuit-not-of-design" in findings


def test_a_clean_file_is_only_asked_for_the_accuracy(tmp_path):
    findings, verdict = _findings(_write(tmp_path, _rows()))
    assert set(findings) == {SCATTER}
    assert verdict.outcome is Outcome.PASS


def test_a_file_in_the_wrong_unit_is_stopped_not_failed(tmp_path):
    # Ohm written where kilohm is meant: L reads a thousand times too small.
    findings, verdict = _findings(
        _write(tmp_path, _rows(), heading="Frequency (Hz),R (mohm),X (mohm)")
    )
    assert findings["unit-slip"].level == "stop"
    assert "1,000 times below what the design asks" in findings["unit-slip"].text
    assert verdict.outcome is Outcome.NOT_JUDGED


def test_overload_marks_are_told_with_their_lines(tmp_path):
    rows = _rows()
    rows[100] = f"{rows[100].split(',')[0]},9.9E37,9.9E37"
    findings, verdict = _findings(_write(tmp_path, rows))
    assert "line 105" in findings["rows-left-out"].text
    assert findings["rows-left-out"].level == "note"
    assert verdict.outcome is Outcome.PASS


def test_a_line_cut_short_is_told(tmp_path):
    findings, _ = _findings(_write(tmp_path, [*_rows(), "154200,2"]))
    assert "1 row" in findings["rows-left-out"].text


def test_a_level_that_contradicts_the_design_is_not_judged(tmp_path):
    preamble = HEAD.replace("1 V", "0.1 V")
    findings, verdict = _findings(_write(tmp_path, _rows(), preamble=preamble))
    assert findings["conditions-contradict"].level == "stop"
    assert "taken at 100.0 mV" in findings["conditions-contradict"].text
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert "level" in verdict.reason


def test_a_file_that_states_nothing_is_judged_with_a_note(tmp_path):
    findings, verdict = _findings(_write(tmp_path, _rows(), preamble=""))
    assert set(findings) == {"conditions-not-stated", SCATTER}
    assert verdict.outcome is Outcome.PASS


def test_two_sweeps_in_one_file_are_noted(tmp_path):
    findings, _ = _findings(_write(tmp_path, [*_rows(), *_rows(sweep(seed=8))]))
    assert findings["several-sweeps"].level == "note"


def test_a_pair_without_its_equivalent_circuit_is_stopped(tmp_path):
    capture = sweep()
    omega = 2 * np.pi * capture.frequency
    z = capture.impedance
    rows = [
        f"{f:.0f},{1e3 * value.imag / w:.7g},{value.imag / value.real:.7g}"
        for f, w, value in zip(capture.frequency, omega, z, strict=True)
    ]
    path = _write(tmp_path, rows, heading="Frequency (Hz),L (mH),Q")
    findings, verdict = _findings(path)
    assert findings["series-or-parallel-open"].level == "stop"
    assert verdict.outcome is Outcome.NOT_JUDGED
    findings, _ = _findings(path, answers=Answers(model="series"))
    assert "series-or-parallel-open" not in findings


def test_a_sweep_that_ends_at_the_resonance_warns(tmp_path):
    findings, _ = _findings(_write(tmp_path, _rows(sweep(high=134.6e3))))
    assert findings["resonance-at-edge"].level == "warn"


def test_a_coarse_sweep_warns_with_a_better_one(tmp_path):
    findings, _ = _findings(_write(tmp_path, _rows(sweep(low=110e3, high=162e3, points=14))))
    assert "in steps of" in findings["sweep-too-coarse"].advice


def test_an_over_corrected_fixture_is_stopped(tmp_path):
    capture = sweep("coil", (1.63e-3, 9.4e-12, 6.2, 0.031), low=20e3, high=600e3)
    rows = [
        f"{f:.0f},{z.real - 80:.7g},{z.imag:.7g}"
        for f, z in zip(capture.frequency, capture.impedance, strict=True)
    ]
    findings, verdict = _findings(_write(tmp_path, rows), "auto")
    assert findings["negative-resistance"].level == "stop"
    assert verdict.outcome is Outcome.NOT_JUDGED
