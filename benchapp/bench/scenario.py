"""The demonstration: GA-12, the gate antenna coil of a livestock ear-tag reader.

The coil and its tuning capacitor make a tank at 134.2 kHz, the carrier of ISO 11785. The coil is
bought in lots. All numbers are a design of our own.
"""

from __future__ import annotations

from benchapp.bench.device import Device, Element

__all__ = ["COIL", "DESIGN", "NOMINAL", "REFERENCE", "SERIES", "SHORTED_TURN", "TANK"]

NOMINAL = """\
title = "Gate antenna coil GA-12"
revision = "C"
circuit = "tank"

[conditions]
frequency = "134.2 kHz"
level = "1 V"
temperature = "23 degC"
fixture = "four-terminal clip"

[limits.L]
nominal = "1.620 mH"
tolerance = "±3 %"

[limits.f0]
nominal = "134.2 kHz"
tolerance = "±1.5 %"

[limits.Q]
at = "134.2 kHz"
lower = 60
upper = 110

[limits.ESR]
at = "134.2 kHz"
upper = "22 ohm"

[decision]
guard = 1.0
coverage = 2
"""

REFERENCE = """\
title = "Reference coil RC-1: GA-12 serial 0147, sealed with its capacitor"
circuit = "tank"

[reference]
serial = "RC-1"
certificate = "simulated bench, no real part"
every_hours = 24                  # a check counts for a day
first_readings = 10               # that make the limits of the control chart
U = { L = "±0.05 %", f0 = "±0.02 %" }   # of the stated values, k = 2

[conditions]
temperature = "23 degC ±3 K"

[limits.L]                        # outermost limits of a check
nominal = "1.6313 mH"
tolerance = "±0.5 %"

[limits.f0]
nominal = "134.04 kHz"
tolerance = "±0.3 %"

[limits.Q]
nominal = "78.4"
tolerance = "±5 %"
"""
"""The tank `TANK` as a reference of a station."""

COPPER = 0.00393  # per kelvin at 20 degC: annealed copper, IEC 60028
POLYPROPYLENE = -250e-6  # per kelvin, common practice for film capacitors


def _tank(L: float, C: float, R: float, *, name: str) -> Device:
    return Device(
        circuit="tank",
        elements=(
            Element(name="L", value=L, spread=0.008),
            Element(name="C", value=C, spread=0.004, per_kelvin=POLYPROPYLENE),
            Element(name="R", value=R, spread=0.04, per_kelvin=COPPER),
        ),
        name=name,
    )


DESIGN = _tank(1.620e-3, 868e-12, 17.1, name="GA-12 nominal")
"""Nominal values: f0 134.2 kHz, Q 80, with the spread from part to part."""

TANK = _tank(1.6313e-3, 864.2e-12, 17.52, name="GA-12 serial 0147")

SHORTED_TURN = _tank(1.5460e-3, 868e-12, 42.6, name="GA-12 serial 0209")
"""One turn of the winding is shorted: less inductance, more loss."""

COIL = Device(
    circuit="coil",
    elements=(
        Element(name="L", value=1.6313e-3),
        Element(name="C", value=9.4e-12),
        Element(name="Rdc", value=6.21, per_kelvin=COPPER),
        Element(name="Rac", value=0.0309, per_kelvin=COPPER / 2),
    ),
    name="GA-12 serial 0147, coil alone",
)

SERIES = Device(
    circuit="series-rlc",
    elements=(
        Element(name="L", value=1.6313e-3),
        Element(name="C", value=864.2e-12),
        Element(name="R", value=17.52),
    ),
    name="GA-12 serial 0147, coil and capacitor in series",
)
