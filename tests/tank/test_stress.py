"""The five limits of a capacitor, each by itself."""

from __future__ import annotations

import dataclasses
import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.errors import QuantityError
from benchapp.tank import CapacitorDuty, CapacitorRatings, judge_stress
from benchapp.tank.stress import curve_voltage

PRACTICE = tomllib.loads(
    (Path(__file__).parent.parent / "truth" / "tank_practice.toml").read_text(encoding="utf-8")
)
CURVE = ((1e3, 250.0), (30e3, 250.0), (100e3, 137.0), (1e6, 25.0))
FULL = CapacitorRatings(
    dc_volt=630.0,
    curve=CURVE,
    current=30.0,
    slew=200e6,
    dissipation=1.0,
)
DUTY = CapacitorDuty(voltage=100.0, frequency=100e3, capacitance=220e-9, loss_tangent=3e-4)


def test_duty_as_practice_has_it():
    """20 A at 100 kHz in 220 nF: 144.7 V rms, 204.6 V peak, 0.87 W at tan delta 3e-4."""
    entry = PRACTICE["capacitor_at_current"]
    duty = dataclasses.replace(DUTY, voltage=entry["voltage"])
    assert duty.current == pytest.approx(entry["current"])
    assert duty.peak == pytest.approx(entry["peak"])
    assert duty.dissipation == pytest.approx(entry["dissipation"])
    assert duty.slew == pytest.approx(2 * math.pi * 1e5 * entry["peak"])


def test_dc_adds_to_the_peak_only():
    biased = dataclasses.replace(DUTY, bias=-300.0)
    assert biased.peak == pytest.approx(300 + 100 * math.sqrt(2))
    assert biased.current == DUTY.current
    assert biased.slew == DUTY.slew


def test_all_five_limits_are_judged_and_named():
    stress = judge_stress(DUTY, FULL)
    assert [limit.name for limit in stress.limits] == [
        "peak voltage with DC",
        "rms voltage at the frequency",
        "rms current",
        "dV/dt",
        "dissipation",
    ]
    assert {limit.outcome for limit in stress.limits} == {"within"}
    assert stress.outcome == "within"


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"dc_volt": 140.0}, "peak voltage with DC"),
        ({"curve": ((1e3, 90.0), (1e6, 90.0))}, "rms voltage at the frequency"),
        ({"current": 13.0}, "rms current"),
        ({"slew": 80e6}, "dV/dt"),
        ({"dissipation": 0.4}, "dissipation"),
    ],
)
def test_each_limit_alone_can_be_over(change, name):
    stress = judge_stress(DUTY, dataclasses.replace(FULL, **change))
    over = [limit.name for limit in stress.limits if limit.outcome == "over"]
    assert over == [name]
    assert stress.outcome == "over"


def test_eighty_percent_is_near_the_limit():
    ratings = dataclasses.replace(FULL, dc_volt=DUTY.peak / 0.81)
    assert judge_stress(DUTY, ratings).limits[0].outcome == "near the limit"
    assert judge_stress(DUTY, ratings).outcome == "near the limit"
    assert judge_stress(DUTY, ratings).limits[0].use == pytest.approx(0.81)


@pytest.mark.parametrize(
    ("ratings", "reason"),
    [
        (CapacitorRatings(), "cannot be judged: derating curve missing"),
        (
            CapacitorRatings(dc_volt=630.0),
            "cannot be judged: derating curve missing (a DC rating is no AC rating)",
        ),
        (
            CapacitorRatings(mains_volt=275.0),
            "cannot be judged: derating curve missing (the AC rating holds at mains frequency)",
        ),
    ],
)
def test_without_a_curve_the_answer_is_never_a_pass(ratings, reason):
    stress = judge_stress(DUTY, ratings)
    assert stress.limits[1].outcome == "cannot be judged"
    assert stress.limits[1].reason == reason
    assert stress.limits[1].allowed is None
    assert stress.limits[1].use is None
    assert stress.outcome == "cannot be judged"


@settings(deadline=None)
@given(st.floats(1e-3, 1e4), st.floats(1001.0, 1e7), st.floats(1.0, 1e5))
def test_a_dc_or_mains_rating_alone_never_passes_above_mains_frequency(voltage, frequency, rated):
    duty = CapacitorDuty(voltage=voltage, frequency=frequency, capacitance=1e-9)
    for ratings in (CapacitorRatings(dc_volt=rated), CapacitorRatings(mains_volt=rated)):
        assert judge_stress(duty, ratings).outcome in ("cannot be judged", "over")


def test_a_mains_rating_holds_at_mains_frequency():
    duty = CapacitorDuty(voltage=250.0, frequency=50.0, capacitance=1e-7)
    limit = judge_stress(duty, CapacitorRatings(mains_volt=275.0)).limits[1]
    assert limit.outcome == "near the limit"
    assert limit.allowed == 275.0


@pytest.mark.parametrize("frequency", [500.0, 2e6])
def test_the_curve_says_nothing_beyond_its_ends(frequency):
    duty = dataclasses.replace(DUTY, frequency=frequency)
    limit = judge_stress(duty, FULL).limits[1]
    assert limit.outcome == "cannot be judged"
    assert "the derating curve covers 1000 to 1e+06 Hz only" in limit.reason


@pytest.mark.parametrize(("frequency", "voltage"), CURVE)
def test_the_curve_goes_through_its_points(frequency, voltage):
    assert curve_voltage(CURVE, frequency) == pytest.approx(voltage)


@pytest.mark.parametrize("slope", [-0.5, -1.0])
def test_between_points_the_curve_is_a_power_of_the_frequency(slope):
    """Limited by heat it falls as 1/sqrt(f), by current as 1/f: straight in log-log."""
    curve = ((1e4, 200.0), (1e6, 200.0 * 100**slope))
    assert curve_voltage(curve, 1e5) == pytest.approx(200.0 * 10**slope)


def test_heat_is_judged_by_dissipation_or_by_temperature_rise():
    rise = CapacitorRatings(rise=10.0, thermal_resistance=30.0)
    limit = judge_stress(DUTY, rise).limits[4]
    assert limit.name == "temperature rise"
    assert limit.unit == "K"
    assert limit.seen == pytest.approx(30 * DUTY.dissipation)
    assert limit.outcome == "over"


@pytest.mark.parametrize(
    ("tangent", "ratings", "words"),
    [
        (None, FULL, "tan delta missing"),
        (3e-4, CapacitorRatings(), "rated dissipation"),
        (3e-4, CapacitorRatings(rise=10.0), "rated dissipation"),
        (None, CapacitorRatings(), "tan delta and rated dissipation"),
    ],
)
def test_heat_without_its_figures_cannot_be_judged(tangent, ratings, words):
    limit = judge_stress(dataclasses.replace(DUTY, loss_tangent=tangent), ratings).limits[4]
    assert limit.outcome == "cannot be judged"
    assert words in limit.reason


def test_over_outweighs_what_cannot_be_judged():
    assert judge_stress(DUTY, CapacitorRatings(dc_volt=100.0)).outcome == "over"


@pytest.mark.parametrize(
    "name", ["dc_volt", "mains_volt", "current", "slew", "dissipation", "rise"]
)
def test_impossible_ratings_are_refused(name):
    with pytest.raises(QuantityError, match="must be above zero and finite"):
        CapacitorRatings(**{name: 0.0})


@pytest.mark.parametrize(
    "curve",
    [
        ((1e3, 250.0),),
        ((1e4, 250.0), (1e3, 100.0)),
        ((1e3, 250.0), (1e3, 100.0)),
        ((1e3, 250.0), (1e4, -1.0)),
        ((0.0, 250.0), (1e4, 100.0)),
    ],
)
def test_impossible_curves_are_refused(curve):
    with pytest.raises(QuantityError, match="derating curve: must have two or more points"):
        CapacitorRatings(curve=curve)


@pytest.mark.parametrize(
    ("use", "outcome"),
    [
        (0.10, "within"),
        (0.50, "within"),
        (0.79, "within"),
        (0.81, "near the limit"),
        (0.99, "near the limit"),
        (1.01, "over"),
        (2.00, "over"),
    ],
)
@pytest.mark.parametrize(
    ("place", "name", "seen"),
    [
        (0, "dc_volt", "peak"),
        (2, "current", "current"),
        (3, "slew", "slew"),
        (4, "dissipation", "dissipation"),
    ],
)
def test_outcome_of_a_limit_by_how_much_of_it_is_used(place, name, seen, use, outcome):
    ratings = CapacitorRatings(**{name: getattr(DUTY, seen) / use})
    limit = judge_stress(DUTY, ratings).limits[place]
    assert limit.outcome == outcome
    assert limit.use == pytest.approx(use)


@pytest.mark.parametrize(
    ("use", "outcome"), [(0.5, "within"), (0.9, "near the limit"), (1.1, "over")]
)
def test_outcome_of_the_curve_by_how_much_of_it_is_used(use, outcome):
    volts = DUTY.voltage / use
    ratings = CapacitorRatings(curve=((1e3, volts), (1e6, volts)))
    assert judge_stress(DUTY, ratings).limits[1].outcome == outcome


@pytest.mark.parametrize(
    ("missing", "place", "words"),
    [
        ("dc_volt", 0, "DC rating missing"),
        ("current", 2, "rated current missing"),
        ("slew", 3, "rated dV/dt missing"),
        ("dissipation", 4, "rated dissipation"),
    ],
)
def test_each_missing_rating_is_named(missing, place, words):
    stress = judge_stress(DUTY, dataclasses.replace(FULL, **{missing: None}))
    assert stress.limits[place].outcome == "cannot be judged"
    assert words in stress.limits[place].reason
    assert stress.outcome == "cannot be judged"
    others = [limit.outcome for index, limit in enumerate(stress.limits) if index != place]
    assert "cannot be judged" not in others


@pytest.mark.parametrize(
    ("frequency", "allowed"),
    [
        (1e3, 250.0),
        (10e3, 250.0),
        (30e3, 250.0),
        (54.77225575051661e3, math.sqrt(250.0 * 137.0)),
        (100e3, 137.0),
        (316.2277660168379e3, math.sqrt(137.0 * 25.0)),
        (1e6, 25.0),
    ],
)
def test_halfway_in_frequency_is_halfway_in_voltage_in_log_log(frequency, allowed):
    assert curve_voltage(CURVE, frequency) == pytest.approx(allowed)


@pytest.mark.parametrize("frequency", [1.0, 999.9, 1.0001e6, 1e9])
def test_outside_its_points_the_curve_is_silent(frequency):
    assert curve_voltage(CURVE, frequency) is None


def test_an_empty_curve_is_silent():
    assert curve_voltage((), 1e5) is None
