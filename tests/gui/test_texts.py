"""Every text of the window goes through the translation call, and numbers follow the locale."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from PySide6.QtCore import QLocale, Qt

import benchapp.gui
from benchapp.gui.startpage import sample_paths
from tests.gui.clipping import clipped

ROOM = Path(benchapp.gui.__file__).parent
MODULES = sorted(ROOM.glob("*.py"))
# What shows its argument to a person, and which argument that is.
SHOWN = {
    "setText": 0,
    "setToolTip": 0,
    "setWindowTitle": 0,
    "setPlaceholderText": 0,
    "setAccessibleName": 0,
    "setAccessibleDescription": 0,
    "addAction": 0,
    "addMenu": 0,
    "QPushButton": 0,
    "text": 0,
    "heading": 0,
    "muted": 0,
    "Notice": 0,
    "Choice": 0,
    "Message": None,
}
# Names and signs that are the same in every language.
SAME_EVERYWHERE = {"", "benchapp", "×"}
TELLING_OF_FAULTS = "app.py"  # the last resort must not depend on a translation


def bare_texts(module: Path) -> list[str]:
    """Give the literals that are shown to a person without having been translated."""
    found = []
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if name not in SHOWN:
            continue
        place = SHOWN[name]
        if place is None:
            shown = [keyword.value for keyword in node.keywords if keyword.arg in ("text", "hint")]
        else:
            shown = node.args[place : place + 1]
        found += [
            one.value
            for one in shown
            if isinstance(one, ast.Constant)
            and isinstance(one.value, str)
            and one.value not in SAME_EVERYWHERE
        ]
    return found


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.name)
def test_no_module_shows_a_text_that_cannot_be_translated(module):
    if module.name != TELLING_OF_FAULTS:
        assert bare_texts(module) == []


def test_a_bare_text_would_be_found(tmp_path):
    module = tmp_path / "page.py"
    module.write_text('label.setText("Open")\nMessage(text="No")\nQPushButton(tr("Yes"))\n')
    assert bare_texts(module) == ["Open", "No"]


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.name)
def test_what_is_translated_is_a_literal_or_comes_from_a_table(module):
    """A text put together before the call can never be found in a translation."""
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "tr":
            assert not isinstance(node.args[0], ast.JoinedStr | ast.BinOp), ast.unparse(node)


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.name)
def test_words_that_mislead_are_not_used(module):
    """The trade's vocabulary: 'accuracy' is not repeatability, 'calibrated' not compensated."""
    avoided = {"accuracy", "calibrated", "resonance value", "OK"}
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            words = set(node.value.replace(".", " ").split())
            assert not words & avoided, node.value


@pytest.fixture
def german():
    QLocale.setDefault(QLocale(QLocale.Language.German, QLocale.Country.Germany))


def open_sample(qtbot, window):
    window.session.open(sample_paths())
    qtbot.waitUntil(
        lambda: window.session.result is not None and window.session.is_settled, timeout=20_000
    )


def test_a_german_desktop_shows_decimal_commas_everywhere(qtbot, german, window):
    open_sample(qtbot, window)
    rows = window.page("capture").results.rows
    assert rows[0][1].startswith("1,631")
    assert rows[0][2] == "1,62 mH ±3 %"
    window.go("verdict")
    assert ",4\u00a0% inside" in window.page("verdict").sentence.text()
    assert window.line.buttons[3].state.line == "f0 −0,12 %"
    assert window.page("capture").plots._name.toPlainText().startswith("f0 134,04")


def test_a_german_desktop_takes_a_decimal_comma_and_saves_a_point(qtbot, german, window):
    open_sample(qtbot, window)
    window.go("nominal")
    field = window.page("nominal").rows.fields["L", 0, "nominal"]
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "1,65 mH")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    first = window.session.nominal.limits[0]
    assert first.nominal == pytest.approx(1.65e-3)
    assert window.page("nominal").fields["decision", "guard"].text() == "1"
    assert window.page("nominal").fields["conditions", "frequency"].text() == "134,2 kHz"
    written = []
    window.page("nominal").wants_place.disconnect()
    window.page("nominal").wants_place.connect(written.append)
    window.page("nominal").saver.click()
    assert 'nominal = "1.65 mH"' in written[0]
    design, _, history = written[0].partition("[[history]]")
    assert "," not in design
    assert "1.62 mH -> 1.65 mH" in history


def test_a_german_desktop_takes_three_digits_after_the_comma_without_asking(qtbot, german, window):
    """Where the locale says what the mark is, 1,234 has one reading only."""
    open_sample(qtbot, window)
    window.go("nominal")
    field = window.page("nominal").rows.fields["L", 0, "nominal"]
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "1,234 mH")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert window.session.nominal.limits[0].nominal == pytest.approx(1.234e-3)


def test_leaving_fields_of_a_german_desktop_changes_nothing(qtbot, german, window):
    open_sample(qtbot, window)
    window.go("nominal")
    before = window.session.nominal
    page = window.page("nominal")
    for field in (*page.fields.values(), *page.rows.fields.values()):
        field.setFocus()
        qtbot.keyClick(field, Qt.Key.Key_Return)
    assert window.session.nominal is before


def test_longer_numbers_of_another_locale_still_fit(qtbot, german, window):
    window.resize(960, 540)
    open_sample(qtbot, window)
    for key in ("capture", "verdict", "nominal"):
        window.go(key)
        qtbot.waitUntil(lambda: clipped(window) == [])  # rows get their height in turn
