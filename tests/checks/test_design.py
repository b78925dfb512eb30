"""Checks of the result against the design."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from benchapp.capture import Conditions
from benchapp.uncertainty import Accuracy, Stated
from tests.checks.scene import (
    DESIGN,
    STATED,
    TANK,
    Case,
    coil,
    design,
    evidence,
    found,
    limited,
    ring_down,
    sweep,
)

TWO = {"L": "1.62 mH", "C": "868 pF"}
HOT = {**DESIGN["conditions"], "temperature": "23 ±20 degC"}


def _inductance(text):
    return evidence(sweep(), "tank", nominal=limited(L={"nominal": text, "tolerance": "±3 %"}))


def _resonance(tolerance):
    both = {name: {"nominal": text, "tolerance": tolerance} for name, text in TWO.items()}
    nominal = limited(**both, f0={"nominal": "134.2 kHz", "tolerance": "±1.5 %"})
    return evidence(sweep(), "tank", nominal=nominal)


def _under(nominal=None, **conditions):
    capture = sweep(conditions=replace(STATED, **conditions))
    return evidence(capture, "tank", nominal=nominal or design())


def _stated(**entries):
    accuracy = Accuracy(**entries)
    return evidence(sweep(), "tank", nominal=design(), accuracy=accuracy)


CASES = {
    "accuracy-not-stated": Case(
        raises=lambda: _stated(title="an empty file"),
        misses=lambda: _stated(reading=Stated(bound=1e-3)),
    ),
    "unit-slip": Case(raises=lambda: _inductance("1.62 µH"), misses=lambda: _inductance("1.3 µH")),
    "familiar-factor": Case(
        raises=lambda: _inductance(f"{TANK[0] / 2:.6g} H"),
        misses=lambda: _inductance(f"{TANK[0] / 2.1:.6g} H"),
    ),
    "conditions-contradict": Case(
        raises=lambda: _under(level_volt=0.5), misses=lambda: _under(level_volt=0.81)
    ),
    "conditions-not-stated": Case(
        raises=lambda: _under(temperature_celsius=None), misses=lambda: _under(bias_volt=None)
    ),
    "set-up-differs": Case(
        raises=lambda: _under(fixture="two pins"),
        misses=lambda: _under(fixture="Four-Terminal Clip"),
    ),
    "copper-temperature": Case(
        raises=lambda: _under(design(conditions=HOT), temperature_celsius=29.0),
        misses=lambda: _under(design(conditions=HOT), temperature_celsius=27.0),
    ),
    "circuit-not-of-design": Case(
        raises=lambda: evidence(coil(), "coil", nominal=design()),
        misses=lambda: evidence(coil(), "coil", nominal=design(circuit="auto")),
    ),
    "uncertainty-too-wide": Case(
        raises=lambda: evidence(
            sweep(noise=0.03),
            "tank",
            nominal=limited(L={"nominal": "1.63 mH", "tolerance": "±0.3 %"}),
        ),
        misses=lambda: evidence(
            sweep(noise=0.03),
            "tank",
            nominal=limited(L={"nominal": "1.63 mH", "tolerance": "±3 %"}),
        ),
    ),
    "tolerances-exceed-resonance": Case(
        raises=lambda: _resonance("±3 %"), misses=lambda: _resonance("±1 %")
    ),
    "no-guard-band": Case(
        raises=lambda: _under(design(decision={"guard": 0})),
        misses=lambda: _under(design(decision={"guard": 0.1})),
    ),
}


def test_a_slip_of_a_million_is_seen_too():
    (finding,) = found(_inductance("1.62 nH"), "unit-slip")
    assert finding.level == "stop"
    assert "L is 1.631 mH, 1e+06 times what the design asks." in finding.text


def test_a_slip_to_smaller_values_is_seen():
    (finding,) = found(_inductance("1.62 H"), "unit-slip")
    assert "1,000 times below what the design asks" in finding.text


def test_a_slip_in_a_capacitor_shows_in_the_resonance():
    nominal = limited(f0={"nominal": f"{134.04 / math.sqrt(1000):.6g} kHz", "tolerance": "±1 %"})
    (finding,) = found(evidence(sweep(), "tank", nominal=nominal), "unit-slip")
    assert "31.62 times what the design asks" in finding.text


def test_ratios_have_no_prefix_to_slip():
    nominal = limited(Q={"lower": 0.06, "upper": 0.11})
    assert found(evidence(sweep(), "tank", nominal=nominal), "unit-slip") == []


def test_a_limit_on_one_side_shows_no_slip():
    nominal = limited(ESR={"upper": "10 kohm"})
    assert found(evidence(sweep(), "tank", nominal=nominal), "unit-slip") == []


@pytest.mark.parametrize(
    ("factor", "cause"),
    [
        (math.sqrt(2), "peak and rms"),
        (2 * math.sqrt(2), "peak-to-peak"),
        (math.sqrt(3), "decibels of voltage and of power"),
        (1 / math.pi, "counted to 1/e"),
        (2 * math.pi, "angular frequency"),
        (8.686, "neper"),
        (0.1, "probe"),
    ],
)
def test_each_familiar_factor_names_its_cause(factor, cause):
    (finding,) = found(_inductance(f"{TANK[0] / factor:.6g} H"), "familiar-factor")
    assert cause in finding.text
    assert ("below nominal" if factor < 1 else "above nominal") in finding.text


def test_a_value_inside_its_limits_is_no_familiar_factor():
    wide = limited(L={"nominal": f"{TANK[0] / 2:.6g} H", "lower": "0.1 mH", "upper": "5 mH"})
    assert found(evidence(sweep(), "tank", nominal=wide), "familiar-factor") == []


def test_conditions_that_are_not_stated_are_listed_once():
    capture = sweep(conditions=Conditions())
    (finding,) = found(evidence(capture, "tank", nominal=design()), "conditions-not-stated")
    assert (
        "The design states level, temperature, fixture; the capture does not say." in finding.text
    )


def test_the_change_of_copper_is_told_in_percent():
    seen = _under(design(conditions=HOT), temperature_celsius=33.0)
    (finding,) = found(seen, "copper-temperature")
    assert "+10.0 K" in finding.text
    assert "+3.9 %" in finding.text


def test_copper_matters_only_where_a_loss_is_limited():
    nominal = design(conditions=HOT, limits={"L": DESIGN["limits"]["L"]})
    assert found(_under(nominal, temperature_celsius=33.0), "copper-temperature") == []


def test_the_stack_up_of_l_and_c_is_told():
    # L ±3 % and C ±3 % at their worst move f0 by 1/1.03 and 1/0.97.
    (finding,) = found(_resonance("±3 %"), "tolerances-exceed-resonance")
    assert "let f0 lie from 130.31 kHz to 138.37 kHz; asked is 132.19 kHz" in finding.text


def test_limits_on_one_side_stack_up_to_nothing():
    nominal = limited(
        L={"lower": "1 mH"},
        C={"nominal": "868 pF", "tolerance": "±50 %"},
        f0={"nominal": "134 kHz", "tolerance": "±1 %"},
    )
    assert found(evidence(sweep(), "tank", nominal=nominal), "tolerances-exceed-resonance") == []


def test_a_ratio_below_two_calls_the_measurement_inadequate():
    def ratio(tolerance):
        nominal = limited(L={"nominal": "1.63 mH", "tolerance": tolerance})
        seen = evidence(sweep(noise=0.03), "tank", nominal=nominal)
        return found(seen, "uncertainty-too-wide")[0].text

    assert "not adequate" in ratio("±0.1 %")
    assert "not adequate" not in ratio("±0.7 %")


def test_without_a_verdict_nobody_is_asked_for_the_accuracy():
    assert not found(evidence(sweep(), "tank"), "accuracy-not-stated")
    (finding,) = found(evidence(sweep(), "tank", nominal=design()), "accuracy-not-stated")
    assert finding.level == "note"
    assert finding.text.startswith("The accuracy of the instrument is not stated. U holds the")


def test_an_accuracy_that_does_not_reach_the_capture_is_told():
    ring = ring_down()
    nominal = design(circuit="ring-down", limits={"f0": {"lower": "100 kHz"}})
    seen = evidence(ring, nominal=nominal, accuracy=Accuracy(reading=Stated(bound=1e-3)))
    (finding,) = found(seen, "accuracy-not-stated")
    assert "says nothing that a capture of this kind rests on" in finding.text
    timed = evidence(ring, nominal=nominal, accuracy=Accuracy(frequency=Stated(bound=1e-5)))
    assert not found(timed, "accuracy-not-stated")
