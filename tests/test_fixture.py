from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from benchapp import fixture
from benchapp.bench import Cable, Fixture, Meter, Setup, meter, scenario
from benchapp.bench.fixture import OPEN, through
from benchapp.capture import Noise, Response, Sweep
from benchapp.circuit import CIRCUITS
from benchapp.errors import CaptureError
from benchapp.fixture import Compensation, compensate
from benchapp.units import Estimate

F = np.geomspace(10e3, 1e6, 101)
CLIP = Fixture(open_farad=2e-12, short_ohm=0.04, short_henry=30e-9)
CABLED = Fixture(open_farad=2e-12, short_ohm=0.04, short_henry=30e-9, cable=Cable(length=1.0))
TANK = np.array([1.62e-3, 868e-12, 17.08])
LOAD = 100.0


def tank(f=F):
    return CIRCUITS["tank"].impedance(f, TANK)


def seen(clip, impedance, f=F, **more):
    values = np.broadcast_to(np.asarray(impedance, dtype=complex), f.shape)
    return Sweep(frequency=f, impedance=through(clip, f, values), **more)


def nulled(clip, f=F, *, load=False):
    more = {"load": seen(clip, LOAD, f), "load_value": LOAD} if load else {}
    return Compensation(opened=seen(clip, OPEN, f), shorted=seen(clip, 0.0, f), **more)


def test_open_short_recovers_a_known_resistor_to_twelve_digits():
    back = compensate(seen(CLIP, 47.0), nulled(CLIP))
    np.testing.assert_allclose(back.impedance, 47.0, rtol=1e-12)


def test_open_short_load_recovers_a_tank_behind_a_metre_of_cable():
    back = compensate(seen(CABLED, tank()), nulled(CABLED, load=True))
    np.testing.assert_allclose(back.impedance, tank(), rtol=1e-9)


def test_without_the_load_a_cable_leaves_an_error_that_the_load_removes():
    raw = seen(CABLED, tank())
    two = np.abs(compensate(raw, nulled(CABLED)).impedance / tank() - 1).max()
    three = np.abs(compensate(raw, nulled(CABLED, load=True)).impedance / tank() - 1).max()
    assert three < 1e-9 < 1e-6 < two


def test_a_short_alone_is_subtracted():
    leads = Fixture(short_ohm=0.04, short_henry=30e-9)
    back = compensate(seen(leads, 3 + 4j), Compensation(shorted=seen(leads, 0.0)))
    np.testing.assert_allclose(back.impedance, 3 + 4j, rtol=1e-12)


def test_an_open_alone_is_taken_from_the_admittance():
    stray = Fixture(open_farad=2e-12, open_siemens=1e-9)
    back = compensate(seen(stray, 1e5), Compensation(opened=seen(stray, OPEN)))
    np.testing.assert_allclose(back.impedance, 1e5, rtol=1e-9)


@given(
    resistance=st.floats(0.5, 1e5),
    reactance=st.floats(-1e5, 1e5),
    farad=st.floats(0, 20e-12),
    henry=st.floats(0, 200e-9),
    length=st.floats(0, 2),
)
def test_open_short_load_undoes_any_passive_fixture(resistance, reactance, farad, henry, length):
    clip = Fixture(
        open_farad=farad + 1e-15, short_henry=henry, short_ohm=0.01, cable=Cable(length=length)
    )
    part = complex(resistance, reactance)
    back = compensate(seen(clip, part), nulled(clip, load=True))
    assert np.all(np.abs(back.impedance - part) < 1e-6 * abs(part))


def test_the_step_says_what_was_done_and_the_greatest_change_with_before_and_after():
    raw = seen(Fixture(open_farad=10e-12), tank())
    back = compensate(raw, Compensation(opened=seen(Fixture(open_farad=10e-12), OPEN)))
    (step,) = back.history
    assert step.name == "compensation"
    assert step.detail.startswith("open, at its own frequencies; greatest change of Z ")
    place = np.argmax(np.abs(back.impedance / raw.impedance - 1))
    assert f"{abs(raw.impedance[place]) / 1e3:.1f}"[:3] in step.detail
    assert " became " in step.detail
    assert raw.history == ()
    assert back.origin == raw.origin


# --- frequencies of their own, interpolation, no extrapolation ----------------------------


def test_smooth_compensation_data_are_interpolated_and_it_is_said():
    dense = np.geomspace(9e3, 1.1e6, 400)
    back = compensate(seen(CLIP, 470.0), nulled(CLIP, dense))
    np.testing.assert_allclose(back.impedance, 470.0, rtol=1e-5)
    assert "interpolated" in back.history[0].detail


def test_nothing_is_extrapolated():
    short_of_it = np.geomspace(10e3, 900e3, 101)
    with pytest.raises(CaptureError, match=r"open compensation: must reach over the sweep, from "):
        compensate(seen(CLIP, 470.0), nulled(CLIP, short_of_it))


def test_compensation_data_with_a_resonance_between_their_points_are_not_interpolated():
    coarse = np.geomspace(10e3, 1e6, 12)
    resonant = CIRCUITS["tank"].impedance(coarse, np.array([1e-3, 1e-9, 50.0]))
    with pytest.raises(CaptureError, match=r"dense enough to interpolate within 0.1%.*error \d"):
        compensate(
            seen(CLIP, 470.0),
            Compensation(shorted=Sweep(frequency=coarse, impedance=resonant)),
        )


def test_two_points_are_too_few_to_judge_smoothness():
    with pytest.raises(CaptureError, match=r"got 2 points"):
        compensate(seen(CLIP, 470.0), nulled(CLIP, np.array([10e3, 1e6])))


def test_a_single_sweep_point_is_compensated_at_its_own_frequency():
    f = np.array([134.2e3])
    back = compensate(seen(CLIP, 470.0, f), nulled(CLIP, f))
    assert back.impedance[0] == pytest.approx(470.0)


def test_compensation_needs_something():
    with pytest.raises(CaptureError, match=r"open or a short reading \(got neither\)"):
        Compensation()


@pytest.mark.parametrize(
    "given_parts",
    [{"load_value": 100.0}, {"load": seen(CLIP, LOAD)}, {"opened": None, "load_value": 1.0}],
)
def test_a_load_goes_with_its_value_and_with_open_and_short(given_parts):
    parts = {"opened": seen(CLIP, OPEN), "shorted": seen(CLIP, 0.0)} | given_parts
    if "opened" in given_parts:
        parts["load"] = seen(CLIP, LOAD)
    with pytest.raises(CaptureError, match="a load must come with its true value"):
        Compensation(**parts)


# --- how good it is -----------------------------------------------------------------------


@pytest.mark.parametrize("load", [False, True])
def test_the_stated_uncertainty_is_the_scatter_of_noisy_compensations(load):
    """300 draws: the rms error must lie within 4 standard deviations of its estimate."""
    rng = np.random.default_rng(12)
    f = np.array([134.2e3, 500e3])
    relative = 1e-3
    clip = CABLED if load else CLIP
    exact, part = nulled(clip, f, load=load), seen(clip, 20 + 300j, f)

    def noisy(sweep):
        pair = rng.standard_normal((2, f.size)) * relative / math.sqrt(2)
        return Sweep(frequency=f, impedance=sweep.impedance * (1 + pair[0] + 1j * pair[1]))

    errors = []
    for _ in range(300):
        more = {"load": noisy(exact.load), "load_value": LOAD} if load else {}
        drawn = Compensation(opened=noisy(exact.opened), shorted=noisy(exact.shorted), **more)
        errors.append(compensate(noisy(part), drawn).impedance)
    true = compensate(part, exact).impedance
    scatter = np.sqrt(np.mean(np.abs(np.array(errors) - true) ** 2, axis=0))
    stated = fixture.compensated_uncertainty(part, exact, relative)
    np.testing.assert_allclose(scatter / stated, 1.0, atol=4 / math.sqrt(2 * 300))


def test_a_part_behind_fixture_and_cable_is_recovered_within_the_stated_uncertainty():
    """2 pF, 30 nH, 40 mohm and a metre of cable; the meter has 0.1 % noise and ranges."""
    rng = np.random.default_rng(31)
    lcr = Meter(noise=1e-3)

    def read(device):
        clipped = meter.measure(lcr, Setup(device=device, fixture=CABLED), F, rng)
        return Sweep(frequency=F, impedance=clipped.impedance)

    nulling = Compensation(
        opened=read(OPEN),
        shorted=read(0.0),
        load=read(LOAD),
        load_value=LOAD,
    )
    raw = read(scenario.TANK)
    stated = fixture.compensated_uncertainty(raw, nulling, 1e-3)
    true = CIRCUITS["tank"].impedance(F, [scenario.TANK.value(name) for name in "LCR"])
    error = np.abs(compensate(raw, nulling).impedance - true) / stated
    assert error.max() < math.sqrt(-math.log(1e-4 / F.size))  # Rayleigh tail, 1 in 10,000
    assert np.sqrt(np.mean(error**2)) == pytest.approx(1.0, abs=4 / math.sqrt(2 * F.size))


def test_an_uncertainty_needs_open_and_short():
    with pytest.raises(CaptureError, match="must have open and short"):
        fixture.compensated_uncertainty(
            seen(CLIP, 50.0), Compensation(shorted=seen(CLIP, 0.0)), 1e-3
        )


def test_the_rule_of_100_marks_where_strays_are_too_near():
    """2 pF is 796 kohm at 100 kHz: the rule holds to 7.96 kohm."""
    f = np.array([100e3])
    for ohm, holds in ((7.9e3, True), (8.0e3, False)):
        found = fixture.validity(seen(CLIP, ohm, f), nulled(CLIP, f))
        assert bool(found.valid[0]) is holds
        assert found.open_ratio[0] == pytest.approx(795.77e3 / ohm, rel=1e-3)
    low = fixture.validity(seen(CLIP, 1.0, f), nulled(CLIP, f))
    assert low.short_ratio[0] == pytest.approx(1 / abs(0.04 + 2j * np.pi * 100e3 * 30e-9))
    assert not low.valid[0]


def test_what_was_not_nulled_has_no_ratio():
    found = fixture.validity(seen(CLIP, 50.0), Compensation(opened=seen(CLIP, OPEN)))
    assert found.short_ratio is None
    found = fixture.validity(seen(CLIP, 50.0), Compensation(shorted=seen(CLIP, 0.0)))
    assert found.open_ratio is None


def test_a_recheck_tells_how_much_the_fixture_has_drifted():
    f = np.array([100e3])
    moved = Fixture(open_farad=3e-12, short_ohm=0.04, short_henry=30e-9)
    change = fixture.drift(nulled(CLIP, f), nulled(moved, f), seen(CLIP, 1e4j, f))
    stray = 2 * np.pi * 100e3 * 1e-12
    assert change[0] == pytest.approx(-1e4 * stray, rel=0.02)
    assert fixture.drift(nulled(CLIP, f), nulled(CLIP, f), seen(CLIP, 1e4j, f))[0] == 0.0


# --- cables, probes, resistors ------------------------------------------------------------


def test_a_port_delay_is_taken_from_a_reflection_twice():
    ratio = np.full(F.shape, 0.5 + 0.2j)
    late = Response(frequency=F, ratio=ratio * np.exp(-4j * np.pi * F * 5e-9), kind="reflection")
    back = fixture.without_delay(late, 5e-9)
    np.testing.assert_allclose(back.ratio, ratio, rtol=1e-12)
    assert back.history[0].name == "port delay"


def test_a_port_delay_is_taken_from_an_impedance_at_its_port_impedance():
    line = Fixture(cable=Cable(length=0.66 * 299_792_458.0 * 5e-9, loss_db=0.0))
    raw = seen(line, 200 + 30j, noise=Noise(kind="reflection", reference=50.0))
    back = fixture.without_delay(raw, 5e-9)
    np.testing.assert_allclose(back.impedance, 200 + 30j, rtol=1e-9)


@pytest.mark.parametrize(
    ("kind", "phase", "got"),
    [("gain", True, "got gain"), ("reflection", False, "got reflection without phase")],
)
def test_a_delay_cannot_be_taken_from_what_has_no_wave_or_no_phase(kind, phase, got):
    response = Response(frequency=F, ratio=np.full(F.shape, 0.5), kind=kind, has_phase=phase)
    with pytest.raises(CaptureError, match=got):
        fixture.without_delay(response, 1e-9)


def test_a_probe_of_ten_picofarad_and_a_megohm_is_taken_away():
    load = 1 / (1 / tank() + 2j * np.pi * F * 10e-12 + 1e-6)
    back = fixture.without_probe(Sweep(frequency=F, impedance=load), farad=10e-12, ohm=1e6)
    np.testing.assert_allclose(back.impedance, tank(), rtol=1e-12)
    assert back.history[0].detail.startswith("10.00 pF and 1.000 MΩ across the part")


def test_a_probe_without_resistance_is_a_capacitor_alone():
    load = 1 / (1 / tank() + 2j * np.pi * F * 10e-12)
    back = fixture.without_probe(Sweep(frequency=F, impedance=load), farad=10e-12)
    np.testing.assert_allclose(back.impedance, tank(), rtol=1e-12)
    assert back.history[0].detail.startswith("10.00 pF across the part")


def test_a_sense_resistor_in_line_is_subtracted():
    back = fixture.without_series_resistance(Sweep(frequency=F, impedance=tank() + 50), 50.0)
    np.testing.assert_allclose(back.impedance, tank(), rtol=1e-12)


# --- two probes, added capacitor ----------------------------------------------------------


def resonance(L, C):
    return 1 / (2 * math.pi * math.sqrt(L * C))


def hertz(value, u=None):
    return Estimate(name="f0", value=value, u=u, unit="Hz")


@given(C=st.floats(20e-12, 10e-9), probe=st.floats(0.5e-12, 20e-12))
def test_two_equal_probes_give_the_resonance_without_any(C, probe):
    L = 1.62e-3
    found = fixture.two_probes(hertz(resonance(L, C + probe)), hertz(resonance(L, C + 2 * probe)))
    assert found.value == pytest.approx(resonance(L, C), rel=1e-9)
    assert found.u is None


def test_the_uncertainty_of_two_probes_is_that_of_a_simulation():
    rng = np.random.default_rng(5)
    f1, f2, u = resonance(1e-3, 110e-12), resonance(1e-3, 120e-12), 5.0
    stated = fixture.two_probes(hertz(f1, u), hertz(f2, u)).u
    drawn = [
        fixture.two_probes(hertz(f1 + u * a), hertz(f2 + u * b)).value
        for a, b in rng.standard_normal((4000, 2))
    ]
    assert np.std(drawn) == pytest.approx(stated, rel=4 / math.sqrt(2 * 4000))


@pytest.mark.parametrize(("f1", "f2"), [(1e5, 1e5), (1e5, 1.1e5), (1e5, 0.5e5)])
def test_a_second_probe_that_does_not_lower_the_resonance_is_refused(f1, f2):
    with pytest.raises(CaptureError, match="second must lower the resonance a little"):
        fixture.two_probes(hertz(f1), hertz(f2))


def test_an_added_capacitor_gives_inductance_and_self_capacitance():
    """L = 1.62 mH, C = 9 pF; adding 1 nF."""
    ca = Estimate(name="C", value=1e-9, u=None, unit="F")
    L, C = fixture.added_capacitor(
        hertz(resonance(1.62e-3, 9e-12)), hertz(resonance(1.62e-3, 1.009e-9)), ca
    )
    assert L.value == pytest.approx(1.62e-3, rel=1e-12)
    assert C.value == pytest.approx(9e-12, rel=1e-10)
    assert (L.unit, C.unit, L.u, C.u) == ("H", "F", None, None)


def test_the_uncertainty_of_an_added_capacitor_is_that_of_a_simulation():
    rng = np.random.default_rng(6)
    f1, f2 = resonance(1.62e-3, 400e-12), resonance(1.62e-3, 1.4e-9)
    u1, u2, uc = 30.0, 20.0, 5e-12
    stated = fixture.added_capacitor(
        hertz(f1, u1), hertz(f2, u2), Estimate(name="C", value=1e-9, u=uc, unit="F")
    )
    drawn = []
    for z in rng.standard_normal((4000, 3)):
        ca = Estimate(name="C", value=1e-9 + uc * z[2], u=None, unit="F")
        L, C = fixture.added_capacitor(hertz(f1 + u1 * z[0]), hertz(f2 + u2 * z[1]), ca)
        drawn.append((L.value, C.value))
    scatter = np.std(drawn, axis=0)
    for found, expected in zip(scatter, stated, strict=True):
        assert found == pytest.approx(expected.u, rel=4 / math.sqrt(2 * 4000))


def test_an_added_capacitor_that_does_not_lower_the_resonance_is_refused():
    with pytest.raises(CaptureError, match="added capacitor: must lower the resonance"):
        fixture.added_capacitor(
            hertz(1e5), hertz(1.1e5), Estimate(name="C", value=1e-9, u=None, unit="F")
        )


# --- a published set ----------------------------------------------------------------------


def test_the_de_embedding_set_of_a_network_library_gives_one_nanohenry_at_every_point():
    """Truth: ind, open and short.s2p in the data of scikit-rf (BSD-3; simulated, 1 to 10 GHz).

    What the three files say together is a series inductance of 1.000000 nH without resistance.
    """
    folder = Path(skrf.__file__).parent / "data"
    part, opened, shorted = (
        skrf.Network(str(folder / f"{name}.s2p")) for name in ("ind", "open", "short")
    )
    y = fixture.open_short(part.y, opened.y, shorted.y)
    z = -1 / y[:, 1, 0]
    inductance = z.imag / (2 * np.pi * part.f)
    assert part.f.size == 10
    assert [f"{value * 1e9:.6f}" for value in inductance] == ["1.000000"] * 10
    assert np.all(np.abs(z.real) < 1e-4)
