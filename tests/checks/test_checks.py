"""The table of checks as a whole: every row speaks when it must and is silent when it must."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.capture import Noise, Sweep
from benchapp.checks import (
    CHECKS,
    Acknowledgement,
    Evidence,
    Facts,
    Finding,
    LevelPoint,
    acknowledge,
    examine,
    load_thresholds,
    thresholds,
    withhold,
)
from benchapp.circuit import CIRCUITS
from benchapp.errors import UsageError
from benchapp.fit import Fit
from benchapp.nominal import Outcome, Verdict, judge
from benchapp.tank import CapacitorDuty
from benchapp.uncertainty import Accuracy, Stated
from benchapp.units import Estimate
from tests.checks import (
    test_design,
    test_duty,
    test_file,
    test_fitted,
    test_handling,
    test_manner,
    test_record,
    test_station,
    test_sweep,
)
from tests.checks.scene import TANK, coil, design, evidence, found, limited, reading, sweep

CASES = {
    name: case
    for module in (
        test_design,
        test_duty,
        test_file,
        test_fitted,
        test_handling,
        test_manner,
        test_record,
        test_station,
        test_sweep,
    )
    for name, case in module.CASES.items()
}
IDS = [check.id for check in CHECKS]
DOCUMENT = Path(__file__).parents[2] / "docs" / "checks.md"


def test_every_check_has_its_cases():
    assert sorted(CASES) == sorted(IDS)
    assert len(set(IDS)) == len(IDS)


@pytest.mark.parametrize("name", IDS)
def test_a_check_is_raised_by_its_capture(name):
    findings = found(CASES[name].raises(), name)
    assert findings
    assert all(finding.text for finding in findings)


@pytest.mark.parametrize("name", IDS)
def test_a_check_is_not_raised_by_its_near_miss(name):
    assert found(CASES[name].misses(), name) == []


@pytest.mark.parametrize("check", CHECKS, ids=IDS)
def test_a_check_is_described_whole(check):
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", check.id)
    assert check.level in ("stop", "warn", "note")
    assert check.condition
    assert check.source
    assert check.advice or check.id == "remark-of-the-fit"
    for text in (check.condition, check.text, check.advice):
        assert text == text.strip()
    assert all(part[-1] == "." for part in (check.text, check.advice) if part)


def test_a_finding_carries_what_its_check_says():
    check = next(each for each in CHECKS if each.id == "no-guard-band")
    (finding,) = found(CASES["no-guard-band"].raises(), "no-guard-band")
    assert finding == Finding(
        id="no-guard-band",
        level="note",
        text=f"The design has no guard band. {check.text}",
        advice=check.advice,
        source="JCGM 106:2012, 8.2 (simple acceptance)",
    )


def test_the_gravest_findings_come_first():
    seen = evidence(coil(), "tank", nominal=design(decision={"guard": 0}), set_aside=(40,))
    levels = [finding.level for finding in examine(seen)]
    assert levels == sorted(levels, key=("stop", "warn", "note").index)
    assert {"stop", "note"} <= set(levels)


def test_a_good_part_raises_nothing():
    accuracy = Accuracy(reading=Stated(bound=1e-3))
    assert examine(evidence(sweep(), "tank", nominal=design(), accuracy=accuracy)) == ()


def test_clean_captures_seldom_raise_a_warning():
    raised, drawn = 0, 0
    rng = np.random.default_rng(77)
    for seed in range(60):
        spread = np.exp(0.02 * rng.standard_normal(3))
        capture = sweep(values=TANK * spread, seed=seed, noise=10 ** rng.uniform(-3.5, -2))
        wound = coil(seed=seed, noise=10 ** rng.uniform(-3.5, -2.3))
        for seen in (evidence(capture), evidence(wound)):
            drawn += 1
            raised += any(finding.level != "note" for finding in examine(seen))
    assert (drawn, raised) <= (120, 2)


def test_a_threshold_can_be_changed():
    seen = CASES["low-q-resonance"].misses()
    changes = {"low-q-resonance": {"q": 20}}
    assert "low-q-resonance" in {finding.id for finding in examine(seen, changes)}


def test_thresholds_start_from_the_defaults_of_the_table():
    changed = thresholds({"unit-slip": {"within": 0.2}})
    assert changed["unit-slip"]["within"] == 0.2
    del changed["unit-slip"]
    assert changed == {
        check.id: dict(check.thresholds) for check in CHECKS if check.id != "unit-slip"
    }


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"unit-slop": {"within": 1}}, r"must belong to a check that has some \(got 'unit-slop'"),
        ({"no-guard-band": {"x": 1}}, "must belong to a check that has some"),
        ({"unit-slip": {"width": 1}}, r"must be one of within \(got 'width'\)"),
        ({"unit-slip": {"within": "1"}}, r"must be a number \(got '1'\)\. The default is 0\.1"),
        ({"unit-slip": {"within": math.nan}}, "must be a number"),
        ({"unit-slip": {"within": True}}, "must be a number"),
    ],
)
def test_a_threshold_that_does_not_exist_is_refused(changes, message):
    with pytest.raises(UsageError, match=message):
        thresholds(changes)


def test_a_stop_withholds_a_pass_and_keeps_the_values():
    seen = evidence(sweep(), "tank", nominal=design())
    stop = Finding(id="unit-slip", level="stop", text="Off by 1000.")
    verdict = withhold(seen.verdict, (stop,))
    assert seen.verdict.outcome is Outcome.PASS
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert verdict.reason == "Off by 1000."
    for before, after in zip(seen.verdict.limits, verdict.limits, strict=True):
        assert after.outcome is Outcome.NOT_JUDGED
        assert after.measured == before.measured
        assert (after.margin_percent, after.probability_outside) == (None, None)
        assert after.reason == "Off by 1000."


def test_a_unit_slip_in_a_design_withholds_the_fail():
    nominal = limited(L={"nominal": "1.62 µH", "tolerance": "±3 %"})
    seen = evidence(sweep(), "tank", nominal=nominal)
    assert seen.verdict.outcome is Outcome.FAIL
    assert withhold(seen.verdict, examine(seen)).outcome is Outcome.NOT_JUDGED


def test_warnings_and_notes_leave_the_verdict_alone():
    seen = evidence(sweep(), "tank", nominal=design())
    others = tuple(Finding(id="x", level=level, text="y") for level in ("warn", "note"))
    assert withhold(seen.verdict, others) is seen.verdict


def test_what_was_not_judged_keeps_its_own_reason():
    verdict = Verdict(outcome=Outcome.NOT_JUDGED, reason="the sweep does not reach 134 kHz")
    stop = Finding(id="unit-slip", level="stop", text="Off by 1000.")
    assert withhold(verdict, (stop,)).reason == verdict.reason
    seen = evidence(
        sweep(), "tank", nominal=limited(L={"lower": "1 mH"}, Q={"lower": 1, "at": "1 MHz"})
    )
    first, second = withhold(seen.verdict, (stop,)).limits
    assert first.reason == "Off by 1000."
    assert "does not reach" in second.reason


def _any_fit(capture, numbers, flags, circuit):
    """Make a fit of odd numbers, as no data would give it; finite where it has converged."""
    elements = CIRCUITS[circuit].elements if circuit in CIRCUITS else ("f0", "QL")
    size, points = len(elements), capture.frequency.size
    values = np.resize(numbers, size)
    if flags[2]:
        values = np.where((values > 1e-20) & (values < 1e20), values, 1.0)
    names = [name for name in ("f0", "Q", "L", "QL", "tau") if flags[0]]
    estimates = [
        Estimate(name=name, value=float(value), u=abs(float(value)), unit="1")
        for name, value in zip(names, np.resize(numbers, 5), strict=False)
        if np.isfinite(value) and value > 0
    ]
    return Fit(
        kind="sweep",
        circuit=circuit,
        digest=capture.digest,
        elements=elements,
        values=values,
        covariance=np.outer(values, values) if flags[2] else np.full((size, size), numbers[0]),
        results=tuple(estimates),
        undetermined=("C",),
        describes=flags[1],
        converged=flags[2],
        noise=None,
        dof=0,
        used=np.arange(points) >= (points if flags[3] else points // 3),
        fitted=capture.impedance,
        residual=np.resize(numbers, points).astype(complex),
    )


ODD = st.sampled_from([0.0, -1.0, 1.0, 1e-300, 1e300, 1e9, 1e-12, math.nan, math.inf])


@given(
    frequency=st.lists(st.floats(1.0, 1e9), min_size=1, max_size=60, unique=True).map(sorted),
    parts=st.lists(st.floats(-1e12, 1e12), min_size=2, max_size=8),
    numbers=st.lists(ODD, min_size=1, max_size=6),
    flags=st.tuples(st.booleans(), st.booleans(), st.booleans(), st.booleans()),
    circuit=st.sampled_from([*CIRCUITS, "resonance"]),
    kind=st.sampled_from(["unknown", "relative", "reflection", "series-through", "shunt-through"]),
)
def test_no_capture_and_no_fit_breaks_a_check(frequency, parts, numbers, flags, circuit, kind):
    z = np.resize(parts, len(frequency)) + 1j * np.resize(parts[::-1], len(frequency))
    capture = Sweep(frequency=frequency, impedance=z, noise=Noise(kind=kind))
    odd = _any_fit(capture, numbers, flags, circuit)
    nominal = design()
    with np.errstate(all="ignore"):
        accuracy = Accuracy(reading=Stated(bound=1e-3), phase=Stated(bound=2e-3))
        verdict = judge(nominal, odd, capture, accuracy)
        seen = Evidence(
            capture=capture,
            fit=odd,
            nominal=nominal,
            verdict=verdict,
            reading=reading(capture),
            accuracy=accuracy,
        )
        findings = examine(seen)
    assert {finding.id for finding in findings} <= set(IDS)
    assert all(0 <= point < z.size for finding in findings for point in finding.points)
    assert withhold(verdict, findings).outcome in Outcome


EVERY_FACT = {
    "dwell": 1e-6,
    "f0_up": 1.3e5,
    "f0_down": 1.4e5,
    "monitor_variation": 0.5,
    "levels": (LevelPoint(level=1, f0=1e5, q=10), LevelPoint(level=2, f0=2e5, q=5)),
    "probe_capacitance": 1e-9,
    "probe_resistance": 1.0,
    "source_resistance": 1e3,
    "looser_f0": 1e5,
    "looser_q": 1e3,
    "skew_degrees": 9.0,
    "excitation_ends": 1.0,
    "compensation_age_hours": 99.0,
    "repeats_resistance": (1.0, 2.0),
    "repeats_f0": (1.0, 2.0),
    "dcr": 1e9,
    "capacitor_loss": 0.5,
    "duty": CapacitorDuty(voltage=1e3, frequency=1e5, capacitance=1e-6),
    "band": (1.0, 2.0),
    "f0_tolerance": 0.1,
    "drive_frequency": 1.0,
}


@pytest.mark.parametrize("circuit", [*CIRCUITS, "resonance"])
@pytest.mark.parametrize("number", [0.0, -1.0, 1e-300, 1e300])
def test_no_fact_breaks_a_check(circuit, number):
    capture = sweep()
    with np.errstate(all="ignore"):
        odd = _any_fit(capture, [number, 1.0], (True, True, True, False), circuit)
        seen = Evidence(capture=capture, fit=odd, nominal=design(), facts=Facts(**EVERY_FACT))
        ids = {finding.id for finding in examine(seen)}
    assert {"source-level-varies", "channels-skewed", "contact-scatters"} <= ids


def test_facts_that_are_as_they_should_be_raise_nothing():
    accuracy = Accuracy(reading=Stated(bound=1e-3))
    good = {
        "dwell": 2e-3,
        "f0_up": 134.04e3,
        "f0_down": 134.05e3,
        "monitor_variation": 0.001,
        "compensated": True,
        "compensation_age_hours": 1.0,
        "open_ratio": 1e3,
        "short_ratio": 1e-4,
        "calibration_due": "2026-12-31",
        "today": "2026-03-31",
        "reference_within": True,
        "in_lot": True,
        "attempt": 1,
        "unexplained_retests": 0,
        "random_sample": True,
        "dcr": 17.0,
        "band": (132e3, 136e3),
    }
    assert (
        examine(evidence(sweep(), "tank", nominal=design(), accuracy=accuracy, known=good)) == ()
    )


WHO = Acknowledgement(check="low-q-resonance", name="A. Brandt", reason="known for this part")


def test_an_acknowledged_finding_stays_with_name_and_reason():
    findings = (
        Finding(id="low-q-resonance", level="note", text="Low."),
        Finding(id="resonance-at-edge", level="warn", text="Edge."),
    )
    first, second = acknowledge(findings, (WHO,))
    assert (first.text, first.acknowledged) == ("Low.", WHO)
    assert second == findings[1]


def test_a_stop_cannot_be_acknowledged():
    stop = Finding(id="low-q-resonance", level="stop", text="Low.")
    with pytest.raises(UsageError, match=r"must be of a warning or a note \(got low-q-resonance"):
        acknowledge((stop,), (WHO,))


def test_an_acknowledgement_names_a_check_that_exists():
    with pytest.raises(UsageError, match="acknowledgement: must name a check"):
        acknowledge((), (Acknowledgement(check="x", name="y", reason="z"),))
    assert acknowledge((), (WHO,)) == ()


def _file(tmp_path, text):
    path = tmp_path / "checks.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_thresholds_come_from_a_file(tmp_path):
    changes = load_thresholds(_file(tmp_path, "[low-q-resonance]\nq = 100\n"))
    assert changes == {"low-q-resonance": {"q": 100.0}}
    seen = evidence(sweep(), "tank")
    assert not found(seen, "low-q-resonance")
    assert [each for each in examine(seen, changes) if each.id == "low-q-resonance"]


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("[low-q]\nq = 3\n", r"line 1: low-q must be a known key of the thresholds"),
        ("\n[low-q-resonance]\nQ = 3\n", r"line 3: low-q-resonance.Q must be a known key"),
        ("[low-q-resonance]\nq = true\n", r"line 2: low-q-resonance.q must be a number"),
        ("low-q-resonance = 3\n", r"line 1: low-q-resonance must be a table"),
        ("[fit-unsettled]\n", r"line 1: fit-unsettled must be a known key"),
        ("q =\n", r"line 1: must be TOML"),
    ],
)
def test_a_broken_file_of_thresholds_is_refused_with_its_line(tmp_path, text, match):
    with pytest.raises(UsageError, match=match):
        load_thresholds(_file(tmp_path, text))


def table():
    """Give the rows of the table in docs/checks.md."""
    rows = []
    for check in CHECKS:
        numbers = ", ".join(f"`{name}` {value:g}" for name, value in check.thresholds.items())
        cells = (f"`{check.id}`", check.level, check.condition, check.text, check.advice)
        cells = (*cells, numbers or "-", check.source)
        rows.append("| " + " | ".join(cell.replace("|", r"\|") or "-" for cell in cells) + " |")
    return rows


def test_the_document_lists_the_table_as_it_is():
    listed = [
        line
        for line in DOCUMENT.read_text(encoding="utf-8").splitlines()
        if line.startswith("| `")
    ]
    assert listed == table()


if __name__ == "__main__":
    print("\n".join(table()))
