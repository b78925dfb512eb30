"""The file of a reference coil: what it says, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchapp.errors import FileAccessError, NominalError
from benchapp.lot import load_reference

SAMPLE = Path(__file__).parent.parent.parent / "sample_captures" / "ga12_reference.toml"
TEXT = SAMPLE.read_text(encoding="utf-8")


def load(tmp_path, *changes):
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "coil.toml"
    path.write_text(text, encoding="utf-8")
    return load_reference(path)


def test_the_sample_reads_as_written():
    found = load_reference(SAMPLE)
    assert found.serial == "RC-1"
    assert found.every == 86400.0
    assert found.first_readings == 10
    assert found.due is None
    assert {
        "L": pytest.approx(5e-4 * 1.6313e-3),
        "f0": pytest.approx(2e-4 * 134.04e3),
    } == found.U
    assert [limit.quantity for limit in found.nominal.limits] == ["L", "f0", "Q"]
    assert found.nominal.limits[0].upper == pytest.approx(1.005 * 1.6313e-3)
    assert found.nominal.conditions.temperature_celsius == 23.0
    assert len(found.nominal.sha256) == 64


def test_a_date_stated_limits_and_hours_are_read(tmp_path):
    found = load(
        tmp_path,
        ("every_hours = 24", "every_hours = 8.5\ndue = 2027-03-01"),
        ("first_readings = 10", 'control = "stated limits"'),
    )
    assert (found.every, found.due, found.first_readings) == (8.5 * 3600, "2027-03-01", None)


def test_a_quantity_at_a_frequency_is_named_with_it(tmp_path):
    found = load(
        tmp_path,
        ("[limits.Q]", '[limits.Q]\nat = "134.2 kHz"'),
        ('f0 = "±0.02 %" }', '"Q at 134.2 kHz" = "±0.4" }'),
    )
    assert found.U["Q at 134.2 kHz"] == pytest.approx(0.4)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("[reference]", "[conditions.reference]", "known key"),
        ('serial = "RC-1"', "", r"reference.serial must be a text in quotes"),
        (
            "every_hours = 24",
            "every_hours = 0",
            "line 7: reference.every_hours must be above zero",
        ),
        ("every_hours = 24", 'due = "2027"', r"reference.due must be a date \(got '2027'\)"),
        ("first_readings = 10", "first_readings = 3", "must be a whole number of 5 at least"),
        ("first_readings = 10", "first_readings = 10.5", "must be a whole number of 5 at least"),
        (
            "first_readings = 10",
            'first_readings = 10\ncontrol = "stated limits"',
            "must stand without stated limits",
        ),
        (
            "first_readings = 10",
            'control = "guess"',
            "control must be 'first readings' or 'stated limits'",
        ),
        ("U = { L =", "U = { M =", "be a known key"),
        ('L = "±0.05 %"', 'L = "soon"', r"reference.U.L must be a size with % or a unit"),
        ("every_hours", "every_hour", r"Did you mean every_hours\?"),
        ('nominal = "1.6313 mH"\ntolerance = "±0.5 %"', 'upper = "1.7 mH"', "a stated value"),
    ],
)
def test_what_breaks_a_rule_is_refused_with_what_was_expected(tmp_path, old, new, told):
    with pytest.raises(NominalError, match=told):
        load(tmp_path, (old, new))


def test_a_plain_design_is_no_reference(tmp_path):
    with pytest.raises(NominalError, match="reference must say which coil it is"):
        load_reference(SAMPLE.with_name("ga12.toml"))


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(FileAccessError, match=r"none\.toml"):
        load_reference(tmp_path / "none.toml")
