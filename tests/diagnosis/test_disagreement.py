"""Causes of a disagreement are named, and none where two captures agree."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.bench import Core, Device, Element, Fixture, Setup, meter, scope
from benchapp.capture import Conditions, Sweep, Transient
from benchapp.diagnosis import CAUSES, Subject, explain
from benchapp.diagnosis.disagreement import _difference
from benchapp.fit import fit
from benchapp.uncertainty import Accuracy, Stated, combine

TANK = Device(
    circuit="tank",
    elements=(
        Element(name="L", value=1.62e-3),
        Element(name="C", value=868e-12, per_kelvin=-250e-6),
        Element(name="R", value=17.1, per_kelvin=0.00393),
    ),
)
USUAL = Conditions(level_volt=1.0, temperature_celsius=23.0)
F = np.linspace(104e3, 164e3, 201)


def _swept(setup, seed, *, name="A", conditions=USUAL, level=1.0, factor=1.0, circuit="tank"):
    rng = np.random.default_rng(seed)
    seen = meter.measure(meter.Meter(level_volt=level), setup, F, rng)
    capture = Sweep(frequency=F, impedance=factor * seen.impedance, conditions=conditions)
    return Subject(name=name, capture=capture, fit=fit(capture, circuit))


def _rung(ohm, seed=3, farad=0.0):
    instrument = scope.Scope(probe_ohm=ohm, probe_farad=farad, rate=2.5e6, samples=2500)
    record = scope.record_decay(instrument, Setup(device=TANK), np.random.default_rng(seed))
    capture = Transient(time=record.time, voltage=record.voltage[0])
    return Subject(name="scope", capture=capture, fit=fit(capture))


A = _swept(Setup(device=TANK), 1)


def _cause(second):
    (said,) = explain((A, second))
    assert not said.agree
    return said.cause


def test_two_captures_of_one_part_agree():
    for seed in range(2, 12):
        (said,) = explain((A, _swept(Setup(device=TANK), seed, name="B")))
        assert said.agree
        assert (said.causes, said.cause) == ((), None)
        assert said.reason == "they agree within their uncertainties"


def test_a_sweep_and_a_ring_down_of_one_part_agree():
    assert explain((A, _rung(math.inf)))[0].agree


def test_capacitance_of_the_fixture_is_named_with_its_size():
    clipped = Setup(device=TANK, fixture=Fixture(open_farad=5e-12))
    cause = _cause(_swept(clipped, 2, name="B"))
    assert cause.id == "fixture-capacitance"
    assert cause.share > 0.9
    value = float(cause.size.split()[0])
    assert value == pytest.approx(5.0, rel=0.1)
    assert "pF more at B" in cause.size


def test_the_cause_is_laid_on_the_capture_that_has_it():
    clipped = _swept(Setup(device=TANK, fixture=Fixture(open_farad=5e-12)), 2, name="B")
    (said,) = explain((clipped, A))
    assert "more at B" in said.cause.size


def test_loading_by_a_probe_is_named():
    cause = _cause(_rung(500e3))
    assert cause.id == "loading"
    assert "more loss at scope" in cause.size


def test_a_temperature_that_is_stated_explains_and_one_that_is_the_same_does_not():
    hot = Setup(device=TANK, temperature_celsius=48.0)
    told = _swept(hot, 2, name="B", conditions=replace(USUAL, temperature_celsius=48.0))
    cause = _cause(told)
    assert cause.id == "temperature"
    assert "warmer at B" in cause.size
    same = _swept(hot, 2, name="B")
    (said,) = explain((A, same))
    assert all(entry.id != "temperature" for entry in said.causes)


def test_the_level_is_named_where_a_core_follows_it():
    cored = replace(TANK, core=Core(growth_per_ampere=12.0))
    first = _swept(Setup(device=cored), 1, level=1.0)
    low = replace(USUAL, level_volt=0.1)
    second = _swept(Setup(device=cored), 2, name="B", level=0.1, conditions=low)
    (said,) = explain((first, second))
    assert said.cause.id == "level"
    assert "higher at A" in said.cause.size


def test_another_equivalent_circuit_is_another_definition_of_f0():
    low_q = replace(TANK, elements=(*TANK.elements[:2], Element(name="R", value=230.0)))
    first = _swept(Setup(device=low_q), 1)
    near = np.linspace(130e3, 138e3, 201)
    seen = meter.measure(meter.Meter(), Setup(device=low_q), near, np.random.default_rng(2))
    capture = Sweep(frequency=near, impedance=seen.impedance, conditions=USUAL)
    second = Subject(name="B", capture=capture, fit=fit(capture, "parallel-rlc"))
    (said,) = explain((first, second))
    assert said.cause.id == "definition-of-f0"


def test_a_factor_in_all_readings_is_a_matter_of_scale():
    cause = _cause(_swept(Setup(device=TANK), 2, name="B", factor=1.01))
    assert cause.id == "scale"
    assert float(cause.size.split()[0]) == pytest.approx(1.0, rel=0.05)
    assert cause.size.endswith("% more at B")


def test_the_accuracy_of_the_instruments_covers_a_difference_of_scale():
    accuracy = Accuracy(reading=Stated(bound=1e-2, distribution="normal"))
    second = _swept(Setup(device=TANK), 2, name="B", factor=1.01)
    both = [replace(s, fit=combine(s.fit, s.capture, accuracy)) for s in (A, second)]
    assert explain(both)[0].agree


def test_two_different_parts_are_not_explained():
    other = replace(
        TANK,
        elements=(
            Element(name="L", value=1.50e-3),
            Element(name="C", value=950e-12),
            Element(name="R", value=9.0),
        ),
    )
    (said,) = explain((A, _swept(Setup(device=other), 2, name="B")))
    assert (said.agree, said.causes) == (False, ())
    assert said.reason == "not explained by a single cause"
    assert len(said.differences) == 3


def test_each_capture_is_compared_with_the_first():
    said = explain((A, _swept(Setup(device=TANK), 2, name="B"), _rung(math.inf)))
    assert [(entry.first, entry.second) for entry in said] == [("A", "B"), ("A", "scope")]


def test_captures_without_a_common_resonance_are_told_so():
    frequency = np.geomspace(1e3, 20e3, 61)
    z = 2.0 + 2j * np.pi * frequency * 1.62e-3
    rng = np.random.default_rng(4)
    noise = 1 + 1e-4 * (rng.standard_normal(61) + 1j * rng.standard_normal(61))
    capture = Sweep(frequency=frequency, impedance=z * noise)
    coil = Subject(name="coil", capture=capture, fit=fit(capture, "inductor"))
    (said,) = explain((A, coil))
    assert said.reason == "the two have no resonance in common that both fits determine"
    assert not said.agree


def test_every_cause_has_words_and_a_next_test():
    assert len({cause.id for cause in CAUSES}) == len(CAUSES)
    assert all(cause.title and cause.next_test.endswith(".") for cause in CAUSES)


NEAR = Setup(device=TANK, fixture=Fixture(open_farad=5e-12))


def test_which_capture_comes_first_changes_the_sign_and_nothing_else():
    clipped = _swept(NEAR, 2, name="B")
    (there,), (back,) = explain((A, clipped)), explain((clipped, A))
    assert [cause.id for cause in there.causes] == [cause.id for cause in back.causes]
    assert there.cause.share == pytest.approx(back.cause.share, abs=0.01)
    ends = [float(said.differences[0].split()[1]) for said in (there, back)]
    assert ends[0] < 0 < ends[1]
    assert ends[0] == pytest.approx(-ends[1], rel=0.02)
    assert there.cause.size.split()[-1] == back.cause.size.split()[-1] == "B"


def test_a_capture_agrees_with_itself():
    (said,) = explain((A, replace(A, name="again")))
    assert said.agree
    assert all(" the same within U (+0" in words for words in said.differences)
    assert explain((A,)) == ()


@pytest.mark.parametrize("farad", [2e-12, 20e-12, 80e-12])
def test_the_capacitance_is_told_to_a_tenth_over_its_whole_range(farad):
    cause = _cause(_swept(Setup(device=TANK, fixture=Fixture(open_farad=farad)), 2, name="B"))
    assert cause.id == "fixture-capacitance"
    assert float(cause.size.split()[0]) * 1e-12 == pytest.approx(farad, rel=0.1)


@pytest.mark.parametrize("factor", [0.85, 0.995, 1.004, 1.2])
def test_a_factor_is_told_with_its_side(factor):
    cause = _cause(_swept(Setup(device=TANK), 2, name="B", factor=factor))
    assert cause.id == "scale"
    # In percent of the smaller of the two readings.
    told = max(factor, 1 / factor) - 1
    assert float(cause.size.split()[0]) == pytest.approx(100 * told, rel=0.06)
    assert cause.size.endswith("B" if factor > 1 else "A")


def test_two_levels_that_are_stated_to_be_the_same_are_no_cause():
    ids = {
        cause.id
        for farad in (2e-12, 5e-12)
        for cause in explain(
            (A, _swept(Setup(device=TANK, fixture=Fixture(open_farad=farad)), 2, name="B"))
        )[0].causes
    }
    assert "level" not in ids
    assert "temperature" not in ids


def test_a_level_stated_in_ampere_counts_as_one():
    cored = replace(TANK, core=Core(growth_per_ampere=12.0))
    ampere = Conditions(level_ampere=10e-3, temperature_celsius=23.0)
    first = _swept(Setup(device=cored), 1, level=1.0, conditions=ampere)
    low = replace(ampere, level_ampere=1e-3)
    second = _swept(Setup(device=cored), 2, name="B", level=0.1, conditions=low)
    (said,) = explain((first, second))
    assert said.cause.id == "level"
    (said,) = explain((first, replace(second, capture=first.capture)))
    assert "level" not in {cause.id for cause in said.causes}


def test_conditions_that_are_not_stated_leave_a_cause_possible_but_less_likely():
    hot = Setup(device=TANK, temperature_celsius=48.0)
    stated = _swept(hot, 2, name="B", conditions=replace(USUAL, temperature_celsius=48.0))
    silent = _swept(hot, 2, name="B", conditions=Conditions())
    shares = []
    for second in (stated, silent):
        (said,) = explain((A, second))
        shares.append(next(cause.share for cause in said.causes if cause.id == "temperature"))
    assert shares[0] > shares[1] > 0.02


def test_shares_fall_and_stay_below_one():
    for second in (_swept(NEAR, 2, name="B"), _rung(500e3), _rung(math.inf, farad=8e-12)):
        (said,) = explain((A, second))
        shares = [cause.share for cause in said.causes]
        assert shares == sorted(shares, reverse=True)
        assert 0 < sum(shares) <= 1 + 1e-12
        assert said.reason == f"explained by {said.cause.title}"


def test_between_two_records_without_an_inductance_the_capacitance_is_told_in_percent():
    (said,) = explain((_rung(math.inf), replace(_rung(math.inf, farad=40e-12), name="second")))
    assert [words.split()[0] for words in said.differences] == ["f0", "Q"]
    cause = next(each for each in said.causes if each.id == "fixture-capacitance")
    assert "% more capacitance at second" in cause.size
    assert float(cause.size.split()[0]) == pytest.approx(100 * 40 / 868, rel=0.1)
    assert "scale" not in {each.id for each in said.causes}


def test_each_difference_is_told_with_its_size_and_its_uncertainty():
    (said,) = explain((A, _swept(NEAR, 2, name="B")))
    assert [words.split()[0] for words in said.differences] == ["f0", "Q", "L"]
    assert all(
        words.endswith("times its uncertainty)") or "the same within U (" in words
        for words in said.differences
    )
    assert float(said.differences[0].split()[1]) == pytest.approx(-100 * 2.5 / 868, rel=0.05)


def test_more_uncertain_captures_have_less_to_disagree_about():
    second = _swept(Setup(device=TANK, fixture=Fixture(open_farad=1e-12)), 2, name="B")
    assert not explain((A, second))[0].agree
    wide = [replace(s, fit=replace(s.fit, covariance=1e4 * s.fit.covariance)) for s in (A, second)]
    assert explain(wide)[0].agree


@pytest.mark.parametrize(
    ("value", "size", "words"),
    [
        (9.21e-7, 2e-7, "+0.92 ppm (4.6 times its uncertainty)"),
        (9.21e-7, 1e-6, "the same within U (+0.9 ppm, U = 2.0 ppm)"),
        (-1e-7, 1e-6, "the same within U (-0.1 ppm, U = 2.0 ppm)"),
        (-2.9e-3, 1e-5, "-0.2896 % (290 times its uncertainty)"),
        (math.log(1.5), 1e-3, "+50.00 % (405 times its uncertainty)"),
        (math.log(0.5), 0.1, "-50 % (6.9 times its uncertainty)"),
        (0.0, 0.0, "the same within U (+0 ppm, U = 0 ppm)"),
    ],
)
def test_a_difference_is_told_in_units_that_can_be_read(value, size, words):
    assert _difference(value, size) == words


@given(st.floats(-3, 3), st.floats(1e-12, 1))
def test_no_difference_is_told_with_an_exponent(value, size):
    words = _difference(value, size)
    assert not re.search(r"\de[+-]?\d", words)
    assert ("the same" in words) is (abs(value) <= 2 * size)
