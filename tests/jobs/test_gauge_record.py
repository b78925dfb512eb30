"""A gauge study of what the lots of the record hold."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from benchapp.errors import CancelledError, ReadError, RecordError, UsageError
from benchapp.jobs import (
    AnalyseStored,
    ComparePart,
    Place,
    entry_of,
    not_cancelled,
    sample_folder,
    silent,
    width_of,
)
from benchapp.logbook import WITHDRAWN, open_logbook
from benchapp.lot import analysis_of_variance
from benchapp.nominal import Limit
from benchapp.readers import read
from tests.jobs.lots import FORM, PLAN, nominal

SERIALS, PERSONS, TRIALS = ("0201", "0202", "0203"), ("A", "B"), 2
SCALES = 1 + 1e-3 * np.random.default_rng(20260901).normal(size=(3, 2, 2))


@cache
def entry(part: int, person: int, trial: int):
    """Give a measurement whose L is that of the sample times a known factor."""
    path = sample_folder() / "ga12_lot" / f"{SERIALS[part]}.csv"
    capture = read(path)[0]
    scaled = replace(capture, impedance=capture.impedance * SCALES[part, person, trial])
    judged = ComparePart(capture=scaled, nominal=nominal())(silent, not_cancelled)
    kept = entry_of(judged, Place(serial=SERIALS[part], operator=PERSONS[person]))
    return replace(kept, time=f"2026-03-02T0{person}:1{trial}:0{part}Z")


def keep(record, places, design=None) -> str:
    with open_logbook(record) as book:
        key = book.begin_lot(FORM, PLAN, (), design or nominal())
        book.add_all([replace(entry(*place), lot=key) for place in places])
    return key


PLACES = tuple(np.ndindex(3, 2, 2))


@pytest.fixture
def record(tmp_path):
    return str(tmp_path / "parts.benchlog")


def studied(record, *lots, quantity="L", **choices):
    job = AnalyseStored(record=record, lots=lots, quantity=quantity, **choices)
    return job(silent, not_cancelled)


def test_serials_are_parts_operators_persons_and_repeats_trials(record):
    found = studied(record, keep(record, PLACES))
    table = found.table
    assert (table.parts, table.persons) == (SERIALS, PERSONS)
    assert (table.quantity, table.unit) == ("L", "H")
    assert table.tolerance == pytest.approx(0.06 * 1.62e-3, rel=1e-9)
    ratios = table.values / table.values[:, :1, :1]
    assert ratios == pytest.approx(SCALES / SCALES[:, :1, :1], rel=1e-6)
    expected = analysis_of_variance(table.values, tolerance=table.tolerance)
    assert found.variance.gauge.percent_tolerance == expected.gauge.percent_tolerance


def test_a_lot_of_each_person_makes_one_study(record):
    lots = [keep(record, [one for one in PLACES if one[1] == person]) for person in (0, 1)]
    whole = studied(record, keep(record, PLACES))
    apart = studied(record, *lots)
    assert apart.table.values.tolist() == whole.table.values.tolist()


def test_what_was_taken_back_does_not_count(record):
    key = keep(record, PLACES)
    with open_logbook(record) as book:
        book.add(replace(entry(0, 0, 1), lot=key, time="2026-03-02T09:00:00Z"))
    with pytest.raises(ReadError, match="record: must hold every part by every person"):
        studied(record, key)
    with open_logbook(record) as book:
        last = max(row.id for row in book.parts(key))
        book.correct(last, WITHDRAWN, "A. Example", "placed badly")
    assert studied(record, key).table.values.shape == (3, 2, 2)


def test_the_interaction_may_be_kept(record):
    found = studied(record, keep(record, PLACES), interaction="keep")
    assert found.variance.interaction is not None


def test_a_quantity_that_the_design_does_not_limit_is_refused(record):
    key = keep(record, PLACES)
    with pytest.raises(UsageError, match=rf"lot {key}: its design must limit C \(got L, "):
        studied(record, key, quantity="C")


def test_lots_by_different_limits_are_refused(record):
    other = replace(nominal(), limits=tuple(replace(one, lower=None) for one in nominal().limits))
    keys = keep(record, PLACES), keep(record, PLACES, other)
    with pytest.raises(UsageError, match="the lots must have the same limits of L"):
        studied(record, *keys)


def test_a_measurement_without_a_value_is_named(record):
    key = keep(record, PLACES[:-1])
    with open_logbook(record) as book:
        book.add(replace(entry(2, 1, 1), lot=key, verdict=None, fit=None))
    with pytest.raises(ReadError, match=r"the measurement of 0203 at .* must have a value of L"):
        studied(record, key)


def test_no_lot_and_no_record_are_refused(record):
    with pytest.raises(UsageError, match="gauge study: must be on one lot of the record"):
        studied(record)
    with pytest.raises(RecordError):
        studied(record, "none")


def test_the_width_of_a_limit_needs_both_sides():
    assert width_of(Limit(quantity="L", unit="H", lower=1.0, upper=3.0)) == 2.0
    assert width_of(Limit(quantity="L", unit="H", upper=3.0)) is None


def test_a_person_can_stop_it(record):
    with pytest.raises(CancelledError):
        AnalyseStored(record=record, lots=("x",), quantity="L")(silent, lambda: True)
