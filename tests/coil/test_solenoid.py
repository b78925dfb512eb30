"""Single-layer solenoids: current sheet, round wire, handbook formulas, self-capacitance."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from benchapp.coil import solenoid
from benchapp.coil.section import MU_0, Section, mean_mutual
from benchapp.coil.solenoid import (
    MEDHURST,
    current_sheet,
    helix_error_percent,
    medhurst_factor,
    nagaoka,
    rosa_count,
    rosa_shape,
    round_wire_change,
    self_capacitance,
    sum_of_rings,
    wheeler_solenoid,
)
from tests.coil.truth import table, values

COILS = values("coils.toml")


def neumann_sheet(radius: float, length: float) -> float:
    """Inductance per turn squared of a current sheet by Neumann's formula.

    Both integrals along the axis are elementary; the angle is left, with its logarithm at zero.
    """

    def integrand(angle: float) -> float:
        chord = 2 * radius * math.sin(angle / 2)
        diagonal = math.hypot(length, chord)
        along = length * math.asinh(length / chord) - diagonal + chord
        return math.cos(angle) * along

    value, _ = integrate.quad(integrand, 0, math.pi, epsabs=0, epsrel=1e-11, limit=400)
    return MU_0 * radius * radius * 2 * value / length**2


def neumann_helix(diameter: float, pitch: float, turns: float, wire: float) -> float:
    """Inductance of a helix of round wire by Neumann's formula along its centre line.

    The two currents in one and the same piece of wire are kept apart by the geometric mean
    distance of the wire's section from itself, r exp(-1/4).
    """
    radius, rise = diameter / 2, pitch / (2 * math.pi)
    apart = wire / 2 * math.exp(-0.25)
    end = 2 * math.pi * turns
    near = apart / radius * 0.5 * 1.5 ** np.arange(60.0)
    edges = np.concatenate([[0.0], near[near < 0.3], np.arange(0.3, end, 0.1), [end]])
    nodes, weights = np.polynomial.legendre.leggauss(20)
    t = (edges[:-1, None] + np.diff(edges)[:, None] * (nodes + 1) / 2).ravel()
    weight = (np.diff(edges)[:, None] * weights / 2).ravel()
    same = np.where(t < math.pi, apart**2, 0.0)
    distance = np.sqrt(4 * radius**2 * np.sin(t / 2) ** 2 + (rise * t) ** 2 + same)
    integrand = (radius**2 * np.cos(t) + rise**2) / distance
    return 2e-7 * float(np.sum(weight * (end - t) * integrand))


@pytest.mark.parametrize("row", table("nagaoka.csv"), ids=lambda row: row["diameter_over_length"])
def test_nagaokas_coefficient_to_12_digits_and_as_printed(row):
    found = nagaoka(float(row["diameter_over_length"]))
    assert found == pytest.approx(float(row["K"]), abs=6e-13)
    if row["printed"]:
        assert found == pytest.approx(float(row["printed"]), abs=6e-7)


@pytest.mark.parametrize(
    "row", table("grover_table_36.csv")[1:], ids=lambda row: row["length_over_diameter"]
)
def test_nagaokas_coefficient_as_in_grovers_table_36(row):
    found = nagaoka(1 / float(row["length_over_diameter"]))
    assert found == pytest.approx(float(row["K"]), rel=1e-9)
    assert found == pytest.approx(float(row["printed"]), abs=1.7e-6)


def test_short_coils_pass_smoothly_into_the_series(monkeypatch):
    by_series = nagaoka(100.0000001)
    monkeypatch.setattr(solenoid, "_SHORT", 1e6)
    assert nagaoka(100.0000001) == pytest.approx(by_series, rel=2e-12)


def test_long_coils_pass_smoothly_into_the_first_term():
    assert nagaoka(1e-8) == pytest.approx(nagaoka(0.999999e-8), abs=1e-14)


@given(st.floats(0, 1e4), st.floats(1e-6, 1))
def test_nagaokas_coefficient_falls_with_the_diameter(ratio, more):
    assert 0 < nagaoka(ratio * (1 + more) + more) < nagaoka(ratio) <= 1


@pytest.mark.parametrize("name", ["sheet", "sheet_large"])
def test_current_sheets_with_known_inductance(name):
    coil = COILS[name]
    found = current_sheet(coil["diameter"], coil["length"], coil["turns"])
    assert found == pytest.approx(coil["L"], rel=1e-12 if name == "sheet" else 1e-11)


@pytest.mark.parametrize("length", [0.001, 0.01, 0.1, 1.0, 10.0])
def test_current_sheet_agrees_with_neumanns_integral(length):
    expected = 100**2 * neumann_sheet(0.05, length)
    assert current_sheet(0.1, length, 100) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("length", [0.002, 0.05, 0.6])
def test_current_sheet_agrees_with_the_mean_of_maxwells_circles(length):
    sheet = Section(inner=0.05, outer=0.05, length=length)
    assert mean_mutual(sheet, sheet) == pytest.approx(current_sheet(0.1, length, 1), rel=5e-8)


@given(st.floats(0.001, 1), st.floats(0.001, 1), st.floats(1, 500), st.floats(0.1, 10))
def test_current_sheet_grows_as_turns_squared_and_as_size(diameter, length, turns, factor):
    one = current_sheet(diameter, length, 1)
    assert current_sheet(diameter, length, turns) == pytest.approx(one * turns**2, rel=1e-12)
    scaled = current_sheet(factor * diameter, factor * length, 1)
    assert scaled == pytest.approx(factor * one, rel=1e-9)


@pytest.mark.parametrize("row", table("rosa.csv"), ids=lambda r: f"{r['table']} {r['argument']}")
def test_rosas_corrections_as_tabulated(row):
    correction = rosa_count if row["table"] == "k_m" else rosa_shape
    found = correction(float(row["argument"]))
    assert found == pytest.approx(float(row["value"]), abs=6e-10)


@pytest.mark.parametrize("turns", [1, 2, 3, 7, 25, 400])
def test_rosas_count_is_its_defining_sum(turns):
    sum_of_logs = sum((turns - k) * math.log(k) for k in range(1, turns))
    square = turns * turns
    defined = -(square * (math.log(turns) - 1.5) + 1.5 * turns - 2 * sum_of_logs) / turns
    assert rosa_count(turns) == pytest.approx(defined, abs=2e-9)


def test_rosas_count_rises_between_whole_turns_to_its_limit():
    counts = [rosa_count(turns) for turns in np.linspace(1, 40, 400)]
    assert np.all(np.diff(counts) > 0)
    assert rosa_count(1e6) == pytest.approx(math.log(2 * math.pi) - 1.5, abs=1e-5)


def test_round_wire_lowers_the_sheet_as_tabulated():
    coil = COILS["round_wire"]
    sheet = current_sheet(coil["diameter"], coil["length"], coil["turns"])
    pitch = coil["length"] / coil["turns"]
    change = round_wire_change(coil["diameter"] / 2, coil["turns"], pitch, coil["wire"])
    assert sheet == pytest.approx(coil["sheet"], rel=1e-13)
    assert sheet + change == pytest.approx(coil["L"], rel=1e-12)


WOUND = [
    (0.05, 0.001, 50, 0.0008),
    (0.05, 0.001, 5, 0.001),
    (0.05, 0.002, 5, 0.002),
    (0.05, 0.001, 500, 0.0009),
    (0.02, 0.002, 10, 0.001),
    (0.02, 0.002, 10, 0.0005),
    (0.02, 0.002, 2, 0.0019),
    (0.01, 0.002, 5, 0.001),
    (0.01, 0.01, 5, 0.001),
]


@pytest.mark.parametrize(("diameter", "pitch", "turns", "wire"), WOUND)
def test_round_wire_agrees_with_a_helix_within_its_stated_error(diameter, pitch, turns, wire):
    corrected = current_sheet(diameter, pitch * turns, turns)
    corrected += round_wire_change(diameter / 2, turns, pitch, wire)
    helix = neumann_helix(diameter, pitch, turns, wire)
    stated = helix_error_percent(diameter, pitch, turns, corrected)
    assert abs(corrected / helix - 1) * 100 < stated


def test_a_close_winding_has_a_stated_error_below_a_tenth_of_a_percent():
    corrected = current_sheet(0.05, 0.05, 50) + round_wire_change(0.025, 50, 0.001, 0.0008)
    assert helix_error_percent(0.05, 0.001, 50, corrected) < 0.1


@pytest.mark.parametrize(("diameter", "pitch", "turns", "wire"), WOUND[:5])
def test_sum_over_rings_confirms_the_corrections(diameter, pitch, turns, wire):
    """Left over is the curvature of the rings, of the order of (pitch/diameter)^2."""
    corrected = current_sheet(diameter, pitch * turns, turns)
    corrected += round_wire_change(diameter / 2, turns, pitch, wire)
    rings = sum_of_rings(diameter, pitch, turns, wire)
    assert corrected / rings - 1 == pytest.approx(0, abs=0.2 * (pitch / diameter) ** 2)


@pytest.mark.parametrize(
    "row", table("wheeler_error.csv"), ids=lambda row: row["length_over_diameter"]
)
def test_wheelers_formula_and_its_error(row):
    inch = 0.0254
    length = float(row["length_over_diameter"]) * 2 * inch
    found = wheeler_solenoid(2 * inch, length, 100)
    exact = current_sheet(2 * inch, length, 100)
    assert 1e6 * found == pytest.approx(float(row["wheeler_uH"]), rel=1e-8)
    assert 1e6 * exact == pytest.approx(float(row["sheet_uH"]), rel=1e-8)
    assert 100 * (found / exact - 1) == pytest.approx(float(row["error_percent"]), abs=6e-3)


def test_wheelers_formula_is_within_1_percent_from_a_length_of_0_4_diameters():
    errors = [
        abs(wheeler_solenoid(1, ratio, 1) / current_sheet(1, ratio, 1) - 1)
        for ratio in np.linspace(0.4, 20, 300)
    ]
    assert max(errors) < 0.01


def test_wheelers_single_layer_example():
    expected = COILS["wheeler"]["single_layer"]
    assert 1e6 * wheeler_solenoid(0.0508, 0.0508, 100) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("row", table("medhurst.csv"), ids=lambda row: row["length_over_diameter"])
def test_medhursts_table_row_by_row(row):
    factor = medhurst_factor(float(row["length_over_diameter"]))
    assert factor == pytest.approx(float(row["pF_per_cm"]), rel=1e-12)


def test_medhursts_table_is_whole():
    assert len(MEDHURST) == len(table("medhurst.csv")) == 33
    assert list(MEDHURST) == sorted(MEDHURST)


@given(st.floats(0.1, 50))
def test_between_rows_the_factor_lies_between_its_neighbours(ratio):
    below = max(row for row in MEDHURST if row[0] <= ratio)
    above = min(row for row in MEDHURST if row[0] >= ratio)
    factor = medhurst_factor(ratio)
    assert factor is not None
    low, high = sorted((below[1], above[1]))
    assert low * (1 - 1e-12) <= factor <= high * (1 + 1e-12)


@pytest.mark.parametrize("ratio", [0.0999, 50.01])
def test_outside_the_table_no_self_capacitance_is_invented(ratio):
    assert medhurst_factor(ratio) is None
    assert self_capacitance(0.1, 0.1 * ratio) is None


def test_self_capacitance_of_a_coil_as_long_as_wide():
    assert self_capacitance(0.05, 0.05) == pytest.approx(0.46e-12 * 5)
