"""Checks of how a capture was taken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.checks import LevelPoint
from tests.checks.scene import Case, evidence, found, known, ring_down, sweep, transmission


def levels(f0, q):
    first = LevelPoint(level=0.3, f0=134.0e3, q=78.0)
    return known(levels=(LevelPoint(level=1.0, f0=134.0e3 * f0, q=78.0 * q), first))


def reflected(*, phase):
    return evidence(replace(transmission(peak=0.5, phase=phase), kind="reflection"))


# 2.2 Q / f0 = 1.287 ms; 10 % of the bandwidth 171 Hz; 0.2 % and 2 % of C 1.73 and 17.3 pF;
# 5 % of Q Z_tank = 107.7 kohm allow 2.15 Mohm across, 5 % of R 0.88 ohm in series.
CASES = {
    "dwell-too-short": Case(
        raises=lambda: known(dwell=1.2e-3), misses=lambda: known(dwell=1.35e-3)
    ),
    "sweeps-differ-by-direction": Case(
        raises=lambda: known(f0_up=134.1e3, f0_down=133.92e3),
        misses=lambda: known(f0_up=134.1e3, f0_down=133.94e3),
    ),
    "depends-on-level": Case(
        raises=lambda: levels(0.9975, 1.0), misses=lambda: levels(0.9985, 0.96)
    ),
    "source-level-varies": Case(
        raises=lambda: known(monitor_variation=0.012),
        misses=lambda: known(monitor_variation=0.009),
    ),
    "probe-capacitance": Case(
        raises=lambda: known(probe_capacitance=1.9e-12),
        misses=lambda: known(probe_capacitance=1.6e-12),
    ),
    "probe-takes-q": Case(
        raises=lambda: known(probe_resistance=2.0e6),
        misses=lambda: known(probe_resistance=2.3e6, source_resistance=0.8),
    ),
    "coupling-matters": Case(
        raises=lambda: known(looser_q=79.6), misses=lambda: known(looser_q=79.0, looser_f0=134e3)
    ),
    "channels-skewed": Case(
        raises=lambda: known(skew_degrees=-0.6), misses=lambda: known(skew_degrees=0.4)
    ),
    "width-of-reflection": Case(
        raises=lambda: reflected(phase=False), misses=lambda: reflected(phase=True)
    ),
    "window-holds-excitation": Case(
        raises=lambda: evidence(ring_down(), known={"excitation_ends": 50e-6}),
        misses=lambda: evidence(ring_down(), known={"excitation_ends": -1e-6}),
    ),
}


def test_the_wait_that_is_needed_is_told():
    (finding,) = found(known(dwell=0.5e-3), "dwell-too-short")
    assert "waited for 500 µs; this resonance needs 1.29 ms to settle" in finding.text


def test_a_dependence_of_q_alone_is_seen():
    (finding,) = found(levels(1.0, 0.9), "depends-on-level")
    assert "From level 0.3 to 1 f0 moves by +0 % and Q by -10 %" in finding.text


@pytest.mark.parametrize(
    ("picofarad", "level", "percent"), [(4.32, "note", "0.25 %"), (43.2, "warn", "2.5 %")]
)
def test_how_far_a_probe_lowers_the_resonance_is_told(picofarad, level, percent):
    # df0 / f0 = -1/2 Cp / C
    (finding,) = found(known(probe_capacitance=picofarad * 1e-12), "probe-capacitance")
    assert finding.level == level
    assert f"lower f0 by {percent}" in finding.text


def test_resistance_in_series_takes_its_share():
    # A tenth of R more makes 1 - 1 / 1.1 = 9.1 % less Q.
    (finding,) = found(known(source_resistance=1.752), "probe-takes-q")
    assert "1.75 Ω in series with the part take about 9.1 % off Q" in finding.text


def test_samples_before_the_end_of_the_excitation_are_pointed_at():
    seen = evidence(ring_down(), known={"excitation_ends": 50e-6})
    (finding,) = found(seen, "window-holds-excitation")
    assert seen.capture.time[list(finding.points)].max() < 50e-6


def test_a_sweep_without_facts_is_left_alone():
    seen = evidence(sweep(), "tank")
    assert [name for name in CASES if found(seen, name)] == []
