"""Each step of the guided run is seen to be done by what was really done, and not before."""

from __future__ import annotations

import pytest

from benchapp.bench.offer import PARTS as OFFERED
from benchapp.gui.guidesteps import MARKING, PARTS, STEPS, hand
from benchapp.marking import read_marking

BY_KEY = {step.key: step for step in STEPS}
KEYS = [step.key for step in STEPS]


@pytest.fixture
def bare(window):
    window.ahead.stop()
    return window


def test_steps_have_names_of_their_own_and_need_earlier_ones_only():
    assert len(set(KEYS)) == len(KEYS)
    for at, step in enumerate(STEPS):
        assert set(step.needs) <= set(KEYS[:at]), step.key


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.key)
def test_nothing_is_done_at_a_first_start(bare, step):
    assert not step.done(bare)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.key)
def test_every_step_has_its_page_and_a_control_there(qtbot, bare, step):
    bare.go(step.page)
    control = step.control(bare)
    assert bare.isAncestorOf(control)
    assert step.title
    assert len(step.words) < 200


def test_the_marking_is_read_as_the_capacitor_it_stands_on():
    first = read_marking(MARKING).readings[0]
    assert first.value == pytest.approx(868e-12)
    assert (first.kind, first.tolerance_high) == ("capacitor", 0.02)


@pytest.mark.parametrize(
    ("words", "done"),
    [("868 pF ±2 %", True), ("870p", True), ("8.68 nF", False), ("", False), ("much", False)],
)
def test_the_marking_is_done_when_its_value_stands_in_the_tank(bare, words, done):
    bare.sheet.type("C", words)
    assert BY_KEY["marking"].done(bare) == done


def test_the_tank_is_done_when_its_sums_follow(bare):
    bare.sheet.fill({"C": "868 pF"})
    assert not BY_KEY["tank"].done(bare)
    bare.sheet.type("L", "1.62 uH")
    assert not BY_KEY["tank"].done(bare)
    bare.sheet.type("L", "1.62 mH")
    assert BY_KEY["tank"].done(bare)


@pytest.mark.parametrize(
    ("key", "words"),
    [("level", "0.5 V"), ("temperature", ""), ("start", "132 kHz"), ("stop", "much")],
)
def test_the_sweep_is_stated_when_level_temperature_and_range_are(bare, key, words):
    BY_KEY["conditions"].act(bare)
    assert BY_KEY["conditions"].done(bare)
    bare.instrument.set_text(key, words)
    assert not BY_KEY["conditions"].done(bare)


def test_the_lot_holds_one_part_with_a_fault():
    assert {name for name, _ in PARTS} <= set(OFFERED)
    assert [name for name, _ in PARTS].count("shorted-turn") == 1
    assert len(set(PARTS)) == len(PARTS)


def test_without_a_lot_the_hand_rests(bare):
    hand(bare)
    assert bare.instrument.clipped == ""
