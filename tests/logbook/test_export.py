"""Tables that no spreadsheet runs, with the very same numbers."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest

from benchapp.logbook import Search
from benchapp.logbook.export import lot_json, part_json, table_text
from benchapp.lot import Conclusion
from benchapp.units import Estimate
from tests.logbook.conftest import FORM, PLAN


@pytest.fixture
def rows(book, entries):
    book.add_all(entries(2))
    return book.search(Search())


def test_a_table_gives_the_very_same_numbers_back(rows):
    cells = list(csv.DictReader(io.StringIO(table_text(rows))))
    assert [cell["serial"] for cell in cells] == ["GA12-0001", "GA12-0002"]
    for cell, row in zip(cells, rows, strict=True):
        assert float(cell["L / H"]) == row.estimates["L"].value
        assert float(cell["u(L) / H"]) == row.estimates["L"].u
        assert float(cell["Q"]) == row.estimates["Q"].value
        assert int(cell["id"]) == row.id


def test_numbers_are_left_alone_and_texts_are_guarded(rows):
    lower = Estimate(name="X", value=-2.5, u=None, unit="ohm")
    odd = replace(
        rows[0], serial="=HYPERLINK(1)", operator="-2+3", estimates={"@X": lower}, position=None
    )
    (cell,) = csv.DictReader(io.StringIO(table_text([odd])))
    assert cell["serial"] == "'=HYPERLINK(1)"
    assert cell["operator"] == "'-2+3"
    assert cell["'@X / ohm"] == "-2.5"
    assert cell["u(@X) / ohm"] == cell["position"] == ""


def test_a_quantity_that_one_part_lacks_leaves_its_cells_empty(rows):
    bare = replace(rows[1], estimates={})
    cells = list(csv.DictReader(io.StringIO(table_text([rows[0], bare]))))
    assert cells[1]["L / H"] == cells[1]["u(L) / H"] == ""


def test_json_of_a_part_has_its_values_with_units(rows):
    found = json.loads(json.dumps(part_json(rows[0])))
    assert found["schema"] == "benchapp.record.part/1"
    assert found["outcome"] == "pass"
    assert found["estimates"]["L"]["value"] == rows[0].estimates["L"].value


def test_json_of_a_lot_has_its_form_and_its_end(book, entry):
    lot = book.begin_lot(FORM, PLAN, [4, 2], entry.nominal)
    book.conclude(lot, Conclusion(outcome="hold", name="A. Brandt"))
    found = json.loads(json.dumps(lot_json(book.lot(lot))))
    assert (found["key"], found["positions"], found["revision"]) == (lot, [4, 2], "C")
    assert (found["form"]["supplier"], found["plan"]["n"]) == ("Coil works", 13)
    assert found["conclusion"]["outcome"] == "hold"
