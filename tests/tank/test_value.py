"""What a design may hold."""

from __future__ import annotations

import math

import pytest

from benchapp.errors import QuantityError, UsageError
from benchapp.tank import Band, Drive, Losses, TankDesign
from benchapp.units import Quantity

L = Quantity(value=1e-3, unit="H")
C = Quantity(value=1e-9, unit="F")
F = Quantity(value=1e5, unit="Hz")


@pytest.mark.parametrize(
    "given", [{}, {"inductance": L}, {"inductance": L, "capacitance": C, "frequency": F}]
)
def test_a_design_has_exactly_two_of_three(given):
    with pytest.raises(UsageError, match=r"tank: must be given two of L, C and f \(got [013]\)"):
        TankDesign(**given)


@pytest.mark.parametrize("value", [0.0, -1e-3, math.inf, math.nan, 1e-300, 1e300])
def test_an_impossible_element_is_refused(value):
    with pytest.raises(
        QuantityError, match="inductance: must be above zero and of a possible size"
    ):
        TankDesign(inductance=Quantity(value=value, unit="H"), capacitance=C)


def test_a_tolerance_that_reaches_zero_is_refused():
    wide = Quantity(value=1e-3, unit="H", low=-1e-3, high=1e-3, relative=False)
    with pytest.raises(QuantityError, match="inductance: must stay above zero over its tolerance"):
        TankDesign(inductance=wide, capacitance=C)


@pytest.mark.parametrize(
    ("losses", "name"),
    [
        ({"coil_resistance": -1.0}, "coil resistance"),
        ({"capacitor_resistance": math.nan}, "capacitor resistance"),
        ({"coil_q": 0.0}, "coil Q"),
        ({"loss_tangent": -1e-3}, "loss tangent"),
        ({"joints": -1.0}, "joints"),
        ({"source": math.inf}, "source"),
        ({"sense": -2.0}, "sense"),
        ({"load": 0.0}, "load"),
    ],
)
def test_impossible_losses_are_refused(losses, name):
    with pytest.raises(
        QuantityError, match=rf"{name}: must be (above zero|zero or more) and of a"
    ):
        Losses(**losses)


def test_a_loss_is_stated_once():
    with pytest.raises(UsageError, match="coil loss: must be its resistance or its Q"):
        Losses(coil_resistance=1.0, coil_q=100.0)
    with pytest.raises(UsageError, match="capacitor loss: must be its ESR or its tan delta"):
        Losses(capacitor_resistance=1.0, loss_tangent=1e-3)


@pytest.mark.parametrize(
    ("drive", "sentence"),
    [
        ({"form": "sine", "size": 0.0}, "drive: must be above zero"),
        ({"form": "sine", "size": 1.0, "frequency": -1.0}, "drive frequency: must be above zero"),
        (
            {"form": "sine", "size": 1.0, "bias": math.nan},
            "DC on the capacitor: must be zero or more",
        ),
    ],
)
def test_an_impossible_drive_is_refused(drive, sentence):
    with pytest.raises(QuantityError, match=sentence):
        Drive(**drive)


def test_an_impossible_band_is_refused():
    with pytest.raises(UsageError, match="band: must have an end"):
        Band()
    with pytest.raises(UsageError, match="band: must run from low to high"):
        Band(low=2e5, high=1e5)
    with pytest.raises(QuantityError, match="lower end of the band: must be above zero"):
        Band(low=-1.0)
