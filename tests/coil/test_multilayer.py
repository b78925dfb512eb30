"""Windings of several layers: round wire in square cells, and Wheeler's formula."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.coil.loop import ring
from benchapp.coil.multilayer import (
    multilayer_error_percent,
    square_cell_change,
    wheeler_multilayer,
)
from benchapp.coil.section import Section, mean_mutual, mutual_of_circles
from tests.coil.truth import values


def sum_of_all_rings(inner: float, layers: int, along: int, pitch: float, wire: float) -> float:
    """Every turn as a ring of round wire: self-inductances and all mutual inductances."""
    radii, heights = np.meshgrid(
        inner + pitch * (np.arange(layers) + 0.5), pitch * np.arange(along), indexing="ij"
    )
    radii, heights = radii.ravel(), heights.ravel()
    one, two = np.triu_indices(radii.size, 1)
    links = mutual_of_circles(radii[one], radii[two], heights[one] - heights[two])
    return sum(ring(float(radius), wire) for radius in radii) + 2 * float(links.sum())


@pytest.mark.parametrize(
    ("inner", "layers", "along", "pitch", "wire"),
    [
        (0.02, 5, 10, 0.001, 0.0008),
        (0.02, 5, 10, 0.001, 0.0004),
        (0.01, 8, 8, 0.001, 0.0009),
        (0.005, 10, 4, 0.001, 0.0005),
        (0.05, 3, 3, 0.002, 0.001),
        (0.02, 2, 2, 0.001, 0.0008),
        (0.02, 12, 15, 0.0005, 0.0004),
    ],
)
def test_round_wire_agrees_with_the_sum_of_all_rings_within_its_stated_error(
    inner, layers, along, pitch, wire
):
    section = Section(inner=inner, outer=inner + layers * pitch, length=along * pitch)
    turns, radius = layers * along, inner + layers * pitch / 2
    even = turns**2 * mean_mutual(section, section)
    corrected = even + square_cell_change(radius, turns, pitch, wire)
    rings = sum_of_all_rings(inner, layers, along, pitch, wire)
    stated = multilayer_error_percent(radius, turns, layers * pitch, corrected)
    assert abs(corrected / rings - 1) * 100 < stated
    assert abs(corrected / rings - 1) < abs(even / rings - 1)


def test_thinner_wire_has_more_inductance():
    changes = [square_cell_change(0.03, 100, 1e-3, wire) for wire in (1e-3, 0.5e-3, 0.1e-3)]
    assert changes == sorted(changes)
    assert changes[0] > 0


def test_wheelers_formula_of_several_layers_as_tabulated():
    expected = values("coils.toml")["wheeler"]["several_layers"]
    inch = 0.0254
    found = 1e6 * wheeler_multilayer(inch, 3 * inch, inch, 100)
    assert found == pytest.approx(expected, rel=1e-13)


@pytest.mark.parametrize("length", [0.5, 0.7, 1.0])
@pytest.mark.parametrize("depth", [0.4, 0.6, 0.8])
def test_wheelers_formula_is_within_2_percent_where_its_terms_are_alike(length, depth):
    """His statement is 1 % where they are about equal; the exact integral bears out 2 %."""
    section = Section(inner=1 - depth / 2, outer=1 + depth / 2, length=length)
    exact = mean_mutual(section, section)
    found = wheeler_multilayer(2 - depth, 2 + depth, length, 1)
    assert found == pytest.approx(exact, rel=0.02)
