"""Nominal sums of a tank: resonance, losses, drive, tolerances, stress, power link."""

from benchapp.tank.cases import StressCase, stress_cases
from benchapp.tank.drive import (
    BandPlace,
    Driven,
    OperatingPoint,
    Response,
    drive_tank,
    fundamental,
    operate,
    peak,
    place_in_band,
    respond,
)
from benchapp.tank.link import Link, link
from benchapp.tank.resonance import resonance, tuning
from benchapp.tank.safety import DEFERRING, safety_lines
from benchapp.tank.simulation import Simulation, clopper_pearson, simulate, wilson
from benchapp.tank.stackup import (
    Contributor,
    Share,
    StackResult,
    StackUp,
    Temperature,
    stack,
    stack_of,
)
from benchapp.tank.stress import (
    CapacitorDuty,
    CapacitorRatings,
    Stress,
    StressLimit,
    judge_stress,
)
from benchapp.tank.sums import Elements, elements_of, solve
from benchapp.tank.value import Band, Drive, Losses, Spread, TankDesign, TankSums

__all__ = [
    "DEFERRING",
    "Band",
    "BandPlace",
    "CapacitorDuty",
    "CapacitorRatings",
    "Contributor",
    "Drive",
    "Driven",
    "Elements",
    "Link",
    "Losses",
    "OperatingPoint",
    "Response",
    "Share",
    "Simulation",
    "Spread",
    "StackResult",
    "StackUp",
    "Stress",
    "StressCase",
    "StressLimit",
    "TankDesign",
    "TankSums",
    "Temperature",
    "clopper_pearson",
    "drive_tank",
    "elements_of",
    "fundamental",
    "judge_stress",
    "link",
    "operate",
    "peak",
    "place_in_band",
    "resonance",
    "respond",
    "safety_lines",
    "simulate",
    "solve",
    "stack",
    "stack_of",
    "stress_cases",
    "tuning",
    "wilson",
]
