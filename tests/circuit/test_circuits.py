"""The table of circuits is complete and of one mind."""

from __future__ import annotations

import pytest

from benchapp.circuit import CIRCUITS, EXTENDED

PROMISED = {
    "series-rlc": {"L", "C", "R", "f0", "Q"},
    "parallel-rlc": {"L", "C", "R", "f0", "Q"},
    "tank": {"L", "C", "R", "f0", "Q"},
    "coil": {"L", "C", "Rdc", "Rac", "f0"},
    "inductor": {"L", "R"},
    "capacitor": {"C", "R", "L", "f0"},
    "coupled-pair": {"L", "C", "R", "f0", "Q", "k", "f2", "Q2"},
}


@pytest.mark.parametrize("name", PROMISED)
def test_a_circuit_gives_the_quantities_it_is_known_for(name):
    circuit = CIRCUITS[name]
    assert set(circuit.powers[0]) == PROMISED[name]


def test_no_circuit_is_missing_or_nameless():
    assert set(CIRCUITS) == set(PROMISED)
    for name, circuit in CIRCUITS.items():
        assert circuit.name == name
        assert circuit.title


def test_an_extension_adds_elements_to_the_circuit_of_its_name():
    for name, circuit in EXTENDED.items():
        plain = CIRCUITS[name].elements
        assert circuit.name == name
        assert circuit.elements[: len(plain)] == plain
        assert len(circuit.elements) > len(plain)
