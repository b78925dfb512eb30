"""Resonances in reflection, transmission and gain: what is found, and what is not claimed."""

from __future__ import annotations

import json
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.capture import Response
from benchapp.errors import FitError
from benchapp.fit import fit
from benchapp.fit.response import fit_response, response_curve
from benchapp.units import Estimate
from tests.benchmarks.resonance import CASES, measure

TRUTH = Path(__file__).parents[1] / "truth"
PUBLISHED = json.loads((TRUTH / "mat58.json").read_text("utf-8"))["sets"]
IDENTITIES = tomllib.loads((TRUTH / "resonance.toml").read_text("utf-8"))

F0 = 134.2e3


def detuning(f, f0=F0):
    return f / f0 - f0 / f


def grid(Q, widths=6.0, points=201, f0=F0):
    return f0 * np.exp(np.linspace(-widths / Q / 2, widths / Q / 2, points))


def response(f, ratio, kind, *, noise=0.0, seed=1, **facts):
    rng = np.random.default_rng(seed)
    dirt = noise / math.sqrt(2) * (rng.standard_normal(f.size) + 1j * rng.standard_normal(f.size))
    ratio = ratio + dirt
    if not facts.get("has_phase", True):
        ratio = np.abs(ratio)
    return Response(frequency=f, ratio=ratio, kind=kind, **facts)


def known(name, value, u=None):
    return {name: Estimate(name=name, value=value, u=u, unit="1")}


def value(found, name):
    return found.estimates[name].value


def names(found):
    return {remark.name for remark in found.remarks}


# ---------------------------------------------------------------- loaded and unloaded


@settings(max_examples=40)
@given(
    k=st.floats(0.05, 20.0),
    Q=st.floats(20.0, 5000.0),
    turn=st.floats(0, 6.2),
)
def test_reflection_gives_loaded_and_unloaded_q_at_any_coupling(k, Q, turn):
    QL = Q / (1 + k)
    f = grid(QL)
    ratio = np.exp(1j * turn) * (1 - 2 * k / (1 + k) / (1 + 1j * QL * detuning(f)))
    found = fit_response(response(f, ratio, "reflection"))
    assert value(found, "f0") == pytest.approx(F0, rel=1e-9)
    assert value(found, "QL") == pytest.approx(QL, rel=1e-7)
    assert value(found, "Q") == pytest.approx(Q, rel=1e-7)
    assert value(found, "coupling") == pytest.approx(k, rel=1e-6)


def test_tank_behind_a_port_shows_its_own_q():
    """A parallel tank straight across a port of 50 ohm: Q is that of the tank, not of the port."""
    L, C, R = 1.62e-6, 0.868e-6, 90.0
    f0 = 1 / (2 * np.pi * math.sqrt(L * C))
    f = f0 * np.exp(np.linspace(-0.2, 0.2, 401))
    w = 2 * np.pi * f
    z = 1 / (1 / R + 1 / (1j * w * L) + 1j * w * C)
    found = fit_response(response(f, (z - 50) / (z + 50), "reflection"))
    assert value(found, "f0") == pytest.approx(f0, rel=1e-9)
    assert value(found, "Q") == pytest.approx(R * math.sqrt(C / L), rel=1e-6)
    assert value(found, "coupling") == pytest.approx(R / 50, rel=1e-6)


def test_transmission_peak_and_notch_obey_the_loading_identities():
    truth, QL = IDENTITIES["S-4"], 80.0
    f = grid(QL)
    bell = 1 / (1 + 1j * QL * detuning(f))
    peak = fit_response(response(f, truth["S21"] * bell, "transmission"))
    notch = fit_response(response(f, 1 - (1 - truth["S21"]) * bell, "transmission"))
    assert value(peak, "Q") / value(peak, "QL") == pytest.approx(truth["transmission"], rel=1e-9)
    assert value(notch, "Q") / value(notch, "QL") == pytest.approx(truth["notch"], rel=1e-8)
    assert "through level" in names(peak)


def test_through_level_scales_the_peak_and_adds_its_uncertainty():
    f = grid(80)
    capture = response(f, 0.4 / (1 + 80j * detuning(f)), "transmission", noise=1e-5)
    sharp = fit_response(capture, fix=known("through", 0.8))
    vague = fit_response(capture, fix=known("through", 0.8, 0.04))
    assert value(sharp, "Q") == pytest.approx(80 / (1 - 0.5), rel=1e-3)
    assert value(vague, "Q") == value(sharp, "Q")
    # dQ/Q = r/(1 - r) du/u with r = 1/2
    assert vague.estimates["Q"].u / value(vague, "Q") == pytest.approx(0.05, rel=0.01)
    assert vague.fixed == ("centre", "through")


def test_gain_of_unknown_level_has_no_unloaded_q_and_says_so():
    f = grid(30)
    capture = response(f, 3.3 / (1 + 30j * detuning(f)), "gain", noise=1e-3)
    found = fit_response(capture)
    assert value(found, "QL") == pytest.approx(30, rel=0.01)
    assert found.undetermined == ("Q", "coupling")
    assert "unloaded Q" in names(found)
    assert "through" in next(r.text for r in found.remarks if r.name == "unloaded Q")
    again = fit_response(capture, fix=known("through", 6.6))
    assert value(again, "Q") == pytest.approx(60, rel=0.01)


def test_divider_dip_has_the_unloaded_q_whatever_the_gain():
    """Series tank of Q 100 to ground behind a resistor of three times its loss."""
    f, R = grid(25), 1.0
    z = R * (1 + 100j * detuning(f))
    found = fit_response(response(f, 0.37 * z / (z + 3 * R), "gain", noise=1e-5))
    assert value(found, "QL") == pytest.approx(25, rel=1e-3)
    assert value(found, "Q") == pytest.approx(100, rel=2e-3)


def test_circle_too_large_for_a_passive_part_gives_no_unloaded_q():
    f = grid(50)
    found = fit_response(response(f, 1.3 / (1 + 50j * detuning(f)), "transmission", noise=1e-3))
    assert found.undetermined == ("Q", "coupling")
    assert "too large" in next(r.text for r in found.remarks if r.name == "unloaded Q")


def test_unmatched_notch_is_said_with_the_other_answer():
    f = grid(50)
    bell = 1 / (1 + 50j * detuning(f))
    capture = response(f, 1 - 0.9 * np.exp(0.2j) * bell, "transmission", noise=1e-4)
    found = fit_response(capture, fix={"delay": Estimate(name="delay", value=0, u=None, unit="s")})
    text = next(r.text for r in found.remarks if r.name == "mismatch")
    assert "11.5 degrees" in text
    other = float(text.rstrip(".").split()[-1])
    assert other == pytest.approx(50 / (1 - 0.9 * math.cos(0.2)), rel=0.01)


# ---------------------------------------------------------------- shapes of the curve


def test_resonance_behind_a_cable_is_found_with_its_delay():
    f = grid(40, f0=13.56e6)
    t = detuning(f, 13.56e6)
    ratio = (1 - 0.8 / (1 + 40j * t)) * np.exp(-2j * np.pi * 15e-9 * f)
    found = fit_response(response(f, ratio, "reflection", noise=1e-3))
    place = found.elements.index("delay")
    assert found.values[place] == pytest.approx(
        15e-9, abs=5 * found.covariance[place, place] ** 0.5
    )
    assert value(found, "QL") == pytest.approx(40, abs=4 * found.estimates["QL"].u)
    assert found.describes


def test_known_delay_is_taken_out_and_its_uncertainty_passed_on():
    f = grid(40, f0=13.56e6)
    t = detuning(f, 13.56e6)
    ratio = (1 - 0.8 / (1 + 40j * t)) * np.exp(-2j * np.pi * 15e-9 * f)
    capture = response(f, ratio, "reflection", noise=1e-4)
    sharp, vague = (
        fit_response(capture, fix={"delay": Estimate(name="delay", value=15e-9, u=u, unit="s")})
        for u in (None, 2e-9)
    )
    assert value(sharp, "QL") == pytest.approx(40, abs=4 * sharp.estimates["QL"].u)
    assert vague.estimates["f0"].u > 3 * sharp.estimates["f0"].u


def test_leakage_that_changes_with_frequency_is_recognised():
    f = grid(100)
    t = detuning(f)
    ratio = 0.1 / (1 + 100j * t) + 0.02 + (0.8 + 0.5j) * t
    found = fit_response(response(f, ratio, "transmission", noise=1e-4))
    assert "leak_real" in found.elements
    assert value(found, "QL") == pytest.approx(100, abs=4 * found.estimates["QL"].u)
    assert found.describes


def test_capacitor_voltage_of_a_low_q_tank_is_no_bell_and_still_fitted():
    x = np.exp(np.linspace(-0.6, 0.6, 201))
    ratio = 1 / (1 - x * x + 1j * x / 2.5)
    found = fit_response(response(x * F0, ratio, "gain", noise=2e-3))
    assert value(found, "f0") == pytest.approx(F0, abs=4 * found.estimates["f0"].u)
    assert value(found, "QL") == pytest.approx(2.5, abs=4 * found.estimates["QL"].u)
    assert found.describes


# ---------------------------------------------------------------- without phase


def test_magnitude_of_a_gain_gives_f0_and_ql_above_its_noise_floor():
    f = grid(60, widths=12)
    clean = 0.2 / (1 + 60j * detuning(f))
    capture = response(f, clean, "gain", noise=0.006, seed=4, has_phase=False)
    found = fit_response(capture)
    assert value(found, "f0") == pytest.approx(F0, abs=4 * found.estimates["f0"].u)
    assert value(found, "QL") == pytest.approx(60, abs=4 * found.estimates["QL"].u)
    floor = found.values[found.elements.index("A0")]
    assert math.sqrt(floor) == pytest.approx(0.006, rel=0.5)
    assert found.fitted.imag.any() == False  # noqa: E712 - numpy truth


def test_magnitude_of_a_reflection_names_both_answers():
    f, k, Q = grid(50), 0.5, 75.0
    ratio = 1 - 2 * k / (1 + k) / (1 + 50j * detuning(f))
    found = fit_response(response(f, ratio, "reflection", noise=1e-4, has_phase=False))
    assert value(found, "QL") == pytest.approx(50, rel=1e-2)
    assert "Q" in found.undetermined
    text = next(r.text for r in found.remarks if r.name == "unloaded Q")
    low, high = sorted((Q, 50 * (1 + 1 / k)))
    assert f"{low:.0f}" in text or f"{low:.1f}"[:3] in text
    assert f"{high:.0f}"[:3] in text


def test_magnitude_of_a_notch_gives_the_unloaded_q():
    f = grid(50)
    found = fit_response(
        response(
            f, 1 - 0.75 / (1 + 50j * detuning(f)), "transmission", noise=1e-4, has_phase=False
        )
    )
    assert value(found, "Q") == pytest.approx(200, rel=0.01)


# ---------------------------------------------------------------- honesty


def test_no_resonance_is_no_answer():
    f = np.linspace(1e5, 2e5, 101)
    found = fit_response(response(f, 0.3 + 1e-6 * (f - 1e5) * 0.1, "transmission", noise=0.01))
    assert dict(found.estimates) == {}
    assert found.undetermined == ("f0", "Q", "QL", "coupling")
    assert not found.describes
    assert "no resonance" in names(found)


@pytest.mark.parametrize("level", [0.0, 0.3 + 0.2j])
def test_equal_values_are_no_resonance(level):
    f = np.linspace(1e5, 2e5, 51)
    found = fit_response(response(f, np.full(51, level), "reflection"))
    assert dict(found.estimates) == {}
    assert found.undetermined == ("f0", "Q", "QL", "coupling")
    assert found.fitted == pytest.approx(np.full(51, level))
    assert "the same" in found.remarks[0].text


@settings(max_examples=40)
@given(
    seed=st.integers(0, 2**31),
    size=st.integers(8, 200),
    shape=st.sampled_from(["noise", "walk", "spike", "spread"]),
    kind=st.sampled_from(["reflection", "transmission", "gain"]),
    phase=st.booleans(),
)
def test_any_response_gets_an_answer(seed, size, shape, kind, phase):
    rng = np.random.default_rng(seed)
    noise = rng.standard_normal(size) + 1j * rng.standard_normal(size)
    f = np.cumsum(rng.uniform(0.01, 1, size)) * 10.0 ** rng.integers(0, 9)
    ratio = {
        "noise": noise,
        "walk": np.cumsum(noise),
        "spike": 1e-3 * noise + (np.arange(size) == size // 2),
        "spread": noise * 10.0 ** rng.uniform(-6, 6, size),
    }[shape]
    found = fit_response(response(f, ratio, kind, has_phase=phase))
    assert found.used.size == found.fitted.size == size
    assert np.isfinite(found.fitted).all()
    assert np.isfinite(found.residual).all()
    for estimate in found.results:
        assert estimate.u is not None


def test_resonance_far_outside_the_sweep_is_not_claimed():
    f = np.linspace(0.7, 0.9, 101) * F0
    capture = response(f, 1 - 0.9 / (1 + 100j * detuning(f)), "reflection", noise=3e-3)
    found = fit_response(capture)
    assert "QL" in found.undetermined
    assert "Q" in found.undetermined


def test_second_resonance_in_the_sweep_is_said():
    f = grid(50, widths=20)
    ratio = 1 - 0.8 / (1 + 50j * detuning(f)) - 0.1 / (1 + 80j * detuning(f, F0 * 1.06))
    found = fit_response(response(f, ratio, "reflection", noise=1e-3))
    assert not found.describes
    assert "residuals" in names(found)
    # the main resonance is still where it is, with an uncertainty that has grown
    assert value(found, "f0") == pytest.approx(F0, rel=2e-3)


def test_noise_above_the_instruments_is_said():
    f = grid(50)
    capture = response(
        f, 1 - 0.8 / (1 + 50j * detuning(f)), "reflection", noise=4e-3, noise_level=1e-3
    )
    found = fit_response(capture)
    assert found.noise == pytest.approx(4e-3, rel=0.15)
    assert not found.describes
    text = next(r.text for r in found.remarks if r.name == "noise")
    assert f"{found.noise / 1e-3:.2g} times" in text


def test_wild_points_are_set_aside_and_do_no_harm():
    f = grid(50)
    rng = np.random.default_rng(8)
    clean = response(f, 1 - 0.8 / (1 + 50j * detuning(f)), "reflection", noise=1e-3)
    wild = np.sort(rng.choice(201, 20, replace=False))
    ratio = clean.ratio.copy()
    ratio[wild] += rng.uniform(0.1, 2, 20) * np.exp(2j * np.pi * rng.random(20))
    found = fit_response(Response(frequency=f, ratio=ratio, kind="reflection"))
    assert set(wild.tolist()) <= set(found.set_aside)
    assert len(found.set_aside) <= 22
    assert value(found, "QL") == pytest.approx(50, abs=4 * found.estimates["QL"].u)
    assert found.describes


def test_band_leaves_the_rest_of_the_sweep_alone():
    f = grid(50, widths=20)
    ratio = 1 - 0.8 / (1 + 50j * detuning(f)) - 0.4 / (1 + 80j * detuning(f, F0 * 1.15))
    capture = response(f, ratio, "reflection", noise=1e-3)
    found = fit_response(capture, band=(F0 * 0.9, F0 * 1.05))
    assert np.array_equal(found.used, (f >= F0 * 0.9) & (f <= F0 * 1.05))
    assert value(found, "QL") == pytest.approx(50, rel=0.05)
    assert found.fitted.size == f.size


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_errors_are_at_the_bound_and_intervals_cover(case):
    rms, _, coverage, good, _ = measure(case, 80, np.random.default_rng(77))
    seen = ~np.isnan(rms)
    # beside one step from the truth 80 draws know a root mean square to 3 %; a coverage to 2.5 %
    assert np.all(rms[seen] < 1.1)
    assert np.all(coverage[seen] > 0.88)
    assert good >= 0.97


# ---------------------------------------------------------------- published resonators


@pytest.mark.parametrize("entry", PUBLISHED, ids=lambda entry: entry["file"])
def test_twin_of_a_published_resonator_gives_its_published_values(entry):
    """Same f0, QL, Q, span and number of points as the measurement, with noise of its size."""
    low, high = entry["span"]
    f = np.linspace(low, high, entry["points"])
    QL, Q, through = entry["QL"], entry["Q"], entry["assumed"].get("through", 1.0)
    f0 = entry["fL"] / math.sqrt(1 - 1 / (4 * QL**2))
    share = 1 - QL / Q
    bell = 1 / (1 + 1j * QL * detuning(f, f0))
    if entry["kind"] == "reflection":
        ratio = 0.99 * (1 - 2 * share * bell)
    elif Q > 10 * QL:
        ratio = 0.35 * (1 - share * bell)
    else:
        ratio = share * through * bell + 0.02 * share
    noise = 1e-3 * share
    fix = known("through", through) if "through" in entry["assumed"] else None
    found = fit_response(response(f, ratio, entry["kind"], noise=noise), fix=fix)
    damped = value(found, "f0") * math.sqrt(1 - 1 / (4 * value(found, "QL") ** 2))
    assert damped == pytest.approx(entry["fL"], rel=0.5 * 10.0 ** (1 - 7))
    for name in ("QL", "Q"):
        estimate = found.estimates[name]
        assert estimate.value == pytest.approx(entry[name], abs=3.5 * estimate.u)
        assert estimate.u < 0.02 * estimate.value


# ---------------------------------------------------------------- the answer as a value


def test_curve_on_any_grid_runs_through_the_fitted_points():
    f = grid(50)
    ratio = 1 - 0.8 / (1 + 50j * detuning(f))
    for kind, phase, fix in (
        ("reflection", True, {}),
        ("transmission", True, {"delay": Estimate(name="delay", value=3e-8, u=None, unit="s")}),
        ("gain", False, {}),
    ):
        found = fit_response(response(f, ratio, kind, noise=1e-3, has_phase=phase), fix=fix)
        assert response_curve(found, f) == pytest.approx(found.fitted)
        between = np.sqrt(f[1:] * f[:-1])
        middle = (found.fitted[1:] + found.fitted[:-1]) / 2
        # half a step further the curve has left its chord by a few thousandths at most
        assert np.abs(response_curve(found, between) - middle).max() < 5e-3


def test_residuals_are_in_units_of_the_noise():
    f = grid(50)
    found = fit_response(response(f, 1 - 0.8 / (1 + 50j * detuning(f)), "reflection", noise=2e-3))
    assert found.residual.real.std() == pytest.approx(1, abs=0.15)
    assert found.residual.imag.std() == pytest.approx(1, abs=0.15)
    assert found.noise == pytest.approx(2e-3, rel=0.1)
    assert found.dof == 2 * 201 - 6


def test_fit_of_a_response_comes_through_the_general_door():
    f = grid(50)
    capture = response(f, 1 - 0.8 / (1 + 50j * detuning(f)), "reflection", noise=1e-3)
    found = fit(capture)
    assert found.circuit == "resonance"
    assert found.digest == capture.digest
    assert value(found, "Q") == value(fit_response(capture), "Q")


def test_points_set_aside_by_a_person_are_not_used():
    f = grid(50)
    capture = response(f, 1 - 0.8 / (1 + 50j * detuning(f)), "reflection", noise=1e-3)
    found = fit(capture, set_aside=(3, 100, 150))
    assert found.set_aside == (3, 100, 150)
    assert found.fitted.size == 201
    assert value(found, "QL") == pytest.approx(50, abs=4 * found.estimates["QL"].u)


def test_second_opinions_come_with_the_fit():
    f = grid(50)
    capture = response(f, 1 - 0.8 / (1 + 50j * detuning(f)), "reflection", noise=1e-3)
    found = fit_response(capture)
    assert {opinion.estimate.name for opinion in found.opinions} == {"f0", "QL"}
    assert all(opinion.agrees for opinion in found.opinions)


def test_equal_captures_give_equal_fits():
    f = grid(50)
    capture = response(f, 1 - 0.8 / (1 + 50j * detuning(f)), "reflection", noise=1e-3)
    first, second = fit_response(capture), fit_response(capture)
    assert first.results == second.results


# ---------------------------------------------------------------- what cannot be fitted


def test_too_few_points_are_refused():
    f = grid(50, points=3)
    with pytest.raises(FitError, match="at least 4 points for a resonance"):
        fit_response(response(f, np.ones(3), "reflection"))


def test_unknown_element_is_refused():
    f = grid(50)
    with pytest.raises(FitError, match="must be one of delay, through for a resonance"):
        fit_response(response(f, np.ones(201), "reflection"), fix=known("L", 1e-3))


def test_through_level_must_be_positive():
    f = grid(50)
    with pytest.raises(FitError, match="through: must be above zero"):
        fit_response(response(f, np.ones(201), "transmission"), fix=known("through", 0.0))


def test_band_must_rise():
    f = grid(50)
    with pytest.raises(FitError, match="band: must rise"):
        fit_response(response(f, np.ones(201), "reflection"), band=(2e5, 1e5))


def test_curve_of_another_circuit_is_refused():
    f = grid(50)
    found = fit_response(response(f, 1 - 0.8 / (1 + 50j * detuning(f)), "reflection"))
    other = type(found)(**{
        **{name: getattr(found, name) for name in type(found).__slots__}, "circuit": "tank"
    })  # fmt: skip
    with pytest.raises(FitError, match="must be one of a resonance"):
        response_curve(other, f)
