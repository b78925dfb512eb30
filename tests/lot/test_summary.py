"""What the parts of a lot say together, and lot by lot."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from benchapp.lot import summarize, trends
from benchapp.units import Estimate
from tests.lot.parts import NOMINAL, filled, measured, record, state


def lot_of(values, quantity=None, **choice):
    lot = state(quantity or len(values), **choice)
    for number, value in enumerate(values, start=1):
        lot = lot.add(measured(f"{number:04d}", value))
    return lot


NORMAL = 1.62e-3 + 8e-6 * stats.norm.ppf((np.arange(1, 51) - 0.5) / 50)
SHUFFLED = np.random.default_rng(4).permutation(NORMAL)


def test_figures_are_those_of_the_parts():
    found = summarize(lot_of(SHUFFLED), NOMINAL)
    entry = found.quantities[0]
    assert entry.name == "L"
    assert entry.figures.mean == pytest.approx(SHUFFLED.mean(), rel=1e-12)
    assert entry.figures.sd == pytest.approx(SHUFFLED.std(ddof=1), rel=1e-12)
    assert entry.counts.sum() == 50
    spread = 1.6686e-3 - 1.5714e-3
    assert entry.capability.pp.value == pytest.approx(spread / 6 / SHUFFLED.std(ddof=1))
    assert found.outcomes == {"pass": 50}
    assert (found.conforming.n, found.conforming.inside) == (50, 50)


def test_a_limit_at_a_frequency_has_a_name_of_its_own():
    found = summarize(lot_of(SHUFFLED), NOMINAL)
    assert found.quantities[1].name == "Q at 134.2 kHz"
    assert found.quantities[1].capability.pp is None
    assert found.quantities[1].charts is None  # all parts have the same Q


def test_the_last_measurement_of_a_part_counts():
    lot = lot_of([1.62e-3, 1.7e-3])
    again = lot.retest(measured("0002", 1.63e-3))
    assert summarize(again, NOMINAL).quantities[0].values.tolist() == [1.62e-3, 1.63e-3]


def test_parts_without_a_value_are_counted_as_missing():
    lot = lot_of([1.62e-3]).add(measured("x", 1.63e-3, q=None))
    q = summarize(lot, NOMINAL).quantities[1]
    assert (q.serials, q.missing) == (("0001",), 1)


def test_a_lot_without_any_value_has_no_figures():
    found = summarize(filled(state(), 2), NOMINAL)
    assert found.quantities[0].figures is None
    assert found.quantities[0].missing == 2


def test_an_empty_lot_has_no_yield():
    found = summarize(state(), NOMINAL)
    assert found.conforming is None
    assert (found.parts, found.decision) == (0, "open")


@pytest.mark.parametrize(
    ("good", "bad", "unjudged", "decision", "why"),
    [
        (13, 0, 0, "accept", "0 of 13 parts nonconforming, Ac 0"),
        (5, 1, 0, "reject", "1 of 6 parts nonconforming, Re 1"),
        (5, 0, 0, "open", "0 of 5 parts nonconforming; 8 of 13 parts still to be inspected"),
        (12, 0, 1, "undecided", "1 part could not be judged (0 of 12 parts nonconforming)"),
    ],
)
def test_the_decision_is_said_in_words(good, bad, unjudged, decision, why):
    found = summarize(filled(state(), good, bad, unjudged), NOMINAL)
    assert (found.decision, found.why) == (decision, why)


def variables(values, quantity=100):
    return summarize(lot_of(values, quantity, kind="variables"), NOMINAL)


def test_a_plan_by_variables_accepts_by_mean_and_spread():
    lot = lot_of(NORMAL[::5], 100, kind="variables")
    lot = lot.add(record("beyond"))
    rising = [
        measured(part.serial, part.estimates["L"].value, 75.0 + at)
        for at, part in enumerate(lot.parts[:10])
    ]
    fresh = state(100, kind="variables")
    for part in rising:
        fresh = fresh.add(part)
    found = summarize(fresh, NOMINAL)
    assert found.decision == "accept"
    assert found.why.startswith("estimated outside: L ")
    assert found.quantities[0].by_variables.accepted


def test_a_plan_by_variables_rejects_what_lies_too_near_a_limit():
    fresh = state(100, kind="variables")
    for at, value in enumerate(NORMAL[::5] + 45e-6):
        fresh = fresh.add(measured(f"{at}", value, 75.0 + at))
    found = summarize(fresh, NOMINAL)
    assert found.decision == "reject"
    assert "L" in found.why


def test_a_plan_by_variables_does_not_hold_without_a_normal_distribution():
    values = 1.62e-3 + 1e-5 * np.array([0, 0, 0, 0, 0, 0, 0, 0.1, 0.1, 4.0])
    fresh = state(100, kind="variables")
    for at, value in enumerate(values):
        fresh = fresh.add(measured(f"{at}", float(value), 75.0 + at))
    found = summarize(fresh, NOMINAL)
    assert found.decision == "undecided"
    assert "not normally distributed" in found.why


def test_a_plan_by_variables_needs_every_value_and_every_part():
    found = variables(NORMAL[::5])
    assert found.decision == "undecided"
    assert found.why == "no mean and s of every part for Q at 134.2 kHz"  # all the same: no s
    assert variables(NORMAL[:3]).decision == "open"


def test_lots_are_followed_by_their_figures():
    rng = np.random.default_rng(5)
    lots = [
        (
            f"lot {number}",
            {
                "L": [
                    Estimate(name="L", value=value, u=None, unit="H")
                    for value in rng.normal(1.62e-3 + 1e-5 * (number == 12), 2e-6, 13)
                ]
            },
        )
        for number in range(13)
    ]
    (trend,) = trends(lots, NOMINAL)
    assert trend.name == "L"
    assert trend.lots[0] == "lot 0"
    assert [one.n for one in trend.figures] == [13] * 13
    assert 12 in {point for signal in trend.charts.location.signals for point in signal.points}


def test_one_lot_makes_no_chart_and_no_lot_no_trend():
    one = [("a", {"L": [Estimate(name="L", value=1.6e-3, u=None, unit="H")]})]
    assert trends(one, NOMINAL)[0].charts is None
    assert trends([], NOMINAL) == ()
