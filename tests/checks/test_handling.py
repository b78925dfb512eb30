"""Checks of how parts are handled in a lot."""

from __future__ import annotations

import pytest

from benchapp.checks import Facts, examine_lot
from benchapp.checks.handling import OF_LOT
from benchapp.errors import UsageError
from tests.checks.scene import Case, found, known

CASES = {
    "tested-into-compliance": Case(
        raises=lambda: known(unexplained_retests=2), misses=lambda: known(unexplained_retests=1)
    ),
    "serial-met-before": Case(
        raises=lambda: known(serial_seen="lot 2026-14, position 3"),
        misses=lambda: known(serial_seen="lot 2026-14, position 3", attempt=2),
    ),
    "gauge-too-wide": Case(
        raises=lambda: known(gauge_percent=31.0), misses=lambda: known(gauge_percent=29.0)
    ),
    "capability-from-few": Case(
        raises=lambda: known(capability_parts=29), misses=lambda: known(capability_parts=30)
    ),
    "sample-not-random": Case(
        raises=lambda: known(random_sample=False), misses=lambda: known(random_sample=True)
    ),
    "lot-not-even": Case(
        raises=lambda: known(sample_patterns=("L: eight points in a row on one side.",)),
        misses=lambda: known(sample_patterns=()),
    ),
}


def test_where_a_serial_was_met_is_told():
    (finding,) = found(known(serial_seen="lot 7"), "serial-met-before")
    assert finding.text.startswith("This serial was met before: lot 7.")


def test_one_part_is_one_part():
    (finding,) = found(known(capability_parts=1), "capability-from-few")
    assert "from 1 part." in finding.text


def test_the_checks_of_a_lot_ask_for_no_capture():
    facts = Facts(
        gauge_percent=31.0,
        capability_parts=29,
        random_sample=False,
        sample_patterns=("L: sorted.", "Q: mixed."),
        unexplained_retests=5,
    )
    assert [finding.id for finding in examine_lot(facts)] == [
        *("gauge-too-wide", "capability-from-few", "sample-not-random"),
        *("lot-not-even", "lot-not-even"),
    ]
    assert examine_lot(Facts(in_lot=True)) == ()


def test_the_checks_of_a_lot_say_the_same_of_a_part_that_states_the_same():
    for name in OF_LOT:
        evidence = CASES[name].raises()
        assert found(evidence, name) == [
            one for one in examine_lot(evidence.facts) if one.id == name
        ]


def test_thresholds_of_a_lot_can_be_changed():
    changes = {"gauge-too-wide": {"percent": 10.0}}
    (finding,) = examine_lot(Facts(gauge_percent=12.0), changes)
    assert finding.text.startswith("The gauge study finds 12 % of the tolerance")
    with pytest.raises(UsageError, match="thresholds: must belong to a check"):
        examine_lot(Facts(), {"nothing": {"percent": 10.0}})
