"""One door for all captures."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Response, Transient
from benchapp.errors import FitError
from benchapp.fit import fit
from tests.fit.simulated import simulated

RESPONSE = Response(
    frequency=np.linspace(0.9e6, 1.1e6, 101),
    ratio=1 / (1 + 2j * 50 * (np.linspace(0.9, 1.1, 101) - 1)) * 0.5,
    kind="transmission",
)
TIME = np.linspace(0, 1e-4, 2000)
TRANSIENT = Transient(time=TIME, voltage=np.exp(-TIME / 3e-5) * np.cos(2e6 * TIME))


def test_a_response_goes_to_the_resonance_fit():
    assert fit(RESPONSE).circuit == "resonance"
    assert fit(RESPONSE, "resonance").kind == "response"


def test_a_transient_goes_to_the_ring_down_fit():
    assert fit(TRANSIENT).circuit == "ring-down"
    assert fit(TRANSIENT, "ring-down").kind == "transient"


@pytest.mark.parametrize(
    ("capture", "message"),
    [
        (RESPONSE, r"circuit: must be resonance for a response \(got tank\)"),
        (TRANSIENT, r"circuit: must be ring-down for a transient \(got tank\)"),
    ],
)
def test_a_circuit_that_does_not_suit_the_capture_is_refused(capture, message):
    with pytest.raises(FitError, match=message):
        fit(capture, "tank")


@pytest.mark.parametrize("band", [(2e5, 1e5), (-1.0, 1e5), (1e5, 1e5)])
def test_a_band_must_rise(band):
    with pytest.raises(FitError, match="band: must rise from its first to its second frequency"):
        fit(simulated("tank"), "tank", band=band)
