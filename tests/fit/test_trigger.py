"""Where free decays begin and end, for the ways in which they are excited."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from benchapp.capture import Transient
from benchapp.fit.clipping import rails
from benchapp.fit.trigger import Span, find, take

STEP = 2 / 256
OMEGA = 2 * math.pi / 40


def decay(n, Q=30.0, amplitude=0.9, phase=0.4):
    rate = OMEGA / (2 * Q)
    late = np.maximum(n, 0)
    return amplitude * np.exp(-rate * late) * np.cos(OMEGA * late + phase)


def seen(voltage, seed=1):
    rng = np.random.default_rng(seed)
    dirty = voltage + 0.5 * STEP * rng.standard_normal(voltage.size)
    return STEP * np.round(dirty / STEP)


def spans(voltage, band=None, **facts):
    time = np.arange(float(voltage.size))
    capture = Transient(time=time, voltage=voltage, step_volt=STEP, **facts)
    return find(time, voltage, rails(capture), band)


@pytest.mark.parametrize("trigger", [150, 403, 777])
def test_trigger_after_rest_is_found_to_the_sample(trigger):
    n = np.arange(3000.0) - trigger
    found, fitted = spans(seen(np.where(n < 0, 0.0, decay(n))))
    assert [span.stop for span in found] == [3000]
    assert found[0].start == pytest.approx(trigger, abs=2)
    assert fitted.omega == pytest.approx(OMEGA, rel=1e-3)


@pytest.mark.parametrize("Q", [1.5, 5.0, 30.0, 300.0])
def test_release_of_a_charged_capacitor_is_found_though_nothing_jumps(Q):
    rate = OMEGA / (2 * Q)
    omega = OMEGA * math.sqrt(1 - 1 / (4 * Q * Q))
    n = np.arange(3000.0) - 300
    late = np.maximum(n, 0)
    phase = -math.atan2(rate, omega)
    swing = 0.9 * np.exp(-rate * late) * np.cos(omega * late + phase) / math.cos(phase)
    found, _ = spans(seen(swing))
    assert found[0].start == pytest.approx(300, abs=3)


@pytest.mark.parametrize("phase", [0.0, 1.0, 2.5])
def test_end_of_a_driven_burst_is_found(phase):
    n = np.arange(4000.0) - 1000
    voltage = np.where(n < 0, 0.9 * np.cos(OMEGA * n + phase), decay(n, phase=phase))
    found, fitted = spans(seen(voltage))
    assert found[0].start == pytest.approx(1000, abs=15)  # 15 samples: 4 % of a time constant
    assert fitted.rate == pytest.approx(OMEGA / 60, rel=0.02)


def test_record_that_begins_within_the_decay_is_used_from_its_first_sample():
    found, _ = spans(seen(decay(np.arange(2000.0))))
    assert found == (Span(start=0, stop=2000),)


def test_several_bursts_are_told_apart():
    n = np.arange(8000.0)
    voltage = np.zeros(n.size)
    for trigger in (500, 2500, 4500, 6500):
        voltage = np.where(n < trigger, voltage, decay(n - trigger))
    found, _ = spans(seen(voltage))
    assert [span.start for span in found] == pytest.approx([500, 2500, 4500, 6500], abs=3)
    for span, following in itertools.pairwise(found):
        assert following.start - 80 <= span.stop <= following.start


def test_bursts_cut_short_by_the_next_are_told_apart():
    n = np.arange(6000.0)
    voltage = np.zeros(n.size)
    for trigger in (1000, 2200, 3400, 4600):  # four fifths of the swing have gone by then
        voltage = np.where(n < trigger, voltage, decay(n - trigger, Q=10.0))
    found, _ = spans(seen(voltage))
    assert [span.start for span in found] == pytest.approx([1000, 2200, 3400, 4600], abs=3)


def test_clipped_start_is_followed_across_the_clipped_samples():
    n = np.arange(3000.0) - 300
    voltage = np.clip(seen(np.where(n < 0, 0.0, decay(n, phase=-1.2))), -0.7, 0.7)
    found, _ = spans(voltage, limits_volt=(-0.7, 0.7))
    assert found[0].start == pytest.approx(300, abs=3)


def test_band_chooses_between_two_swings():
    n = np.arange(3000.0) - 200
    low = np.where(n < 0, 0.0, decay(n, Q=30.0))
    high = np.where(n < 0, 0.0, 0.7 * np.exp(-n.clip(0) / 300) * np.cos(1.2 * n))
    voltage = seen(0.5 * low + high)
    _, free = spans(voltage)
    _, chosen = spans(voltage, band=(0.01, 0.05))
    assert free.omega == pytest.approx(1.2, rel=0.01)
    assert chosen.omega == pytest.approx(OMEGA, rel=0.05)


@pytest.mark.parametrize(
    "voltage", [np.zeros(500), seen(np.zeros(500)), np.linspace(0, 1, 500)], ids=str
)
def test_record_without_a_swing_has_no_burst(voltage):
    assert spans(voltage) is None


def test_take_cuts_the_kept_samples_out():
    n = np.arange(10.0)
    kept = np.ones(10, dtype=bool)
    kept[4] = False
    burst = take(n, -n, Span(start=3, stop=7), kept)
    assert burst.time.tolist() == [3, 5, 6]
    assert burst.voltage.tolist() == [-3, -5, -6]
    assert Span(start=3, stop=7).size == 4
