"""What is done with a design: everything computed, tolerances, turns for an inductance."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.coil.conductor import Conductor
from benchapp.coil.design import Deviation, calculate, spread, turns_for
from benchapp.coil.geometry import (
    Loop,
    Multilayer,
    Pair,
    Planar,
    Rectangle,
    Solenoid,
    Spiral,
    Straight,
)
from benchapp.coil.mutual import Plate
from benchapp.errors import QuantityError

COIL = Solenoid(diameter=0.05, length=0.05, turns=50, wire=0.8e-3)


def names(result, at=None) -> list[str]:
    return [entry.quantity for entry in result.quantities if entry.at == at]


def test_a_solenoid_of_known_wire_gives_everything():
    result = calculate(COIL, frequencies=[134.2e3])
    assert names(result) == ["L", "C_self", "SRF", "wire_length", "R_dc"]
    assert names(result, 134.2e3) == ["skin_depth", "L", "R_ac", "Q", "L_apparent", "Q_apparent"]
    assert result.get("L").value == pytest.approx(83.9066867165823e-6, rel=1e-12)


def test_self_resonance_is_that_of_inductance_and_self_capacitance():
    result = calculate(COIL)
    product = result.get("L").value * result.get("C_self").value
    assert result.get("SRF").value == pytest.approx(1 / (2 * math.pi * math.sqrt(product)))


def test_inductance_reads_one_third_high_at_half_the_self_resonance():
    resonance = calculate(COIL).get("SRF").value
    result = calculate(COIL, frequencies=[resonance / 2])
    at = resonance / 2
    real, apparent = result.get("L", at).value, result.get("L_apparent", at).value
    assert apparent / real == pytest.approx(4 / 3, rel=0.01)
    q, q_apparent = result.get("Q", at).value, result.get("Q_apparent", at).value
    assert q_apparent / q == pytest.approx(3 / 4, rel=0.01)


def test_above_the_self_resonance_nothing_is_read_as_an_inductance():
    resonance = calculate(COIL).get("SRF").value
    result = calculate(COIL, frequencies=[1.1 * resonance])
    assert result.get("L_apparent", 1.1 * resonance) is None
    assert result.get("Q", 1.1 * resonance) is not None


def test_q_is_reactance_over_resistance():
    result = calculate(COIL, frequencies=[1e5])
    expected = 2 * math.pi * 1e5 * result.get("L", 1e5).value / result.get("R_ac", 1e5).value
    assert result.get("Q", 1e5).value == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("design", "words"),
    [
        (Solenoid(diameter=0.05, length=0.05, turns=50), "need the wire"),
        (Planar(form="square", inner=0.02, outer=0.05, turns=10), "width and thickness"),
        (Multilayer(inner=0.04, outer=0.06, length=0.01, turns=300), "Self-capacitance"),
        (Solenoid(diameter=0.05, length=0.004, turns=5), "Self-capacitance"),
    ],
)
def test_what_cannot_be_computed_is_said_in_words(design, words):
    assert any(words in text for text in calculate(design).remarks)


def test_frequencies_without_a_wire_are_answered_in_words():
    result = calculate(Planar(form="square", inner=0.02, outer=0.05, turns=10), frequencies=[1e5])
    assert names(result, 1e5) == []
    assert any("round wire of known diameter" in text for text in result.remarks)


def test_tight_thick_wire_is_called_an_estimate():
    tight = calculate(COIL, frequencies=[1e6, 100.0])
    assert tight.get("R_ac", 1e6).error_percent is None
    assert tight.get("R_ac", 100.0).error_percent == 5.0
    assert any("factor of two" in text for text in tight.remarks)
    loose = calculate(replace(COIL, wire=0.3e-3), frequencies=[1e6])
    assert not any("factor of two" in text for text in loose.remarks)


def test_handbook_resistances_stand_beside_the_computed_one():
    result = calculate(COIL, frequencies=[134.2e3])
    beside = [entry for entry in result.approximations if entry.quantity == "R_ac"]
    assert [entry.method for entry in beside] == [
        "skin effect of the wire alone",
        "Dowell, layers of a long coil",
    ]
    litz = calculate(COIL, Conductor(strands=45, strand=71e-6), frequencies=[134.2e3])
    assert any("Sullivan" in entry.method for entry in litz.approximations)


def test_a_lone_loop_has_no_handbook_resistance_beside_it():
    result = calculate(Loop(diameter=0.1, wire=1e-3), frequencies=[134.2e3])
    assert [entry.quantity for entry in result.approximations] == ["L"]
    assert result.get("R_ac", 134.2e3).method == "skin effect"


@pytest.mark.parametrize("frequency", [0.0, -1.0, math.inf, math.nan])
def test_a_frequency_that_is_none_is_refused(frequency):
    with pytest.raises(QuantityError, match="frequency: must be above zero and finite"):
        calculate(COIL, frequencies=[frequency])


@pytest.mark.parametrize(
    "design",
    [COIL, Spiral(inner=0.04, outer=0.06, turns=10), Loop(diameter=0.1, wire=1e-3)],
    ids=["solenoid", "spiral", "loop"],
)
def test_ferrite_raises_and_metal_lowers_the_inductance(design):
    alone = calculate(design).get("L").value
    ferrite = calculate(design, plate=Plate(kind="ferrite", gap=2e-3)).get("L_plate").value
    metal = calculate(design, plate=Plate(kind="metal", gap=2e-3)).get("L_plate").value
    assert metal < alone < ferrite < 2 * alone


@pytest.mark.parametrize(
    "design",
    [
        Rectangle(width=0.4, height=0.3, wire=1e-3),
        Planar(form="square", inner=0.02, outer=0.05, turns=10),
        Pair(diameter1=0.08, diameter2=0.05, distance=0.02),
        Straight(length=0.1, wire=1e-3),
    ],
    ids=["rectangle", "planar", "pair", "straight"],
)
def test_a_plate_that_no_formula_covers_is_answered_in_words(design):
    result = calculate(design, plate=Plate(kind="ferrite", gap=2e-3))
    assert result.get("L_plate") is None
    assert any("No published formula covers a plate" in text for text in result.remarks)


LOOSE = {
    "diameter": Deviation(low=-0.2e-3, high=0.2e-3),
    "length": Deviation(low=-0.5e-3, high=1e-3),
    "wire": Deviation(low=-0.01e-3, high=0.01e-3),
}


def corners(design, deviations, quantity):
    ends = [
        [getattr(design, name) + end for end in (deviation.low, deviation.high)]
        for name, deviation in deviations.items()
    ]
    for corner in itertools.product(*ends):
        moved = replace(design, **dict(zip(deviations, corner, strict=True)))
        yield calculate(moved).get(quantity).value


def test_worst_case_is_exact_against_all_corners():
    found = spread(COIL, LOOSE)["L"]
    brute = list(corners(COIL, LOOSE, "L"))
    assert (found.low, found.high) == pytest.approx((min(brute), max(brute)), rel=1e-12)


def test_worst_case_of_mutual_inductance_and_coupling_is_exact_too():
    pair = Pair(diameter1=0.08, diameter2=0.05, distance=0.02, wire1=1e-3, wire2=0.5e-3)
    deviations = {
        "diameter1": Deviation(low=-1e-3, high=1e-3),
        "diameter2": Deviation(low=-1e-3, high=1e-3),
        "distance": Deviation(low=-2e-3, high=2e-3),
    }
    found = spread(pair, deviations)
    for quantity in ("M", "k"):
        brute = list(corners(pair, deviations, quantity))
        bounds = (found[quantity].low, found[quantity].high)
        assert bounds == pytest.approx((min(brute), max(brute)), rel=1e-12)


def test_uncertainty_agrees_with_a_draw_of_even_dimensions():
    rng = np.random.default_rng(20260101)
    drawn = []
    for _ in range(1500):
        sizes = {
            name: getattr(COIL, name) + rng.uniform(deviation.low, deviation.high)
            for name, deviation in LOOSE.items()
        }
        drawn.append(calculate(replace(COIL, **sizes)).get("L").value)
    found = spread(COIL, LOOSE)["L"]
    assert found.u == pytest.approx(float(np.std(drawn)), rel=0.06)
    assert found.low <= min(drawn)
    assert max(drawn) <= found.high


def test_shares_say_which_dimension_matters_most():
    shares = spread(COIL, LOOSE)["L"].shares
    assert max(shares, key=shares.get) == "length"
    assert math.hypot(*shares.values()) == pytest.approx(spread(COIL, LOOSE)["L"].u)


def test_tolerances_reach_the_result():
    result = calculate(COIL, deviations=LOOSE)
    best, found = result.get("L"), spread(COIL, LOOSE)["L"]
    assert (best.low, best.high, best.u) == (found.low, found.high, found.u)
    assert best.low < best.value < best.high


def test_a_range_for_unknown_wire_is_not_narrowed_by_tolerances():
    pair = Pair(diameter1=0.5, diameter2=0.4, distance=0.1)
    tight = {"distance": Deviation(low=-1e-4, high=1e-4)}
    assert calculate(pair, deviations=tight).get("k") == calculate(pair).get("k")
    assert calculate(pair, deviations=tight).get("M").low is not None


def test_the_tolerance_of_something_else_is_refused():
    with pytest.raises(QuantityError, match="tolerance: 'width' must be a dimension"):
        spread(COIL, {"width": Deviation(low=-1e-3, high=1e-3)})


def test_a_tolerance_into_impossible_wire_is_refused():
    with pytest.raises(QuantityError, match="wire: must be no thicker than the pitch"):
        spread(COIL, {"wire": Deviation(low=0.0, high=0.3e-3)})


def fixed_length(turns: int) -> Solenoid:
    return Solenoid(diameter=0.05, length=0.05, turns=turns, wire=0.5e-3)


def fixed_pitch(turns: int) -> Solenoid:
    return Solenoid(diameter=0.05, length=1e-3 * turns, turns=turns, wire=0.5e-3)


@settings(max_examples=40)
@given(st.floats(1e-6, 3e-4), st.sampled_from([fixed_length, fixed_pitch]))
def test_turns_lie_on_either_side_of_the_wanted_inductance(wanted, build):
    found = turns_for(build, wanted)
    below, above = found.below, found.above
    assert above[0] == below[0] + 1
    assert below[1] < wanted <= above[1]
    assert below[0] <= found.turns <= above[0]
    for turns, reached in (below, above):
        assert calculate(build(turns)).get("L").value == pytest.approx(reached, rel=1e-12)


def test_turns_of_a_layered_winding():
    def build(turns: int) -> Multilayer:
        return Multilayer(inner=0.04, outer=0.06, length=0.01, turns=turns)

    found = turns_for(build, 5.164746274928799e-3)
    assert found.above[0] in {300, 301}
    assert found.turns == pytest.approx(300, abs=1e-6)


def test_more_than_one_turn_gives_is_said():
    found = turns_for(fixed_length, 1e-9)
    assert found.below is None
    assert found.turns is None
    assert found.above[0] == 1


def test_wire_that_does_not_fit_ends_the_search():
    found = turns_for(fixed_length, 1.0)
    assert found.above is None
    assert found.turns is None
    assert found.below[0] == 100


def test_turns_beyond_reason_are_refused():
    with pytest.raises(QuantityError, match=r"wanted inductance: must be within reach of 20000"):
        turns_for(lambda turns: Solenoid(diameter=0.05, length=0.05, turns=turns), 1e3)


@pytest.mark.parametrize("wanted", [0.0, -1e-3, math.inf, math.nan])
def test_an_inductance_that_is_none_is_refused(wanted):
    with pytest.raises(QuantityError, match="wanted inductance: must be above zero and finite"):
        turns_for(fixed_length, wanted)


def test_a_design_that_cannot_be_wound_at_all_is_refused_as_such():
    with pytest.raises(QuantityError, match="wire: must be no thicker than the pitch"):
        turns_for(lambda turns: replace(fixed_length(1), turns=turns, wire=0.06), 1e-3)


WOUND = {
    "solenoid": Solenoid(diameter=0.05, length=0.05, turns=50, wire=0.5e-3),
    "multilayer": Multilayer(inner=0.04, outer=0.06, length=0.01, turns=300, wire=0.4e-3),
    "spiral": Spiral(inner=0.04, outer=0.06, turns=10, wire=0.5e-3),
    "loop": Loop(diameter=0.1, wire=1e-3),
    "rectangle": Rectangle(width=0.4, height=0.3, wire=0.5e-3, turns=10, pitch=1e-3),
    "straight": Straight(length=0.1, wire=1e-3),
}
FLAT = {
    **WOUND,
    "planar": Planar(form="octagonal", inner=0.02, outer=0.05, turns=10, track=5e-4),
    "pair": Pair(diameter1=0.08, diameter2=0.05, distance=0.02, wire1=1e-3, wire2=5e-4),
}


def scaled(design, factor: float):
    """The same coil, every length larger by a factor."""
    lengths = {
        name: getattr(design, name) * factor
        for name in design.__dataclass_fields__
        if not name.startswith(("turns", "form")) and getattr(design, name) is not None
    }
    return replace(design, **lengths)


@settings(max_examples=15)
@given(st.sampled_from(sorted(FLAT)), st.floats(0.05, 20))
def test_inductance_grows_as_the_size_of_a_coil(name, factor):
    """Maxwell's equations know no length for direct current: twice the size, twice L."""
    small, large = calculate(FLAT[name]), calculate(scaled(FLAT[name], factor))
    quantity = "M" if name == "pair" else "L"
    ratio = large.get(quantity).value / small.get(quantity).value
    assert ratio == pytest.approx(factor, rel=1e-9)
    for one, other in zip(small.approximations, large.approximations, strict=True):
        # The exponents of the monomial add up to 1.01: it was fitted to coils of one size.
        share = 1e-9 if "monomial" not in one.method else 0.014 * abs(math.log(factor)) + 1e-9
        assert other.value / one.value == pytest.approx(factor, rel=share)


@settings(max_examples=15)
@given(st.sampled_from(sorted(WOUND)), st.floats(0.2, 5))
def test_q_is_kept_when_the_size_grows_and_the_frequency_falls_as_its_square(name, factor):
    """Skin depth then grows with the coil: every ratio of lengths is the same."""
    frequency = 134.2e3
    small = calculate(WOUND[name], frequencies=[frequency])
    large = calculate(scaled(WOUND[name], factor), frequencies=[frequency / factor**2])
    q, q_large = small.get("Q", frequency), large.get("Q", frequency / factor**2)
    assert q_large.value == pytest.approx(q.value, rel=1e-8)
    direct, direct_large = small.get("R_dc").value, large.get("R_dc").value
    assert direct_large == pytest.approx(direct / factor, rel=1e-12)


@given(st.floats(0.01, 0.3), st.floats(0.01, 0.3), st.floats(1e-3, 0.3))
def test_a_pair_is_the_same_seen_from_either_coil(diameter1, diameter2, distance):
    there = Pair(diameter1=diameter1, diameter2=diameter2, distance=distance, turns1=7)
    back = Pair(diameter1=diameter2, diameter2=diameter1, distance=distance, turns2=7)
    for quantity in ("M", "k"):
        one, other = calculate(there).get(quantity), calculate(back).get(quantity)
        assert one.value == pytest.approx(other.value, rel=1e-9)


@given(st.floats(1e-3, 0.3), st.floats(1.01, 3))
def test_coupling_falls_with_distance(distance, more):
    near = Pair(diameter1=0.08, diameter2=0.05, distance=distance, wire1=1e-3, wire2=1e-3)
    far = replace(near, distance=distance * more)
    assert calculate(near).get("k").value > calculate(far).get("k").value


@pytest.mark.parametrize(
    ("name", "changed", "rises"),
    [
        ("solenoid", {"diameter": 0.06}, True),
        ("solenoid", {"length": 0.06}, False),
        ("solenoid", {"turns": 55}, True),
        ("solenoid", {"wire": 0.6e-3}, False),
        ("multilayer", {"outer": 0.065}, True),
        ("multilayer", {"length": 0.012}, False),
        ("multilayer", {"wire": 0.3e-3}, True),
        ("spiral", {"inner": 0.03}, False),
        ("loop", {"wire": 2e-3}, False),
        ("rectangle", {"width": 0.5}, True),
        ("rectangle", {"pitch": 2e-3}, False),
        ("straight", {"length": 0.2}, True),
        ("planar", {"inner": 0.03}, True),
    ],
)
def test_inductance_moves_the_way_a_winder_expects(name, changed, rises):
    before = calculate(FLAT[name]).get("L").value
    after = calculate(replace(FLAT[name], **changed)).get("L").value
    assert (after > before) == rises


@pytest.mark.parametrize("name", WOUND)
def test_a_warm_winding_has_less_q_at_low_frequency(name):
    cold = calculate(WOUND[name], frequencies=[1e3])
    warm = calculate(WOUND[name], Conductor(temperature_celsius=80.0), frequencies=[1e3])
    assert warm.get("Q", 1e3).value < cold.get("Q", 1e3).value


@pytest.mark.parametrize("name", WOUND)
def test_aluminium_has_less_q_than_copper(name):
    copper = calculate(WOUND[name], frequencies=[1e3])
    other = calculate(WOUND[name], Conductor(material="aluminium"), frequencies=[1e3])
    assert other.get("Q", 1e3).value < copper.get("Q", 1e3).value


@pytest.mark.parametrize("name", FLAT)
def test_the_order_of_frequencies_does_not_matter(name):
    up = calculate(FLAT[name], frequencies=[1e4, 1e6])
    down = calculate(FLAT[name], frequencies=[1e6, 1e4])
    assert {entry.at for entry in up.quantities} == {entry.at for entry in down.quantities}
    for entry in up.quantities:
        other = down.get(entry.quantity, entry.at)
        assert other.value == pytest.approx(entry.value, rel=1e-12)


@pytest.mark.parametrize("name", FLAT)
def test_every_value_is_finite_and_says_its_method(name):
    result = calculate(FLAT[name], frequencies=[1.0, 134.2e3, 1e9])
    for entry in (*result.quantities, *result.approximations):
        assert math.isfinite(entry.value)
        assert entry.value > 0
        assert entry.method
        assert entry.error_percent is None or 0 <= entry.error_percent < 100


@pytest.mark.parametrize("name", FLAT)
def test_a_tolerance_of_nothing_changes_nothing(name):
    design = FLAT[name]
    first = next(iter(design.__dataclass_fields__))
    dimension = "inner" if first == "form" else first
    found = spread(design, {dimension: Deviation(low=0.0, high=0.0)})
    for quantity, entry in found.items():
        assert entry.low == entry.high == calculate(design).get(quantity).value
        assert entry.u == 0


@given(st.floats(1e-5, 1e-3))
def test_a_wider_tolerance_has_a_wider_range(width):
    narrow = spread(COIL, {"diameter": Deviation(low=-width, high=width)})["L"]
    wide = spread(COIL, {"diameter": Deviation(low=-2 * width, high=2 * width)})["L"]
    assert wide.low < narrow.low < narrow.high < wide.high
    assert wide.u == pytest.approx(2 * narrow.u, rel=0.05)


def test_a_one_sided_tolerance_is_allowed():
    found = spread(COIL, {"length": Deviation(low=0.0, high=1e-3)})["L"]
    assert found.high == calculate(COIL).get("L").value
    assert found.low < found.high
