"""Keys that nothing else wants are the serial of the next part; a blank is told by its speed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent

from benchapp.gui import scanner as room
from benchapp.gui.scanner import Scanner, is_typed


class Bench(QObject):
    """Stands for the lot on the bench."""

    changed = Signal()

    def __init__(self):
        super().__init__()
        self.is_counting, self.again, self.serial = True, "", ""

    def name(self, serial):
        self.serial = serial.strip()


@pytest.fixture
def bench():
    return Bench()


@pytest.fixture
def scanner(bench):
    return Scanner(bench)


def key(text, code=None, modifiers=Qt.KeyboardModifier.NoModifier):
    code = Qt.Key.Key_A if code is None else code
    return QKeyEvent(QEvent.Type.KeyPress, code, modifiers, text)


def scan(scanner, words):
    for sign in words:
        shift = Qt.KeyboardModifier.ShiftModifier if sign.isupper() else key(sign).modifiers()
        assert scanner.takes(key(sign, modifiers=shift))


RETURN = key("\r", Qt.Key.Key_Return)
BACK = key("\b", Qt.Key.Key_Backspace)


def test_a_serial_in_capitals_is_taken_whole(scanner, bench):
    scan(scanner, "GA12-0147")
    assert bench.serial == "GA12-0147"


def test_return_ends_a_serial_and_the_next_key_begins_another(scanner, bench):
    scan(scanner, "0147")
    assert scanner.takes(RETURN)
    assert bench.serial == "0147"
    scan(scanner, "0148")
    assert bench.serial == "0148"


def test_a_blank_right_after_the_end_of_a_code_is_for_the_sweep(scanner, bench):
    scan(scanner, "0147")
    scanner.takes(RETURN)
    assert not scanner.takes(key(" ", Qt.Key.Key_Space))
    assert bench.serial == "0147"


def test_return_without_a_serial_is_for_others(scanner):
    assert not scanner.takes(RETURN)


def test_a_serial_that_was_measured_is_not_added_to(scanner, bench):
    scan(scanner, "0147")
    bench.serial = ""
    scan(scanner, "0148")
    assert bench.serial == "0148"


def test_a_blank_belongs_to_a_code_that_is_scanned(scanner, bench):
    scan(scanner, "GA 12 7")
    assert bench.serial == "GA 12 7"


def test_a_blank_that_is_typed_is_for_the_sweep(scanner, bench, monkeypatch):
    monkeypatch.setattr(room, "_FAST_MS", -1)
    scan(scanner, "0147")
    assert not scanner.takes(key(" ", Qt.Key.Key_Space))
    assert bench.serial == "0147"


def test_a_slip_is_taken_back(scanner, bench):
    scan(scanner, "0148")
    assert scanner.takes(BACK)
    scan(scanner, "7")
    assert bench.serial == "0147"
    bench.serial = ""
    assert not scanner.takes(BACK)


@pytest.mark.parametrize(
    "modifier", [Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.AltModifier]
)
def test_a_shortcut_is_no_serial(scanner, bench, modifier):
    assert not scanner.takes(key("z", modifiers=modifier))
    assert not is_typed(key("", Qt.Key.Key_F9))
    assert bench.serial == ""


def test_a_lot_that_does_not_count_takes_no_serial_and_a_retest_keeps_its_own(scanner, bench):
    bench.again = "0001"
    assert not scanner.takes(key("5"))
    bench.again, bench.is_counting = "", False
    assert not scanner.takes(key("5"))
