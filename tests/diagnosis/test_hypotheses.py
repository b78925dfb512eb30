"""Faults are named from sweeps of simulated parts, and none where there is none."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench.faulty import BUILD, FAULTS, sound, vary
from benchapp.capture import Response, Sweep
from benchapp.circuit import CIRCUITS
from benchapp.diagnosis import hypotheses
from benchapp.fit import fit
from benchapp.jobs import SAMPLE_NOMINAL, sample_folder
from benchapp.nominal import load_nominal, nominal_from
from benchapp.readers import read
from tests.diagnosis.scene import design, faulty, swept, tuned

KIND = {"turn-missing": "turn-count", "turn-extra": "turn-count"}


def _diagnose(build, part, seed=1, **more):
    capture = swept(part, seed)
    return hypotheses(design(build, **more), fit(capture, "coil"), capture)


@pytest.mark.parametrize("kind", sorted(FAULTS))
def test_most_faults_of_a_kind_are_named_first(kind):
    first = second = outside = 0
    for seed in range(8):
        diagnosis = _diagnose(*faulty(kind, seed), seed=seed)
        if diagnosis.reason == "the part is within its limits":
            continue
        outside += 1
        ranked = [KIND.get(entry.id, entry.id) for entry in diagnosis.hypotheses]
        first += ranked[:1] == [kind]
        second += kind in ranked[:3]
    assert outside >= 4
    assert first >= 0.7 * outside
    assert second >= outside - 1


def test_shares_fall_and_each_hypothesis_says_what_to_do_next():
    diagnosis = _diagnose(*faulty("broken-strand", 3))
    shares = [entry.share for entry in diagnosis.hypotheses]
    assert shares == sorted(shares, reverse=True)
    assert 0 < sum(shares) <= 1
    assert all(entry.next_test and entry.as_if for entry in diagnosis.hypotheses)
    assert diagnosis.best.evidence == diagnosis.found
    assert any("above nominal" in words for words in diagnosis.found)


def test_good_parts_have_no_fault_claimed():
    build, rng = tuned(BUILD), np.random.default_rng(8)
    for seed in range(15):
        diagnosis = _diagnose(build, vary(sound(build), rng), seed)
        assert diagnosis.best is None


def test_a_part_within_its_limits_is_not_diagnosed():
    build = tuned(BUILD)
    assert _diagnose(build, sound(build)).reason == "the part is within its limits"


def test_the_sample_with_a_shorted_turn_is_recognised():
    nominal = load_nominal(sample_folder() / SAMPLE_NOMINAL)
    (capture,) = read(sample_folder() / "ga12_lot" / "0209.csv")
    diagnosis = hypotheses(nominal, fit(capture, "tank"), capture)
    assert diagnosis.best.id == "shorted-turn"
    assert diagnosis.best.share > 0.9


def test_a_wide_sweep_that_the_circuit_misses_is_explained_by_the_closed_turn():
    build, part = faulty("shorted-turn", 2)
    diagnosis = _diagnose(build, part)
    assert diagnosis.best.id == "shorted-turn"
    assert "describes the whole sweep to 0.091 %" in diagnosis.best.evidence[0]
    assert "the circuit coil misses by" in diagnosis.best.evidence[0]


def test_none_fits_is_an_answer():
    # L far above and losses far below anything that one of the faults can do.
    build = tuned(BUILD)
    part = sound(build)
    odd = {"L": 1.5 * part.L, "C": part.C / 1.5, "Rdc": 0.4 * part.Rdc, "Rac": 0.4 * part.Rac}
    z = CIRCUITS["coil"].impedance(swept(part).frequency, tuple(odd.values()))
    rng = np.random.default_rng(1)
    noise = 1e-3 / math.sqrt(2) * (rng.standard_normal(201) + 1j * rng.standard_normal(201))
    capture = Sweep(frequency=swept(part).frequency, impedance=z * (1 + noise))
    diagnosis = hypotheses(design(build), fit(capture, "coil"), capture)
    assert (diagnosis.hypotheses, diagnosis.reason) == ((), "none fits")
    assert diagnosis.found


def test_a_design_that_says_too_little_gives_no_hypothesis():
    build, part = faulty("cold-joint", 1)
    capture = swept(part)
    nominal = nominal_from(
        {"title": "x", "circuit": "coil", "limits": {"DCR": {"upper": "1 ohm"}}}
    )
    diagnosis = hypotheses(nominal, fit(capture, "coil"), capture)
    assert diagnosis.reason == "the design does not say what a good part is: L on both sides"
    assert build.turns == BUILD.turns


def test_a_response_that_is_not_described_gives_no_hypothesis():
    frequency = np.linspace(125e3, 143e3, 201)
    rng = np.random.default_rng(2)
    ratio = 0.01 / (1 + 80j * (frequency / 134e3 - 134e3 / frequency))
    noise = 1e-5 * (rng.standard_normal(201) + 1j * rng.standard_normal(201))
    capture = Response(frequency=frequency, ratio=ratio + noise, kind="transmission")
    missed = replace(fit(capture), describes=False)
    diagnosis = hypotheses(design(tuned(BUILD)), missed, capture)
    assert diagnosis.reason == "no circuit that is known here describes the sweep"


def _scaled(part, factor):
    return replace(
        part,
        L=factor * part.L,
        Rdc=factor * part.Rdc,
        Rac=factor * part.Rac,
        C=part.C / factor,
        ring_henry=factor * part.ring_henry,
        ring_ohm=factor * part.ring_ohm,
        mutual_henry=factor * part.mutual_henry,
    )


@pytest.mark.parametrize("kind", ["broken-strand", "turn-missing", "cold-joint"])
def test_a_coil_of_another_level_has_the_same_diagnosis(kind):
    build, part = faulty({"turn-missing": "turn-count"}.get(kind, kind), 3)
    said = []
    for factor in (1.0, 20.0):
        good = _scaled(sound(build), factor)
        esr = good.Rdc + good.Rac * math.sqrt(134.2e3)
        limits = {
            "L": {"nominal": f"{good.L!r} H", "tolerance": "±1 %"},
            "f0": {"nominal": "134.2 kHz", "tolerance": "±0.5 %"},
            "ESR": {"nominal": f"{esr!r} ohm", "tolerance": "±5 %", "at": "134.2 kHz"},
            "DCR": {"nominal": f"{good.Rdc!r} ohm", "tolerance": "±3 %"},
        }
        capture = swept(_scaled(part, factor), 3)
        said.append(hypotheses(design(build, **limits), fit(capture, "coil"), capture))
    plain, scaled = ({entry.id: entry.share for entry in each.hypotheses} for each in said)
    assert said[0].best.id == said[1].best.id
    assert {n: s for n, s in plain.items() if s > 0.05} == pytest.approx(
        {n: s for n, s in scaled.items() if s > 0.05}, rel=0.05
    )


def test_a_fit_that_did_not_settle_gives_no_hypothesis():
    build, part = faulty("broken-strand", 3)
    capture = swept(part, 3)
    found = replace(fit(capture, "coil"), converged=False)
    diagnosis = hypotheses(design(build), found, capture)
    assert (diagnosis.best, diagnosis.reason) == (None, "the fit says too little about the part")


def test_a_value_on_its_limit_within_its_uncertainty_is_not_outside():
    build = tuned(BUILD)
    part = sound(build)
    found = fit(swept(part), "coil")
    own = found.estimates["L"]
    beyond = {"L": {"lower": f"{own.value + own.u!r} H", "upper": "1 H"}}
    surely = {"L": {"lower": f"{own.value + 3 * own.u!r} H", "upper": "1 H"}}
    capture = swept(part)
    assert hypotheses(design(build, **beyond), found, capture).reason.endswith("within its limits")
    assert not hypotheses(design(build, **surely), found, capture).reason.endswith("its limits")


def test_a_wire_of_one_strand_cannot_have_broken_strands():
    build, part = faulty("broken-strand", 3)
    named = {entry.id for entry in _diagnose(build, part, 3).hypotheses}
    solid = {"turns": build.turns, "strands": 1, "core": "air"}
    without = {e.id for e in _diagnose(build, part, 3, construction=solid).hypotheses}
    assert "broken-strand" in named
    assert "broken-strand" not in without


def test_all_of_a_kind_of_part_are_told_the_same_twice():
    build, part = faulty("cold-joint", 2)
    assert _diagnose(build, part, 2) == _diagnose(build, part, 2)


def test_without_a_known_direct_current_loss_the_whole_loss_is_told():
    build, part = faulty("cold-joint", 2)
    good = sound(build)
    esr = good.Rdc + good.Rac * math.sqrt(134.2e3)
    limits = {
        "L": {"nominal": f"{good.L!r} H", "tolerance": "±3 %"},
        "f0": {"nominal": "134.2 kHz", "tolerance": "±1.5 %"},
        "ESR": {"nominal": f"{esr!r} ohm", "tolerance": "±5 %", "at": "134.2 kHz"},
    }
    found = _diagnose(build, part, 2, **limits).found
    assert any(words.startswith("the loss is ") and "above nominal" in words for words in found)
    assert not any("direct-current" in words for words in found)
