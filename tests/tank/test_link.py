"""The power link against the loop equations solved by themselves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from benchapp.errors import QuantityError
from benchapp.tank import link

OMEGA = 2 * math.pi * 134.2e3
L1, L2 = 1.62e-3, 2.6e-3


def _efficiency(k, q1, q2, load):
    """Give load watts over all watts from the two loop equations, 1 A in the sending coil."""
    r1, r2 = OMEGA * L1 / q1, OMEGA * L2 / q2
    mutual = k * math.sqrt(L1 * L2)
    second = -1j * OMEGA * mutual / (r2 + 1j * OMEGA * L2 + load)
    lost = r1 + abs(second) ** 2 * r2
    useful = abs(second) ** 2 * load.real
    return useful / (useful + lost)


ks, qs = st.floats(0.005, 0.6), st.floats(5.0, 400.0)


@settings(max_examples=25, deadline=None)
@given(ks, qs, qs)
def test_no_load_does_better_than_the_best_load(k, q1, q2):
    found = link(k, q1, q2, receiving_inductance=L2, frequency=OMEGA / (2 * math.pi))
    best = _efficiency(k, q1, q2, complex(found.series_load, -OMEGA * L2))
    assert best == pytest.approx(found.efficiency, rel=1e-9)

    def lost(x):
        return -_efficiency(k, q1, q2, complex(math.exp(x[0]), -OMEGA * L2 * (1 + x[1])))

    search = minimize(lost, (math.log(found.series_load) + 0.7, 0.05), method="Nelder-Mead")
    assert -search.fun <= found.efficiency * (1 + 1e-9)
    assert -search.fun == pytest.approx(found.efficiency, rel=1e-3)


@settings(deadline=None)
@given(ks, qs, qs)
def test_series_and_parallel_loads_do_the_same(k, q1, q2):
    found = link(k, q1, q2, receiving_inductance=L2, frequency=OMEGA / (2 * math.pi))
    series = complex(found.series_load, -1 / (OMEGA * found.series_capacitance))
    across = 1 / complex(1 / found.parallel_load, OMEGA * found.parallel_capacitance)
    assert across == pytest.approx(series, rel=1e-9)
    assert _efficiency(k, q1, q2, across) == pytest.approx(found.efficiency, rel=1e-9)


def test_figure_and_ratio_of_a_known_case():
    """k 0.1, Q 100 and 100: U = 10, root sqrt(101), efficiency 100/(1 + sqrt(101))^2."""
    found = link(0.1, 100.0, 100.0)
    assert found.figure == pytest.approx(10)
    assert found.load_ratio == pytest.approx(math.sqrt(101))
    assert found.efficiency == pytest.approx(0.8190024876)
    assert found.critical_coupling == pytest.approx(0.01)
    assert found.series_load is None
    assert found.parallel_capacitance is None


def test_beyond_critical_coupling_two_equal_tanks_show_two_peaks():
    def peaks(k):
        w = np.linspace(0.9, 1.1, 20001)
        own = 1 / 50 + 1j * (w - 1 / w)
        current = np.abs(1j * w * k / (own**2 + (w * k) ** 2))
        return np.count_nonzero((current[1:-1] > current[:-2]) & (current[1:-1] > current[2:]))

    critical = link(0.1, 50.0, 50.0).critical_coupling
    assert peaks(0.9 * critical) == 1
    assert peaks(1.2 * critical) == 2


@pytest.mark.parametrize("k", [0.0, 1.0, -0.1, math.nan])
def test_impossible_coupling_is_refused(k):
    with pytest.raises(QuantityError, match="coupling k: must be above 0 and below 1"):
        link(k, 100.0, 100.0)


def test_impossible_q_is_refused():
    with pytest.raises(QuantityError, match="Q of the sending side: must be above zero"):
        link(0.1, 0.0, 100.0)
    with pytest.raises(QuantityError, match="Q of the receiving side: must be above zero"):
        link(0.1, 100.0, math.inf)
