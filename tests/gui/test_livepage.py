"""The running sweep: its points as they come."""

from __future__ import annotations

from benchapp.gui.instrument import Instrument
from benchapp.gui.livepage import LivePage
from benchapp.instruments import Point


def test_the_live_page_draws_what_is_there_and_names_the_last_point(qtbot):
    instrument = Instrument()
    page = LivePage(instrument)
    qtbot.addWidget(page)
    assert page.last.text() == "Waiting for the first point"
    instrument.points = [Point(frequency=1e5, impedance=30 + 40j)]
    instrument.grew.emit()
    assert page.last.text() == "1 point · last: 100.000 kHz, |Z| 50.00 Ω"
    assert page.upper.measured.getData()[0].tolist() == [1e5]
