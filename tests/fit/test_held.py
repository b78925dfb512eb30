"""Known elements are held, and their uncertainty reaches the others."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.errors import FitError
from benchapp.fit import fit
from benchapp.units import Estimate
from tests.fit.simulated import VALUES, simulated, truth


def known(name, value, u=None, unit="F"):
    """One known element."""
    return {name: Estimate(name=name, value=value, u=u, unit=unit)}


@pytest.mark.parametrize("name", [name for name in VALUES if name != "coupled-pair"])
def test_with_one_element_held_the_others_are_found(name):
    element = truth(name)
    for held in element:
        result = fit(simulated(name), name, fix=known(held, element[held], unit="x"))
        assert result.converged
        assert result.describes
        assert result.fixed == (held,)
        assert result.estimates[held].value == pytest.approx(element[held], rel=1e-12)
        for other, value in element.items():
            if other in result.estimates:
                estimate = result.estimates[other]
                assert abs(estimate.value - value) <= 5 * estimate.u + 1e-12 * value


def test_the_uncertainty_of_the_known_one_is_carried_into_the_others():
    # with C known to 1 % and f0 seen sharply, L is known to 1 %, against it
    result = fit(simulated("tank"), "tank", fix=known("C", 1e-9, 1e-11))
    place = {name: k for k, name in enumerate(result.elements)}
    assert result.estimates["C"].u == pytest.approx(1e-11, rel=1e-9)
    assert result.estimates["L"].u == pytest.approx(1e-5, rel=0.05)
    cross = result.covariance[place["L"], place["C"]]
    assert cross / (result.estimates["L"].u * 1e-11) < -0.9


def test_the_sensitivity_is_that_of_refitting():
    step = 1e-12
    one = fit(simulated("tank"), "tank", fix=known("C", 1e-9, step))
    other = fit(simulated("tank"), "tank", fix=known("C", 1e-9 + step))
    exactly = fit(simulated("tank"), "tank", fix=known("C", 1e-9))
    own = one.covariance - exactly.covariance
    moved = other.values - one.values
    np.testing.assert_allclose(np.sqrt(own.diagonal()), np.abs(moved), rtol=0.05, atol=1e-15)


def test_holding_an_element_exactly_makes_the_others_surer():
    free = fit(simulated("tank"), "tank")
    held = fit(simulated("tank"), "tank", fix=known("C", 1e-9))
    assert held.estimates["L"].u < free.estimates["L"].u
    assert held.dof == free.dof + 1


def test_what_the_sweep_does_not_tell_can_be_given():
    # far below its resonance a tank tells nothing of C; with L and R free and C known, all is well
    sweep = simulated("tank", frequency=np.geomspace(3e2, 3e3, 101))
    assert "C" in fit(sweep, "tank").undetermined
    assert not fit(sweep, "tank", fix=known("C", 1e-9)).undetermined


def test_left_open_only_circuits_with_the_known_element_are_tried():
    result = fit(simulated("tank"), fix=known("C", 1e-9))
    assert result.circuit == "tank"
    assert "inductor" not in {other.circuit for other in result.alternatives}


@pytest.mark.parametrize(
    ("fix", "message"),
    [
        (known("Rdc", 1.0), "known element: must be one of L, C, R for tank .got Rdc."),
        (known("C", -1e-9), "known element C: must be above zero .got -1e-09."),
        (
            {**known("L", 1e-3), **known("C", 1e-9), **known("R", 10.0)},
            "known elements: must leave at least one to be found .got all of tank.",
        ),
    ],
)
def test_known_elements_that_do_not_suit_are_refused(fix, message):
    with pytest.raises(FitError, match=message):
        fit(simulated("tank"), "tank", fix=fix)


def test_no_circuit_has_an_element_of_that_name():
    with pytest.raises(FitError, match="there must be a circuit with the known elements"):
        fit(simulated("tank"), fix=known("X", 1.0))
