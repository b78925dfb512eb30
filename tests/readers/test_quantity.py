"""Pairs of quantities give the impedance back exactly, whichever pair was written."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.readers.quantity import RECIPES, find_recipes, polar

W = 2 * np.pi * np.array([1e3, 1e4, 1e5, 1e6])
resistances = st.floats(1e-3, 1e5)
reactances = st.floats(1e-3, 1e5) | st.floats(-1e5, -1e-3)


def written(z, omega):
    """Every quantity that an instrument shows for one impedance, from its definition."""
    y = 1 / z
    q = abs(z.imag) / z.real
    return {
        "R": z.real,
        "X": z.imag,
        "|Z|": abs(z),
        "theta": np.angle(z),
        "G": y.real,
        "B": y.imag,
        "|Y|": abs(y),
        "Ls": z.imag / omega,
        "Lp": -1 / (omega * y.imag),
        "Cs": -1 / (omega * z.imag),
        "Cp": y.imag / omega,
        "Rs": z.real,
        "DCR": z.real,
        "Rp": 1 / y.real,
        "Q": q,
        "D": 1 / q,
    }


@pytest.mark.parametrize("recipe", RECIPES, ids=lambda recipe: " and ".join(recipe.roles))
@given(r=resistances, x=reactances)
def test_a_pair_gives_the_impedance_that_it_was_written_from(recipe, r, x):
    z = np.full(W.size, r + 1j * x)
    columns = written(z, W)
    if recipe.roles == ("|Y|", "theta"):
        columns["theta"] = np.angle(1 / z)
    found = recipe.impedance(W, columns[recipe.roles[0]], columns[recipe.roles[1]])
    np.testing.assert_allclose(found, z, rtol=1e-6)


def test_a_negative_q_belongs_to_a_negative_inductance():
    (recipe,) = [entry for entry in RECIPES if entry.roles == ("Ls", "Q")]
    inductance = np.array([1e-3, -1e-3, -1e-3])
    found = recipe.impedance(np.full(3, 1e6), inductance, np.array([50.0, -50.0, 50.0]))
    assert found.tolist() == [20 + 1000j, 20 - 1000j, 20 - 1000j]


def test_two_own_columns_come_before_ratios_and_the_dc_resistance_last():
    found = find_recipes({"Ls": 0, "Q": 1, "Rs": 2, "DCR": 3, "R": 4, "X": 5})
    assert [recipe.roles for recipe in found] == [
        ("R", "X"),
        ("Ls", "Rs"),
        ("X", "Rs"),
        ("Ls", "Q"),
        ("X", "Q"),
        ("Ls", "DCR"),
        ("X", "DCR"),
    ]


def test_one_quantity_alone_fixes_nothing():
    assert find_recipes({"Ls": 0}) == []
    assert find_recipes({"|Z|": 0, "Q": 1}) == []


@pytest.mark.parametrize(
    ("roles", "circuit"),
    [
        (("Ls", "Q"), "series"),
        (("Cp", "D"), "parallel"),
        (("R", "X"), None),
        (("Lp", "Rp"), "parallel"),
    ],
)
def test_the_circuit_is_that_of_the_quantities(roles, circuit):
    (recipe,) = [entry for entry in RECIPES if entry.roles == roles]
    assert recipe.circuit == circuit


def test_polar_form():
    assert polar(np.array([2.0]), np.array([np.pi / 2]))[0] == pytest.approx(2j)
