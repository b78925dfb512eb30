"""Checks of the fit and of what its circuit implies."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from benchapp.fit import Opinion, Remark
from benchapp.readers import Question
from benchapp.uncertainty import Accuracy, Stated
from benchapp.units import Estimate
from tests.checks.scene import (
    COIL,
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

MODEL = Question(name="model", text="Series or parallel?", proposed="series")
LOW_Q = (TANK[0], TANK[1], 180.0)
HIGHER_Q = (TANK[0], TANK[1], 130.0)


def _remarked(*remarks):
    return evidence(sweep(), "tank", change=lambda fit: replace(fit, remarks=remarks))


def _opinion(value, *, agrees):
    opinion = Opinion(
        method="the half-power points",
        estimate=Estimate(name="Q", value=value, u=0.5, unit="1"),
        agrees=agrees,
    )
    return evidence(sweep(), "tank", change=lambda fit: replace(fit, opinions=(opinion,)))


def _coil_limit(**limits):
    return evidence(coil(), "coil", nominal=design(circuit="coil", limits=limits))


def _phase(degrees):
    return Accuracy(phase=Stated(bound=math.radians(degrees)))


CASES = {
    "fit-unsettled": Case(
        raises=lambda: evidence(
            sweep(), "tank", change=lambda fit: replace(fit, converged=False, describes=False)
        ),
        misses=lambda: evidence(coil(), "tank"),
    ),
    "fit-misses-data": Case(
        raises=lambda: evidence(coil(), "tank"), misses=lambda: evidence(coil(), "coil")
    ),
    "not-determined": Case(
        raises=lambda: evidence(sweep(low=1e3, high=4e3, noise=0.02), "tank"),
        misses=lambda: evidence(sweep(low=1e3, high=4e3, noise=0.02), "inductor"),
    ),
    "points-left-out": Case(
        raises=lambda: evidence(sweep(), "tank", set_aside=(50,)),
        misses=lambda: evidence(sweep(), "tank", band=(120e3, 150e3)),
    ),
    "elements-correlated": Case(
        raises=lambda: evidence(sweep(low=100e3, high=110e3, noise=0.05, points=51), "tank"),
        misses=lambda: evidence(sweep(low=100e3, high=110e3, noise=0.01, points=51), "tank"),
    ),
    "methods-disagree": Case(
        raises=lambda: _opinion(70.0, agrees=False), misses=lambda: _opinion(78.0, agrees=True)
    ),
    "circuit-ambiguous": Case(
        raises=lambda: _remarked(Remark(name="ambiguous", text="Tank or coil.")),
        misses=lambda: _remarked(Remark(name="misfit", text="It misses.")),
    ),
    "remark-of-the-fit": Case(
        raises=lambda: _remarked(Remark(name="no resonance", text="Nothing.", points=(3,))),
        misses=lambda: _remarked(Remark(name="window", text="From here to there.")),
    ),
    "low-q-resonance": Case(
        raises=lambda: evidence(sweep(values=LOW_Q), "tank"),
        misses=lambda: evidence(sweep(values=HIGHER_Q), "tank"),
    ),
    "near-self-resonance": Case(
        raises=lambda: _coil_limit(L={"lower": "1 mH", "at": "150 kHz"}),
        misses=lambda: _coil_limit(L={"lower": "1 mH", "at": "110 kHz"}),
    ),
    "mostly-resistive": Case(
        raises=lambda: evidence(
            coil(low=100.0),
            "coil",
            nominal=design(circuit="coil", limits={"L": {"lower": "1 mH", "at": "500 Hz"}}),
        ),
        misses=lambda: evidence(
            coil(low=100.0),
            "coil",
            nominal=design(circuit="coil", limits={"L": {"lower": "1 mH", "at": "1 kHz"}}),
        ),
    ),
    "q-beyond-phase-accuracy": Case(
        raises=lambda: evidence(coil(), "coil", accuracy=_phase(0.05)),
        misses=lambda: evidence(coil(), "coil", accuracy=_phase(0.01)),
    ),
    "series-or-parallel-open": Case(
        raises=lambda: evidence(sweep(), "tank", facts={"questions": (MODEL,)}),
        misses=lambda: evidence(coil(low=20e3), "coil", facts={"questions": (MODEL,)}),
    ),
}


def test_a_missing_quantity_that_is_limited_is_a_warning():
    capture = sweep(low=1e3, high=4e3, noise=0.02)
    (note,) = found(
        evidence(capture, "tank", nominal=limited(L={"lower": "1 mH"})), "not-determined"
    )
    (warn,) = found(
        evidence(capture, "tank", nominal=limited(C={"lower": "1 pF"})), "not-determined"
    )
    assert (note.level, warn.level) == ("note", "warn")
    assert "C" in warn.text


def test_points_left_out_are_pointed_at_and_many_are_a_warning():
    (few,) = found(evidence(sweep(), "tank", set_aside=(50, 60)), "points-left-out")
    (many,) = found(evidence(sweep(), "tank", set_aside=tuple(range(50, 80))), "points-left-out")
    assert few.points == (50, 60)
    assert "Of 201 points 2 were not used (1 %)" in few.text
    assert (few.level, many.level) == ("note", "warn")


def test_samples_outside_the_window_of_a_ring_down_are_not_left_out():
    assert found(evidence(ring_down()), "points-left-out") == []


def test_correlated_elements_are_named():
    seen = CASES["elements-correlated"].raises()
    (finding, *_) = found(seen, "elements-correlated")
    assert "L and C can hardly be told apart (correlation -0.9" in finding.text


def test_disagreeing_methods_are_told_with_both_values():
    (finding,) = found(_opinion(70.0, agrees=False), "methods-disagree")
    assert "the half-power points gives Q = 70.0 ± 1.0, the fit 78." in finding.text


def test_a_value_that_the_fit_does_not_give_is_told_alone():
    opinion = Opinion(
        method="counting",
        estimate=Estimate(name="tau", value=1e-4, u=1e-5, unit="s"),
        agrees=False,
    )
    seen = evidence(sweep(), "tank", change=lambda fit: replace(fit, opinions=(opinion,)))
    assert found(seen, "methods-disagree")[0].text.startswith("counting gives tau = 100 ± 20 µs. ")


def test_residuals_of_a_curve_that_describes_are_passed_on():
    text = "Residuals look odd."
    (finding,) = found(_remarked(Remark(name="residuals", text=text)), "remark-of-the-fit")
    assert finding.text == text


def test_a_misfit_is_told_in_the_words_of_the_fit_where_it_has_some():
    capture = sweep()

    def missed(*remarks):
        return evidence(
            capture, "tank", change=lambda fit: replace(fit, describes=False, remarks=remarks)
        )

    told = found(missed(Remark(name="misfit", text="It is off.")), "fit-misses-data")[0]
    silent = found(missed(), "fit-misses-data")[0]
    assert told.text.startswith("It is off. ")
    assert silent.text.startswith("tank does not describe the data. ")


@pytest.mark.parametrize(
    ("q", "zero"),
    [(5.0, "2 %"), (3.0, "5.7 %")],
)
def test_the_shift_between_definitions_of_resonance_is_told(q, zero):
    # Zero phase at sqrt(1 - 1/Q^2) of f0: -5.7 % at Q 3, -2.0 % at Q 5; network theory.
    values = (TANK[0], TANK[1], math.sqrt(TANK[0] / TANK[1]) / q)
    (finding,) = found(
        evidence(sweep(values=values, low=40e3, high=300e3), "tank"), "low-q-resonance"
    )
    assert f"zero phase lies {zero} below f0" in finding.text


def test_a_tank_of_q_below_one_never_passes_zero_phase():
    values = (TANK[0], TANK[1], math.sqrt(TANK[0] / TANK[1]) / 0.9)
    seen = evidence(sweep(values=values, low=20e3, high=400e3), "tank")
    (finding,) = found(seen, "low-q-resonance")
    assert finding.text.startswith("At Q = 0.9 the phase of a tank never passes zero.")


@pytest.mark.parametrize(
    ("share", "excess", "level"),
    [(0.101, "1", "note"), (0.218, "5", "note"), (0.302, "10", "warn")],
)
def test_the_reading_of_a_meter_near_self_resonance_is_told(share, excess, level):
    # L / (1 - (f/SRF)^2): +1 % at 0.1, +5 % at 0.218, +10 % at 0.302; network theory.
    own = 1 / (2 * math.pi * math.sqrt(COIL[0] * COIL[1]))
    (finding,) = found(
        _coil_limit(L={"lower": "1 mH", "at": f"{share * own:.6g} Hz"}), "near-self-resonance"
    )
    assert f"a meter reads {excess} % more" in finding.text
    assert finding.level == level


def test_above_self_resonance_there_is_no_inductance():
    (finding,) = found(_coil_limit(L={"lower": "1 mH", "at": "1.4 MHz"}), "near-self-resonance")
    assert finding.level == "warn"
    assert "the coil is capacitive there" in finding.text


def test_a_design_without_a_frequency_asks_nothing_of_a_coil():
    nominal = design(circuit="coil", conditions={}, limits={"L": {"lower": "1 mH"}})
    seen = evidence(coil(), "coil", nominal=nominal)
    assert found(seen, "near-self-resonance") == found(seen, "mostly-resistive") == []


def test_phase_accuracy_limits_no_q_that_comes_from_a_resonance():
    seen = evidence(sweep(), "tank", accuracy=_phase(0.5))
    assert found(seen, "q-beyond-phase-accuracy") == []


def test_an_open_model_needs_no_answer_where_another_question_is_open():
    other = Question(name="channel", text="Which?", proposed="1")
    seen = evidence(sweep(), "tank", facts={"questions": (other,)})
    assert found(seen, "series-or-parallel-open") == []
