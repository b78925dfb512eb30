"""Coil designs: what they derive, and what cannot be wound."""

from __future__ import annotations

import math
import pickle
from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.coil.geometry import (
    Loop,
    Multilayer,
    Pair,
    Planar,
    Rectangle,
    Solenoid,
    Spiral,
    Straight,
    Winding,
)
from benchapp.errors import QuantityError

GOOD = {
    Solenoid: {"diameter": 0.05, "length": 0.05, "turns": 50, "wire": 0.8e-3},
    Multilayer: {"inner": 0.04, "outer": 0.06, "length": 0.01, "turns": 300, "wire": 0.4e-3},
    Spiral: {"inner": 0.04, "outer": 0.06, "turns": 10, "wire": 0.5e-3},
    Loop: {"diameter": 0.1, "wire": 1e-3},
    Rectangle: {"width": 0.4, "height": 0.3, "wire": 0.5e-3, "turns": 10, "pitch": 1e-3},
    Planar: {"form": "square", "inner": 0.02, "outer": 0.05, "turns": 10, "track": 0.5e-3},
    Pair: {"diameter1": 0.08, "diameter2": 0.05, "distance": 0.02, "wire1": 1e-3},
    Straight: {"length": 0.1, "wire": 1e-3},
}


@pytest.mark.parametrize("kind", GOOD, ids=lambda kind: kind.__name__)
def test_a_design_is_a_frozen_value_that_survives_pickling(kind):
    design = kind(**GOOD[kind])
    assert pickle.loads(pickle.dumps(design)) == design
    with pytest.raises(FrozenInstanceError):
        setattr(design, next(iter(GOOD[kind])), 1.0)


@pytest.mark.parametrize(
    ("kind", "name"),
    [(kind, name) for kind, sizes in GOOD.items() for name in sizes if name != "form"],
    ids=lambda value: getattr(value, "__name__", value),
)
@pytest.mark.parametrize("value", [-0.01, math.nan, math.inf])
def test_no_dimension_may_be_negative_or_endless(kind, name, value):
    with pytest.raises(QuantityError, match=rf"{name}: must be (above zero|one or more)"):
        kind(**{**GOOD[kind], name: value})


@pytest.mark.parametrize(
    ("kind", "name"),
    [(Solenoid, "diameter"), (Multilayer, "outer"), (Loop, "wire"), (Straight, "length")],
)
def test_no_dimension_may_be_zero(kind, name):
    with pytest.raises(QuantityError, match=rf"{name}: must be above zero and finite \(got 0 m\)"):
        kind(**{**GOOD[kind], name: 0.0})


def test_less_than_one_turn_is_refused():
    with pytest.raises(QuantityError, match=r"turns: must be one or more \(got 0\.5\)"):
        Solenoid(diameter=0.05, length=0.05, turns=0.5)


@pytest.mark.parametrize("kind", [Multilayer, Spiral, Planar])
@pytest.mark.parametrize("inner", [0.06, 0.07])
def test_an_inner_size_that_is_not_inside_is_refused(kind, inner):
    sizes = {**GOOD[kind], "inner": inner, "outer": 0.06}
    with pytest.raises(QuantityError, match=r"outer: must be larger than the inner diameter"):
        kind(**sizes)


@pytest.mark.parametrize(
    ("kind", "changed", "message"),
    [
        (Solenoid, {"wire": 1.1e-3}, r"wire: must be no thicker than the pitch, 1\.000 mm"),
        (Solenoid, {"length": 9.0, "turns": 1, "wire": 0.06}, "no thicker than the coil"),
        (Multilayer, {"wire": 0.7e-3}, "wire: must be no thicker than the winding section has"),
        (Spiral, {"wire": 1.1e-3}, r"wire: must be no thicker than the pitch, 1\.000 mm"),
        (Loop, {"wire": 0.06}, "wire: must be no thicker than half the loop"),
        (Rectangle, {"wire": 1.2e-3}, "wire: must be no thicker than the pitch"),
        (Rectangle, {"wire": 0.2, "pitch": 1.0}, "no thicker than half the shorter side"),
        (Straight, {"wire": 0.06}, "wire: must be no thicker than half its length"),
        (Pair, {"wire1": 0.05}, r"wire1: must be no thicker than its winding has room for"),
        (
            Pair,
            {"length1": 0.01, "turns1": 20},
            r"wire1: .* room for, 500\.0 µm \(got 1\.000 mm\)",
        ),
    ],
)
def test_wire_that_does_not_fit_is_refused_with_what_to_do(kind, changed, message):
    with pytest.raises(QuantityError, match=message) as refused:
        kind(**{**GOOD[kind], **changed})
    assert refused.value.hint


def test_touching_turns_are_allowed():
    assert Solenoid(diameter=0.05, length=0.04, turns=50, wire=0.8e-3).pitch == pytest.approx(8e-4)
    assert Rectangle(width=0.4, height=0.3, wire=0.5e-3, turns=10).step == 0.5e-3


def test_part_of_a_turn_of_a_frame_is_refused():
    with pytest.raises(QuantityError, match="turns: must be a whole number for a rectangular"):
        Rectangle(width=0.4, height=0.3, wire=0.5e-3, turns=2.5)


def test_tracks_without_a_gap_are_refused():
    with pytest.raises(QuantityError, match=r"track: must leave a gap .*10 turns of 1\.500 mm"):
        Planar(form="square", inner=0.02, outer=0.05, turns=10, track=1.5e-3)


def test_one_turn_may_fill_its_ring():
    coil = Planar(form="square", inner=0.02, outer=0.05, turns=1, track=0.015)
    assert coil.wire_length == pytest.approx(0.14)


def test_an_unknown_form_is_refused():
    with pytest.raises(QuantityError, match="form: must be one of square, hexagonal, octagonal"):
        Planar(form="triangular", inner=0.02, outer=0.05, turns=10)


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"diameter2": 0.08, "distance": 0.0, "wire1": None}, "distance: must be above zero"),
        ({"diameter2": 0.08, "distance": 0.4e-3}, r"distance: must be at least 500\.0 µm"),
        (
            {"diameter2": 0.08, "length1": 0.04, "length2": 0.02, "distance": 0.02},
            r"distance: must be at least 30\.00 mm for coils of these diameters",
        ),
    ],
)
def test_coils_of_a_pair_that_overlap_are_refused(changed, message):
    with pytest.raises(QuantityError, match=message):
        Pair(**{**GOOD[Pair], **changed})


def test_a_pair_may_lie_in_one_plane_or_one_inside_the_other():
    assert Pair(diameter1=0.08, diameter2=0.05, distance=0.0).distance == 0
    inside = Pair(diameter1=0.08, diameter2=0.05, distance=0.01, length1=0.1, length2=0.02)
    assert inside.windings[1] == Winding(diameter=0.05, length=0.02)


def test_pitch_and_wire_of_a_solenoid():
    coil = Solenoid(diameter=0.05, length=0.05, turns=50)
    assert coil.pitch == pytest.approx(1e-3)
    assert coil.wire_length == pytest.approx(50 * math.hypot(math.pi * 0.05, 1e-3))
    assert coil.section.length == 0.05


def test_cells_and_layers_of_a_multilayer_winding():
    coil = Multilayer(inner=0.04, outer=0.06, length=0.02, turns=200)
    assert (coil.depth, coil.cell, coil.layers) == pytest.approx((0.01, 1e-3, 10))
    assert coil.wire_length == pytest.approx(200 * math.pi * 0.05)


@given(st.floats(0.01, 0.1), st.floats(0.005, 0.05), st.floats(0.002, 0.1), st.floats(1, 2000))
def test_cells_of_a_winding_fill_its_section(inner, depth, length, turns):
    coil = Multilayer(inner=inner, outer=inner + 2 * depth, length=length, turns=turns)
    assert turns * coil.cell**2 == pytest.approx(depth * length, rel=1e-9)
    assert coil.layers >= 1


@pytest.mark.parametrize(
    ("form", "perimeter"),
    [("square", 4.0), ("circular", math.pi), ("hexagonal", 3.4641016), ("octagonal", 3.3137085)],
)
def test_length_of_a_track_is_its_mean_outline_times_its_turns(form, perimeter):
    coil = Planar(form=form, inner=0.02, outer=0.04, turns=7)
    assert coil.wire_length == pytest.approx(7 * perimeter * 0.03)


def test_gap_of_a_planar_coil():
    coil = Planar(form="square", inner=184e-6, outer=300e-6, turns=5, track=10e-6)
    assert coil.gap == pytest.approx(2e-6)
    assert Planar(form="square", inner=184e-6, outer=300e-6, turns=5).gap is None
    assert Planar(form="square", inner=2e-3, outer=3e-3, turns=1, track=1e-4).gap is None


def test_lengths_of_loop_frame_spiral_and_wire():
    assert Loop(diameter=0.1, wire=1e-3).wire_length == pytest.approx(0.314159265)
    assert Rectangle(width=0.4, height=0.3, wire=1e-3, turns=3).wire_length == pytest.approx(4.2)
    assert Spiral(inner=0.04, outer=0.06, turns=10).wire_length == pytest.approx(0.5 * math.pi)
    assert Straight(length=0.1, wire=1e-3).wire_length == 0.1


def test_a_bundle_of_wire_is_a_square_as_wide_as_its_turns():
    bundle = Winding(diameter=0.1, turns=16, wire=0.5e-3)
    assert bundle.thickness == pytest.approx(2e-3)
    assert (bundle.section.inner, bundle.section.length) == pytest.approx((0.049, 2e-3))
    assert Winding(diameter=0.1).thickness == 0
