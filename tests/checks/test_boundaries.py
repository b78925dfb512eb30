"""Each threshold on a stated fact lies where the trade puts it: values close to either side."""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from benchapp.checks import Facts
from tests.checks.scene import evidence, found, sweep

TABLE = Path(__file__).with_name("boundaries.csv").read_text(encoding="utf-8")
ROWS = list(csv.DictReader(TABLE.splitlines()))
COUNTS = ("capability_parts", "unexplained_retests")


@cache
def healthy():
    return evidence(sweep(), "tank")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['fact']}={row['value']}")
def test_a_fact_close_to_its_threshold_is_on_the_right_side(row):
    value = int(row["value"]) if row["fact"] in COUNTS else float(row["value"])
    seen = replace(healthy(), facts=Facts(**{row["fact"]: value}))
    expected = [row["level"]] if row["level"] else []
    assert [each.level for each in found(seen, row["check"])] == expected
