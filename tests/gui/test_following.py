"""What the switching rules propose stands against what is done, with the reason of both."""

from __future__ import annotations

import pytest

from benchapp.gui.following import Following
from benchapp.jobs import SupplierLots
from benchapp.sampling import State

NAMES = ("Coil works", "GA-12")


def following(severity, why="2 of the last 5 lots rejected", lots=5):
    found = SupplierLots(
        supplier=NAMES[0],
        part=NAMES[1],
        lots=tuple(object() for _ in range(lots)),
        following=State(severity=severity, why=why),
        trends=(),
    )
    return Following(names=NAMES).known(found)


@pytest.mark.parametrize(
    ("severity", "proposed"),
    [
        ("normal", "normal"),
        ("tightened", "tightened"),
        ("reduced", "reduced"),
        ("discontinued", "tightened"),
    ],
)
def test_the_rule_is_proposed(severity, proposed):
    assert following(severity).proposed == proposed


def test_nothing_is_known_before_supplier_and_part_are_stated():
    fresh = Following()
    assert fresh.proposed == "normal"
    assert fresh.words.startswith("State supplier and part")
    assert not fresh.deviates("normal")
    assert fresh.deviates("reduced")


def test_one_lot_is_told_as_one():
    assert following("normal", lots=1).words.endswith("(1 lot in the record).")


def test_the_reason_kept_is_the_rule_s_or_a_person_s_with_the_rule_beside():
    known = following("tightened")
    assert known.reason("tightened", "typed but not needed") == "2 of the last 5 lots rejected"
    assert known.reason("normal", " new tool ") == (
        "new tool (the rules ask for tightened: 2 of the last 5 lots rejected)"
    )
    assert Following().reason("reduced", "agreed") == "agreed (the rules ask for normal)"
    assert Following().reason("normal", "") == ""


def test_after_a_stop_every_sample_is_a_deviation():
    known = following("discontinued", why="5 lots rejected under tightened inspection")
    assert known.is_stopped
    assert known.deviates("tightened")
    assert known.reason("tightened", "last try").startswith("last try (the rules ask for disc")


def test_lots_that_only_an_absent_server_holds_are_said_to_be_missing():
    away = "The server of the record is away: lots that only it holds are not counted."
    known = following("normal").known(following("normal").found, partial=True)
    assert known.words.endswith(away)
    assert Following(names=NAMES).known(None, partial=True).words.endswith(away)
    assert away not in following("normal").words
    assert away not in known.asking(*NAMES).words
