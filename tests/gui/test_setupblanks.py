"""The blanks of the Set-up page are those that the instrument's model understands."""

from __future__ import annotations

from benchapp.gui.fixturereadings import BLANKS
from benchapp.gui.instrument import KEPT, Instrument
from benchapp.gui.setupblanks import CONDITIONS, CORRECTIONS, SWEEP, WHERE


def keys(blanks):
    return [blank.key for blank in blanks]


def test_every_correction_has_its_blank_and_unit():
    units = {blank.key: blank.unit for blank in CORRECTIONS}
    assert units.pop("load") == "ohm"
    assert units == {key: unit for key, (unit, _) in BLANKS.items()}


def test_no_blank_stands_twice_and_each_has_a_tip():
    every = [*WHERE, *SWEEP, *CONDITIONS, *CORRECTIONS]
    assert len(set(keys(every))) == len(every)
    assert all(blank.tip for blank in every)


def test_what_is_kept_has_a_blank_and_a_bias_is_never_kept():
    shown = {*keys(SWEEP), *keys(CONDITIONS), *keys(CORRECTIONS), "find"}
    assert set(KEPT) <= shown
    assert not {"bias", "consent", "temperature"} & set(KEPT)


def test_every_blank_of_the_conditions_travels_with_the_sweep(qtbot):
    instrument = Instrument()
    for key, words in (("temperature", "31"), ("fixture", "clip"), ("surroundings", "free air")):
        assert key in [*keys(SWEEP), *keys(CONDITIONS)]
        instrument.set_text(key, words)
    stated = instrument.plan().conditions
    assert (stated.temperature_celsius, stated.fixture, stated.surroundings) == (
        31.0,
        "clip",
        "free air",
    )
    instrument.set_text("fixture", " ")
    assert instrument.plan().conditions.fixture is None
    instrument.close()
