"""Many sweeps give what each gives alone."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Noise, Sweep
from benchapp.errors import CaptureError, FitError
from benchapp.fit import fit, fit_batch
from tests.fit.simulated import GRID, VALUES, circular, exact, simulated


def sweeps(name, count=30):
    """Impedances of seeded sweeps, some of them with a fault."""
    z = np.stack([simulated(name, seed=seed).impedance for seed in range(count)])
    z[3, 50] *= 1.4  # a wild point
    z[7] = exact(name) + 0.01 * np.abs(exact(name)).min() * circular(GRID.size)  # other noise
    z[11] *= 1 + 0.02 * np.log(GRID / GRID[0])  # a slope that no circuit has
    return z


@pytest.mark.parametrize("name", VALUES)
def test_each_row_is_what_a_fit_alone_gives(name):
    z = sweeps(name, 12 if name == "coupled-pair" else 30)
    batch = fit_batch(GRID, z, name)
    for row, impedance in enumerate(z):
        alone = fit(Sweep(frequency=GRID, impedance=impedance), name)
        assert batch.accepted[row] == alone.describes
        assert batch.dof[row] == alone.dof
        assert batch.set_aside[row] == len(alone.set_aside)
        assert batch.noise[row] == pytest.approx(alone.noise, rel=1e-3)
        for place, column in enumerate(batch.names):
            if column in alone.estimates:
                estimate = alone.estimates[column]
                assert batch.values[row, place] == pytest.approx(estimate.value, rel=1e-9)
                assert batch.u[row, place] == pytest.approx(estimate.u, rel=1e-9)
            else:
                assert np.isnan(batch.values[row, place])
                assert np.isnan(batch.u[row, place])


def test_columns_have_names_and_units():
    batch = fit_batch(GRID, sweeps("tank"), "tank")
    assert batch.circuit == "tank"
    assert batch.names == ("L", "C", "R", "f0", "Q")
    assert batch.units == ("H", "F", "ohm", "Hz", "1")
    assert batch.values.shape == batch.u.shape == (30, 5)


def test_ragged_grids_are_fitted_each_on_its_own():
    grids = [GRID, GRID[::2], GRID, GRID[:150]]
    z = [simulated("tank", frequency=grid, seed=seed).impedance for seed, grid in enumerate(grids)]
    batch = fit_batch(grids, z, "tank")
    for row, (grid, impedance) in enumerate(zip(grids, z, strict=True)):
        alone = fit(Sweep(frequency=grid, impedance=impedance), "tank")
        np.testing.assert_allclose(
            batch.values[row], [alone.estimates[name].value for name in batch.names], rtol=1e-9
        )


def test_the_kind_of_noise_may_be_told():
    spread = Noise(kind="absolute", level=3.0)
    z = exact("tank") + 3.0 * np.stack([circular(GRID.size, seed) for seed in range(4)])
    batch = fit_batch(GRID, z, "tank", noise=spread)
    alone = fit(Sweep(frequency=GRID, impedance=z[2], noise=spread), "tank")
    assert batch.values[2, 0] == pytest.approx(alone.estimates["L"].value, rel=1e-9)
    assert batch.accepted.all()


def test_more_noise_than_the_instrument_has_is_not_accepted():
    quiet = Noise(kind="relative", level=0.001)
    batch = fit_batch(GRID, sweeps("tank")[:3], "tank", noise=quiet)
    assert not batch.accepted.any()
    assert np.isfinite(batch.values).all()


def test_more_sweeps_than_a_block_holds():
    z = np.tile(sweeps("tank")[:1, ::10], (6000, 1))
    batch = fit_batch(GRID[::10], z, "tank")
    assert batch.accepted.all()
    np.testing.assert_allclose(batch.values, np.tile(batch.values[:1], (6000, 1)), rtol=1e-12)


def test_no_sweeps_give_an_empty_result():
    batch = fit_batch(GRID, np.empty((0, GRID.size), dtype=complex), "tank")
    assert batch.values.shape == (0, 5)


@pytest.mark.parametrize(
    ("frequency", "impedance", "circuit", "error", "message"),
    [
        (
            GRID,
            np.ones((2, GRID.size)),
            "auto",
            FitError,
            r"circuit: must be one of .* \(got auto\)",
        ),
        (
            GRID,
            np.ones(GRID.size),
            "tank",
            FitError,
            "impedance: must have one row for each sweep",
        ),
        (
            GRID,
            np.ones((2, 7)),
            "tank",
            CaptureError,
            "impedance: must have as many points as frequency",
        ),
        (
            [GRID, GRID],
            [np.ones(GRID.size)],
            "tank",
            FitError,
            "frequency: must have one grid for",
        ),
        ([1e5], np.ones((2, 1)), "tank", FitError, "sweep: must have at least 2 points"),
        (
            GRID[::-1],
            np.ones((2, GRID.size)),
            "tank",
            CaptureError,
            "frequency: must rise strictly",
        ),
        (
            GRID,
            np.full((2, GRID.size), np.nan),
            "tank",
            CaptureError,
            "every value must be finite",
        ),
    ],
)
def test_what_cannot_be_fitted_is_refused(frequency, impedance, circuit, error, message):
    with pytest.raises(error, match=message):
        fit_batch(frequency, impedance, circuit)


def test_one_sweep_that_is_not_finite_is_refused_with_its_points():
    z = sweeps("tank")[:3]
    z[1, 7] = np.nan
    with pytest.raises(CaptureError, match=r"impedance: every value must be finite .* at point 8"):
        fit_batch(GRID, z, "tank")
