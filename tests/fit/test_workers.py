"""Several processes give the numbers of one."""

from __future__ import annotations

import os
import signal

import numpy as np
import pytest

from benchapp.errors import FitError
from benchapp.fit import fit_batch
from benchapp.fit import workers as module
from benchapp.fit.workers import Workers
from tests.fit.simulated import GRID, simulated


@pytest.fixture(scope="module")
def workers():
    with Workers(2) as running:
        yield running


@pytest.fixture
def many(monkeypatch):
    """More sweeps than a slice holds, with a wild point in some."""
    monkeypatch.setattr(module, "_SLICE", 20 * GRID.size)
    z = np.stack([simulated("tank", seed=seed).impedance for seed in range(130)])
    z[::17, 40] *= 1.3
    return z


def same(one, other):
    """Whether two results are the same, column by column."""
    assert one.names == other.names
    for column in ("values", "u", "noise"):
        np.testing.assert_allclose(getattr(one, column), getattr(other, column), rtol=1e-11)
    for column in ("accepted", "dof", "set_aside"):
        np.testing.assert_array_equal(getattr(one, column), getattr(other, column))


def test_rows_come_back_in_their_order_and_unchanged(workers, many):
    same(workers.fit_batch(GRID, many, "tank"), fit_batch(GRID, many, "tank"))


def test_a_second_batch_uses_the_same_processes(workers, many):
    same(workers.fit_batch(GRID, many[::-1], "coil"), fit_batch(GRID, many[::-1], "coil"))


def test_few_sweeps_are_fitted_where_they_are(workers):
    z = np.stack([simulated("tank", seed=seed).impedance for seed in range(3)])
    same(workers.fit_batch(GRID, z, "tank"), fit_batch(GRID, z, "tank"))


def test_without_other_processes_all_is_done_here(many):
    with Workers(1) as alone:
        same(alone.fit_batch(GRID, many[:10], "tank"), fit_batch(GRID, many[:10], "tank"))


def test_what_cannot_be_fitted_is_refused_whoever_finds_it(workers, many):
    with pytest.raises(FitError, match="circuit: must be one of"):
        workers.fit_batch(GRID, many, "triangle")
    with pytest.raises(FitError, match="impedance: must have one row for each sweep"):
        workers.fit_batch(GRID, many[0], "tank")


def test_a_process_that_dies_leaves_its_work_to_this_one_and_is_replaced(many):
    with Workers(2) as fragile:
        before = set(fragile._pool._processes)
        for process in list(fragile._pool._processes.values()):
            os.kill(process.pid, signal.SIGKILL)
            process.join()
        same(fragile.fit_batch(GRID, many, "tank"), fit_batch(GRID, many, "tank"))
        assert set(fragile._pool._processes).isdisjoint(before)
        same(fragile.fit_batch(GRID, many, "tank"), fit_batch(GRID, many, "tank"))
