"""Checks of the station."""

from __future__ import annotations

import pytest

from tests.checks.scene import TANK, Case, coil, evidence, found, known, sweep

CASES = {
    "compensation-stale": Case(
        raises=lambda: known(compensated=True, compensation_age_hours=8.5),
        misses=lambda: known(
            compensated=True, compensation_age_hours=7.5, compensation_change_kelvin=-2.5
        ),
    ),
    "compensation-doubtful": Case(
        raises=lambda: known(open_ratio=90.0), misses=lambda: known(open_ratio=110.0)
    ),
    "fixture-resonates": Case(  # the sweep goes up to 154 kHz
        raises=lambda: known(fixture_resonance=455e3),
        misses=lambda: known(fixture_resonance=470e3),
    ),
    "contact-scatters": Case(
        raises=lambda: known(repeats_resistance=(17.0, 17.9, 17.4)),
        misses=lambda: known(repeats_resistance=(17.0, 17.8, 17.4)),
    ),
    "surroundings-moved": Case(
        raises=lambda: known(repeats_f0=(134.0e3, 134.8e3)),
        misses=lambda: known(repeats_f0=(134.0e3, 134.6e3)),
    ),
    "dc-above-ac": Case(
        raises=lambda: known(dcr=18.2, dcr_expanded=0.1), misses=lambda: known(dcr=17.4)
    ),
    "capacitor-loss": Case(  # Q_C 10 times the coil's: 1/Q_C = D, 1/Q_L = 1/78.4 - D
        raises=lambda: known(capacitor_loss=1.3e-3), misses=lambda: known(capacitor_loss=1.0e-3)
    ),
    "calibration-overdue": Case(
        raises=lambda: known(calibration_due="2026-03-31", today="2026-04-01"),
        misses=lambda: known(calibration_due="2026-03-31", today="2026-03-31"),
    ),
    "reference-coil-out": Case(
        raises=lambda: known(reference_within=False), misses=lambda: known(reference_within=True)
    ),
    "reference-coil-unchecked": Case(
        raises=lambda: known(reference_open="its last check is 26 h old"),
        misses=lambda: known(reference_within=True, reference_open=""),
    ),
}


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"compensated": False}, "Open and short were not taken."),
        ({"compensation_change_kelvin": -3.5}, "the temperature moved by -3.5 K"),
    ],
)
def test_why_a_compensation_is_stale_is_told(facts, words):
    (finding,) = found(known(**facts), "compensation-stale")
    assert words in finding.text


def test_a_short_that_is_too_large_is_told():
    (finding,) = found(known(short_ratio=0.02), "compensation-doubtful")
    assert "The short is 2 % of the impedance of the part." in finding.text
    assert not found(known(short_ratio=0.009), "compensation-doubtful")


def test_small_resistances_may_scatter_by_a_few_milliohm():
    assert not found(known(repeats_resistance=(0.010, 0.014)), "contact-scatters")
    assert found(known(repeats_resistance=(0.010, 0.016)), "contact-scatters")


def test_a_coil_is_compared_at_its_lowest_frequency():
    seen = evidence(coil(low=100.0), "coil", known={"dcr": 8.0})
    (finding,) = found(seen, "dc-above-ac")
    assert "is above ESR at 100.0 Hz" in finding.text
    assert not found(evidence(coil(low=100.0), "coil", known={"dcr": 6.2}), "dc-above-ac")


def test_the_share_of_the_capacitor_is_told():
    # PET at 100 kHz: tan delta 1.7e-2, Q 59, below that of the whole tank: impossible.
    (finding,) = found(known(capacitor_loss=1.7e-2), "capacitor-loss")
    assert "The capacitor alone has Q = 58.8" in finding.text
    assert "leaves the coil no loss at all" in finding.text
    half = evidence(sweep(values=(*TANK[:2], 17.52)), "tank", known={"capacitor_loss": 1 / 156.8})
    (finding,) = found(half, "capacitor-loss")
    assert "50 % are its own, which leaves the coil Q = 15" in finding.text


def test_calibration_stops_a_lot():
    for facts in (
        {"calibration_due": ""},
        {"calibration_due": "2026-01-01", "today": "2026-01-03"},
    ):
        assert found(known(**facts), "calibration-overdue")[0].level == "warn"
        assert found(known(in_lot=True, **facts), "calibration-overdue")[0].level == "stop"
    (late,) = found(known(**facts), "calibration-overdue")
    assert "was due on 2026-01-01, 2 days ago" in late.text


def test_a_reference_coil_that_nobody_checked_stops_a_lot_only():
    why = "R-01 was never checked"
    (alone,) = found(known(reference_open=why), "reference-coil-unchecked")
    (in_lot,) = found(known(reference_open=why, in_lot=True), "reference-coil-unchecked")
    assert (alone.level, in_lot.level) == ("warn", "stop")
    assert alone.text.startswith(f"The reference coil does not speak for the station: {why}.")


def test_the_resonance_of_the_fixture_is_told_beside_the_sweep():
    (finding,) = found(known(fixture_resonance=300e3), "fixture-resonates")
    assert "resonates at 300.0 kHz; the points used go up to 154.0 kHz." in finding.text
