"""Verdicts: four states by the guard band, and everything that must not be judged."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.capture import Conditions, Noise, Response, Sweep, Transient
from benchapp.circuit import CIRCUITS
from benchapp.fit import fit
from benchapp.nominal import (
    Decision,
    Limit,
    Outcome,
    judge,
    load_nominal,
    nominal_from,
    stated_conditions,
)
from benchapp.nominal.judge import decide, judged_at, probability_outside
from benchapp.readers import read
from benchapp.uncertainty import Accuracy, Stated
from benchapp.units import Estimate

TANK = (1.6313e-3, 864.2e-12, 17.52)
DESIGN = {
    "title": "Gate antenna coil GA-12",
    "circuit": "tank",
    "conditions": {
        "frequency": "134.2 kHz",
        "level": "1 V",
        "temperature": "23 degC",
        "fixture": "four-terminal clip",
    },
    "limits": {
        "L": {"nominal": "1.620 mH", "tolerance": "±3 %"},
        "Q": {"at": "134.2 kHz", "lower": 60, "upper": 110},
        "ESR": {"at": "134.2 kHz", "upper": "22 ohm"},
    },
}
NOMINAL = nominal_from(DESIGN)
STATED = Conditions(level_volt=1.0, temperature_celsius=23.0, fixture="four-terminal clip")


def _sweep(values=TANK, *, low=114e3, high=154e3, noise=1e-3, conditions=STATED, seed=3):
    frequency = np.linspace(low, high, 201)
    generator = np.random.default_rng(seed)
    pair = generator.standard_normal((2, frequency.size)) * noise / math.sqrt(2)
    z = CIRCUITS["tank"].impedance(frequency, values) * (1 + pair[0] + 1j * pair[1])
    return Sweep(
        frequency=frequency,
        impedance=z,
        noise=Noise(kind="relative", level=noise),
        conditions=conditions,
    )


def _judged(sweep, nominal=NOMINAL, circuit="tank", **choices):
    return judge(nominal, fit(sweep, circuit, **choices), sweep)


def _limited(**limits):
    return nominal_from({**DESIGN, "limits": limits})


def _estimate(value, u=1.0):
    return Estimate(name="x", value=value, u=u, unit="ohm")


BAND = Limit(quantity="ESR", unit="ohm", lower=100.0, upper=200.0)


def test_a_good_part_passes_every_limit():
    verdict = _judged(_sweep())
    assert verdict.outcome is Outcome.PASS
    assert [entry.outcome for entry in verdict.limits] == [Outcome.PASS] * 3
    inductance = verdict.limits[0]
    assert inductance.measured.value == pytest.approx(1.6313e-3, rel=1e-3)
    assert inductance.expanded == pytest.approx(2 * inductance.measured.u)
    assert inductance.margin_percent == pytest.approx(100 * (1.6686 - 1.6313) / 1.6686, abs=0.1)
    assert inductance.probability_outside < 1e-9
    assert verdict.reason == inductance.reason
    assert "below the upper limit 1.669 mH" in verdict.reason


def test_a_shorted_turn_fails():
    verdict = _judged(_sweep((1.5460e-3, 868e-12, 42.6)))
    assert verdict.outcome is Outcome.FAIL
    assert verdict.deciding.limit.quantity == "ESR"
    assert verdict.deciding.margin_percent == pytest.approx(-100 * 20.6 / 22, abs=2)
    assert "above the upper limit 22.00 Ω and outside the guard band" in verdict.reason


@pytest.mark.parametrize(
    ("value", "guard", "outcome"),
    [
        (150.0, 1.0, Outcome.PASS),
        (102.0, 1.0, Outcome.PASS),  # exactly the guard band inside
        (101.99, 1.0, Outcome.CONDITIONAL_PASS),
        (100.0, 1.0, Outcome.CONDITIONAL_PASS),
        (99.99, 1.0, Outcome.CONDITIONAL_FAIL),
        (98.0, 1.0, Outcome.CONDITIONAL_FAIL),
        (97.99, 1.0, Outcome.FAIL),
        (198.01, 1.0, Outcome.CONDITIONAL_PASS),
        (200.01, 1.0, Outcome.CONDITIONAL_FAIL),
        (202.01, 1.0, Outcome.FAIL),
        (100.0, 0.0, Outcome.PASS),  # simple acceptance
        (99.999, 0.0, Outcome.FAIL),
        (103.0, 2.0, Outcome.CONDITIONAL_PASS),
    ],
)
def test_the_guard_band_makes_four_states(value, guard, outcome):
    entry = decide(BAND, _estimate(value), Decision(guard=guard, coverage=2.0))
    assert entry.outcome is outcome
    assert (entry.expanded, entry.guard) == (2.0, 2.0 * guard)


GUARD = "the guard band of 2.0 Ω"


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        (150.0, "ESR is 50 Ω above the lower limit 100.0 Ω"),
        (
            198.5,
            "ESR is 1.5 Ω below the upper limit 200.0 Ω: a pass, but within " + GUARD,
        ),
        (
            99.5,
            "ESR is 500 mΩ below the lower limit 100.0 Ω: a fail, but within " + GUARD,
        ),
        (250.0, "ESR is 50 Ω above the upper limit 200.0 Ω and outside " + GUARD),
    ],
)
def test_the_reason_says_where_the_value_lies(value, reason):
    assert decide(BAND, _estimate(value), Decision()).reason == reason


@given(st.floats(50, 250), st.floats(0.01, 60), st.floats(0, 3))
def test_outcomes_get_no_better_as_a_value_moves_out(value, u, guard):
    order = [Outcome.PASS, Outcome.CONDITIONAL_PASS, Outcome.CONDITIONAL_FAIL, Outcome.FAIL]
    decision = Decision(guard=guard)
    here = decide(BAND, _estimate(value, u), decision).outcome
    further = value + math.copysign(5.0, value - 150.0)
    assert order.index(decide(BAND, _estimate(further, u), decision).outcome) >= order.index(here)


def test_a_one_sided_limit_has_one_side():
    at_most = Limit(quantity="ESR", unit="ohm", upper=22.0)
    assert decide(at_most, _estimate(-5.0), Decision()).outcome is Outcome.PASS
    assert decide(at_most, _estimate(25.0), Decision()).outcome is Outcome.FAIL
    assert decide(at_most, _estimate(11.0), Decision()).margin_percent == pytest.approx(50.0)


def test_a_limit_of_zero_has_no_margin_in_percent():
    phase = Limit(quantity="theta", unit="deg", lower=0.0, upper=90.0)
    assert decide(phase, _estimate(10.0), Decision()).margin_percent is None


@pytest.mark.parametrize("value", [95.0, 100.0, 101.5, 150.0, 199.0, 203.0])
def test_the_probability_outside_agrees_with_draws(value):
    u = 1.5
    draws = np.random.default_rng(11).normal(value, u, 400_000)
    share = np.mean((draws < 100) | (draws > 200))
    assert probability_outside(BAND, _estimate(value, u)) == pytest.approx(share, abs=0.003)


def test_the_probability_outside_is_that_of_the_normal_distribution():
    # Phi(-2) = 0.022750, Phi(-1) = 0.158655: any table of the normal distribution.
    assert probability_outside(BAND, _estimate(102.0)) == pytest.approx(0.022750, abs=1e-6)
    assert probability_outside(BAND, _estimate(100.0)) == pytest.approx(0.5)
    narrow = Limit(quantity="ESR", unit="ohm", lower=99.0, upper=101.0)
    assert probability_outside(narrow, _estimate(100.0)) == pytest.approx(0.317311, abs=1e-6)


def test_an_exact_value_is_inside_or_outside_for_sure():
    assert probability_outside(BAND, _estimate(150.0, 0.0)) == 0.0
    assert probability_outside(BAND, _estimate(99.0, 0.0)) == 1.0
    assert decide(BAND, _estimate(100.0, 0.0), Decision()).outcome is Outcome.PASS


def test_a_guard_band_of_u_keeps_false_acceptance_below_two_and_a_half_percent():
    # JCGM 106:2012, 8.3.2: with w = U (k = 2) a part exactly on its limit is accepted with
    # probability Phi(-2) = 2.3 %; simple acceptance takes it half of the time.
    generator = np.random.default_rng(5)
    measured = generator.normal(100.0, 1.0, 20_000)
    for guard, expected in ((1.0, 0.02275), (0.0, 0.5)):
        accepted = np.mean(
            [
                decide(BAND, _estimate(value), Decision(guard=guard)).outcome is Outcome.PASS
                for value in measured
            ]
        )
        assert accepted == pytest.approx(expected, abs=4 * math.sqrt(expected / 20_000))
        assert guard == 0.0 or accepted <= 0.025 + 0.003


@pytest.mark.parametrize(
    ("stated", "reason"),
    [
        ({"level_volt": 0.5}, "a level of 800.0 mV to 1.200 V, the capture was taken at 500.0 mV"),
        ({"level_volt": 1.21}, "level"),
        ({"temperature_celsius": 30.0}, "temperature of 18.00 °C to 28.00 °C"),
    ],
)
def test_contradicting_conditions_are_not_judged(stated, reason):
    verdict = _judged(_sweep(conditions=replace(STATED, **stated)))
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert reason in verdict.reason
    assert all(entry.margin_percent is None for entry in verdict.limits)
    assert verdict.limits[0].measured is not None


@pytest.mark.parametrize(
    "stated",
    [
        {"level_volt": 0.81},
        {"temperature_celsius": 27.9},
        {"level_volt": None},
        {"fixture": "jig"},
    ],
)
def test_near_or_unstated_conditions_are_judged(stated):
    assert _judged(_sweep(conditions=replace(STATED, **stated))).outcome is Outcome.PASS


def test_conditions_are_compared_in_words():
    capture = _sweep(conditions=Conditions(temperature_celsius=40.0, fixture="jig"))
    found = stated_conditions(NOMINAL, capture)
    assert len(found.contradictions) == 1
    assert found.unstated == ("level",)
    assert found.different == ("fixture: 'jig' instead of 'four-terminal clip'",)
    nothing = stated_conditions(NOMINAL, _sweep(conditions=Conditions()))
    assert nothing.unstated == ("level", "temperature", "fixture")
    assert stated_conditions(NOMINAL, _sweep()) == type(found)()
    shouted = replace(STATED, fixture="FOUR-terminal clip")
    assert stated_conditions(NOMINAL, _sweep(conditions=shouted)).different == ()


def test_a_level_in_ampere_says_nothing_about_a_level_in_volt():
    capture = _sweep(conditions=replace(STATED, level_volt=None, level_ampere=5.0))
    assert stated_conditions(NOMINAL, capture).unstated == ("level",)


def test_a_limit_beyond_the_sweep_is_not_judged():
    verdict = _judged(_sweep(low=100e3, high=132e3))
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert "(100.0 kHz to 132.0 kHz) does not reach 134.2 kHz" in verdict.reason
    assert _judged(_sweep(low=100e3, high=133.2e3)).outcome is Outcome.PASS


def test_a_band_of_the_sweep_counts_as_far_as_it_was_used():
    verdict = _judged(_sweep(), band=(114e3, 130e3))
    assert "to 130.0 kHz) does not reach" in verdict.reason


def test_only_the_limits_that_are_beyond_are_left_out():
    nominal = nominal_from(
        {
            "title": "x",
            "limits": {"L": DESIGN["limits"]["L"], "Q": {"at": "400 kHz", "lower": 10}},
        }
    )
    verdict = _judged(_sweep(), nominal)
    assert [entry.outcome for entry in verdict.limits] == [Outcome.PASS, Outcome.NOT_JUDGED]
    assert verdict.outcome is Outcome.NOT_JUDGED


def test_a_clear_fail_stays_a_fail_beside_what_is_not_judged():
    nominal = nominal_from(
        {
            "title": "x",
            "limits": {"L": {"upper": "1.5 mH"}, "Q": {"at": "400 kHz", "lower": 10}},
        }
    )
    assert _judged(_sweep(), nominal).outcome is Outcome.FAIL


def test_what_the_data_do_not_determine_is_not_judged():
    verdict = _judged(
        _sweep(low=1e3, high=4e3, noise=0.02),
        nominal_from({"title": "x", "limits": {"C": {"lower": "800 pF"}}}),
    )
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert verdict.reason == "the capture does not determine C"


def test_what_the_circuit_does_not_have_is_not_judged():
    verdict = _judged(_sweep(), _limited(DCR={"upper": "8 ohm"}))
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert verdict.reason == "a fit of tank does not give DCR there"


def test_a_fit_that_does_not_describe_the_data_is_not_judged():
    verdict = _judged(_sweep(), circuit="series-rlc")
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert verdict.reason in (
        "the circuit series-rlc does not describe the data",
        "the fit did not settle",
    )


def test_a_fit_that_did_not_settle_is_not_judged():
    sweep = _sweep()
    unsettled = replace(fit(sweep, "tank"), converged=False, describes=False)
    assert judge(NOMINAL, unsettled, sweep).reason == "the fit did not settle"


def test_a_fit_of_no_point_is_not_judged():
    sweep = _sweep()
    found = fit(sweep, "tank")
    empty = replace(found, used=np.zeros_like(found.used))
    assert judge(NOMINAL, empty, sweep).reason == "no point of the capture was used"


def test_an_unknown_uncertainty_is_not_judged():
    time = np.arange(8) * 1e-6
    transient = Transient(time=time, voltage=np.zeros(8))
    sweep_fit = fit(_sweep(), "tank")
    bare = replace(
        sweep_fit,
        kind="transient",
        circuit="ring-down",
        results=(Estimate(name="f0", value=134e3, u=None, unit="Hz"),),
    )
    nominal = nominal_from({"title": "x", "limits": {"f0": {"lower": "130 kHz"}}})
    verdict = judge(nominal, bare, transient)
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert verdict.reason == "the uncertainty of f0 is not known"


def test_a_transient_is_judged_whatever_frequency_the_design_names():
    time = np.arange(8) * 1e-6
    transient = Transient(time=time, voltage=np.zeros(8))
    ringing = replace(
        fit(_sweep(), "tank"),
        kind="transient",
        circuit="ring-down",
        results=(Estimate(name="f0", value=134e3, u=10.0, unit="Hz"),),
    )
    nominal = _limited(f0={"lower": "130 kHz"})
    assert judge(nominal, ringing, transient).outcome is Outcome.PASS


def test_a_design_without_limits_judges_nothing():
    sweep = _sweep()
    verdict = judge(replace(NOMINAL, limits=()), fit(sweep, "tank"), sweep)
    assert verdict.outcome is Outcome.NOT_JUDGED
    assert verdict.reason == "the design has no limits"


def test_a_limit_holds_at_its_own_frequency_before_the_designs():
    inductance, q, _ = NOMINAL.limits
    assert judged_at(NOMINAL, inductance) == 134.2e3
    assert judged_at(NOMINAL, replace(q, at=10e3)) == 10e3
    assert judged_at(replace(NOMINAL, frequency=None), inductance) is None


def test_impedance_and_phase_are_judged_at_a_frequency():
    z = CIRCUITS["tank"].impedance([125e3], TANK)[0]
    size, degrees = abs(z), math.degrees(np.angle(z))
    nominal = _limited(
        **{
            "|Z|": {"at": "125 kHz", "nominal": f"{size:.9g} ohm", "tolerance": "±2 %"},
            "theta": {"at": "125 kHz", "lower": f"{degrees - 1:.9g} deg", "upper": "89.9 deg"},
        }
    )
    verdict = _judged(_sweep(), nominal)
    assert verdict.outcome is Outcome.PASS
    assert verdict.limits[0].measured.value == pytest.approx(size, rel=1e-3)
    assert verdict.limits[1].measured.value == pytest.approx(degrees, abs=0.1)


@given(
    st.floats(0.5, 2.5),
    st.floats(1e-4, 0.3),
    st.floats(0, 2),
    st.sampled_from([1e-12, 1e-3, 1e6]),
)
def test_a_verdict_does_not_depend_on_the_size_of_the_unit(value, u, guard, scale):
    small = Limit(quantity="L", unit="H", lower=1.0, upper=2.0)
    scaled = replace(small, lower=scale, upper=2.0 * scale)
    decision = Decision(guard=guard)
    here = decide(small, _estimate(value, u), decision)
    there = decide(scaled, _estimate(value * scale, u * scale), decision)
    distance = min(value - 1.0, 2.0 - value)
    if all(abs(abs(distance) - edge) > 1e-9 for edge in (0.0, 2 * u * guard)):
        assert here.outcome is there.outcome
    if abs(value - 1.5) > 1e-9:  # half way neither limit is the nearer
        assert here.margin_percent == pytest.approx(there.margin_percent, rel=1e-6, abs=1e-6)
    assert here.probability_outside == pytest.approx(there.probability_outside, abs=1e-9)


@given(st.floats(0.5, 2.5), st.floats(1e-3, 0.3))
def test_lower_and_upper_limits_are_treated_alike(value, u):
    limit = Limit(quantity="theta", unit="deg", lower=1.0, upper=2.0)
    mirrored = replace(limit, lower=-2.0, upper=-1.0)
    here = decide(limit, _estimate(value, u), Decision())
    there = decide(mirrored, _estimate(-value, u), Decision())
    assert here.outcome is there.outcome
    assert here.probability_outside == pytest.approx(there.probability_outside, abs=1e-12)


@given(st.floats(0, 3), st.floats(0.5, 2.5))
def test_a_wider_guard_band_accepts_no_more(guard, value):
    limit = Limit(quantity="L", unit="H", lower=1.0, upper=2.0)
    narrow = decide(limit, _estimate(value, 0.05), Decision(guard=guard))
    wide = decide(limit, _estimate(value, 0.05), Decision(guard=guard + 0.5))
    assert narrow.outcome is Outcome.PASS or wide.outcome is not Outcome.PASS
    assert narrow.outcome is Outcome.FAIL or wide.outcome is not Outcome.FAIL


def test_the_sample_lot_has_one_part_that_fails():
    samples = Path(__file__).parents[2] / "sample_captures"
    nominal = load_nominal(samples / "ga12.toml")
    outcomes = {}
    for path in sorted((samples / "ga12_lot").glob("*.csv")):
        (capture,) = read(path)
        outcomes[path.stem] = judge(nominal, fit(capture, nominal.circuit), capture).outcome
    failed = [name for name, outcome in outcomes.items() if outcome is not Outcome.PASS]
    assert len(outcomes) == 13
    assert failed == ["0209"]
    assert outcomes["0209"] is Outcome.FAIL


def test_the_same_part_gets_the_same_verdict_from_three_layouts():
    samples = Path(__file__).parents[2] / "sample_captures"
    nominal = load_nominal(samples / "ga12.toml")
    values = []
    for name in ("ga12_tank.csv", "ga12_tank_german.csv", "ga12_tank_status.txt"):
        (capture,) = read(samples / name)
        verdict = judge(nominal, fit(capture, "tank"), capture)
        assert verdict.outcome is Outcome.PASS
        values.append(verdict.limits[0].measured)
    for one in values[1:]:
        apart = abs(one.value - values[0].value)
        assert apart < 4 * math.hypot(one.u, values[0].u)


def test_a_loaded_resonance_is_judged_by_its_own_quantities():
    frequency = np.linspace(130e3, 138e3, 201)
    ratio = 0.01 / (1 + 80j * (frequency / 134e3 - 134e3 / frequency))
    noise = 1e-5 * np.random.default_rng(1).standard_normal((2, 201))
    capture = Response(
        frequency=frequency, ratio=ratio + noise[0] + 1j * noise[1], kind="transmission"
    )
    nominal = nominal_from(
        {
            "title": "x",
            "circuit": "resonance",
            "limits": {"f0": {"nominal": "134 kHz ±1 %"}, "Q": {"lower": 60, "upper": 110}},
        }
    )
    verdict = judge(nominal, fit(capture), capture)
    assert verdict.outcome is Outcome.PASS
    assert verdict.limits[1].measured.value == pytest.approx(80 / (1 - 0.01), rel=0.01)


def test_probability_and_outcome_agree_about_the_side():
    for value in (99.0, 100.5, 150.0, 199.9, 201.0):
        entry = decide(BAND, _estimate(value, 0.7), Decision())
        inside = entry.outcome in (Outcome.PASS, Outcome.CONDITIONAL_PASS)
        assert (entry.probability_outside < 0.5) is inside


ACCURACY = Accuracy(reading=Stated(bound=2e-3, distribution="normal"))


def test_the_instrument_counts_in_u_once_its_accuracy_is_stated():
    capture = _sweep()
    found = fit(capture, "tank")
    narrow, wide = judge(NOMINAL, found, capture), judge(NOMINAL, found, capture, ACCURACY)
    assert (narrow.U_holds, wide.U_holds) == ("scatter", "scatter and instrument")
    before, after = narrow.limits[0], wide.limits[0]
    assert after.measured.value == before.measured.value
    gain = 2 * 1e-3 * before.measured.value
    assert after.expanded == pytest.approx(math.hypot(before.expanded, gain), rel=1e-6)
    assert after.guard == after.expanded
    assert after.budget.dominant.name == "reading of the instrument"
    assert after.budget.u == pytest.approx(after.measured.u)
    assert [term.name for term in before.budget.terms] == ["scatter of the fit"]


def test_an_inaccurate_instrument_turns_a_pass_into_a_conditional_one():
    values = (1.6213e-3 * 1.0285, *TANK[1:])
    capture = _sweep(values)
    found = fit(capture, "tank")
    assert judge(NOMINAL, found, capture).limits[0].outcome is Outcome.PASS
    wide = replace(ACCURACY, reading=Stated(bound=1e-2, distribution="normal"))
    assert judge(NOMINAL, found, capture, wide).limits[0].outcome is Outcome.CONDITIONAL_PASS


def test_a_quantity_that_the_accuracy_leaves_open_is_not_judged():
    capture = _sweep()
    found = fit(capture, "tank")
    hopeless = Accuracy(reading=Stated(bound=0.9))
    entry = judge(NOMINAL, found, capture, hopeless).limits[0]
    assert entry.outcome is Outcome.NOT_JUDGED
    assert entry.reason == "the accuracy of the instrument leaves L undetermined"


def test_the_chance_of_a_false_accept_at_the_limit_is_that_of_draws():
    rng = np.random.default_rng(31)
    limit = Limit(quantity="L", unit="H", lower=0.97, upper=1.03)
    u = 2e-3
    for guard in (0.0, 0.5, 1.0):
        decision = Decision(guard=guard)
        seen = [
            decide(limit, Estimate(name="L", value=float(value), u=u, unit="H"), decision)
            for value in 1.03 + u * rng.standard_normal(4000)
        ]
        share = np.mean([entry.outcome is Outcome.PASS for entry in seen])
        said = seen[0].false_accept_at_limit
        assert said == pytest.approx(0.5 * math.erfc(guard * 2 / math.sqrt(2)))
        assert abs(share - said) <= 4 * math.sqrt(said * (1 - said) / 4000)
    assert said <= 0.025


def test_accepted_and_rejected_parts_have_their_own_risk():
    limit = Limit(quantity="L", unit="H", upper=1.0)
    inside = decide(limit, Estimate(name="L", value=0.99, u=0.01, unit="H"), Decision())
    outside = decide(limit, Estimate(name="L", value=1.01, u=0.01, unit="H"), Decision())
    assert inside.probability_false_accept == pytest.approx(0.158655, abs=1e-6)
    assert inside.probability_conforming == pytest.approx(0.841345, abs=1e-6)
    assert (inside.probability_false_reject, outside.probability_false_accept) == (None, None)
    assert outside.probability_false_reject == pytest.approx(0.158655, abs=1e-6)


def test_the_phase_error_of_a_quiet_meter_does_not_withhold_the_verdict():
    capture = _sweep()
    capture = replace(
        capture, impedance=capture.impedance * np.exp(2e-3j), noise=Noise(kind="relative")
    )
    found = fit(capture, "tank")
    assert judge(NOMINAL, found, capture).outcome is Outcome.NOT_JUDGED
    accuracy = Accuracy(phase=Stated(bound=3e-3))
    assert judge(NOMINAL, found, capture, accuracy).outcome is Outcome.PASS
