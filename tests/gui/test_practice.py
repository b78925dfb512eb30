"""The work of a person is put aside for practice and comes back as it was."""

from __future__ import annotations

from benchapp.gui.practice import Before, untie
from benchapp.gui.session import Part
from tests.gui.factories import nominal, sweep


def test_open_parts_belong_to_no_record_meanwhile():
    kept, free = Part(path="", capture=sweep(11)), Part(path="", capture=sweep(11))
    kept.entry = 12
    assert untie([kept, free]) == {kept: 12}
    assert (kept.entry, free.entry) == (None, None)


def test_the_form_of_a_lot_says_again_what_it_said(qtbot, window, memory):
    window.ahead.stop()
    start = window.page("lot").start
    fields = start.delivery.fields
    for key, words in (("quantity", "150"), ("order", "4711")):
        fields[key].setText(words)
        fields[key].textEdited.emit(words)
    before = Before.of(window, memory)
    for key, words in (("quantity", "5"), ("order", "guided run"), ("operator", "guided run")):
        fields[key].setText(words)
        fields[key].textEdited.emit(words)
    before.bring_back(window, memory)
    assert [fields[key].text() for key in ("quantity", "order", "operator")] == ["150", "4711", ""]
    assert start.texts["quantity"] == "150"


def test_a_design_that_was_open_is_open_again_and_none_is_none(window, memory):
    window.ahead.stop()
    none = Before.of(window, memory)
    mine = nominal()
    window.session.use_nominal(mine, "mine.toml")
    one = Before.of(window, memory)
    none.bring_back(window, memory)
    assert window.session.nominal is None
    one.bring_back(window, memory)
    assert (window.session.nominal, window.session.nominal_path) == (mine, "mine.toml")


def test_a_bench_that_ran_before_goes_on(qtbot, window, memory):
    window.ahead.stop()
    instrument = window.instrument
    instrument.start_bench("tank")
    qtbot.waitUntil(lambda: instrument.server is not None and not instrument.is_busy)
    before = Before.of(window, memory)
    address = instrument.address
    instrument.set_text("points", "51")
    before.bring_back(window, memory)
    assert (instrument.server is not None, instrument.address) == (True, address)
    assert instrument.texts["points"] == "201"
