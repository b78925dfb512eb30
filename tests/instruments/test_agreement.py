"""One part by three instruments through the simulated bench, and by both ways of an LCR meter."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.bench import Meter, Setup, scenario
from benchapp.bench.device import draw
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer
from benchapp.capture import Sweep, Transient
from benchapp.fit import fit
from benchapp.instruments import Link, Plan, shipped_profiles, take
from benchapp.uncertainty import Accuracy, Stated
from tests.benchmarks.agreement import WAYS, results, with_time_base

WIDE = 4.0  # standard uncertainties; the benchmark counts how often two hold


@pytest.mark.parametrize("seed", range(4))
def test_lcr_meter_analyser_and_ring_down_agree_on_one_part(seed):
    true, found = results(seed)
    assert set(found) == {panel for panel, _, _ in WAYS}
    for quantity, value in true.items():
        for way, estimates in found.items():
            each = estimates[quantity]
            assert abs(each.value - value) <= WIDE * each.u, (quantity, way)
        for one in found:
            for two in found:
                a, b = found[one][quantity], found[two][quantity]
                assert abs(a.value - b.value) <= WIDE * math.hypot(a.u, b.u), (quantity, one, two)


def test_point_by_point_and_list_sweep_give_the_same_part():
    desk = Desk(setup=Setup(device=scenario.TANK), meter=Meter(noise=1e-3), reading_time=0.0)
    plan = Plan(start=124e3, stop=144e3, points=61, zoom=False)
    fits = []
    for name in ("lcr-points", "lcr-list"):
        with BenchServer(PANELS["lcr"](desk)) as server:
            taken = take(Link(server.address), shipped_profiles()[name], plan)
        fits.append(fit(taken.captures[0], "tank").estimates)
    for quantity in ("L", "C", "R", "f0", "Q"):
        a, b = (each[quantity] for each in fits)
        assert abs(a.value - b.value) <= WIDE * math.hypot(a.u, b.u)


def test_what_varies_from_part_to_part_is_seen_through_the_whole_path():
    """The inductances of five drawn parts are told apart and come in their true order."""
    rng = np.random.default_rng(8)
    parts = [draw(scenario.DESIGN, rng) for _ in range(5)]
    found = []
    for part in parts:
        desk = Desk(setup=Setup(device=part), reading_time=0.0)
        with BenchServer(PANELS["lcr"](desk)) as server:
            plan = Plan(start=114e3, stop=154e3, points=81, zoom=False)
            taken = take(Link(server.address), shipped_profiles()["lcr-list"], plan)
        found.append(fit(taken.captures[0], "tank").estimates["L"].value)
    true = [part.value("L") for part in parts]
    assert np.argsort(found).tolist() == np.argsort(true).tolist()
    np.testing.assert_allclose(found, true, rtol=1e-3)


@pytest.mark.parametrize("way", ["lcr", "analyser", "scope"])
def test_a_stated_time_base_widens_f0_and_nothing_hides_it(way):
    """The relative u of f0 gains the stated one, and that of Q gains none."""
    stated = Accuracy(frequency=Stated(bound=1e-4))
    bare, wide = results(5)[1][way], results(5, accuracy=stated)[1][way]
    own = bare["f0"].u / bare["f0"].value
    both = wide["f0"].u / wide["f0"].value
    assert both == pytest.approx(math.hypot(own, 1e-4 / math.sqrt(3)), rel=1e-3)
    assert wide["Q"].u == pytest.approx(bare["Q"].u, rel=1e-3)


def test_a_time_base_that_is_too_fast_reads_f0_too_low_in_every_way():
    record = Transient(time=[0.0, 1.0], voltage=[1.0, 0.5])
    sweep = Sweep(frequency=[1e3, 2e3], impedance=[1.0, 1.0])
    assert with_time_base(record, 0.01).time[-1] == pytest.approx(1.01)
    assert with_time_base(sweep, 0.01).frequency[-1] == pytest.approx(2e3 / 1.01)
