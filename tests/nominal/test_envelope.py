"""The envelope against parts drawn from the tolerances: never left, and reached."""

from __future__ import annotations

import math
import pickle
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.circuit import CIRCUITS
from benchapp.nominal import Limit, Nominal, envelope, envelope_obstacle

UNITS = {"L": "H", "C": "F", "f0": "Hz", "Q": "1", "D": "1", "R": "ohm", "ESR": "ohm", "BW": "Hz"}
TRUE_L, TRUE_F0, TRUE_Q = 1.62e-3, 134.2e3, 80.0
TWO_PI = 2 * math.pi


def _limit(quantity, lower=None, upper=None, at=None):
    return Limit(quantity=quantity, unit=UNITS[quantity], lower=lower, upper=upper, at=at)


def _around(quantity, value, share, at=None):
    return _limit(quantity, value * (1 - share), value * (1 + share), at)


def _design(circuit, *limits, frequency=None):
    return Nominal(title="test", circuit=circuit, limits=limits, frequency=frequency)


GA12 = _design(
    "tank",
    _around("L", TRUE_L, 0.03),
    _around("f0", TRUE_F0, 0.015),
    _limit("Q", 60.0, 110.0, at=TRUE_F0),
    _limit("ESR", None, 22.0, at=TRUE_F0),
)


def _bounds(design, quantity):
    pairs = [
        (e.lower or 0.0, e.upper or math.inf) for e in design.limits if e.quantity == quantity
    ]
    return max([low for low, _ in pairs], default=0.0), min(
        [h for _, h in pairs], default=math.inf
    )


def _grid():
    """Places in a unit cube: its edges closely, the faces of the third coordinate widely."""
    ends, fine, wide = [0.0, 1.0], np.linspace(0, 1, 800), np.linspace(0, 1, 50)
    blocks = [(fine, ends, ends), (ends, fine, ends), (ends, ends, fine), (wide, wide, ends)]
    return np.concatenate(
        [np.stack(np.meshgrid(*block), axis=-1).reshape(-1, 3) for block in blocks]
    )


def _between(bounds, share):
    low, high = bounds
    return low * (high / low) ** share


def _resistance_bounds(design, L, C):
    """Span of R that Q, D, BW, R and ESR leave for each L and C, from their definitions."""
    low, high = np.zeros_like(L), np.full_like(L, math.inf)
    parallel = design.circuit == "parallel-rlc"
    for limit in design.limits:
        x = TWO_PI * limit.at * L if limit.at else np.sqrt(L / C)
        least, most = limit.lower or 0.0, limit.upper or math.inf
        if limit.quantity in ("R", "ESR"):
            spans = (least, most)
        elif limit.quantity == "BW":
            spans = (TWO_PI * L * least, TWO_PI * L * most)
        elif (limit.quantity == "Q") == parallel and limit.quantity in ("Q", "D"):
            spans = (x * least, x * most)
        elif limit.quantity in ("Q", "D"):
            spans = (x / most, x / least if least else np.full_like(L, math.inf))
        else:
            continue
        low, high = np.maximum(low, spans[0]), np.minimum(high, spans[1])
    return low, high


def _parts(design, places):
    """Give the parts (L, C, R) that keep every limit, at the given places between the limits."""
    known = [
        name for name in ("L", "C", "f0") if all(0 < b < math.inf for b in _bounds(design, name))
    ]
    batches = []
    for first, second in [(a, b) for a in known for b in known if a < b]:
        values = {
            first: _between(_bounds(design, first), places[:, 0]),
            second: _between(_bounds(design, second), places[:, 1]),
        }
        if "f0" in values:
            other = values.get("L", values.get("C"))
            values["C" if "L" in values else "L"] = 1 / (TWO_PI * values["f0"]) ** 2 / other
        L, C = values["L"], values["C"]
        low, high = _resistance_bounds(design, L, C)
        values["f0"] = 1 / (TWO_PI * np.sqrt(L * C))
        keep = low <= high
        for name in ("L", "C", "f0"):
            least, most = _bounds(design, name)
            keep &= (values[name] >= least * (1 - 1e-12)) & (values[name] <= most * (1 + 1e-12))
        R = _between((np.maximum(low, 1e-9), np.maximum(high, 1e-9)), places[:, 2])
        batches.append(np.column_stack([L, C, R])[keep])
    return np.concatenate(batches)


def _impedance(circuit, parts, f):
    L, C, R = parts.T
    w = TWO_PI * f
    if circuit == "tank":
        return (R + 1j * w * L) / (1 - w**2 * L * C + 1j * w * C * R)
    if circuit == "series-rlc":
        return R + 1j * (w * L - 1 / (w * C))
    return 1 / (1 / R + 1j * (w * C - 1 / (w * L)))


def _check(design, frequencies, parts, reached):
    found = envelope(design, frequencies)
    for index, f in enumerate(frequencies):
        z = _impedance(design.circuit, parts, f)
        size, theta = np.abs(z), np.degrees(np.angle(z))
        assert size.max() <= found.magnitude_high[index] * (1 + 1e-9)
        assert size.min() >= found.magnitude_low[index] * (1 - 1e-9)
        assert theta.max() <= found.theta_high_degrees[index] + 1e-7
        assert theta.min() >= found.theta_low_degrees[index] - 1e-7
        assert size.max() >= found.magnitude_high[index] * (1 - reached)
        assert size.min() <= found.magnitude_low[index] * (1 + reached)
        assert theta.max() >= found.theta_high_degrees[index] - 90 * reached
        assert theta.min() <= found.theta_low_degrees[index] + 90 * reached


def test_the_sums_of_this_test_are_those_of_the_circuits():
    part = np.array([[TRUE_L, 868e-12, 17.1]])
    for circuit in ("tank", "series-rlc", "parallel-rlc"):
        expected = CIRCUITS[circuit].impedance([120e3], part[0])
        assert _impedance(circuit, part, 120e3) == pytest.approx(expected, rel=1e-12)


def test_the_envelope_of_the_gate_coil_holds_its_parts_and_is_reached():
    inside = np.random.default_rng(1).uniform(size=(20_000, 3))
    parts = _parts(GA12, np.concatenate([_grid(), inside]))
    assert len(parts) > 20_000
    _check(GA12, np.linspace(114e3, 154e3, 41), parts, reached=0.001)


def test_where_a_part_resonates_the_greatest_impedance_is_that_of_its_resonance():
    # R = X / Q: the greatest |Z| over C is X (Q + 1 / Q), by hand from the tank's formula.
    design = _design(
        "tank",
        _around("L", TRUE_L, 0.03),
        _around("f0", TRUE_F0, 0.015),
        _limit("Q", 60.0, 110.0, at=TRUE_F0),
    )
    f = np.linspace(TRUE_F0 * 0.99, TRUE_F0 * 1.01, 101)
    x, q = TWO_PI * f * TRUE_L * 1.03, 110.0 * f / TRUE_F0
    found = envelope(design, f)
    assert found.magnitude_high == pytest.approx(x * (q + 1 / q), rel=1e-12)


def test_the_upper_edge_is_smooth_where_corner_curves_would_be_scalloped():
    f = np.linspace(TRUE_F0 * 0.99, TRUE_F0 * 1.01, 201)
    edge = envelope(GA12, f).magnitude_high
    bends = np.diff(edge, 2) / edge[1:-1]
    assert np.abs(bends).max() < 1e-4
    corners = [
        _impedance("tank", np.array([[a * TRUE_L, 868e-12 * b / a, 13.0]]), f)
        for a in (0.97, 1.03)
        for b in (0.985**-2, 1.015**-2)
    ]
    assert np.abs(corners).max(axis=0).min() < 0.5 * edge.min()


def test_without_a_spread_the_envelope_is_the_curve_of_the_one_part():
    narrow = 1e-9
    C = 1 / (TWO_PI * TRUE_F0) ** 2 / TRUE_L
    R = TWO_PI * TRUE_F0 * TRUE_L / TRUE_Q
    f = np.linspace(100e3, 170e3, 301)
    for circuit in ("tank", "series-rlc"):
        design = _design(
            circuit, _around("L", TRUE_L, narrow), _around("C", C, narrow), _around("R", R, narrow)
        )
        z = CIRCUITS[circuit].impedance(f, [TRUE_L, C, R])
        found = envelope(design, f)
        assert found.magnitude_high == pytest.approx(np.abs(z), rel=1e-5)
        assert found.magnitude_low == pytest.approx(np.abs(z), rel=1e-5)
        assert found.theta_high_degrees == pytest.approx(np.degrees(np.angle(z)), abs=1e-4)


@st.composite
def _designs(draw):
    circuit = draw(st.sampled_from(["tank", "series-rlc", "parallel-rlc"]))
    L, f0, q = draw(
        st.sampled_from([(1.62e-3, 134.2e3, 80.0), (3e-6, 6.78e6, 8.0), (47e-6, 90e3, 1.5)])
    )
    values = {"L": L, "f0": f0, "C": 1 / (TWO_PI * f0) ** 2 / L}
    names = draw(st.sampled_from([("L", "C"), ("L", "f0"), ("C", "f0"), ("L", "C", "f0")]))
    share = st.floats(0.002, 0.06)
    limits = [_around(name, values[name], draw(share)) for name in names]
    x = TWO_PI * f0 * L
    R = x * q if circuit == "parallel-rlc" else x / q
    losses = draw(
        st.sampled_from(["Q", "Q at", "R", "Q and R", "Q at and R", "Q both", "BW", "D"])
    )
    if losses in ("Q", "Q and R", "Q both"):
        limits.append(_around("Q", q, draw(share)))
    if losses in ("Q at", "Q at and R", "Q both"):
        below = q / 0.9 if circuit == "parallel-rlc" else q * 0.9
        limits.append(_around("Q", below, draw(share), at=0.9 * f0))
    if losses in ("R", "Q and R", "Q at and R"):
        limits.append(_around("R", R, draw(share)))
    if losses == "D":
        limits.append(_around("D", 1 / q, draw(share), at=f0))
    if losses == "BW" and circuit == "parallel-rlc":
        limits.append(_around("R", R, draw(share)))
    elif losses == "BW":
        limits.append(_around("BW", f0 / q, draw(share)))
    near = f0 * (1 + np.array([-0.03, -0.012, -0.004, 0.0, 0.005, 0.02]))
    # Places where |Z| or theta of a tank of Q 1.5 is stationary along one of its limits.
    still = f0 * np.array([0.43, 0.577, 0.707, 0.745, 0.964, 1.2])
    places = f0 * np.exp(draw(st.lists(st.floats(-1.2, 1.0), min_size=3, max_size=3)))
    return _design(circuit, *limits), np.concatenate([near, still, places, [0.1 * f0]])


@given(_designs())
@settings(max_examples=60, deadline=None)
def test_no_part_within_the_limits_leaves_the_envelope_and_some_reach_it(drawn):
    design, frequencies = drawn
    _check(design, frequencies, _parts(design, _grid()), reached=0.03)


def _wider(design, by):
    """Give the design with each of its two-sided limits widened."""
    limits = [
        replace(limit, lower=limit.lower * (1 - by), upper=limit.upper * (1 + by))
        if limit.lower and limit.upper
        else limit
        for limit in design.limits
    ]
    return replace(design, limits=tuple(limits))


@given(_designs(), st.floats(0.001, 0.1))
@settings(max_examples=40, deadline=None)
def test_wider_limits_give_no_narrower_envelope(drawn, by):
    design, frequencies = drawn
    inner, outer = envelope(design, frequencies), envelope(_wider(design, by), frequencies)
    assert np.all(outer.magnitude_high >= inner.magnitude_high * (1 - 1e-9))
    assert np.all(outer.magnitude_low <= inner.magnitude_low * (1 + 1e-9))
    assert np.all(outer.theta_high_degrees >= inner.theta_high_degrees - 1e-7)
    assert np.all(outer.theta_low_degrees <= inner.theta_low_degrees + 1e-7)


@given(_designs(), st.floats(0.01, 100), st.floats(0.01, 100))
@settings(max_examples=40, deadline=None)
def test_an_envelope_scales_with_impedance_and_frequency(drawn, level, speed):
    # L k/s, C 1/(k s), R k: the same curve, k times as high and s times as high in frequency.
    factors = {
        "L": level / speed,
        "C": 1 / level / speed,
        "f0": speed,
        "BW": speed,
        "R": level,
        "Q": 1.0,
        "D": 1.0,
    }
    design, frequencies = drawn
    scaled = replace(
        design,
        limits=tuple(
            replace(
                limit,
                lower=limit.lower * factors[limit.quantity],
                upper=limit.upper * factors[limit.quantity],
                at=limit.at and limit.at * speed,
            )
            for limit in design.limits
        ),
    )
    here, there = envelope(design, frequencies), envelope(scaled, frequencies * speed)
    assert there.magnitude_high == pytest.approx(here.magnitude_high * level, rel=1e-6)
    assert there.magnitude_low == pytest.approx(here.magnitude_low * level, rel=1e-6)
    assert there.theta_high_degrees == pytest.approx(here.theta_high_degrees, abs=1e-4)
    assert there.theta_low_degrees == pytest.approx(here.theta_low_degrees, abs=1e-4)


@given(_designs())
@settings(max_examples=40, deadline=None)
def test_a_phase_never_leaves_that_of_a_passive_part(drawn):
    design, frequencies = drawn
    found = envelope(design, frequencies)
    assert np.all(found.theta_low_degrees >= -90)
    assert np.all(found.theta_high_degrees <= 90)
    assert np.all(found.magnitude_low > 0)
    assert np.all(found.magnitude_low <= found.magnitude_high)
    assert np.all(found.theta_low_degrees <= found.theta_high_degrees)


def test_the_order_and_the_number_of_frequencies_do_not_matter():
    f = np.array([150e3, 120e3, 134.2e3])
    together = envelope(GA12, f)
    for index, one in enumerate(f):
        alone = envelope(GA12, one)
        assert alone.magnitude_high[0] == together.magnitude_high[index]
        assert alone.theta_low_degrees[0] == together.theta_low_degrees[index]


def test_an_inductor_needs_only_its_own_limits():
    design = _design("inductor", _around("L", 1e-3, 0.1), _limit("Q", 20.0, 50.0, at=10e3))
    f = np.array([1e3, 10e3, 20e3])
    found = envelope(design, f)
    x = TWO_PI * f * np.array([[0.9e-3], [1.1e-3]])
    rho = np.array([1 / 50, 1 / 20]) * 10e3
    assert found.magnitude_low == pytest.approx(x[0] * np.hypot(1, rho[0] / f))
    assert found.magnitude_high == pytest.approx(x[1] * np.hypot(1, rho[1] / f))
    assert found.theta_low_degrees == pytest.approx(np.degrees(np.arctan(f / rho[1])))
    assert found.theta_high_degrees == pytest.approx(np.degrees(np.arctan(f / rho[0])))


def test_an_inductor_is_also_bounded_by_its_resistance():
    design = _design("inductor", _around("L", 1e-3, 0.1), _limit("ESR", 1.0, 2.0))
    found = envelope(design, [10e3])
    assert found.magnitude_high[0] == pytest.approx(math.hypot(TWO_PI * 10e3 * 1.1e-3, 2.0))


def test_a_limit_without_a_frequency_of_its_own_holds_at_the_designs_frequency():
    own = _design("tank", *GA12.limits[:2], _limit("Q", 60.0, 110.0, at=TRUE_F0))
    shared = _design("tank", *GA12.limits[:2], _limit("Q", 60.0, 110.0), frequency=TRUE_F0)
    f = [130e3, 134e3, 140e3]
    assert envelope(own, f).magnitude_high.tolist() == envelope(shared, f).magnitude_high.tolist()


def test_without_a_least_loss_the_impedance_at_resonance_is_unbounded():
    design = _design("tank", *GA12.limits[:2], _limit("ESR", None, 22.0))
    found = envelope(design, [100e3, TRUE_F0])
    assert math.isinf(found.magnitude_high[1])
    assert math.isfinite(found.magnitude_high[0])
    assert (found.theta_low_degrees[1], found.theta_high_degrees[1]) == (-90.0, 90.0)


@pytest.mark.parametrize(
    ("design", "reason"),
    [
        (_design("tank", _around("L", 1e-3, 0.1), _limit("Q", 10.0)), "two of L, C and f0"),
        (
            _design("tank", _around("L", 1e-3, 0.1), _limit("f0", 1e5), _limit("Q", 10.0)),
            "two of L, C and f0",
        ),
        (_design("inductor", _limit("Q", 10.0, at=1e4)), "L needs a lower and an upper"),
        (_design("tank", *GA12.limits[:2]), "the loss needs a limit"),
        (
            _design("inductor", _around("L", 1e-3, 0.1), _limit("Q", 10.0)),
            "the loss needs a limit",
        ),
        (
            _design("parallel-rlc", *GA12.limits[:2], _limit("R", None, 1e5)),
            "the loss needs a limit",
        ),
        (_design("coupled-pair", *GA12.limits), "No envelope is worked out for the circuit"),
        (_design("auto", *GA12.limits), "No envelope is worked out for the circuit auto"),
    ],
)
def test_a_design_without_an_envelope_says_what_is_missing(design, reason):
    assert reason in envelope_obstacle(design)
    assert envelope(design, [1e5]) is None


def test_limits_that_no_part_can_keep_give_no_envelope():
    design = _design(
        "tank", *GA12.limits[:2], _limit("Q", 60.0, 110.0, at=TRUE_F0), _limit("ESR", None, 5.0)
    )
    assert envelope_obstacle(design) == ""
    assert envelope(design, [TRUE_F0]) is None


def test_an_envelope_stays_read_only_through_pickle():
    found = envelope(GA12, [130e3, 140e3])
    back = pickle.loads(pickle.dumps(found))
    assert back.magnitude_high.tolist() == found.magnitude_high.tolist()
    for each in (found, back):
        with pytest.raises(ValueError, match="read-only"):
            each.theta_low_degrees[0] = 0.0
