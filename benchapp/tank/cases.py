"""The cases in which the capacitor of a driven tank is judged."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchapp.tank.drive import Driven, OperatingPoint
from benchapp.tank.stress import CapacitorDuty, CapacitorRatings, Stress, judge_stress
from benchapp.tank.value import TankDesign, TankSums

__all__ = ["StressCase", "stress_cases"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StressCase:
    """One case of a driven tank: what the capacitor bears there, and how that is judged."""

    name: str
    duty: CapacitorDuty
    stress: Stress


def stress_cases(
    design: TankDesign, sums: TankSums, driven: Driven, ratings: CapacitorRatings
) -> tuple[StressCase, ...]:
    """Judge the capacitor where the tank works, without its load, and at the worst of the band.

    The load is looked at both ways because taking it away raises Q and with it the voltage.

    Parameters
    ----------
    design : TankDesign
    sums : TankSums
    driven : Driven
    ratings : CapacitorRatings

    Returns
    -------
    tuple of StressCase
        A case whose voltage and current are within 1 % of an earlier one is left out.
    """
    points = [("at the drive frequency", driven.point)]
    if design.losses.load is not None:
        points.append(("at the drive frequency, load taken away", driven.unloaded))
    points += [
        ("greatest voltage in the band", driven.highest_voltage),
        ("greatest current in the band", driven.highest_current),
    ]
    found: list[StressCase] = []
    seen: list[OperatingPoint] = []
    for name, point in points:
        if any(_alike(point, other) for other in seen):
            continue
        seen.append(point)
        duty = _duty(design, sums, point)
        found.append(StressCase(name=name, duty=duty, stress=judge_stress(duty, ratings)))
    return tuple(found)


def _alike(point: OperatingPoint, other: OperatingPoint) -> bool:
    return math.isclose(
        point.capacitor_voltage, other.capacitor_voltage, rel_tol=0.01
    ) and math.isclose(point.capacitor_current, other.capacitor_current, rel_tol=0.01)


def _duty(design: TankDesign, sums: TankSums, point: OperatingPoint) -> CapacitorDuty:
    capacitance = sums.capacitance.nominal
    tangent = None
    if sums.capacitor_resistance is not None:
        tangent = 2 * math.pi * point.frequency * capacitance * sums.capacitor_resistance
    return CapacitorDuty(
        voltage=point.capacitor_voltage,
        frequency=point.frequency,
        capacitance=capacitance,
        bias=design.drive.bias if design.drive is not None else 0.0,
        loss_tangent=tangent,
    )
