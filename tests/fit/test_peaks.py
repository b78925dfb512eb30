"""Resonances of a ladder are found, counted and listed, each with its uncertainty."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Sweep
from benchapp.errors import FitError
from benchapp.fit import fit
from benchapp.fit.peaks import find_peaks
from tests.benchmarks.peaks import ladder, right
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated


@pytest.mark.parametrize("count", [1, 2, 3, 4])
@pytest.mark.parametrize("wide", [False, True])
def test_the_resonances_of_a_ladder_are_counted(count, wide):
    rng = np.random.default_rng([count, wide])
    cases = [ladder(rng, count, wide=wide, sigma=sigma) for sigma in (0.003, 0.01, 0.03) * 3]
    assert all(right(*case) for case in cases)


def test_values_lie_within_their_uncertainty():
    rng = np.random.default_rng(5)
    scores = []
    for _ in range(40):
        sweep, f0, q = ladder(rng, 3, wide=False, sigma=0.01)
        peaks = find_peaks(sweep)
        scores += [
            (peak.f0.value - place) / peak.f0.u for peak, place in zip(peaks, f0, strict=True)
        ]
        scores += [
            (peak.q.value - quality) / peak.q.u for peak, quality in zip(peaks, q, strict=True)
        ]
    assert np.sqrt(np.mean(np.square(scores))) == pytest.approx(1.0, abs=0.15)


def test_a_tank_alone_is_one_resonance_as_the_fit_finds_it():
    sweep = simulated("tank")
    (peak,), result = find_peaks(sweep), fit(sweep, "tank")
    assert peak.f0.value == pytest.approx(result.estimates["f0"].value, abs=3 * peak.f0.u)
    assert peak.q.value == pytest.approx(result.estimates["Q"].value, abs=3 * peak.q.u)
    reactance, resistance = np.sqrt(VALUES["tank"][0] / VALUES["tank"][1]), VALUES["tank"][2]
    assert peak.height.value == pytest.approx(reactance**2 / resistance, rel=0.02)


@pytest.mark.parametrize("name", ["inductor", "capacitor"])
def test_without_a_resonance_none_is_found(name):
    found = [find_peaks(simulated(name, seed=seed)) for seed in range(15)]
    assert found == [()] * 15


def test_two_resonances_of_a_coupled_pair_are_both_seen():
    peaks = find_peaks(simulated("coupled-pair"))
    assert len(peaks) == 2


def test_only_the_points_used_are_searched():
    sweep = simulated("coupled-pair")
    both = find_peaks(sweep)
    between = (both[0].f0.value * both[1].f0.value) ** 0.5
    assert len(find_peaks(sweep, sweep.frequency < between)) == 1


def test_a_fit_that_does_not_describe_a_ladder_lists_its_resonances():
    w = 2 * np.pi * GRID
    z = exact("tank")
    for inductance in (2e-3, 1e-3):
        z = z + 1 / (1 / (20 + 1j * w * inductance) + 1j * w * 2e-10)
    result = fit(Sweep(frequency=GRID, impedance=z * (1 + 0.003 * circular(GRID.size))))
    assert not result.describes
    remark = next(entry for entry in result.remarks if entry.name == "misfit")
    assert "3 resonances are seen: 1591" in remark.text


def test_few_points_are_refused():
    sweep = simulated("tank", frequency=GRID[::30])
    with pytest.raises(FitError, match=r"sweep: must have at least 10 points .* \(got 7\)"):
        find_peaks(sweep)
