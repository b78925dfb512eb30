"""Lone points off a smooth curve are doubted; noise, resonances and ends are not."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.readers.axis import Run
from benchapp.readers.leap import doubt_leaps, leaps
from benchapp.readers.notes import Notes
from benchapp.readers.reading import Answers

F = np.geomspace(2e4, 8e5, 60)
W = 2j * np.pi * F
COIL = 5 + W * 1.62e-3
CAPACITOR = 0.3 + 1 / (W * 868e-12)
TANK = 1 / (1 / (20 + W * 1.62e-3) + W * 868e-12)


@pytest.mark.parametrize("part", [COIL, CAPACITOR, TANK])
@pytest.mark.parametrize("row", [0, 1, 7, 14, 58, 59])
def test_a_lost_digit_is_found(part, row):
    damaged = part.copy()
    damaged[row] /= 10
    assert leaps(F, damaged, relative=True) == [row]


@pytest.mark.parametrize("part", [COIL, CAPACITOR, TANK])
@pytest.mark.parametrize("noise", [0.0, 1e-4, 1e-2])
def test_a_whole_curve_raises_no_doubt(part, noise):
    rng = np.random.default_rng(3)
    rough = part * (1 + noise * (rng.normal(size=60) + 1j * rng.normal(size=60)))
    assert leaps(F, rough, relative=True) == []


def test_several_lost_digits_are_found():
    damaged = COIL.copy()
    damaged[[10, 40]] *= [0.1, 10]
    assert leaps(F, damaged, relative=True) == [10, 40]


def test_one_point_on_a_narrow_resonance_is_no_leap():
    f = np.linspace(2e4, 8e5, 30)
    w = 2j * np.pi * f
    narrow = 1 / (1 / (15 + w * 1.62e-3) + w / (w[4].imag ** 2 * 1.62e-3))
    assert np.argmax(abs(narrow)) == 4
    assert leaps(f, narrow, relative=True) == []


def test_a_ratio_is_compared_by_differences():
    ratio = (COIL - 50) / (COIL + 50)
    ratio[20] += 0.02
    assert leaps(F, ratio, relative=False) == [20]


@pytest.mark.parametrize("values", [COIL[:8], np.zeros(60, complex)])
def test_a_few_points_or_zeros_tell_nothing(values):
    assert leaps(F[: values.size], values, relative=True) == []
    assert leaps(F[: values.size], values, relative=False) == []


def test_the_doubt_names_the_line():
    notes = Notes(answers=Answers())
    damaged = COIL.copy()
    damaged[12] /= 10
    doubt_leaps(
        Run(axis=F, values=damaged[:, None], lines=np.arange(60) + 5), notes, relative=True
    )
    (doubt,) = notes.assumptions
    assert doubt.value == "line 17 kept as written"
    assert doubt.confidence < 0.7
