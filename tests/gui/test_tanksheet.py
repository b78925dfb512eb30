"""The sheet works out what the core works out; rivals give way; every change can be taken back."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from PySide6.QtCore import QLocale

from benchapp.gui.tanksheet import EXAMPLE, Refusal, TankSheet, judge_typed, texts_from, work_out
from benchapp.nominal import Limit
from benchapp.tank import (
    Band,
    CapacitorRatings,
    Drive,
    Losses,
    TankDesign,
    Temperature,
    drive_tank,
    solve,
    stack,
    stack_of,
    stress_cases,
)
from benchapp.units import parse_quantity
from tests.gui.factories import L_LIMIT, nominal

DESIGN = TankDesign(
    inductance=parse_quantity("1.62 mH ±3 %", "H"),
    capacitance=parse_quantity("868 pF ±2 %", "F"),
    losses=Losses(coil_q=85.0, loss_tangent=3e-4, source=2.0, load=30.0),
    drive=Drive(form="full-bridge", size=24.0, frequency=135e3),
    band=Band(low=132e3, high=136.5e3),
)


def test_the_sums_are_those_of_the_core():
    worked = work_out(EXAMPLE)
    sums = solve(DESIGN)
    assert worked.design == DESIGN
    assert worked.sums == sums
    assert worked.driven == drive_tank(DESIGN, sums)
    assert worked.stacked == stack(stack_of(sums, band=DESIGN.band))


def test_temperature_correlation_and_distribution_reach_the_stack_up():
    texts = {
        **EXAMPLE,
        "warmest": "60",
        "drift_L": "20..80",
        "drift_C": "-250 ppm/K",
        "correlation": "0.5",
        "distribution": "uniform",
    }
    expected = stack_of(
        solve(DESIGN),
        temperature=Temperature(
            inductance=(1e-6 * 20, 1e-6 * 80),
            capacitance=(1e-6 * -250, 1e-6 * -250),
            low_celsius=23.0,
            high_celsius=60.0,
        ),
        distribution="uniform",
        correlation=0.5,
        band=DESIGN.band,
    )
    assert work_out(texts).stack_up == expected


def test_a_temperature_range_without_coefficients_moves_nothing():
    assert work_out({**EXAMPLE, "warmest": "60"}).stack_up.temperature is None


@pytest.mark.parametrize("given", [{}, {"L": "1 mH"}, {"L": "1 mH", "C": "1 nF", "f0": "1 kHz"}])
def test_it_takes_exactly_two_of_the_three(given):
    assert work_out(given) is None


@pytest.mark.parametrize(
    ("key", "words", "reason"),
    [
        ("L", "12 ohm", "L: quantity: must be in H (got '12 ohm')."),
        ("L", "0 mH", "inductance: must be above zero"),
        ("coil_q", "-3", "coil Q: must be above zero"),
        ("size", "2 A", "size: quantity: must be in V"),
        ("drift_C", "warm", "C drifts: number"),
        ("band_low", "137 kHz", "band: must run from low to high"),
        ("correlation", "2", "correlation: must be between two contributors"),
    ],
)
def test_what_cannot_be_taken_is_refused_with_its_reason(key, words, reason):
    found = work_out({**EXAMPLE, key: words})
    assert isinstance(found, Refusal)
    assert reason in found.words


def test_a_refusal_names_the_blank():
    assert work_out({**EXAMPLE, "C": "868 pH"}).key == "C"
    assert judge_typed({"curve": "10kHz"}, None).key == "curve"
    assert judge_typed({**TYPED, "duty_C": "0 nF"}, None).key == "duty_C"
    assert "C: must be above zero." in judge_typed({**TYPED, "duty_C": "0 nF"}, None).words


TYPED = {"duty": "typed", "duty_C": "220 nF", "duty_frequency": "100 kHz", "duty_size": "20 A"}


def test_a_typed_current_gives_the_worked_example_of_practice():
    """20 A through 220 nF at 100 kHz: 144.7 V rms, 204.6 V peak, 0.868 W at tan delta 3e-4."""
    (case,) = judge_typed({**TYPED, "duty_tangent": "3e-4"}, None)
    assert case.duty.voltage == pytest.approx(144.69, rel=1e-4)
    assert case.duty.peak == pytest.approx(204.62, rel=1e-4)
    assert case.duty.dissipation == pytest.approx(0.868, rel=1e-3)


def test_a_typed_voltage_is_taken_as_it_is():
    (case,) = judge_typed({**TYPED, "duty_size": "145 V", "duty_bias": "12 V"}, None)
    assert case.duty.voltage == 145
    assert case.duty.peak == pytest.approx(145 * math.sqrt(2) + 12)


def test_nothing_is_judged_before_it_is_said_what_the_capacitor_bears():
    assert judge_typed({"duty": "typed", "duty_C": "220 nF"}, None) is None
    assert judge_typed({"duty": "tank"}, None) is None
    assert judge_typed({"duty": "tank"}, work_out({**EXAMPLE, "form": ""})) is None


def test_the_driven_tank_is_judged_as_the_core_does():
    worked = work_out(EXAMPLE)
    texts = {
        **EXAMPLE,
        "duty": "tank",
        "rated_dc": "2 kV",
        "rated_slew": "50",
        "curve": "10kHz:1kV 200kHz:300V",
    }
    ratings = CapacitorRatings(dc_volt=2e3, slew=50e6, curve=((10e3, 1e3), (200e3, 300.0)))
    expected = stress_cases(worked.design, worked.sums, worked.driven, ratings)
    assert judge_typed(texts, worked) == expected
    assert len(expected) > 1


def test_ratings_that_cannot_be_are_refused():
    assert "must be above zero" in judge_typed({**TYPED, "rated_dc": "-5 V"}, None).words
    assert "derating curve: must have two or more points" in (
        judge_typed({**TYPED, "curve": "10kHz:90V"}, None).words
    )


@pytest.fixture
def sheet(qapp):
    made = TankSheet()
    yield made
    made.deleteLater()


def test_of_three_the_one_typed_longest_ago_is_worked_out(sheet):
    sheet.type("L", "1.62 mH")
    sheet.type("f0", "134.2 kHz")
    assert sheet.worked.sums.derived == "C"
    sheet.type("C", "868 pF")
    assert sheet.texts["L"] == ""
    assert sheet.worked.sums.derived == "L"


def test_a_coil_has_a_resistance_or_a_q(sheet):
    sheet.fill(EXAMPLE)
    sheet.type("coil_resistance", "16")
    assert sheet.texts["coil_q"] == ""
    assert sheet.worked.design.losses.coil_resistance == 16
    sheet.type("capacitor_resistance", "0.4")
    assert sheet.texts["loss_tangent"] == ""


def test_undo_takes_back_blank_by_blank_and_a_filling_as_one(sheet):
    sheet.fill(EXAMPLE)
    for words in ("1", "15", "150"):
        sheet.type("coil_q", words)
    sheet.type("load", "10 ohm")
    sheet.undo()
    assert sheet.texts["load"] == "30 ohm"
    assert sheet.texts["coil_q"] == "150"
    sheet.undo()
    assert sheet.texts["coil_q"] == "85"
    sheet.undo()
    assert sheet.worked is None
    assert not sheet.can_undo
    sheet.undo()
    assert not sheet.can_undo


def test_typing_the_same_again_is_no_change(sheet):
    sheet.type("L", "")
    assert not sheet.can_undo


def test_a_design_is_offered_until_a_person_types(sheet):
    design = nominal(
        limits=(
            L_LIMIT,
            Limit(quantity="f0", unit="Hz", lower=132.187e3, upper=136.213e3, nominal=134.2e3),
        )
    )
    sheet.offer(texts_from(design))
    assert sheet.texts["L"] == "1.62 mH ±3 %"
    assert sheet.worked.design.band == Band(low=132187.0, high=136213.0)
    assert sheet.worked.sums.derived == "C"
    assert not sheet.can_undo
    sheet.type("C", "868 pF ±2 %")
    assert sheet.worked.sums.derived == "f0"
    sheet.offer(texts_from(replace(design, limits=(replace(L_LIMIT, nominal=1.6e-3),))))
    assert sheet.texts["L"] == "1.62 mH ±3 %"


def test_several_limits_of_one_quantity_give_the_first():
    limits = (replace(L_LIMIT, at=1e3), replace(L_LIMIT, at=2e3, nominal=1.61e-3))
    assert texts_from(nominal(limits=limits))["L"] == "1.62 mH ±3 %"


def test_a_german_desktop_types_commas(sheet):
    QLocale.setDefault(QLocale(QLocale.Language.German, QLocale.Country.Germany))
    sheet.fill({"L": "1,62 mH ±3 %", "C": "868 pF"})
    assert sheet.worked.sums.inductance.nominal == pytest.approx(1.62e-3)
    assert texts_from(nominal(limits=(L_LIMIT,)))["L"] == "1,62 mH ±3 %"
