"""A design of a wound tank and its parts, for the tests of the diagnosis."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from benchapp.bench.faulty import BUILD, FAULTS, measured, sound, vary
from benchapp.capture import Sweep
from benchapp.nominal import nominal_from

F0 = 134.2e3
WIDE = np.geomspace(2e3, 600e3, 201)
FERRITE = replace(BUILD, plate=1.6, core_share=0.3)


def tuned(build):
    """Give the build with the capacitor that brings it to the carrier."""
    return replace(build, farad=1 / (sound(build).L * (2 * math.pi * F0) ** 2))


def design(build, *, circuit="coil", construction=None, **limits):
    part = sound(build)
    esr = part.Rdc + part.Rac * math.sqrt(F0)
    usual = {
        "L": {"nominal": f"{part.L:.6g} H", "tolerance": "±3 %"},
        "f0": {"nominal": "134.2 kHz", "tolerance": "±1.5 %"},
        "ESR": {"nominal": f"{esr:.6g} ohm", "tolerance": "±12 %", "at": "134.2 kHz"},
        "DCR": {"nominal": f"{part.Rdc:.6g} ohm", "tolerance": "±6 %"},
    }
    made = {"turns": build.turns, "strands": build.strands}
    made["core"] = "ferrite" if build.plate > 1 else "air"
    return nominal_from(
        {
            "title": "wound tank",
            "circuit": circuit,
            "limits": limits or usual,
            "construction": made if construction is None else construction,
        }
    )


def swept(part, seed=1, frequency=WIDE):
    z = measured(part, frequency, np.random.default_rng(seed))
    return Sweep(frequency=frequency, impedance=z)


def faulty(kind, seed=1):
    """Give a build, and a varied part of it with a fault."""
    rng = np.random.default_rng(seed)
    build = tuned(FERRITE if kind == "ferrite" else BUILD)
    return build, vary(FAULTS[kind](build, rng), rng)
