"""What stands beside the numbers of a table."""

from __future__ import annotations

import numpy as np

from benchapp.readers.beside import Table, with_columns, with_units_beside, without_prefixes


def table(headings, values, marks=None, units=None) -> Table:
    rows = np.array(values, dtype=float)
    return Table(
        headings=tuple(headings),
        units=tuple(units or [""] * len(headings)),
        values=rows,
        marks=marks or {},
        lines=np.arange(1, len(rows) + 1),
        order=np.arange(len(rows)),
        places=tuple(range(len(headings))),
    )


def test_a_column_of_units_applies_to_the_one_before_it_row_by_row():
    marks = {(0, 1): "kHz", (1, 1): "kHz", (2, 1): "MHz"}
    found = with_units_beside(
        table(("f", "Unit", "R"), [[500, np.nan, 1], [900, np.nan, 2], [1.2, np.nan, 3]], marks)
    )
    assert found.headings == ("f", "R")
    assert found.values.tolist() == [[5e5, 1], [9e5, 2], [1.2e6, 3]]
    assert (found.units, found.carried, found.places) == (("Hz", ""), {0}, (0, 2))


def test_a_row_without_a_known_unit_loses_its_value():
    marks = {(0, 1): "kHz", (1, 1): "??"}
    found = with_units_beside(table(("f", "Unit"), [[500, np.nan], [900, np.nan]], marks))
    assert found.values[0, 0] == 5e5
    assert np.isnan(found.values[1, 0])


def test_units_of_two_quantities_are_left_alone():
    marks = {(0, 1): "kHz", (1, 1): "mH"}
    one = table(("f", "Unit"), [[500, np.nan], [900, np.nan]], marks)
    assert with_units_beside(one) is one


def test_facts_beside_the_first_rows_are_parted():
    marks = {(0, 0): "Z0", (1, 0): "Level"}
    nan = np.nan
    rows = [[nan, 50, 1, 2], [nan, 1, 2, 3], [nan, nan, 3, 4], [nan, nan, 4, 5], [nan, nan, 5, 6]]
    found, facts = without_prefixes(table(("", "", "f", "R"), rows, marks))
    assert found.headings == ("f", "R")
    assert facts == {"z0": "50.0", "level": "1.0"}


def test_chosen_columns_keep_their_marks_and_places():
    found = with_columns(table(("a", "b", "c"), [[1, 2, 3]], {(0, 2): "OL"}), [0, 2])
    assert (found.headings, found.places, found.marks) == (("a", "c"), (0, 2), {(0, 1): "OL"})
    assert found.width == 2
