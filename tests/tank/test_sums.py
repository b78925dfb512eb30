"""From a design to its sums."""

from __future__ import annotations

import dataclasses
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.tank import Losses, TankDesign, elements_of, solve
from benchapp.units import Quantity, parse_quantity

FOLDER = Path(__file__).parent.parent / "truth"
TRUTH = tomllib.loads((FOLDER / "resonance.toml").read_text(encoding="utf-8"))
PRACTICE = tomllib.loads((FOLDER / "tank_practice.toml").read_text(encoding="utf-8"))
RES1 = TRUTH["RES-1"]


def design(L="1mH", C="1nF", f=None, circuit="series", **losses):
    return TankDesign(
        inductance=None if L is None else parse_quantity(L, "H"),
        capacitance=None if C is None else parse_quantity(C, "F"),
        frequency=None if f is None else parse_quantity(f, "Hz"),
        circuit=circuit,
        losses=Losses(**losses),
    )


def test_res_1_and_5_and_6():
    sums = solve(design(coil_resistance=RES1["R"]))
    assert sums.frequency.nominal == pytest.approx(RES1["f0"], rel=1e-14)
    assert sums.z_tank == pytest.approx(RES1["Z_tank"])
    assert sums.q == pytest.approx(RES1["Q"])
    assert sums.bandwidth == pytest.approx(RES1["BW"], rel=1e-13)
    assert sums.decay_time == pytest.approx(TRUTH["RES-5"]["tau"], rel=1e-12)
    assert sums.decay_cycles == pytest.approx(TRUTH["RES-6"]["cycles"][2], rel=1e-13)
    assert sums.edges == pytest.approx((TRUTH["RES-2"]["lower"], TRUTH["RES-2"]["upper"]))
    assert sums.derived == "f0"


def test_ring_down_counts_to_q():
    """Half and 1/e counts as bench practice has them: Q = pi * cycles."""
    entry = PRACTICE["ring_down"]
    sums = solve(design(coil_resistance=1000.0 / entry["Q"]))
    assert sums.decay_cycles == pytest.approx(entry["cycles_to_1_over_e"], rel=1e-4)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_res_10_any_two_give_the_third(place):
    entry = {name: TRUTH["RES-10"][name][place] for name in ("f0", "L", "C")}
    L, C, f = (
        Quantity(value=entry[name], unit=unit)
        for name, unit in (("L", "H"), ("C", "F"), ("f0", "Hz"))
    )
    from_f = solve(TankDesign(inductance=L, frequency=f))
    assert from_f.derived == "C"
    assert from_f.capacitance.nominal == pytest.approx(entry["C"], rel=1e-13)
    from_c = solve(TankDesign(capacitance=C, frequency=f))
    assert from_c.derived == "L"
    assert from_c.inductance.nominal == pytest.approx(entry["L"], rel=1e-13)
    assert solve(TankDesign(inductance=L, capacitance=C)).frequency.nominal == pytest.approx(
        entry["f0"], rel=1e-13
    )


@pytest.mark.parametrize("place", [0, 1, 2])
def test_res_7_8_9_of_a_parallel_tank(place):
    q = TRUTH["RES-7"]["Q"][place]
    sums = solve(design(circuit="parallel", coil_resistance=1000 / q))
    f0 = sums.frequency.nominal
    assert sums.zero_phase == pytest.approx(f0 * TRUTH["RES-7"]["ratio"][place], rel=1e-12)
    assert sums.peak_frequency == pytest.approx(f0 * TRUTH["RES-8"]["ratio"][place], rel=1e-12)
    peak = TRUTH["RES-9"]["ratio"][place] * q * 1000
    assert sums.terminal_impedance == pytest.approx(peak, rel=1e-12)
    assert any("say which" in note for note in sums.notes) == (q < 10)


def test_a_series_tank_is_resistive_and_least_at_f0():
    sums = solve(design(coil_resistance=10.0, capacitor_resistance=1.0, joints=0.5))
    assert sums.zero_phase == sums.frequency.nominal
    assert sums.peak_frequency == sums.frequency.nominal
    assert sums.terminal_impedance == pytest.approx(11.5)


def test_worst_case_and_root_sum_of_squares_as_practice_has_them():
    entry = PRACTICE["stack_up"]
    sums = solve(design(L="1mH±10%", C="1nF±5%"))
    f0 = sums.frequency
    assert f0.low / f0.nominal - 1 == pytest.approx(entry["worst_low"], abs=1e-9)
    assert f0.high / f0.nominal - 1 == pytest.approx(entry["worst_high"], abs=1e-9)
    assert f0.rss_low / f0.nominal - 1 == pytest.approx(-entry["rss"], rel=1e-12)
    assert f0.rss_high / f0.nominal - 1 == pytest.approx(entry["rss"], rel=1e-12)


spans = st.tuples(st.floats(-0.4, 0.0), st.floats(0.0, 0.4))


@settings(deadline=None)
@given(spans, spans, st.sampled_from(["L", "C", "f0"]))
def test_bounds_are_the_extremes_over_the_whole_box(first, second, derived):
    values = {"L": (1e-3, "H"), "C": (1e-9, "F"), "f0": (159e3, "Hz")}
    given_names = [name for name in values if name != derived]
    quantities = {
        name: Quantity(value=values[name][0], unit=values[name][1], low=span[0], high=span[1])
        for name, span in zip(given_names, (first, second), strict=True)
    }
    sums = solve(
        TankDesign(
            inductance=quantities.get("L"),
            capacitance=quantities.get("C"),
            frequency=quantities.get("f0"),
        )
    )
    spread = {"L": sums.inductance, "C": sums.capacitance, "f0": sums.frequency}[derived]
    a, b = (
        np.linspace(quantities[name].lower, quantities[name].upper, 21) for name in given_names
    )
    a, b = np.meshgrid(a, b)
    everything = {
        "f0": lambda: 1 / (2 * np.pi * np.sqrt(a * b)),
        "L": lambda: 1 / ((2 * np.pi * b) ** 2 * a),
        "C": lambda: 1 / ((2 * np.pi * b) ** 2 * a),
    }[derived]()
    assert spread.low == pytest.approx(everything.min(), rel=1e-12)
    assert spread.high == pytest.approx(everything.max(), rel=1e-12)


def test_one_tolerance_alone_gives_bounds_and_none_gives_none():
    one = solve(design(L="1mH±10%")).frequency
    assert one.low == pytest.approx(one.nominal / math.sqrt(1.1))
    assert one.rss_high == pytest.approx(one.nominal * 1.05)
    none = solve(design()).frequency
    assert (none.low, none.high, none.rss_low, none.rss_high) == (None, None, None, None)


def test_given_quantities_keep_their_own_bounds():
    sums = solve(design(L="1mH -2% +5%"))
    assert sums.inductance.low == pytest.approx(0.98e-3)
    assert sums.inductance.high == pytest.approx(1.05e-3)
    assert sums.inductance.rss_low == sums.inductance.low


def test_losses_of_coil_and_capacitor_are_kept_apart():
    sums = solve(design(coil_q=100.0, loss_tangent=1.7e-2))
    assert sums.q_coil == pytest.approx(100)
    assert sums.q_capacitor == pytest.approx(1 / 1.7e-2)
    assert 1 / sums.q == pytest.approx(1 / sums.q_coil + 1 / sums.q_capacitor)
    assert sums.coil_resistance == pytest.approx(10)
    assert sums.capacitor_resistance == pytest.approx(17)
    assert any(note == "The capacitor causes 63 % of the tank's loss." for note in sums.notes)


def test_series_source_sense_and_load_add_to_the_loaded_q():
    sums = solve(design(coil_resistance=10.0, source=4.0, sense=1.0, load=25.0))
    assert sums.q == pytest.approx(100)
    assert sums.q_loaded == pytest.approx(25)
    assert sums.bandwidth_loaded == pytest.approx(sums.frequency.nominal / 25)
    assert sums.decay_time_loaded == pytest.approx(25 / (math.pi * sums.frequency.nominal))


def test_parallel_source_and_load_damp_by_their_conductance():
    sums = solve(design(circuit="parallel", coil_resistance=10.0, source=1e5, load=2e5))
    assert 1 / sums.q_loaded == pytest.approx(0.01 + 0.01 + 0.005)


def test_a_stiff_source_across_a_parallel_tank_leaves_no_loaded_q():
    sums = solve(design(circuit="parallel", coil_resistance=10.0, source=0.0))
    assert sums.q == pytest.approx(100)
    assert sums.q_loaded is None
    assert any("fixes the tank's voltage" in note for note in sums.notes)


def test_unstated_losses_give_no_q_and_say_so():
    sums = solve(design())
    assert sums.q is None
    assert sums.bandwidth is None
    assert sums.decay_time is None
    assert sums.notes == (
        "The coil's loss is not stated: there is no Q, bandwidth or decay time.",
    )
    half = solve(design(coil_resistance=10.0))
    assert half.q_capacitor is None
    assert "upper limit" in half.notes[0]
    assert solve(design(loss_tangent=1e-3)).q_capacitor == pytest.approx(1000)


def test_a_loss_of_zero_has_no_finite_q():
    sums = solve(design(coil_resistance=0.0, capacitor_resistance=0.0))
    assert sums.q is None
    assert sums.coil_resistance == 0


def test_an_overdamped_tank_has_no_ringing():
    sums = solve(design(coil_resistance=3000.0))
    assert sums.damped_frequency is None
    assert sums.log_decrement is None
    assert sums.decay_cycles is None


def test_elements_turn_losses_into_resistances():
    elements = elements_of(Losses(coil_q=50.0, loss_tangent=1e-3), "series", 1e-3, 1e-9)
    assert elements.coil == pytest.approx(20)
    assert elements.capacitor == pytest.approx(1)
    assert elements.load is None


def test_sums_are_frozen():
    sums = solve(design())
    with pytest.raises(dataclasses.FrozenInstanceError):
        sums.q = 1.0


extremes = st.sampled_from([1e-18, 1.0, 1e18])


@settings(deadline=None)
@given(extremes, extremes, extremes, extremes, st.sampled_from(["series", "parallel"]))
def test_every_size_that_is_accepted_is_worked_out_without_overflow(L, C, coil, cap, circuit):
    sums = solve(
        TankDesign(
            inductance=Quantity(value=L, unit="H"),
            capacitance=Quantity(value=C, unit="F"),
            circuit=circuit,
            losses=Losses(coil_resistance=coil, capacitor_resistance=cap),
        )
    )
    numbers = [getattr(sums, name) for name in sums.__slots__]
    assert all(math.isfinite(number) for number in numbers if isinstance(number, float))
