from __future__ import annotations

import math
import tomllib

import numpy as np
import pytest

from benchapp.bench import scenario
from benchapp.bench.device import draw, impedance
from benchapp.units import parse_quantity

CARRIER = 134.2e3  # Hz, ISO 11785 (carrier of the ear-tag reader)


def test_the_nominal_tank_is_tuned_to_the_carrier():
    """f0 = 1/(2 pi sqrt(LC)): 1.620 mH and 868 pF give 134.216 kHz, 0.012 % above."""
    L, C = scenario.DESIGN.value("L"), scenario.DESIGN.value("C")
    assert 1 / (2 * math.pi * math.sqrt(L * C)) == pytest.approx(CARRIER, rel=2e-4)


def test_the_nominal_values_lie_well_inside_their_limits():
    limits = tomllib.loads(scenario.NOMINAL)["limits"]
    L, C, R = (scenario.DESIGN.value(name) for name in "LCR")
    assert parse_quantity(limits["L"]["nominal"], "H").value == L
    q = 2 * math.pi * CARRIER * L / R
    assert limits["Q"]["lower"] * 1.2 < q < limits["Q"]["upper"] / 1.2
    assert parse_quantity(limits["ESR"]["upper"], "ohm").value > R * 1.2
    assert math.sqrt(L / C) == pytest.approx(1366.1, abs=0.1)


def test_a_lot_of_the_design_stays_inside_the_inductance_limits():
    """3 % is 3.75 standard deviations: one part in 5,600 lies outside."""
    rng = np.random.default_rng(3)
    lot = [draw(scenario.DESIGN, rng).value("L") / 1.620e-3 - 1 for _ in range(5000)]
    assert sum(abs(deviation) > 0.03 for deviation in lot) <= 5


def test_a_shorted_turn_breaks_all_three_limits():
    L, R = scenario.SHORTED_TURN.value("L"), scenario.SHORTED_TURN.value("R")
    assert L < 0.97 * 1.620e-3
    assert 2 * math.pi * CARRIER * L / R < 60
    assert R > 22


def test_coil_and_tank_tell_one_story():
    """The coil alone has the tank's inductance, and at the carrier the tank's resistance."""
    assert scenario.COIL.value("L") == scenario.TANK.value("L")
    series = scenario.COIL.value("Rdc") + scenario.COIL.value("Rac") * math.sqrt(CARRIER)
    assert series == pytest.approx(scenario.TANK.value("R"), rel=5e-3)


def test_in_series_the_tank_shows_its_resistance_at_resonance():
    L, C = scenario.SERIES.value("L"), scenario.SERIES.value("C")
    f0 = np.array([1 / (2 * math.pi * math.sqrt(L * C))])
    assert impedance(scenario.SERIES, f0)[0] == pytest.approx(scenario.TANK.value("R"), rel=1e-9)
