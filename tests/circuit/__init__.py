"""Tests of the equivalent circuits."""

from __future__ import annotations

import numpy as np

from benchapp.circuit import CIRCUITS, EXTENDED

EVERY = {**CIRCUITS, "coil with core loss": EXTENDED["coil"]}

VALUES = {
    "series-rlc": (1e-3, 1e-9, 10.0),
    "parallel-rlc": (1e-3, 1e-9, 1e5),
    "tank": (1e-3, 1e-9, 10.0),
    "coil": (1e-3, 1e-9, 10.0, 0.02),
    "coil with core loss": (1e-3, 1e-9, 10.0, 0.02, 1e5),
    "inductor": (1e-3, 10.0),
    "capacitor": (1e-9, 1.0, 1e-6),
    "coupled-pair": (1e-3, 1e-9, 10.0, 0.1, 2e5, 30.0),
}


def element_values(name):
    """Give typical element values of a circuit."""
    return np.array(VALUES[name])
