"""A decay is fitted with its first sample left open, and clipped samples have their say."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.fit.clipping import Rails
from benchapp.fit.codes import codes
from benchapp.fit.decay import Burst, solve
from benchapp.fit.onset import around, settle

RATE, OMEGA = 0.01, 0.15
FREE = Rails(low=None, high=None, stated=True)


def numbers(voltage, noise, ends=FREE):
    return codes(voltage, ends, noise, None, np.ones(voltage.size, dtype=bool))


def driven(t):
    """A swing that is steady until t = 0 and then decays."""
    return np.exp(-RATE * np.maximum(t, 0)) * np.cos(OMEGA * t + 0.4)


def settled(t, voltage, noise, start, doubt, *, stop=None, ends=FREE):
    """Fit from a start that may be wrong, then with the start left open."""
    seen = numbers(voltage, noise, ends)
    stop = t.size if stop is None else stop
    inside = np.arange(start, stop)
    inside = inside[~ends.reached(voltage[inside])]
    burst = Burst(time=t[inside], voltage=voltage[inside])
    first = solve([burst], RATE, OMEGA)
    onset = around((start, stop), doubt, 0, seen)
    return first, settle(t, seen, [onset], [float(burst.time[0])], first), onset


def test_clean_record_with_a_known_start_stays_as_it_is():
    t = np.arange(0, 600.0)
    first, after, onset = settled(t, driven(t), 1e-3, 0, 10)
    assert onset.earliest == onset.latest == 0
    assert after.rate == pytest.approx(RATE, rel=1e-6)
    assert after.rate == pytest.approx(first.rate, rel=1e-6)


@pytest.mark.parametrize("wrong", [0, 4, 8])
def test_late_first_sample_does_no_harm(wrong):
    t = np.arange(-300, 600.0)
    rng = np.random.default_rng(5)
    voltage = driven(t) + 0.005 * rng.standard_normal(t.size)
    right = solve([Burst(time=t[300:], voltage=voltage[300:])], RATE, OMEGA)
    _, after, onset = settled(t, voltage, 0.005, 300 + wrong, 16)
    assert onset.earliest < 300 < onset.latest
    u = math.sqrt(right.covariance[0, 0])
    assert abs(after.rate - right.rate) < 0.35 * u
    assert math.sqrt(after.covariance[0, 0]) == pytest.approx(u, rel=0.15)


def test_errors_and_uncertainty_agree_where_the_start_is_chosen_on_the_data():
    t = np.arange(-300, 600.0)
    rng = np.random.default_rng(6)
    scores = []
    for _ in range(60):
        voltage = driven(t) + 0.01 * rng.standard_normal(t.size)
        after = settled(t, voltage, 0.01, 300 + int(rng.integers(0, 9)), 16)[1]
        scores.append((after.rate - RATE) / math.sqrt(after.covariance[0, 0]))
    # the samples that suit both pull the rate down by less than half of its uncertainty
    assert 0.75 < math.sqrt(np.mean(np.square(scores))) < 1.3


def test_clipped_samples_narrow_the_result():
    t = np.arange(0, 600.0)
    rng = np.random.default_rng(7)
    ends = Rails(low=None, high=0.6, stated=True)
    voltage = np.minimum(driven(t) + 0.1 * rng.standard_normal(t.size), 0.6)
    first, after, _ = settled(t, voltage, 0.1, 0, 10, ends=ends)
    assert after.covariance[0, 0] < 0.985 * first.covariance[0, 0] * (0.1 / first.noise) ** 2
    assert abs(after.rate - RATE) < 4 * math.sqrt(after.covariance[0, 0])


def test_exciter_beyond_the_range_leaves_the_start_open():
    t = np.arange(-100, 600.0)
    ends = Rails(low=None, high=0.7, stated=True)
    released = np.where(t < 0, 1.0, np.exp(-RATE * np.maximum(t, 0)) * np.cos(OMEGA * t))
    rng = np.random.default_rng(8)
    voltage = np.minimum(released + 0.01 * rng.standard_normal(t.size), 0.7)
    _, after, onset = settled(t, voltage, 0.01, 98, 12, ends=ends)
    assert onset.latest > onset.earliest
    assert abs(after.rate - RATE) < 4 * math.sqrt(after.covariance[0, 0])


def test_two_bursts_are_put_together_by_their_information():
    rng = np.random.default_rng(9)
    time, voltage, spans = [], [], []
    for size, begin in ((600, 0.0), (150, 5000.0)):
        t = np.arange(0.0, size)
        spans.append((sum(part.size for part in time), sum(p.size for p in time) + size))
        time.append(begin + t)
        voltage.append(driven(t) + 0.01 * rng.standard_normal(size))
    bursts = [Burst(time=a, voltage=b) for a, b in zip(time, voltage, strict=True)]
    together = solve(bursts, RATE, OMEGA)
    seen = numbers(np.concatenate(voltage), together.noise)
    onsets = [around(span, 5, span[0], seen) for span in spans]
    origins = [float(burst.time[0]) for burst in bursts]
    after = settle(np.concatenate(time), seen, onsets, origins, together)
    assert after.rate == pytest.approx(together.rate, rel=1e-6)
    assert after.covariance == pytest.approx(together.covariance, rel=1e-4)


def test_steps_that_lead_away_are_not_taken():
    t = np.arange(0, 600.0)
    right = solve([Burst(time=t, voltage=driven(t))], RATE, OMEGA)
    seen = numbers(5 * driven(1.3 * t), 1e-6)
    onset = around((0, t.size), 10, 0, seen)
    assert settle(t, seen, [onset], [0.0], right) is right
