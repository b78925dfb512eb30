"""Every simulator result belongs to its netlist, and our circuits give the same impedance."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from benchapp.circuit import CIRCUITS
from tests.truth.spice import FOLDER, PRINTED, RING_DOWN, RING_DOWN_ERROR, SWEEPS, load

ALL = (*SWEEPS, RING_DOWN)
CARD = re.compile(r"^([RLCK]\d)(?: \w+){2} ([\d.e+-]+)", re.MULTILINE)
NAMED = {
    "series_rlc": {"R": "R1", "L": "L1", "C": "C1"},
    "parallel_rlc": {"R": "R1", "L": "L1", "C": "C1"},
    "tank_q80": {"R": "R1", "L": "L1", "C": "C1"},
    "tank_q3": {"R": "R1", "L": "L1", "C": "C1"},
    "coil": {"Rdc": "R1", "L": "L1", "C": "C1"},
    "inductor": {"R": "R1", "L": "L1"},
    "capacitor": {"R": "R1", "L": "L1", "C": "C1"},
    "coupled_pair": {"R": "R1", "L": "L1", "C": "C1", "k": "K1"},
    "ring_down": {"R": "R1", "L": "L1", "C": "C1"},
}


def cards(name: str) -> dict[str, float]:
    """Give the element cards of a netlist."""
    text = (FOLDER / f"{name}.cir").read_text()
    return {card: float(value) for card, value in CARD.findall(text)}


@pytest.mark.parametrize("name", ALL)
def test_the_header_names_the_values_that_the_netlist_solves(name):
    solved, card = load(name), cards(name)
    for element, label in NAMED[name].items():
        assert solved.elements[element] == card[label]


def test_the_second_loop_has_the_frequency_and_q_that_its_header_states():
    solved, card = load("coupled_pair"), cards("coupled_pair")
    f2 = 1 / (2 * math.pi * math.sqrt(card["L2"] * card["C2"]))
    q2 = math.sqrt(card["L2"] / card["C2"]) / card["R2"]
    assert solved.elements["f2"] == pytest.approx(f2, rel=1e-15)
    assert solved.elements["Q2"] == pytest.approx(q2, rel=1e-15)


@pytest.mark.parametrize("name", ALL)
def test_each_result_names_its_simulator_and_stays_small(name):
    lines = (FOLDER / f"{name}.csv").read_text().splitlines()
    assert lines[0] == f"# ngspice-39, batch mode, netlist {name}.cir"
    assert 100 <= load(name).x.size <= 200


@pytest.mark.parametrize("name", SWEEPS)
def test_our_circuit_gives_the_impedance_to_the_digits_printed(name):
    solved = load(name)
    circuit = CIRCUITS[solved.circuit]
    values = np.array([solved.elements.get(element, 0.0) for element in circuit.elements])
    ours = circuit.impedance(solved.x, values)
    np.testing.assert_array_less(np.abs(ours - solved.y), PRINTED * np.abs(solved.y))


def test_the_ring_down_is_the_closed_form_of_a_tank_let_go_at_one_volt():
    solved = load(RING_DOWN)
    L, C, R = (solved.elements[name] for name in "LCR")
    decay = R / (2 * L)
    ringing = math.sqrt(1 / (L * C) - decay**2)
    phase = ringing * solved.x
    expected = np.exp(-decay * solved.x) * (np.cos(phase) + decay / ringing * np.sin(phase))
    np.testing.assert_allclose(solved.y.real, expected, atol=RING_DOWN_ERROR, rtol=0)
