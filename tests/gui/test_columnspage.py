"""Columns stand beside each other where there is room, else below each other."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel, QPushButton

from benchapp.gui.columnspage import ColumnsPage, button_row


def wide(words):
    label = QLabel(words)
    label.setMinimumWidth(300)
    return label


def test_of_three_columns_two_stand_below_each_other_before_all_do(qtbot):
    page = ColumnsPage()
    qtbot.addWidget(page)
    labels = [wide("one"), wide("two"), wide("three")]
    for label in labels:
        page.add_column(1).addWidget(label)
    page.resize(1200, 600)
    page.show()
    qtbot.waitExposed(page)

    def columns():
        lefts = [label.mapTo(page, label.rect().topLeft()).x() for label in labels]
        return [sorted(set(lefts)).index(left) for left in lefts]

    for width, expected in (
        (1200, [0, 1, 2]),
        (800, [0, 1, 1]),
        (500, [0, 0, 0]),
        (1200, [0, 1, 2]),
    ):
        page.resize(width, 600)
        qtbot.waitUntil(lambda expected=expected: columns() == expected)


def test_a_column_that_grows_makes_room_for_itself(qtbot):
    page = ColumnsPage()
    qtbot.addWidget(page)
    labels = [wide("one"), wide("two")]
    for label in labels:
        page.add_column(1).addWidget(label)
    page.resize(800, 600)
    page.show()
    qtbot.waitExposed(page)
    assert labels[1].mapTo(page, labels[1].rect().topLeft()).x() > 300
    labels[1].setMinimumWidth(600)
    qtbot.waitUntil(lambda: labels[1].mapTo(page, labels[1].rect().topLeft()).x() < 40)


def test_columns_follow_the_width_of_the_window(qtbot):
    page = ColumnsPage()
    qtbot.addWidget(page)
    labels = [wide("one"), wide("two")]
    for label in labels:
        page.add_column(1).addWidget(label)
    page.resize(1280, 600)
    page.show()
    qtbot.waitExposed(page)

    def places():
        return [label.mapTo(page, label.rect().topLeft()) for label in labels]

    first, second = places()
    assert first.y() == second.y()
    assert second.x() - first.x() > 500
    page.resize(600, 600)
    qtbot.waitUntil(lambda: places()[0].x() == places()[1].x())
    assert places()[0].y() < places()[1].y()


def test_buttons_of_a_row_start_at_the_left(qtbot):
    page = ColumnsPage()
    qtbot.addWidget(page)
    button = QPushButton("Copy")
    page.add_column(1).addLayout(button_row(button))
    page.resize(1280, 600)
    page.show()
    qtbot.waitExposed(page)
    assert button.mapTo(page, button.rect().topLeft()).x() < 40


def test_a_hidden_page_catches_up_when_it_is_shown(qtbot):
    class Counting(ColumnsPage):
        count = 0

        def refresh(self):
            self.count += 1

    page = Counting()
    qtbot.addWidget(page)
    for _ in range(3):
        page.follow()
    assert page.count == 0
    page.show()
    qtbot.waitExposed(page)
    assert page.count == 1
    page.follow()
    assert page.count == 2
    page.hide()
    page.show()
    assert page.count == 2
