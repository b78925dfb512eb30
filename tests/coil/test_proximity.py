"""Losses by the neighbours' field, against rows of wires solved exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, special

from benchapp.coil.conductor import dowell, foil_height, round_wire_ratio
from benchapp.coil.proximity import (
    FieldModes,
    Layout,
    _phase_shares,
    field_modes,
    litz_ratio,
    ring_field,
    row_losses,
    solid_ratio,
    straight_modes,
)
from benchapp.coil.section import MU_0, mutual_of_circles

ORDER = 10


def answers(wire: float, depth: float) -> np.ndarray:
    """How a wire answers each multipole of a field, by scipy's Bessel functions."""
    q = (1 + 1j) * wire / 2 / depth
    orders = np.arange(1, ORDER + 1)
    return 2 * orders * special.ive(orders, q) / (q * special.ive(orders - 1, q)) - 1


def exact_array(places: np.ndarray, wire: float, depth: float, drive: float = 0.0) -> float:
    """Added loss of straight parallel wires with equal currents, every wire with all multipoles.

    The full linear system of all wires and orders: no endless row, no waves along it. ``places``
    are complex, in the plane across the wires; ``drive`` is a uniform field along the real axis.
    Per wire and order n the unknowns belong to r^n cos and r^n sin of the field it sits in.
    """
    radius = wire / 2
    orders = np.arange(1, ORDER + 1)
    size = places.size * ORDER * 2
    couple, outer = np.zeros((size, size)), np.zeros(size)
    for i in range(places.size):
        outer[i * ORDER * 2 + 1] += drive * radius
        for j in range(places.size):
            if i == j:
                continue
            step = radius / (places[j] - places[i])
            for n in orders:
                here = (i * ORDER + n - 1) * 2
                current = MU_0 / (2 * math.pi) / n * step**n
                outer[here : here + 2] += current.real, -current.imag
                for m in orders:
                    there = (j * ORDER + m - 1) * 2
                    shift = (-1.0) ** m * math.comb(n + m - 1, n) * step ** (n + m)
                    couple[here, there : there + 2] = shift.real, -shift.imag
                    couple[here + 1, there : there + 2] = -shift.imag, -shift.real
    answer = np.repeat(np.tile(answers(wire, depth), places.size), 2)
    field = np.linalg.solve(np.eye(size) - couple * answer, outer)
    weight = np.repeat(np.tile(orders, places.size), 2)
    power = -(np.abs(field) ** 2 * answer.imag) @ weight / places.size
    return float(2 * math.pi**2 / MU_0**2 * power * (wire / depth) ** 2 / 2)


def exact_row(row: int, wire: float, pitch: float, depth: float) -> float:
    return exact_array(pitch * np.arange(row) + 0j, wire, depth)


def endless_row(wire: float, pitch: float, depth: float) -> float:
    """Added loss of an endless row in the mean field mu0/(2p) of a long coil, by zeta sums."""
    radius, answer = wire / 2, answers(wire, depth)
    orders = np.arange(1, ORDER + 1)
    zeta = {k: 2 * special.zeta(k) if k % 2 == 0 else 0.0 for k in range(2, 2 * ORDER + 1)}
    total = 0.0
    for sign in (1, -1):
        couple = np.array(
            [
                [
                    sign * (-1) ** m * math.comb(n + m - 1, n) * zeta[n + m]
                    * (radius / pitch) ** (n + m)
                    for m in orders
                ]
                for n in orders
            ]
        )  # fmt: skip
        if sign > 0:
            gradients = [zeta.get(n, 0.0) / n * (radius / pitch) ** n for n in orders]
            outer = MU_0 / (2 * math.pi) * np.array(gradients)
        else:
            outer = MU_0 / (2 * pitch) * radius * (orders == 1)
        field = np.linalg.solve(np.eye(ORDER) - couple * answer, outer)
        total += -(np.abs(field) ** 2 * answer.imag) @ orders
    return 2 * math.pi**2 / MU_0**2 * total * (wire / depth) ** 2 / 2


def long_coil(wire: float, pitch: float, turns: int = 4000) -> FieldModes:
    """A hundred diameters long."""
    radius = 20 * pitch
    layout = Layout(
        inner=radius, outer=radius, length=turns * pitch, layers=1, along=turns, turns=turns
    )
    return field_modes(layout, wire)


def test_field_of_a_ring_is_the_slope_of_maxwells_mutual_inductance():
    ring, radius, height, step = 0.05, 0.04, 0.02, 1e-6
    radial, axial = (float(value) for value in ring_field(ring, radius, height))

    def flux(r: float, z: float) -> float:
        return float(mutual_of_circles(ring, r, z))

    outwards = (flux(radius + step, height) - flux(radius - step, height)) / (2 * step)
    upwards = (flux(radius, height + step) - flux(radius, height - step)) / (2 * step)
    assert axial == pytest.approx(outwards / (2 * math.pi * radius), rel=1e-7)
    assert radial == pytest.approx(-upwards / (2 * math.pi * radius), rel=1e-7)


@pytest.mark.parametrize(("radius", "height"), [(0.04, 0.02), (0.06, 0.0), (0.001, 0.3)])
def test_field_of_a_ring_agrees_with_the_law_of_biot_and_savart(radius, height):
    ring = 0.05

    def cube(angle: float) -> float:
        square = ring**2 + radius**2 + height**2 - 2 * ring * radius * math.cos(angle)
        return square**1.5

    options = {"epsabs": 0, "epsrel": 1e-10}
    axial, _ = integrate.quad(
        lambda angle: ring * (ring - radius * math.cos(angle)) / cube(angle), 0, math.pi, **options
    )
    radial, _ = integrate.quad(
        lambda angle: ring * height * math.cos(angle) / cube(angle),
        0,
        math.pi,
        epsabs=1e-16,
        epsrel=1e-10,
    )
    found = [float(value) for value in ring_field(ring, radius, height)]
    assert found[1] == pytest.approx(2e-7 * axial, rel=1e-9)
    assert found[0] == pytest.approx(2e-7 * radial, rel=1e-8, abs=1e-20)


def test_field_inside_a_long_coil_is_half_at_the_winding():
    """mu0 I/p inside, nothing outside, their mean at the wires; here 100 diameters long."""
    modes = long_coil(0.5e-3, 1e-3)
    assert modes.along.sum() == pytest.approx((MU_0 / (2 * 1e-3)) ** 2, rel=0.02)
    assert modes.across.sum() < 0.01 * modes.along.sum()


def test_gathered_turns_make_the_same_field():
    def modes(along: int, layers: int) -> FieldModes:
        layout = Layout(
            inner=0.02, outer=0.03, length=0.03, layers=layers, along=along, turns=along * layers
        )
        return field_modes(layout, 1e-4)

    whole, gathered = modes(36, 12), modes(180, 60)
    scale = (180 * 60 / (36 * 12)) ** 2
    for name in ("along", "across"):
        expected = scale * getattr(whole, name).sum()
        assert getattr(gathered, name).sum() == pytest.approx(expected, rel=0.05)


def test_shares_of_the_waves_add_up_to_the_mean_square_field():
    rows, pitch = 30, 1e-3
    apart = np.arange(rows)[:, None] - np.arange(rows)[None, :]
    inverse = np.where(apart == 0, 0, 1 / np.where(apart == 0, 1, apart))
    field = MU_0 / (2 * math.pi * pitch) * inverse.sum(axis=1)
    modes = straight_modes(rows, pitch)
    assert modes.across.sum() == pytest.approx(float(np.mean(field**2)), rel=1e-9)
    assert modes.along.sum() == 0


@pytest.mark.parametrize("spacing", [1.11, 1.25, 2.0, 5.0])
@pytest.mark.parametrize("thickness", [0.5, 2.0, 8.0, 100.0])
def test_long_coil_agrees_with_an_endless_row_solved_exactly(spacing, thickness):
    exact = float(round_wire_ratio(1.0, 1 / thickness)[0])
    exact += float(endless_row(1.0, spacing, 1 / thickness))
    found = solid_ratio(long_coil(1e-3, spacing * 1e-3), 1e-3, 1e-3 / thickness)[0]
    assert found == pytest.approx(exact, rel=0.03)


BUTTERWORTH = {1.0001: 3.41, 1.111: 3.11, 1.25: 2.81, 1.4286: 2.51, 1.6667: 2.22, 2.0: 1.93}


@pytest.mark.parametrize(("spacing", "ratio"), BUTTERWORTH.items())
def test_the_reference_gives_butterworths_values_for_an_endless_row(spacing, ratio):
    """Resistance over that of a lone wire at high frequency, as in Medhurst (from memory)."""
    lone = float(round_wire_ratio(1.0, 1e-3)[0])
    assert 1 + endless_row(1.0, spacing, 1e-3) / lone == pytest.approx(ratio, abs=0.01)


@pytest.mark.parametrize("row", [2, 5, 20])
@pytest.mark.parametrize("spacing", [1.05, 1.11, 1.25, 1.67, 3.0])
@pytest.mark.parametrize("thickness", [1.0, 2.0, 8.0, 100.0])
def test_straight_row_agrees_with_all_its_wires_solved_exactly(row, spacing, thickness):
    exact = float(exact_row(row, 1.0, spacing, 1 / thickness))
    found = row_losses(straight_modes(row, spacing), 1.0, 1 / thickness)[0]
    lone = float(round_wire_ratio(1.0, 1 / thickness)[0])
    allowed = 2e-3 if thickness <= 2 else 0.02 if spacing > 1.4 else 0.2
    assert lone + found == pytest.approx(lone + exact, rel=allowed)


@pytest.mark.parametrize(("layers", "along"), [(2, 8), (4, 5), (5, 5)])
@pytest.mark.parametrize("spacing", [1.1, 1.4, 2.0])
@pytest.mark.parametrize("thickness", [1.0, 2.0, 5.0, 50.0])
def test_layers_of_straight_wires_agree_with_all_of_them_solved_exactly(
    layers, along, spacing, thickness
):
    """Layers in the field of a long coil: the outer field plus that of all the other wires."""
    places = spacing * (np.arange(along)[None, :] + 1j * np.arange(layers)[:, None])
    drive = layers * MU_0 / (2 * spacing)
    apart = places.ravel()[None, :] - places.ravel()[:, None]
    inverse = np.divide(1.0, apart, out=np.zeros(apart.shape, complex), where=apart != 0)
    field = MU_0 / (2 * math.pi) * inverse.sum(axis=1).reshape(places.shape)
    modes = FieldModes(
        along=_phase_shares(drive - field.imag) / places.size,
        across=_phase_shares(field.real) / places.size,
        pitch=spacing,
        row=0,
    )
    lone = float(round_wire_ratio(1.0, 1 / thickness)[0])
    exact = lone + exact_array(places.ravel(), 1.0, 1 / thickness, drive)
    found = lone + row_losses(modes, 1.0, 1 / thickness)[0]
    allowed = 0.05 if thickness <= 2 else 0.40
    assert found == pytest.approx(exact, rel=allowed)


def test_one_straight_wire_has_no_neighbours():
    assert row_losses(straight_modes(1, 1e-3), 0.5e-3, 1e-5)[0] == pytest.approx(0, abs=1e-12)


@given(st.floats(1.05, 5), st.floats(0.05, 50), st.floats(1.01, 2))
def test_neighbours_never_lower_the_resistance_and_more_so_at_high_frequency(spacing, share, more):
    modes = straight_modes(6, spacing)
    low, high = row_losses(modes, 1.0, np.array([1 / share, 1 / (share * more)]))
    assert 0 <= low < high * (1 + 1e-9)


def test_losses_at_low_frequency_grow_as_frequency_squared():
    modes = straight_modes(8, 1.5e-3)
    once, twice = row_losses(modes, 1e-3, np.array([10e-3, 10e-3 / math.sqrt(2)]))
    assert twice / once == pytest.approx(4, rel=1e-3)


@pytest.mark.parametrize("layers", [1, 2, 4])
def test_long_layered_coil_agrees_with_dowell_at_low_frequency(layers):
    """Round wire loses 3/pi of what Dowell's square wire does."""
    wire, pitch, along = 1e-3, 1.25e-3, 2000
    inner = 100 * pitch
    layout = Layout(
        inner=inner,
        outer=inner + layers * pitch,
        length=along * pitch,
        layers=layers,
        along=along,
        turns=layers * along,
    )
    depth = 4 * wire
    found = solid_ratio(field_modes(layout, wire), wire, depth)[0] - 1
    handbook = float(dowell(layers, foil_height(wire, pitch, depth))) - 1
    assert found == pytest.approx(handbook * 3 / math.pi, rel=0.1)


def test_a_flat_row_has_its_field_across():
    layout = Layout(inner=0.02, outer=0.03, length=0.0, layers=20, along=1, turns=20, flat=True)
    modes = field_modes(layout, 3e-4)
    assert modes.along.sum() == pytest.approx(0, abs=1e-20)
    assert modes.across.sum() > 0
    assert (modes.row, modes.pitch) == (20, pytest.approx(0.5e-3))


def test_a_winding_of_many_layers_has_no_gradient_of_a_single_row():
    layout = Layout(inner=0.02, outer=0.03, length=0.03, layers=10, along=30, turns=300)
    assert field_modes(layout, 1e-4).row == 0


def test_litz_of_fine_strands_stays_near_direct_current():
    depth = 0.18e-3
    assert litz_ratio(None, 0.7e-3, 100, 40e-6, depth)[0] == pytest.approx(1, abs=5e-3)


def test_litz_in_a_coil_loses_in_the_field_of_the_coil():
    modes = long_coil(1e-3, 1.3e-3)
    alone = litz_ratio(None, 1e-3, 45, 71e-6, 0.18e-3)[0]
    wound = litz_ratio(modes, 1e-3, 45, 71e-6, 0.18e-3)[0]
    assert 1 < alone < wound


def test_litz_losses_are_those_of_each_strand_in_the_whole_field():
    """Per metre and strand pi omega^2 B^2 d^4 sigma/128 at low frequency: common practice."""
    wire, strand, strands, depth = 1e-3, 50e-6, 100, 1e-3
    field = MU_0 / (2 * 1.3e-3)
    modes = FieldModes(along=np.array([field**2]), across=np.array([0.0]), pitch=1.3e-3, row=0)
    own = (MU_0 / (math.pi * wire)) ** 2 / 2
    # omega^2 sigma^2 = 4/(mu0^2 delta^4); R_dc per metre is 4/(sigma n pi d^2).
    lost = math.pi * (field**2 + own) * strand**4 / 128 * 4 / (MU_0**2 * depth**4) * strands * 2
    expected = lost * strands * math.pi * strand**2 / 4
    added = litz_ratio(modes, wire, strands, strand, depth)[0]
    added -= round_wire_ratio(strand, depth)[0]
    assert added == pytest.approx(expected, rel=1e-3)


def packed_strands(rings: int, strand: float) -> np.ndarray:
    """Places of strands packed in hexagons around one, nearly touching, across the bundle."""
    sixth = np.exp(1j * math.pi / 3 * np.arange(6))
    places = [0j]
    for ring in range(1, rings + 1):
        for side in range(6):
            corner, following = ring * sixth[side], ring * sixth[(side + 1) % 6]
            places += [corner + (following - corner) * step / ring for step in range(ring)]
    return 1.02 * strand * np.array(places)


@pytest.mark.parametrize("rings", [1, 2])
@pytest.mark.parametrize("thickness", [0.3, 0.6, 1.0])
def test_a_litz_bundle_agrees_with_its_strands_solved_exactly(rings, thickness):
    """Seven or nineteen strands that share the current evenly, in their own field only.

    The mean square field of a round bundle, mu0^2/(8 pi^2 R^2), holds for many strands; so few
    have less, the more so the fewer they are.
    """
    strand = 1.0
    places = packed_strands(rings, strand)
    depth = strand / thickness
    exact = exact_array(places, strand, depth)
    bundle = 2 * (float(np.abs(places).max()) + strand / 2)
    found = litz_ratio(None, bundle, places.size, strand, depth)[0]
    found -= round_wire_ratio(strand, depth)[0]
    assert 0.8 * exact < found < 1.6 * exact


def test_field_of_a_bundle_is_that_of_even_current():
    """The mean of (mu0 r/(2 pi R^2))^2 over the bundle, by the strands' own positions."""
    places = packed_strands(8, 1.0)
    radius = float(np.abs(places).max()) + 0.5
    apart = places[:, None] - places[None, :]
    inverse = np.divide(1.0, apart, out=np.zeros(apart.shape, complex), where=apart != 0)
    field = MU_0 / (2 * math.pi) * np.abs(inverse.sum(axis=1)) / places.size
    assert np.mean(field**2) == pytest.approx(MU_0**2 / (8 * math.pi**2 * radius**2), rel=0.08)
