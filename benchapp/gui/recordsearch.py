"""What is searched for in the record, typed by what a person remembers of it."""

from __future__ import annotations

from PySide6.QtCore import QT_TR_NOOP, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from benchapp.gui.form import Blank, Form
from benchapp.gui.labels import text
from benchapp.gui.times import day_bounds
from benchapp.gui.words import OUTCOMES, plural, tr
from benchapp.jobs import FindParts
from benchapp.logbook import Search
from benchapp.nominal import Outcome

__all__ = ["RecordSearch"]

_MOST = 20_000
_BEGINNING = QT_TR_NOOP("Whole or its beginning; * stands for anything: *47 finds what ends so")
_BLANKS = (
    Blank(key="serial", label=QT_TR_NOOP("serial"), tip=_BEGINNING),
    Blank(key="part", label=QT_TR_NOOP("part"), tip=_BEGINNING),
    Blank(
        key="outcome",
        label=QT_TR_NOOP("verdict"),
        tip=QT_TR_NOOP("What was decided about the part"),
        choices=(
            ("", QT_TR_NOOP("any")),
            *((one.value, words) for one, words in OUTCOMES.items()),
        ),
    ),
    Blank(
        key="lot",
        label=QT_TR_NOOP("lot"),
        tip=QT_TR_NOOP("Order or date code of the lot, whole or its beginning"),
    ),
    Blank(
        key="supplier",
        label=QT_TR_NOOP("supplier"),
        tip=QT_TR_NOOP("Name of the supplier, whole or its beginning"),
    ),
    Blank(
        key="since",
        label=QT_TR_NOOP("from"),
        tip=QT_TR_NOOP("First day, by the clock of this place"),
        empty=QT_TR_NOOP("2026-01-31"),
    ),
    Blank(
        key="until",
        label=QT_TR_NOOP("to"),
        tip=QT_TR_NOOP("Last day, by the clock of this place"),
        empty=QT_TR_NOOP("2026-12-31"),
    ),
)
_DAYS = ("since", "until")


class RecordSearch(QWidget):
    """The form of a search, and what came of it in words.

    Signals
    -------
    edited()
        Something else is searched for.
    """

    edited = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.texts: dict[str, str] = {}
        self.form = Form(_BLANKS, abreast=4)
        self.form.edited.connect(self._edit)
        self.found = text()
        self.clear = QPushButton(tr("Show everything"))
        self.clear.setToolTip(tr("Empty every field of the search"))
        self.clear.clicked.connect(self._empty)
        row = QHBoxLayout()
        row.addWidget(self.found, 1)
        row.addWidget(self.clear)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(self.form)
        column.addLayout(row)
        self.clear.hide()

    @property
    def is_narrow(self) -> bool:
        """Whether anything is typed or chosen."""
        return any(words.strip() for words in self.texts.values())

    def _edit(self, key: str, words: str) -> None:
        self.texts[key] = words
        self.clear.setVisible(self.is_narrow)
        self.edited.emit()

    def _empty(self) -> None:
        self.texts = {}
        self.form.show_texts(self.texts)
        self.clear.hide()
        self.form.fields["serial"].setFocus()
        self.edited.emit()

    def job(self, record: str) -> FindParts | None:
        """Give the search as it is typed; None, and said, where a day is none."""
        texts = {key: words.strip() for key, words in self.texts.items()}
        days = {key: _day(texts.get(key, "")) for key in _DAYS}
        wrong = next((key for key, day in days.items() if day is None), "")
        self.form.mark_wrong(wrong)
        if wrong:
            self.found.setText(tr("A day is typed as year, month and day: 2026-01-31."))
            return None
        since, until = (days[key] or ("", "") for key in _DAYS)
        if since[0] and until[1] and until[1] <= since[0]:
            self.form.mark_wrong("until")
            self.found.setText(tr("The last day must not be before the first."))
            return None
        return FindParts(
            record=record,
            wanted=Search(
                serial_like=_pattern(texts.get("serial", "")),
                part_like=_pattern(texts.get("part", "")),
                since=since[0] or None,
                until=until[1] or None,
                outcome=Outcome(texts["outcome"]) if texts.get("outcome") else None,
                limit=_MOST,
                newest_first=True,
            ),
            lot=texts.get("lot", ""),
            supplier=texts.get("supplier", ""),
        )

    def show_count(self, count: int) -> None:
        """Say how many were found; where there is none, what can be done about it."""
        if count:
            words = plural(count, tr("1 measurement"), tr("%n measurements"))
            if count == _MOST:
                words = tr("Only the newest {n} are shown: narrow the search.").format(n=_MOST)
        elif not self.is_narrow:
            words = tr("The record holds no measurement yet: measure a part, or begin a lot.")
        else:
            words = self._why_none()
        self.found.setText(words)

    def _why_none(self) -> str:
        """Say what to try where nothing was found, by what was typed."""
        hints = (
            ("serial", tr("put * before the serial, to find it anywhere in one")),
            ("part", tr("put * before the part, to find it anywhere in a title")),
            ("lot", tr("look for the lot by its supplier")),
            ("since", tr("begin at an earlier day")),
            ("until", tr("end at a later day")),
            ("outcome", tr("choose any verdict")),
        )
        typed = [
            words
            for key, words in hints
            if (stands := self.texts.get(key, "").strip()) and "*" not in stands
        ]
        ways = [*typed[:2], tr("or show everything")]
        return tr("Nothing in the record is like this: {ways}.").format(ways=", ".join(ways))

    def tell(self, words: str) -> None:
        """Say something else in place of the count."""
        self.found.setText(words)


def _pattern(words: str) -> str | None:
    """Give the pattern of what was typed: it is a beginning, and capitals do not count."""
    return f"{words.rstrip('*')}*" if words else None


def _day(words: str) -> tuple[str, str] | None:
    """Give the ends of a day, "" where none is typed; None for what is no day."""
    try:
        return day_bounds(words) if words else ("", "")
    except (ValueError, OverflowError):
        return None
