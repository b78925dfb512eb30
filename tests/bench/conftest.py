from __future__ import annotations

import numpy as np
import pytest

from benchapp.bench import Device, Element


@pytest.fixture
def rng():
    return np.random.default_rng(20)


@pytest.fixture
def tank():
    """Q 80 at 134 kHz."""
    return part("tank", L=1.62e-3, C=868e-12, R=17.08)


def part(circuit, **elements):
    return Device(
        circuit=circuit,
        elements=tuple(Element(name=name, value=value) for name, value in elements.items()),
    )


def resistor(ohm):
    return part("inductor", R=ohm, L=1e-30)
