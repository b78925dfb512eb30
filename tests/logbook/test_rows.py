"""A measurement becomes a row that covers all of it, and nothing that cannot be kept slips in."""

from __future__ import annotations

import json
import pickle
from dataclasses import asdict, fields, replace
from types import SimpleNamespace

import pytest

from benchapp.errors import RecordError
from benchapp.logbook.rows import entry_of, estimates_of, part_record, part_row, row_of
from benchapp.logbook.value import PartEntry
from benchapp.lot import key_of
from benchapp.units import Estimate


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


def test_what_was_judged_stands_under_the_name_of_its_limit(entry):
    found = estimates_of(entry)
    judged = {key_of(each.limit): each.measured for each in entry.verdict.limits}
    assert "Q at 134.2 kHz" in judged
    assert judged.items() <= found.items()
    assert {"L", "C", "R", "Q", "f0"} <= found.keys()
    assert estimates_of(replace(entry, fit=None, verdict=None)) == {}


def listed(entry, light=None):
    row = asdict(row_of(entry, {}))
    place = {"id": 1, "counter": 1, "chain": "a"}
    return part_row(SimpleNamespace(**row | place | ({"light": light} if light else {})), ())


def test_a_list_shows_the_estimates_to_the_last_bit(entry):
    shown = listed(entry)
    assert dict(shown.estimates) == estimates_of(entry)
    assert repr(shown.estimates) == repr(dict(shown.estimates))
    assert len(shown.estimates) == len(estimates_of(entry))
    assert pickle.loads(pickle.dumps(part_record(shown))) == part_record(shown)


def test_no_typed_text_is_taken_for_the_place_of_the_estimates(entry):
    odd = ',"estimates":{},"operator":"x"'
    told = replace(entry, operator=odd, path=odd, retest_reason=odd)
    shown = listed(told)
    assert (shown.operator, shown.path, shown.retest_reason) == (odd, odd, odd)
    assert dict(shown.estimates) == estimates_of(entry)


def test_values_that_stand_in_another_order_are_read_too(entry):
    light = json.loads(row_of(entry, {}).light)
    turned = json.dumps(dict(reversed(light.items())))
    shown, usual = listed(entry, turned), listed(entry)
    assert shown == usual
    assert dict(shown.estimates) == dict(usual.estimates)


def test_an_unknown_uncertainty_stays_unknown_in_a_list(entry):
    bare = Estimate(name="L", value=1.5e-3, u=None, unit="H")
    light = json.loads(row_of(entry, {}).light) | {"estimates": {"L": ["L", "0.0015", None, "H"]}}
    assert listed(entry, json.dumps(light)).estimates["L"] == bare
