"""Messages stay in the window until they are closed; work can be seen and cancelled."""

from __future__ import annotations

from PySide6.QtCore import Qt

from benchapp.gui.session import Message
from benchapp.gui.strips import FootStrip, MessageStrip


def test_a_message_shows_what_is_wrong_and_what_to_do(qtbot):
    strip = MessageStrip()
    qtbot.addWidget(strip)
    assert strip.isHidden()
    strip.tell(Message(text="a.csv: must hold numbers.", hint="Look at the file."))
    assert not strip.isHidden()
    assert strip.words.text() == "a.csv: must hold numbers."
    assert strip.hint.text() == "Look at the file."
    assert strip.accessibleName() == "stop: a.csv: must hold numbers. Look at the file."


def test_a_message_is_closed_by_its_button_or_by_the_next_act(qtbot):
    strip = MessageStrip()
    qtbot.addWidget(strip)
    strip.tell(Message(text="one"))
    qtbot.mouseClick(strip.closer, Qt.MouseButton.LeftButton)
    assert strip.isHidden()
    strip.tell(Message(text="two", mark="good"))
    assert strip.hint.isHidden()
    strip.tell(None)
    assert strip.isHidden()


def test_the_words_of_a_message_can_be_copied(qtbot):
    strip = MessageStrip()
    qtbot.addWidget(strip)
    flags = strip.words.textInteractionFlags()
    assert flags & Qt.TextInteractionFlag.TextSelectableByKeyboard


def test_the_foot_names_the_files_and_tells_where_they_are(qtbot):
    foot = FootStrip()
    qtbot.addWidget(foot)
    foot.show_sources(["/far/away/ga12.toml", "/near/tank.csv"])
    assert foot.source.text() == "ga12.toml · tank.csv"
    assert foot.source.toolTip() == "/far/away/ga12.toml\n/near/tank.csv"


def test_work_is_shown_with_its_progress_and_can_be_cancelled(qtbot):
    foot = FootStrip()
    qtbot.addWidget(foot)
    assert foot.canceller.isHidden()
    foot.show_busy(busy=True)
    foot.show_progress("fitting", 0.4)
    qtbot.waitUntil(lambda: not foot.canceller.isHidden())
    assert not foot.canceller.isHidden()
    assert (foot.doing.text(), foot.bar.value()) == ("fitting", 40)
    with qtbot.waitSignal(foot.cancelled):
        qtbot.mouseClick(foot.canceller, Qt.MouseButton.LeftButton)
    foot.show_busy(busy=False)
    assert foot.canceller.isHidden()


def test_the_foot_does_not_jump_when_work_begins(qtbot):
    foot = FootStrip()
    qtbot.addWidget(foot)
    foot.show()
    height = foot.height()
    foot.show_busy(busy=True)
    qtbot.waitUntil(foot.canceller.isVisible)
    assert foot.height() == height


def test_work_of_a_moment_is_not_shown_at_all(qtbot):
    foot = FootStrip()
    qtbot.addWidget(foot)
    foot.show()
    seen = []
    foot.show_busy(busy=True)
    for _ in range(15):
        qtbot.wait(10)
        seen.append(foot.canceller.isVisible())
    foot.show_busy(busy=False)
    qtbot.wait(100)
    assert not any(seen)
    assert not foot.canceller.isVisible()


def test_what_is_not_kept_can_be_tried_again_at_the_foot(qtbot):
    strip = FootStrip()
    qtbot.addWidget(strip)
    strip.show()
    strip.show_sources([], "3 measurements kept in record.benchlog")
    assert not strip.retry.isVisible()
    strip.show_sources([], "NOT KEPT: 1 measurement", lost=True)
    assert strip.kept.color == "stop"
    with qtbot.waitSignal(strip.retried):
        qtbot.mouseClick(strip.retry, Qt.MouseButton.LeftButton)
    strip.show_sources([], "1 measurement kept in record.benchlog")
    assert not strip.retry.isVisible()
    assert strip.kept.color == "muted"
