"""What changed from one design to another is said for every text of its file."""

from __future__ import annotations

import copy

import pytest

from benchapp.nominal import differences, nominal_from
from tests.nominal.test_writing import DESIGN


def changed(*path, value):
    """Give the design of the tests with one text changed (None takes it away)."""
    data = copy.deepcopy(DESIGN)
    place = data
    for key in path[:-1]:
        place = place[key]
    if value is None:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return differences(nominal_from(DESIGN), nominal_from(data))


def test_the_same_design_differs_in_nothing():
    assert differences(nominal_from(DESIGN), nominal_from(DESIGN)) == ()


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("title",), "Coil", 'title: Coil "GA-12", 20 °C -> Coil'),
        (("circuit",), "coil", "circuit: tank -> coil"),
        (("limits", "L", "tolerance"), "±2 %", "L, tolerance: -2 % +5 % -> ±2 %"),
        (("limits", "|Z|", "upper"), "140 kohm", "|Z|, at most: 150 kΩ -> 140 kΩ"),
        (("conditions", "bias"), None, "bias: 200 mA -> not stated"),
        (("conditions", "fixture"), "two clips", "fixture: four-terminal clip -> two clips"),
        (("decision", "guard"), 1.0, "guard band: 0.5 -> 1"),
        (("construction", "turns"), 91, "turns: 90 -> 91"),
    ],
)
def test_each_change_is_said_with_before_and_after(path, value, said):
    assert changed(*path, value=value) == (said,)


def test_a_second_limit_of_a_quantity_is_named_as_such():
    found = changed("limits", "Q", value=DESIGN["limits"]["Q"][:1])
    assert found == (
        "Q (2), at frequency: 125 kHz -> not stated",
        "Q (2), at least: 40 -> not stated",
    )


def test_revision_and_history_are_no_change_of_the_design():
    assert changed("revision", value="D") == ()
    assert changed("history", value=[]) == ()
