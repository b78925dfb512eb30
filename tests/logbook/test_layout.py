"""The layout that docs/logbook.md describes, read without the program: plain SQL, JSON, bytes."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import struct
from contextlib import closing

import pytest

from benchapp.logbook import open_logbook
from tests.logbook.conftest import FORM, PLAN

SAID = (
    *("kind", "time", "lot", "subject", "serial", "part", "attempt"),
    *("outcome", "topic", "light"),
)


@pytest.fixture
def rows(address, entries, entry):
    """Give the rows of a lot with two parts and a newer result, and all blobs."""
    with open_logbook(address, bench="bench A") as book:
        lot = book.begin_lot(FORM, PLAN, [3, 1])
        first, _ = book.add_all(entries(2, lot=lot))
        book.refit(first, entry.fit)
    with closing(sqlite3.connect(address)) as connection:
        connection.row_factory = sqlite3.Row
        found = [dict(row) for row in connection.execute("SELECT * FROM entry ORDER BY id")]
        blobs = dict(connection.execute("SELECT sha256, content FROM blob").fetchall())
        chain = dict(connection.execute("SELECT * FROM chain").fetchone())
    return found, blobs, chain


def digest(values):
    text = json.dumps(values, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def array(tree, blobs):
    """Read an array as the page says."""
    content = bytes.fromhex(tree["hex"]) if "hex" in tree else blobs[tree["blob"]]
    assert tree["dtype"] in ("<f8", "<c16")
    numbers = struct.unpack(f"<{len(content) // 8}d", content)
    if tree["dtype"] == "<f8":
        return list(numbers)
    return [complex(*pair) for pair in zip(numbers[::2], numbers[1::2], strict=True)]


def test_the_digests_follow_from_the_written_rule(rows):
    found, _, chain = rows
    before = digest([chain["chain"], chain["bench"], chain["started"]])
    for row in found:
        content = hashlib.sha256(row["content"].encode("ascii")).hexdigest()
        identity = digest([*(row[name] for name in SAID), content])
        before = digest([before, chain["chain"], row["counter"], identity])
        assert (row["identity"], row["digest"]) == (identity, before)


def test_kinds_and_keys_tie_the_rows_together(rows):
    found, _, chain = rows
    assert [row["kind"] for row in found] == ["lot", "part", "part", "refit"]
    assert {row["lot"] for row in found[1:3]} == {f"{chain['chain']}-1"}
    assert found[3]["subject"] == f"{chain['chain']}-2"
    assert [row["id"] for row in found] == [row["counter"] for row in found] == [1, 2, 3, 4]


def test_raw_bytes_arrays_and_results_are_read_back(rows, entries):
    found, blobs, _ = rows
    entry = entries(1)[0]
    content = json.loads(found[1]["content"])
    assert blobs[content["raw"]["blob"]] == entry.raw
    assert hashlib.sha256(entry.raw).hexdigest() == content["raw"]["blob"]
    assert content["capture"]["is"] == "Sweep"
    assert array(content["capture"]["frequency"], blobs) == entry.capture.frequency.tolist()
    assert array(content["capture"]["impedance"], blobs) == entry.capture.impedance.tolist()
    covariance = content["fit"]["covariance"]
    assert covariance["shape"] == list(entry.fit.covariance.shape)
    assert array(covariance, blobs) == entry.fit.covariance.ravel().tolist()
    values = {each["name"]: each["value"] for each in content["fit"]["results"]}
    assert values == {name: each.value for name, each in entry.fit.estimates.items()}
    assert content["verdict"]["outcome"] == {"is": "Outcome", "value": found[1]["outcome"]}


def test_the_design_and_its_text_are_named_and_there(rows, entry):
    found, blobs, _ = rows
    content = json.loads(found[2]["content"])
    assert blobs[content["nominal_text"]["blob"]].decode() == entry.nominal_text
    design = json.loads(blobs[content["nominal"]["blob"]])
    assert (design["is"], design["revision"]) == ("Nominal", entry.nominal.revision)


def test_the_values_of_lists_are_those_of_the_result(rows):
    found, _, _ = rows
    content, light = json.loads(found[1]["content"]), json.loads(found[1]["light"])
    for limit in content["verdict"]["limits"]:
        name = limit["limit"]["quantity"]
        if limit["limit"]["at"] is not None:  # a limit at a frequency has a name of its own
            (name,) = (key for key in light["estimates"] if key.startswith(f"{name} at "))
        _, value, u, unit = light["estimates"][name]
        assert float(value) == limit["measured"]["value"]
        assert float(u) == limit["measured"]["u"]
        assert unit == limit["measured"]["unit"]
