"""Checks of scope records and of transmissions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.capture import Conditions
from tests.checks.scene import Case, evidence, found, ring_down, sweep, transmission


def in_steps(step, *, noise=1e-4, stated=True, length=5.0):
    record = ring_down(length=length, noise=noise)
    return replace(
        record,
        voltage=np.round(record.voltage / step) * step,
        step_volt=step if stated else None,
    )


CASES = {
    "decay-too-short": Case(
        raises=lambda: evidence(ring_down(length=1.5)),
        misses=lambda: evidence(ring_down(length=5.0)),
    ),
    "decay-too-long": Case(
        raises=lambda: evidence(ring_down(length=6.4)),
        misses=lambda: evidence(ring_down(length=5.8)),
    ),
    "decay-below-steps": Case(  # exp(-5) of 1 V is 6.7 mV: 3.4 steps of 2 mV, 6.7 of 1 mV
        raises=lambda: evidence(in_steps(2e-3)),
        misses=lambda: evidence(in_steps(1e-3)),
    ),
    "few-samples-per-period": Case(
        raises=lambda: evidence(ring_down(rate=1.1e6)),
        misses=lambda: evidence(ring_down(rate=1.5e6)),
    ),
    "samples-clipped": Case(
        raises=lambda: evidence(ring_down(top=0.5)), misses=lambda: evidence(ring_down(top=1.2))
    ),
    "decay-not-even": Case(
        raises=lambda: evidence(ring_down(uneven=0.5, length=5.0)),
        misses=lambda: evidence(ring_down(length=5.0)),
    ),
    "loading-not-stated": Case(
        raises=lambda: evidence(ring_down(fixture=None)),
        misses=lambda: evidence(ring_down(fixture="pick-up loop")),
    ),
    "strong-coupling": Case(
        raises=lambda: evidence(transmission(peak=0.1)),
        misses=lambda: evidence(transmission(peak=0.02)),
    ),
}


def test_clipped_samples_are_pointed_at():
    capture = ring_down(top=0.5)
    (finding,) = found(evidence(capture), "samples-clipped")
    assert np.abs(capture.voltage[list(finding.points)]).min() > 0.99 * 0.5


@pytest.mark.parametrize(("length", "level"), [(1.5, "note"), (0.705, "warn")])
def test_how_long_the_decay_was_followed_is_told(length, level):
    (finding,) = found(evidence(ring_down(length=length)), "decay-too-short")
    assert f"followed for {length:.2g} time constants" in finding.text
    assert finding.level == level


@pytest.mark.parametrize(("peak", "percent"), [(0.1, "10 %"), (0.0316, "3.2 %")])
def test_the_load_of_the_measurement_is_told(peak, percent):
    # Q = QL / (1 - |S21|) for symmetrical coupling: 10 % at -20 dB, 3.2 % at -30 dB.
    (finding,) = found(evidence(transmission(peak=peak)), "strong-coupling")
    assert f"takes {percent} off Q" in finding.text


def test_a_gain_is_probed_and_a_transmission_is_not():
    gain = replace(transmission(), kind="gain")
    assert found(evidence(gain), "loading-not-stated")
    stated = replace(gain, conditions=Conditions(fixture="10 Mohm, 10 pF"))
    assert found(evidence(stated), "loading-not-stated") == []
    assert found(evidence(transmission()), "loading-not-stated") == []


def test_a_sweep_has_no_record_to_check():
    seen = evidence(sweep(), "tank")
    assert [name for name in CASES if found(seen, name)] == []


def test_a_record_in_which_nothing_rings_is_left_alone():
    silent = replace(ring_down(), voltage=ring_down(noise=0.0).voltage * 0.0)
    seen = evidence(silent)
    assert [name for name in CASES if name != "loading-not-stated" and found(seen, name)] == []


def test_steps_are_seen_where_the_record_does_not_state_them():
    (finding,) = found(evidence(in_steps(4e-3, stated=False)), "decay-below-steps")
    assert "ends at 1.7 steps of the converter, 4.00 mV each." in finding.text


def test_steps_that_noise_carries_over_do_no_harm():
    assert found(evidence(in_steps(4e-3, noise=1e-3)), "decay-below-steps")
    assert not found(evidence(in_steps(4e-3, noise=4e-3)), "decay-below-steps")


def test_a_record_without_steps_has_none():
    assert not found(evidence(ring_down(length=5.0, noise=1e-4)), "decay-below-steps")


def test_a_long_gap_between_bursts_is_no_decay():
    one = ring_down(length=4.0, noise=1e-3)
    later = one.time + 1.25 * (one.time[-1] - one.time[0])
    two = replace(
        one,
        time=np.concatenate([one.time, later]),
        voltage=np.concatenate([one.voltage, one.voltage]),
    )
    seen = evidence(two)
    assert np.ptp(two.time[seen.fit.used]) > 6 * seen.fit.estimates["tau"].value
    assert not found(seen, "decay-too-long")
    assert not found(seen, "decay-too-short")
