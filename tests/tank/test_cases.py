"""The cases in which the capacitor of a driven tank is judged."""

from __future__ import annotations

import math

import pytest

from benchapp.tank import (
    Band,
    CapacitorRatings,
    Drive,
    Losses,
    TankDesign,
    drive_tank,
    solve,
    stress_cases,
)
from benchapp.units import parse_quantity


def _cases(losses, band=None, ratings=None, **drive):
    design = TankDesign(
        inductance=parse_quantity("1mH", "H"),
        capacitance=parse_quantity("1nF", "F"),
        losses=losses,
        drive=Drive(form="sine", size=10.0, **drive),
        band=band,
    )
    sums = solve(design)
    driven = drive_tank(design, sums)
    assert driven is not None
    return stress_cases(design, sums, driven, ratings or CapacitorRatings())


def test_without_load_and_band_there_is_one_case():
    (case,) = _cases(Losses(coil_resistance=10.0))
    assert case.name == "at the drive frequency"
    assert case.duty.voltage == pytest.approx(1000)
    assert case.duty.loss_tangent is None


def test_a_load_is_judged_in_place_and_taken_away():
    """Q 100 cold and 20 loaded: 200 V with the load, 1000 V when it goes."""
    loaded, bare = _cases(
        Losses(coil_resistance=10.0, load=40.0), ratings=CapacitorRatings(dc_volt=630.0)
    )
    assert loaded.duty.voltage == pytest.approx(200)
    assert bare.name == "at the drive frequency, load taken away"
    assert bare.duty.voltage == pytest.approx(1000)
    assert loaded.stress.limits[0].outcome == "within"
    assert bare.stress.limits[0].outcome == "over"


def test_the_worst_of_the_band_is_judged_where_it_differs():
    off = 1.1 / (2 * math.pi * math.sqrt(1e-12))
    cases = _cases(Losses(coil_resistance=10.0), band=Band(low=150e3, high=180e3), frequency=off)
    assert [case.name for case in cases] == [
        "at the drive frequency",
        "greatest voltage in the band",
    ]
    assert cases[1].duty.voltage == pytest.approx(1000, rel=1e-3)


def test_loss_tangent_and_dc_come_from_the_design():
    (case,) = _cases(Losses(coil_resistance=10.0, loss_tangent=1e-3), bias=50.0)
    assert case.duty.loss_tangent == pytest.approx(1e-3)
    assert case.duty.bias == 50.0
    (esr,) = _cases(Losses(coil_resistance=10.0, capacitor_resistance=2.0))
    assert esr.duty.loss_tangent == pytest.approx(2e-3)
