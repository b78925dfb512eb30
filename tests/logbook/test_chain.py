"""The digests are those of the written rule, computed here a second time by hand."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict

import pytest

from benchapp.logbook.chain import (
    SAID,
    Row,
    chain_digest,
    key_of,
    place_digest,
    row_digest,
    row_identity,
)

ROW = asdict(Row(kind="part", time="2026-03-02T08:15:00Z", serial="GA12-1", content='{"a":1}'))


def by_hand(values):
    text = json.dumps(values, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def test_a_row_s_identity_is_the_digest_of_all_it_says():
    content = hashlib.sha256(b'{"a":1}').hexdigest()
    expected = ["part", "2026-03-02T08:15:00Z", "", "", "GA12-1", "", 0, "", "", "{}", content]
    assert row_identity(ROW) == by_hand(expected)


def test_a_row_s_digest_takes_in_the_row_before_and_its_place():
    assert row_digest("aa", "chain", 7, "bb") == by_hand(["aa", "chain", 7, "bb"])
    assert chain_digest("c", "bench", "now") == by_hand(["c", "bench", "now"])
    values = {"number": 0, "chain": "c", "bench": "b", "started": "s", "own": 1}
    assert place_digest(values) == by_hand([0, "c", "b", "s", 1])


def test_every_column_beside_place_and_digests_is_covered():
    assert {*SAID, "content"} == ROW.keys()


@pytest.mark.parametrize("name", [*SAID, "content"])
def test_a_change_of_any_column_changes_the_identity(name):
    changed = ROW | {name: 1 if name == "attempt" else ROW[name] + "x"}
    assert row_identity(changed) != row_identity(ROW)


def test_a_text_does_not_pass_into_its_neighbour():
    one = ROW | {"serial": "ab", "part": "c"}
    two = ROW | {"serial": "a", "part": "bc"}
    assert row_identity(one) != row_identity(two)


def test_the_key_names_chain_and_number():
    assert key_of("0a1b", 12) == "0a1b-12"
