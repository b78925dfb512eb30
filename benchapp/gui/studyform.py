"""The plan of a gauge study: parts, persons, trials, the quantity and its tolerance."""

from __future__ import annotations

from PySide6.QtCore import QT_TR_NOOP, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from benchapp.errors import BenchError
from benchapp.gui.form import Blank, Form
from benchapp.gui.labels import Choice, muted, set_role, set_wrong, text
from benchapp.gui.words import decimal_mark, definition, plural, quantity, range_words, symbol, tr
from benchapp.jobs import width_of
from benchapp.lot import StudyPlan, key_of
from benchapp.nominal import Limit, Nominal
from benchapp.nominal.file import LIMIT_UNITS
from benchapp.units import parse_quantity

__all__ = ["StudyForm"]

_BLANKS = (
    Blank(
        key="parts",
        label=QT_TR_NOOP("parts"),
        tip=QT_TR_NOOP("How many, or their serials with commas between; 10 are usual"),
    ),
    Blank(
        key="trials",
        label=QT_TR_NOOP("trials"),
        tip=QT_TR_NOOP("How often each person measures each part; 3 are usual"),
    ),
    Blank(
        key="persons",
        label=QT_TR_NOOP("persons"),
        tip=QT_TR_NOOP("Names of those who measure, with commas between; 3 are usual"),
        wide=True,
    ),
    Blank(
        key="tolerance",
        label=QT_TR_NOOP("tolerance"),
        tip=QT_TR_NOOP("Upper less lower limit, with unit; empty takes it from the design"),
        empty=QT_TR_NOOP("none: judged by the study"),
    ),
    Blank(
        key="seed",
        label=QT_TR_NOOP("seed"),
        tip=QT_TR_NOOP("A whole number that draws the same order again; empty draws a new one"),
        empty=QT_TR_NOOP("a new order"),
    ),
    Blank(
        key="references",
        label=QT_TR_NOOP("true values"),
        tip=QT_TR_NOOP(
            "One for each part in their order, with semicolons between, where they are known: for "
            "bias and linearity"
        ),
        empty=QT_TR_NOOP("not known"),
        wide=True,
    ),
)
_USUAL = {"parts": "10", "trials": "3", "persons": "A, B, C"}
_WIDEST = 760  # pixels
_LONGEST = 10  # digits of a whole number
_FEW = 15  # parts by persons


class StudyForm(QWidget):
    """States a study, or goes on with one.

    Signals
    -------
    stated(plan, seed)
        The plan of a study, and the seed of its order or None.
    wants_file()
        Go on with a study that is kept in a file.
    """

    stated = Signal(object, object)
    wants_file = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 16, 24, 14)
        column.setSpacing(10)
        column.addWidget(text(tr("Gauge study"), "title"))
        for widget in (self._about(), self._entries()):
            widget.setMaximumWidth(_WIDEST)
            column.addWidget(widget)
        self.size = muted()
        column.addWidget(self.size)
        column.addLayout(self._buttons())
        self.trouble = text("", "stop")
        column.addWidget(self.trouble)
        column.addStretch(1)
        self.show_nominal(None)
        self._show_size()

    def _about(self) -> QWidget:
        return text(
            tr(
                "How much of what is measured comes from measuring? Every person measures every "
                "part several times, in random order, without knowing which part it is. A second "
                "person hands the parts out by the list in the file of the study."
            )
        )

    def _entries(self) -> QWidget:
        box = QWidget()
        column = QVBoxLayout(box)
        column.setContentsMargins(0, 0, 0, 0)
        row = QHBoxLayout()
        self.quantity = Choice(tr("quantity that is studied"))
        self.quantity.setSizeAdjustPolicy(Choice.SizeAdjustPolicy.AdjustToContents)
        self.quantity.activated.connect(lambda _at: self._show_limit())
        self.form = Form(_BLANKS)
        self.form.show_texts(_USUAL)
        self.form.edited.connect(lambda _key, _words: self._show_size())
        row.addWidget(muted(tr("quantity"), wrap=False))
        row.addWidget(self.quantity)
        row.addStretch(1)
        column.addLayout(row)
        column.addWidget(self.form)
        return box

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.begin = QPushButton(tr("Draw the order…"))
        self.begin.setToolTip(tr("Asks for the file in which plan and values are kept"))
        set_role(self.begin, "main")
        self.begin.clicked.connect(self._state)
        self.opener = QPushButton(tr("Go on with a study…"))
        self.opener.setToolTip(tr("Opens the file of a study, complete or not"))
        self.opener.clicked.connect(self.wants_file)
        row.addWidget(self.begin)
        row.addWidget(self.opener)
        row.addStretch(1)
        return row

    def show_nominal(self, nominal: Nominal | None) -> None:
        """Offer what the design limits, and after that every other quantity."""
        before = self.quantity.currentText()
        self.quantity.clear()
        limits = () if nominal is None else nominal.limits
        for limit in limits:
            words = f"{symbol_of(limit)} · {range_words(limit)}"
            self.quantity.addItem(words, limit)
        limited = {limit.quantity for limit in limits if limit.at is None}
        for name, unit in LIMIT_UNITS.items():
            if name not in limited and name not in ("|Z|", "theta"):
                self.quantity.addItem(symbol(name), Limit(quantity=name, unit=unit))
        self.quantity.setCurrentIndex(max(0, self.quantity.findText(before)))
        self._show_limit()

    def _show_limit(self) -> None:
        limit: Limit = self.quantity.currentData()
        width = width_of(limit)
        words = "" if width is None else quantity(width, limit.unit, digits=4)
        self.form.say_empty("tolerance", words)
        self.quantity.setToolTip(definition(limit.quantity))

    def _show_size(self) -> None:
        """Say how many measurements that makes, and where they would be few."""
        parts, persons = self._named("parts"), self._named("persons")
        words = self._typed("trials")
        trials = int(words) if words.isdecimal() and len(words) < _LONGEST else 0
        sizes = (
            plural(len(parts), tr("1 part"), tr("%n parts")),
            plural(len(persons), tr("1 person"), tr("%n persons")),
            plural(trials, tr("1 trial"), tr("%n trials")),
        )
        said = tr("{sizes}: {n} measurements.")
        text = said.format(sizes=" × ".join(sizes), n=len(parts) * len(persons) * trials)
        if len(parts) * len(persons) < _FEW:
            text += " " + tr("So few say little: 10 parts, 3 persons and 3 trials are usual.")
        self.size.setText(text)

    def _named(self, key: str) -> tuple[str, ...]:
        return _names(self._typed(key), counted=key == "parts")

    def _state(self) -> None:
        self.trouble.setText("")
        for field in self.form.fields.values():
            set_wrong(field, wrong=False)
        try:
            plan, seed = self._plan(), self._seed()
        except BenchError as error:
            self.trouble.setText(f"{error.message} {error.hint}".strip())
            return
        if plan is not None and not self.trouble.text():
            self.stated.emit(plan, seed)

    def _plan(self) -> StudyPlan | None:
        """Give what is stated; None where a number is none, and its field is marked."""
        limit: Limit = self.quantity.currentData()
        trials = self._whole("trials")
        if trials is None:
            return None
        stated = self._typed("tolerance")
        width = self._value("tolerance", stated, limit.unit) if stated else width_of(limit)
        known = [one for one in self._typed("references").split(";") if one.strip()]
        return StudyPlan(
            parts=self._named("parts"),
            persons=self._named("persons"),
            trials=trials,
            quantity=key_of(limit),
            unit=limit.unit,
            tolerance=width,
            references=tuple(self._value("references", one, limit.unit) for one in known),
        )

    def _seed(self) -> int | None:
        return self._whole("seed") if self._typed("seed") else None

    def _typed(self, key: str) -> str:
        return self.form.fields[key].text().strip()

    def _whole(self, key: str) -> int | None:
        words = self._typed(key)
        if words.isdecimal() and len(words) < _LONGEST:
            return int(words)
        set_wrong(self.form.fields[key], wrong=True)
        said = tr("{name}: must be a whole number (got '{words}').")
        self.trouble.setText(said.format(name=self.form.labels[key].text(), words=words))
        return None

    def _value(self, key: str, words: str, unit: str) -> float:
        try:
            return parse_quantity(words.strip(), unit, mark=decimal_mark()).value
        except BenchError:
            set_wrong(self.form.fields[key], wrong=True)
            raise


def symbol_of(limit: Limit) -> str:
    """Write what a limit is of, with its frequency."""
    return key_of(limit).replace(limit.quantity, symbol(limit.quantity), 1)


def _names(words: str, *, counted: bool = False) -> tuple[str, ...]:
    """Part names at commas; a bare number of things that are ``counted`` names them 1, 2, 3."""
    if counted and words.isdecimal() and len(words) <= 3:
        return tuple(str(number + 1) for number in range(int(words)))
    return tuple(one.strip() for one in words.split(",")) if words else ()
