"""The strip of the instrument: output state in words, and what can be done now."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchapp.gui.instrument import Instrument
from benchapp.gui.takestrip import TakeStrip, output_words


@pytest.mark.parametrize(
    ("output", "bias", "words", "role"),
    [
        ("off", "off", "output off", "good"),
        ("on", "off", "OUTPUT ON", "doubt"),
        ("unknown", "off", "OUTPUT UNKNOWN", "stop"),
        ("on", "on", "BIAS ON", "stop"),
        ("off", "unknown", "BIAS UNKNOWN", "stop"),
    ],
)
def test_the_output_state_is_told_in_words(output, bias, words, role):
    said, shown = output_words(output, bias)
    assert said.startswith(words)
    assert shown == role


def test_the_strip_is_there_as_soon_as_an_instrument_is(qtbot):
    instrument = Instrument()
    strip = TakeStrip(instrument)
    qtbot.addWidget(strip)
    assert strip.isHidden()
    instrument.choose(address="GPIB0::5::INSTR")
    assert not strip.isHidden()
    assert strip.take.isEnabled()
    instrument.bias = "on"
    instrument.changed.emit()
    assert not strip.take.isEnabled()
    with qtbot.waitSignal(strip.asked):
        instrument.bias = "off"
        instrument.changed.emit()
        qtbot.mouseClick(strip.take, Qt.MouseButton.LeftButton)
