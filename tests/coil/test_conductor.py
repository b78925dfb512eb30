"""Wire: gauges, resistance, skin effect, layers and litz."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from benchapp.coil.conductor import (
    MATERIALS,
    METRIC_DIAMETERS,
    WIRE_SERIES,
    Conductor,
    awg_diameter,
    bessel_ratio,
    dowell,
    foil_height,
    internal_inductance,
    litz_factor,
    parse_wire,
    resistivity,
    round_wire_ratio,
    skin_depth,
    wire_table,
)
from benchapp.errors import QuantityError
from tests.coil.truth import table, values

COILS = values("coils.toml")


def number_of(gauge: str) -> int:
    return 1 - len(gauge) if gauge.strip("0") == "" else int(gauge)


@pytest.mark.parametrize("row", table("awg.csv"), ids=lambda row: row["gauge"])
def test_wire_gauges_as_tabulated(row):
    diameter = awg_diameter(number_of(row["gauge"]))
    area = math.pi * diameter**2 / 4
    assert 1e3 * diameter == pytest.approx(float(row["diameter_mm"]), rel=1e-7)
    assert 1e6 * area == pytest.approx(float(row["area_mm2"]), rel=1e-7)
    assert 1e3 * resistivity() / area == pytest.approx(float(row["ohm_per_km"]), rel=1e-7)


def test_two_gauges_are_defined_and_the_ratio_follows():
    mil = 25.4e-6
    assert awg_diameter(36) == pytest.approx(5 * mil, rel=1e-15)
    assert awg_diameter(-3) == pytest.approx(460 * mil, rel=1e-15)
    assert awg_diameter(20) / awg_diameter(21) == pytest.approx(1.12293219653, rel=1e-11)


@pytest.mark.parametrize("gauge", [-4, 57])
def test_gauges_that_do_not_exist_are_refused(gauge):
    with pytest.raises(QuantityError, match="gauge: must lie between 0000 and 56"):
        awg_diameter(gauge)


@pytest.mark.parametrize(
    ("text", "diameter"),
    [
        ("AWG 24", 0.51055923e-3),
        ("24awg", 0.51055923e-3),
        ("awg-10", 2.5881867e-3),
        ("AWG0000", 11.684e-3),
        ("00 AWG", 9.2658332e-3),
        ("awg 0", 8.2514628e-3),
        ("0.5mm", 0.5e-3),
        ("71 um", 71e-6),
        ("0.0003", 0.3e-3),
    ],
)
def test_wire_is_read_as_a_gauge_or_a_length(text, diameter):
    assert parse_wire(text).value == pytest.approx(diameter, rel=1e-7)


def test_wire_keeps_its_tolerance():
    wire = parse_wire("0.5mm ±0.01mm")
    assert (wire.lower, wire.upper) == pytest.approx((0.49e-3, 0.51e-3))


def test_wire_that_is_no_wire_is_refused():
    with pytest.raises(QuantityError, match="must be"):
        parse_wire("24 gauge")


def test_metric_sizes_are_the_preferred_numbers():
    """Each step of R 20 is a power of 10^(1/20), rounded by ISO 3 by at most 1.3 %."""
    place = 20 * np.log10(np.array(METRIC_DIAMETERS) / 1e-3)
    assert np.all(np.abs(place - np.round(place)) < 20 * math.log10(1.013))
    assert np.all(np.diff(np.round(place)) == 1)
    assert (METRIC_DIAMETERS[0], METRIC_DIAMETERS[-1]) == (20e-6, 5e-3)
    assert 0.71e-3 in METRIC_DIAMETERS


@pytest.mark.parametrize("series", WIRE_SERIES)
def test_wire_tables_state_size_area_and_resistance(series):
    rows = wire_table(series, Conductor())
    sizes = [row.diameter for row in rows]
    assert sizes == sorted(sizes, reverse=series == "awg")
    for row in rows:
        assert row.area == pytest.approx(math.pi * row.diameter**2 / 4)
        assert row.resistance_per_metre * row.area == pytest.approx(1e-6 / 58)


def test_wire_table_names_the_large_gauges_as_the_trade_does():
    names = [row.name for row in wire_table("awg", Conductor())]
    assert names[:5] == ["0000", "000", "00", "0", "1"]
    assert names[-1] == "50"


def test_hot_wire_has_more_resistance_in_the_table():
    cold = wire_table("metric", Conductor())[0].resistance_per_metre
    hot = wire_table("metric", Conductor(temperature_celsius=100))[0].resistance_per_metre
    assert hot / cold == pytest.approx(1.3144)


def test_unknown_wire_table_is_refused():
    with pytest.raises(QuantityError, match="series: must be one of awg, metric"):
        wire_table("swg", Conductor())


def test_copper_as_the_international_standard_says():
    assert resistivity() == pytest.approx(COILS["copper"]["resistivity"], rel=1e-14)
    ratio = resistivity("copper", 100) / resistivity("copper", 20)
    assert ratio == pytest.approx(COILS["copper"]["ratio_at_100_celsius"], rel=1e-14)


def test_aluminium_has_three_fifths_of_the_conductivity_of_copper():
    assert resistivity("copper") / resistivity("aluminium") == pytest.approx(0.61, abs=1e-3)
    assert all(material.source for material in MATERIALS.values())


@pytest.mark.parametrize(
    "row", table("skin_depth_copper.csv"), ids=lambda row: row["frequency_hz"]
)
def test_skin_depth_of_copper_as_tabulated(row):
    depth = float(skin_depth(float(row["frequency_hz"]), resistivity()))
    assert 1e3 * depth == pytest.approx(float(row["depth_mm"]), rel=1e-9)


def depth_at(x: float) -> float:
    """Skin depth of a wire of 1 m diameter at x = d/(sqrt 2 delta)."""
    return 1 / (math.sqrt(2) * x) if x else 1e12


@pytest.mark.parametrize("row", table("skin_ratio.csv"), ids=lambda row: row["x"])
def test_lone_wire_as_tabulated_to_9_digits(row):
    depth = depth_at(float(row["x"]))
    ratio = round_wire_ratio(1.0, depth)[0]
    internal = internal_inductance(1.0, depth)[0]
    assert ratio == pytest.approx(float(row["resistance_ratio"]), rel=6e-10)
    assert internal == pytest.approx(float(row["inductance_ratio"]), rel=6e-10)


def test_lone_wire_at_the_places_that_others_quote():
    wire = COILS["wire"]
    added = 100 * (round_wire_ratio(1.0, depth_at(2.14))[0] - 1)
    assert added == pytest.approx(wire["added_percent_at_2_14"], abs=5e-5)
    depth = skin_depth(100e3, resistivity())
    ratio = round_wire_ratio(awg_diameter(10), depth)[0]
    assert ratio == pytest.approx(wire["awg_10_at_100_khz"], rel=1e-6)


def test_bessel_ratio_agrees_with_scipy_over_eight_decades():
    size = np.concatenate([np.logspace(-4, 4, 300), np.linspace(25, 60, 300)])
    q = (1 + 1j) * size
    expected = q * special.ive(0, q) / (2 * special.ive(1, q))
    np.testing.assert_allclose(bessel_ratio(q), expected, rtol=5e-15)
    assert bessel_ratio(0.0)[0] == 1


@given(st.floats(1e-3, 1e3), st.floats(1.001, 2))
def test_resistance_rises_and_internal_inductance_falls_with_frequency(share, more):
    depths = np.array([1 / share, 1 / (share * more)])
    low, high = round_wire_ratio(1.0, depths)
    assert 1 <= low <= high
    inside, less = internal_inductance(1.0, depths)
    assert 1 + 1e-12 >= inside >= less * (1 - 1e-9) > 0


@pytest.mark.parametrize(
    "row", table("dowell.csv"), ids=lambda row: f"{row['layers']}-{row['height_over_depth']}"
)
def test_dowells_formula_to_11_digits(row):
    found = float(dowell(int(row["layers"]), float(row["height_over_depth"])))
    assert found == pytest.approx(float(row["ratio"]), rel=1e-11)


@pytest.mark.parametrize("layers", [1, 3, 10])
def test_dowells_formula_agrees_with_its_complex_form(layers):
    """Re[ah coth ah] + (m^2 - 1)/3 Re[2ah tanh(ah/2)], ah = (1 + j) D, from a public page."""
    for size in (0.05, 0.3, 1.0, 4.0):
        ah = (1 + 1j) * size
        form = (ah / np.tanh(ah)).real + (layers**2 - 1) / 3 * (2 * ah * np.tanh(ah / 2)).real
        assert float(dowell(layers, size)) == pytest.approx(form, rel=1e-11)


def test_dowells_formula_joins_its_series_and_does_not_overflow():
    below, above = dowell(10, np.array([0.99999e-2, 1.00001e-2]))
    assert above == pytest.approx(below, rel=1e-9)
    assert float(dowell(1, 1e4)) == pytest.approx(1e4, rel=1e-12)


def test_foil_of_touching_wire_fills_the_layer():
    """A square of the wire's area, its side stretched by sqrt(side/pitch)."""
    side = math.sqrt(math.pi) / 2 * 1e-3
    assert float(foil_height(1e-3, side, 1.0)) == pytest.approx(side)
    assert float(foil_height(1e-3, 4 * side, 1.0)) == pytest.approx(side / 2)


def test_litz_of_one_strand_is_dowells_limit_but_for_round_against_square():
    """Many layers of thin wire: Dowell's m^2 D^4/9 with D of the foil is pi/3 of the round."""
    wire, pitch, layers, depth = 1e-3, 1.2e-3, 200, 40e-3
    breadth = 50 * pitch
    round_wire = litz_factor(1, wire, layers * 50, breadth, depth) - 1
    square = dowell(layers, foil_height(wire, pitch, depth)) - 1
    assert float(square / round_wire) == pytest.approx(math.pi / 3, rel=1e-3)


@given(st.integers(2, 500), st.floats(20e-6, 100e-6))
def test_litz_losses_grow_as_strands_squared_and_as_the_sixth_power_of_their_size(strands, strand):
    one = float(litz_factor(1, strand, 100, 0.01, 1e-3)) - 1
    many = float(litz_factor(strands, 2 * strand, 100, 0.01, 1e-3)) - 1
    assert many == pytest.approx(64 * strands**2 * one, rel=1e-6)


def test_area_of_solid_wire_and_of_litz():
    assert Conductor().area(1e-3) == pytest.approx(math.pi / 4 * 1e-6)
    litz = Conductor(strands=45, strand=71e-6)
    assert litz.area(0.7e-3) == pytest.approx(45 * math.pi / 4 * 71e-6**2)


def test_strands_that_do_not_fit_are_refused():
    with pytest.raises(QuantityError, match=r"strands: must fit into the wire of 0\.3 mm"):
        Conductor(strands=45, strand=71e-6).area(0.3e-3)


@pytest.mark.parametrize(
    ("sizes", "message"),
    [
        ({"material": "gold"}, "material: must be one of copper, aluminium"),
        ({"temperature_celsius": -150.0}, "temperature: must lie between -100 and 250 degC"),
        ({"temperature_celsius": math.nan}, "temperature: must lie between"),
        ({"leads": -0.1}, "leads: must be zero or more"),
        ({"strands": 7}, "strands: must be two or more together with their diameter"),
        ({"strand": 1e-4}, "strands: must be two or more together with their diameter"),
        ({"strands": 0}, "strands: must be two or more together with their diameter"),
        ({"strands": 7, "strand": -1e-4}, "strand: must be above zero and finite"),
    ],
)
def test_conductors_that_cannot_be_are_refused(sizes, message):
    with pytest.raises(QuantityError, match=message):
        Conductor(**sizes)
