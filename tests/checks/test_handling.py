"""Checks of how parts are handled in a lot."""

from __future__ import annotations

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
