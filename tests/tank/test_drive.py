"""The driven tank against an independent circuit simulator and the conservation of energy."""

from __future__ import annotations

import csv
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.errors import QuantityError
from benchapp.tank import (
    Band,
    Drive,
    Elements,
    Losses,
    Spread,
    TankDesign,
    drive_tank,
    fundamental,
    operate,
    peak,
    place_in_band,
    respond,
    solve,
)
from benchapp.units import parse_quantity

FOLDER = Path(__file__).parent.parent / "truth"
RESONANCE = tomllib.loads((FOLDER / "resonance.toml").read_text(encoding="utf-8"))
PRACTICE = tomllib.loads((FOLDER / "tank_practice.toml").read_text(encoding="utf-8"))
SOLVED = list(
    csv.DictReader(
        line
        for line in (FOLDER / "driven_tank.csv").read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    )
)
COMMON = {
    "inductance": 1.62e-3,
    "capacitance": 868e-12,
    "coil": 16.0,
    "capacitor": 0.41,
    "joints": 0.2,
}
ELEMENTS = {
    "series": Elements(circuit="series", source=2.0, sense=1.0, load=30.0, **COMMON),
    "parallel": Elements(circuit="parallel", source=1e4, sense=10.0, load=3e5, **COMMON),
}
SINE = Drive(form="sine", size=10.0)
F0 = 1 / (2 * math.pi * math.sqrt(1.62e-3 * 868e-12))


@pytest.mark.parametrize("circuit", ["series", "parallel"])
@pytest.mark.parametrize("quantity", ["source_current", "coil_voltage", "capacitor_voltage"])
def test_currents_and_voltages_are_those_of_the_circuit_simulator(circuit, quantity):
    rows = [row for row in SOLVED if row["circuit"] == circuit]
    frequency = [float(row["frequency"]) for row in rows]
    response = respond(ELEMENTS[circuit], SINE, frequency)
    simulated = [float(row[quantity]) for row in rows]
    np.testing.assert_allclose(getattr(response, quantity), simulated, rtol=1e-7)


@settings(deadline=None)
@given(
    st.sampled_from(["series", "parallel"]),
    st.floats(0.3, 3.0),
    st.sampled_from(["sine", "half-bridge", "full-bridge"]),
)
def test_all_watts_together_are_what_the_source_gives(circuit, ratio, form):
    elements, drive = ELEMENTS[circuit], Drive(form=form, size=24.0)
    point = operate(elements, drive, ratio * F0)
    total = point.impedance * np.exp(1j * math.radians(point.phase_degrees))
    total += elements.source + elements.sense
    volt = fundamental(drive)
    given_watts = volt * point.source_current * math.cos(float(np.angle(total)))
    assert point.power == pytest.approx(given_watts, rel=1e-9)
    assert point.power == pytest.approx(sum(point.powers.values()))


def test_res_13_the_capacitor_carries_q_times_the_drive():
    entry = RESONANCE["RES-13"]
    elements = Elements(circuit="series", inductance=1e-3, capacitance=1e-9, coil=10.0)
    point = operate(elements, Drive(form="sine", size=entry["drive"]), RESONANCE["RES-1"]["f0"])
    assert point.capacitor_voltage == pytest.approx(entry["voltage"], rel=1e-9)
    assert point.side == "resistive"


def test_bridges_have_the_fundamental_of_a_square_wave():
    entry = PRACTICE["bridge"]
    assert fundamental(Drive(form="half-bridge", size=1.0)) == pytest.approx(entry["half"])
    assert fundamental(Drive(form="full-bridge", size=1.0)) == pytest.approx(entry["full"])
    assert fundamental(Drive(form="sine", size=7.0)) == 7.0
    assert fundamental(Drive(form="current", size=7.0)) is None


def test_the_fundamental_is_that_of_a_sampled_square_wave():
    samples = np.where(np.arange(4096) < 2048, 1.0, 0.0)
    first = 2 * abs(np.fft.rfft(samples)[1]) / samples.size / math.sqrt(2)
    assert fundamental(Drive(form="half-bridge", size=1.0)) == pytest.approx(first, rel=1e-6)


def test_twenty_amperes_in_220_nanofarad_at_100_kilohertz():
    entry = PRACTICE["capacitor_at_current"]
    design = TankDesign(
        capacitance=parse_quantity("220nF", "F"),
        frequency=parse_quantity("100kHz", "Hz"),
        losses=Losses(loss_tangent=entry["loss_tangent"]),
        drive=Drive(form="current", size=entry["current"]),
    )
    driven = drive_tank(design, solve(design))
    assert driven is not None
    assert driven.point.capacitor_voltage == pytest.approx(entry["voltage"], rel=1e-7)
    assert driven.point.powers["capacitor"] == pytest.approx(entry["dissipation"], rel=1e-6)
    assert any("watts leave out the coil's" in note for note in driven.notes)


def test_a_current_source_feeds_the_terminals_of_a_parallel_tank():
    elements = ELEMENTS["parallel"]
    point = operate(elements, Drive(form="current", size=1e-3), F0)
    assert point.tank_voltage == pytest.approx(1e-3 * point.impedance)
    assert point.coil_current > 10e-3
    assert point.powers["source"] == 0


@pytest.mark.parametrize(
    ("circuit", "ratio", "side"),
    [
        ("series", 0.95, "capacitive"),
        ("series", 1.05, "inductive"),
        ("parallel", 0.95, "inductive"),
        ("parallel", 1.05, "capacitive"),
    ],
)
def test_side_of_the_resonance(circuit, ratio, side):
    assert operate(ELEMENTS[circuit], SINE, ratio * F0).side == side


def test_a_tank_without_any_resistance_has_no_bounded_current():
    elements = Elements(
        circuit="series", inductance=1.0, capacitance=1.0
    )  # resonates at exactly 1 rad/s
    with pytest.raises(QuantityError, match="driven tank: must have a resistance somewhere"):
        respond(elements, SINE, [1 / (2 * math.pi)])


@pytest.mark.parametrize("circuit", ["series", "parallel"])
def test_peaks_in_a_band_are_not_exceeded_on_a_fine_grid(circuit):
    elements, band = ELEMENTS[circuit], (125e3, 140e3)
    volts, amperes = peak(elements, SINE, band)
    fine = respond(elements, SINE, np.linspace(*band, 150_001))
    assert volts.capacitor_voltage >= fine.capacitor_voltage.max() * (1 - 1e-9)
    assert amperes.capacitor_current >= fine.capacitor_current.max() * (1 - 1e-9)
    assert band[0] <= volts.frequency <= band[1]


def test_greatest_capacitor_voltage_of_a_series_tank_is_where_theory_has_it():
    """V_C is greatest at f0 sqrt(1 - 1/(2 Q^2)): closed formula of the series circuit."""
    elements = Elements(circuit="series", inductance=1e-3, capacitance=1e-9, coil=200.0)
    volts, _ = peak(elements, SINE, (50e3, 300e3))
    f0 = RESONANCE["RES-1"]["f0"]
    assert volts.frequency == pytest.approx(f0 * math.sqrt(1 - 1 / 50), rel=1e-6)


def test_a_band_away_from_the_resonance_has_its_peak_at_an_end():
    volts, _ = peak(ELEMENTS["series"], SINE, (150e3, 160e3))
    assert volts.frequency == pytest.approx(150e3)


def _design(**changes):
    values = {
        "inductance": parse_quantity("1.62mH", "H"),
        "capacitance": parse_quantity("868pF", "F"),
        "losses": Losses(coil_resistance=16.0, loss_tangent=3e-4, source=2.0, load=30.0),
        "drive": Drive(form="full-bridge", size=12.0, frequency=130e3),
        "band": Band(low=130e3, high=138e3),
    }
    return TankDesign(**{**values, **changes})


def test_loaded_and_unloaded_are_both_given():
    design = _design()
    driven = drive_tank(design, solve(design))
    assert driven is not None
    assert driven.point.frequency == 130e3
    assert driven.unloaded.powers["load"] == 0
    ratio = driven.resonance_unloaded.capacitor_voltage / driven.resonance.capacitor_voltage
    total = 16.0 + 3e-4 * solve(design).z_tank + 2.0
    assert ratio == pytest.approx((total + 30) / total, rel=1e-9)


def test_capacitive_side_of_a_bridge_is_noted():
    design = _design()
    driven = drive_tank(design, solve(design))
    assert driven is not None
    assert any("switches turn on hard" in note for note in driven.notes)
    above = _design(drive=Drive(form="full-bridge", size=12.0, frequency=140e3))
    quiet = drive_tank(above, solve(above))
    assert quiet is not None
    assert not any("switches turn on hard" in note for note in quiet.notes)


@pytest.mark.parametrize(
    ("losses", "form", "circuit", "known"),
    [
        (Losses(), "sine", "series", False),
        (Losses(), "current", "series", True),
        (Losses(), "current", "parallel", False),
        (Losses(coil_resistance=0.0), "sine", "series", False),
        (Losses(coil_resistance=0.0, source=50.0), "sine", "series", True),
        (Losses(coil_resistance=16.0), "current", "parallel", True),
        (Losses(coil_resistance=0.0), "current", "parallel", False),
    ],
)
def test_currents_are_given_only_where_the_losses_bound_them(losses, form, circuit, known):
    design = _design(losses=losses, circuit=circuit, drive=Drive(form=form, size=1.0), band=None)
    assert (drive_tank(design, solve(design)) is not None) is known


def test_without_a_drive_there_is_nothing_to_say():
    design = _design(drive=None)
    assert drive_tank(design, solve(design)) is None


BAND = Band(low=132e3, high=136e3)


@pytest.mark.parametrize(
    ("spread", "band", "inside", "nearer", "margin", "words"),
    [
        ((134e3,), BAND, True, "low", 2e3, "inside (no tolerance given)"),
        ((135e3, 134e3, 135.9e3), BAND, True, "high", 1e3, "inside, also at worst"),
        ((135e3, 133e3, 137e3), BAND, True, "high", 1e3, "inside, but tolerances lead outside"),
        ((137e3, 136e3, 138e3), BAND, False, "high", -1e3, "outside, beyond the upper end"),
        ((131e3,), BAND, False, "low", -1e3, "outside, beyond the lower end"),
        ((131e3,), Band(high=136e3), True, "high", 5e3, "inside (no tolerance given)"),
    ],
)
def test_place_in_the_band(spread, band, inside, nearer, margin, words):
    nominal, *ends = spread
    low, high = ends or (None, None)
    place = place_in_band(
        Spread(nominal=nominal, unit="Hz", low=low, high=high, rss_low=low, rss_high=high), band
    )
    assert (place.inside, place.nearer, place.words) == (inside, nearer, words)
    assert place.margin == pytest.approx(margin)


def test_a_band_that_only_the_worst_case_leaves():
    spread = Spread(nominal=134e3, unit="Hz", low=131e3, high=137e3, rss_low=133e3, rss_high=135e3)
    place = place_in_band(spread, BAND)
    assert place.words == "inside, but outside when all tolerances add up"
    assert place.margin_rss == pytest.approx(1e3)
    assert place.margin_worst == pytest.approx(-1e3)


SERIES = Elements(circuit="series", inductance=1e-3, capacitance=1e-9, coil=8.0, capacitor=2.0)
PARALLEL = Elements(circuit="parallel", inductance=1e-3, capacitance=1e-9, coil=10.0)
RES_F0 = RESONANCE["RES-1"]["f0"]


@pytest.mark.parametrize(
    ("quantity", "expected"),
    [
        ("impedance", 10.0),
        ("source_current", 0.1),
        ("coil_current", 0.1),
        ("capacitor_current", 0.1),
        ("tank_voltage", 1.0),
        ("coil_voltage", 0.1 * math.hypot(8, 1000)),
        ("capacitor_voltage", 0.1 * math.hypot(2, 1000)),
        ("power", 0.1),
        ("phase_degrees", 0.0),
    ],
)
def test_a_series_tank_at_resonance_by_hand(quantity, expected):
    """1 V across 8 + 2 ohm, reactances 1 kohm."""
    point = operate(SERIES, Drive(form="sine", size=1.0), RES_F0)
    assert getattr(point, quantity) == pytest.approx(expected, rel=1e-9, abs=1e-8)


@pytest.mark.parametrize(
    ("where", "watts"),
    [("coil", 0.08), ("capacitor", 0.02), ("joints", 0.0), ("source", 0.0), ("load", 0.0)],
)
def test_watts_of_a_series_tank_at_resonance_by_hand(where, watts):
    point = operate(SERIES, Drive(form="sine", size=1.0), RES_F0)
    assert point.powers[where] == pytest.approx(watts, rel=1e-9)


@pytest.mark.parametrize(
    ("quantity", "expected"),
    [
        ("tank_voltage", 10.0),
        ("capacitor_voltage", 10.0),
        ("capacitor_current", 0.01),
        ("coil_current", 10 / math.hypot(10, 1000)),
        ("source_current", 10 * 1e-3 * 10 / math.hypot(10, 1000)),
    ],
)
def test_a_parallel_tank_at_f0_by_hand(quantity, expected):
    """10 V stiff across the tank: Y = j w C + 1/(R + j w L), |Y| = R w C/|R + j w L| at w0."""
    point = operate(PARALLEL, Drive(form="sine", size=10.0), RES_F0)
    assert getattr(point, quantity) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("circuit", ["series", "parallel"])
@pytest.mark.parametrize(
    "quantity",
    [
        "impedance",
        "phase_degrees",
        "source_current",
        "tank_voltage",
        "coil_voltage",
        "coil_current",
        "capacitor_voltage",
        "capacitor_current",
    ],
)
def test_the_curve_is_made_of_operating_points(circuit, quantity):
    frequency = np.linspace(120e3, 150e3, 7)
    curve = respond(ELEMENTS[circuit], SINE, frequency)
    points = [operate(ELEMENTS[circuit], SINE, float(f)) for f in frequency]
    np.testing.assert_allclose(
        getattr(curve, quantity), [getattr(point, quantity) for point in points], rtol=1e-12
    )


def test_at_the_half_power_edges_the_current_is_down_by_the_root_of_two():
    """RES-2, series tank of Q 100."""
    elements = Elements(circuit="series", inductance=1e-3, capacitance=1e-9, coil=10.0)
    edges = [RESONANCE["RES-2"]["lower"], RES_F0, RESONANCE["RES-2"]["upper"]]
    current = respond(elements, SINE, edges).source_current
    assert current[0] == pytest.approx(current[1] / math.sqrt(2), rel=1e-9)
    assert current[2] == pytest.approx(current[1] / math.sqrt(2), rel=1e-9)


def test_a_load_in_a_series_tank_takes_its_share_of_the_watts():
    elements = Elements(
        circuit="series", inductance=1e-3, capacitance=1e-9, coil=10.0, source=5.0, load=35.0
    )
    point = operate(elements, SINE, RES_F0)
    assert point.powers["load"] / point.power == pytest.approx(0.7)
    assert point.powers["coil"] / point.power == pytest.approx(0.2)
    assert point.powers["source"] / point.power == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("ratio", "side"),
    [
        (0.5, "capacitive"),
        (0.9, "capacitive"),
        (0.999, "capacitive"),
        (1.0, "resistive"),
        (1.001, "inductive"),
        (1.1, "inductive"),
        (2.0, "inductive"),
    ],
)
def test_side_of_a_series_tank_along_the_band(ratio, side):
    assert operate(SERIES, SINE, ratio * RES_F0).side == side


def test_a_lossless_tank_exactly_at_resonance_is_neither_inductive_nor_capacitive():
    lossless = Elements(circuit="series", inductance=1e-3, capacitance=1e-9, source=50.0)
    assert operate(lossless, SINE, RES_F0).side == "resistive"
