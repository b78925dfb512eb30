"""A measurement becomes a row that covers all of it, and nothing that cannot be kept slips in."""

from __future__ import annotations

import json
from dataclasses import asdict, fields, replace

import pytest

from benchapp.errors import RecordError
from benchapp.logbook.rows import entry_of, estimates_of, row_of
from benchapp.logbook.value import PartEntry


def test_every_field_of_a_measurement_is_in_its_row(entry):
    blobs = {}
    row = row_of(entry, blobs)
    kept = {*json.loads(row.content), "serial", "time", "lot", "attempt"}
    assert kept == {field.name for field in fields(PartEntry)}
    assert entry.raw in blobs.values()
    assert entry.nominal_text.encode() in blobs.values()


def test_parts_of_one_design_share_its_text_and_the_grid(entries):
    blobs = {}
    for entry in entries(5):
        row_of(entry, blobs)
    once = {}
    row_of(entries(1)[0], once)
    assert len(blobs) == len(once) + 4  # only the raw bytes differ here


@pytest.mark.parametrize("text", ["GA12\0", "GA12\ud800"])
@pytest.mark.parametrize("name", ["serial", "time"])
def test_a_text_that_no_database_can_keep_is_refused(entry, name, text):
    with pytest.raises(RecordError, match=f"{name}: must be text that can be written down"):
        row_of(replace(entry, **{name: text}), {})


def test_texts_inside_keep_every_sign(entry):
    odd = replace(entry, operator="Å\0\ud800", nominal_text="± \udcff", path="=x\n")
    blobs = {}
    found = entry_of(asdict(row_of(odd, blobs)), blobs.__getitem__)
    assert (found.operator, found.nominal_text, found.path) == (
        odd.operator,
        odd.nominal_text,
        odd.path,
    )


def test_a_field_of_a_newer_version_is_refused(entry):
    blobs = {}
    row = asdict(row_of(entry, blobs))
    row["content"] = row["content"].replace('"operator":', '"hologram":1,"operator":')
    with pytest.raises(RecordError, match=r"what this version knows.*newer version"):
        entry_of(row, blobs.__getitem__)


def test_a_field_that_an_older_version_did_not_keep_takes_its_default(entry):
    blobs = {}
    row = asdict(row_of(entry, blobs))
    tree = json.loads(row["content"])
    del tree["instrument"]
    found = entry_of(row | {"content": json.dumps(tree)}, blobs.__getitem__)
    assert found.instrument == ""


def test_what_was_judged_stands_for_its_quantity(entry):
    found = estimates_of(entry)
    judged = {each.limit.quantity: each.measured for each in entry.verdict.limits}
    assert judged.items() <= found.items()
    assert {"L", "C", "R", "Q", "f0"} <= found.keys()
    assert estimates_of(replace(entry, fit=None, verdict=None)) == {}
