"""Beginning a lot: what was delivered, how it is inspected, and lots to go on with."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QT_TR_NOOP, Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.errors import BenchError
from benchapp.gui.following import Following
from benchapp.gui.form import Blank, Form, align
from benchapp.gui.labels import Notice, heading, muted, set_role, set_wrong, text
from benchapp.gui.lotplots import AcceptancePlot
from benchapp.gui.planwords import ENDED_WORDS, FRACTIONS, acceptance_words, plan_words
from benchapp.gui.times import full_time_words, time_words
from benchapp.gui.words import plain, plural, tr
from benchapp.jobs import SupplierLots
from benchapp.logbook import LotRow
from benchapp.lot import KINDS, LotForm, LotPlan, PlanChoice
from benchapp.nominal import Nominal
from benchapp.sampling import AQLS, LEVELS, SEVERITIES

__all__ = ["LotStart"]

_DELIVERY = (
    Blank(key="part", label=QT_TR_NOOP("part"), tip=QT_TR_NOOP("Name of the part")),
    Blank(key="revision", label=QT_TR_NOOP("revision"), tip=QT_TR_NOOP("Of the drawing")),
    Blank(key="supplier", label=QT_TR_NOOP("supplier"), tip=QT_TR_NOOP("Who delivered it")),
    Blank(key="order", label=QT_TR_NOOP("order"), tip=QT_TR_NOOP("Number of the order")),
    Blank(key="date_code", label=QT_TR_NOOP("date code"), tip=QT_TR_NOOP("As marked on the lot")),
    Blank(
        key="quantity",
        label=QT_TR_NOOP("parts in the lot"),
        tip=QT_TR_NOOP("How many parts were delivered"),
        empty=QT_TR_NOOP("count them"),
    ),
    Blank(key="operator", label=QT_TR_NOOP("measured by"), tip=QT_TR_NOOP("Who measures")),
)
_KIND_WORDS = {
    "attributes": QT_TR_NOOP("count the rejected parts of a sample"),
    "zero": QT_TR_NOOP("a sample without a single rejected part"),
    "variables": QT_TR_NOOP("mean and spread of a sample"),
    "all": QT_TR_NOOP("measure every part"),
}
_SEVERITY_WORDS = {
    "normal": QT_TR_NOOP("normal"),
    "tightened": QT_TR_NOOP("tightened"),
    "reduced": QT_TR_NOOP("reduced"),
}
_SAMPLING = (
    Blank(
        key="kind",
        label=QT_TR_NOOP("way"),
        tip=QT_TR_NOOP("How the lot is judged by its parts"),
        choices=tuple((kind, _KIND_WORDS[kind]) for kind in KINDS),
        wide=True,
    ),
    Blank(
        key="aql",
        label=QT_TR_NOOP("AQL"),
        tip=QT_TR_NOOP("Acceptance quality limit: percent nonconforming that is tolerable"),
        choices=tuple((f"{aql:g}", f"{aql:g} %") for aql in AQLS),
    ),
    Blank(
        key="level",
        label=QT_TR_NOOP("level"),
        tip=QT_TR_NOOP("Inspection level: II is usual, S-1 to S-4 take small samples"),
        choices=tuple((level, level) for level in LEVELS),
    ),
    Blank(
        key="severity",
        label=QT_TR_NOOP("severity"),
        tip=QT_TR_NOOP("Normal, or as the earlier lots of this supplier ask for"),
        choices=tuple((severity, _SEVERITY_WORDS[severity]) for severity in SEVERITIES),
    ),
    Blank(
        key="severity_why",
        label=QT_TR_NOOP("because"),
        tip=QT_TR_NOOP("Why it is inspected otherwise than the record asks; it goes in there"),
        empty=QT_TR_NOOP("reason, for example: agreed with the supplier"),
        wide=True,
    ),
    Blank(
        key="fraction",
        label=QT_TR_NOOP("keep out from"),
        tip=QT_TR_NOOP("Share of nonconforming parts, in percent, that must not be accepted"),
    ),
    Blank(
        key="risk",
        label=QT_TR_NOOP("but for"),
        tip=QT_TR_NOOP("Chance, in percent, that such a lot is accepted all the same"),
    ),
)
_BY_KIND = {
    "attributes": ("aql", "level", "severity"),
    "variables": ("aql", "level"),
    "zero": ("fraction", "risk"),
    "all": (),
}
_HISTORY = ("supplier", "part")
_SHARES = ("fraction", "risk")
_ASK_MS = 400  # of rest in typing before the record is asked
_USUAL = {"kind": "attributes", "aql": "1", "level": "II", "severity": "normal"}


class LotStart(QScrollArea):
    """The form of a new lot, its plan in words, and the lots of the record.

    Signals
    -------
    begun(form, plan)
        The person begins the lot.
    wanted(key)
        The person goes on with a lot of the record.
    wants_history(supplier, part)
        The record is to be asked how the next lot of them is inspected.
    wants_nominal(), wants_folder()
        A design is to be opened; a folder of captures is to be judged at once.
    """

    begun = Signal(object, object)
    wanted = Signal(str)
    wants_history = Signal(str, str)
    wants_nominal = Signal()
    wants_folder = Signal()

    def __init__(self, operator: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self.setWidget(sheet)
        self._nominal: Nominal | None = None
        self._offered = ""
        self.plan: LotPlan | None = None
        self.severity = Following()
        self._asking = self._begins = False
        self._later = QTimer(self, singleShot=True, interval=_ASK_MS)
        self._later.timeout.connect(self.ask_history)
        self.texts = {**_USUAL, "fraction": "5", "risk": "10", "operator": operator}
        self.delivery, self.sampling = Form(_DELIVERY), Form(_SAMPLING)
        align([self.delivery, self.sampling])
        for form in (self.delivery, self.sampling):
            form.edited.connect(self._edit)
            form.show_texts(self.texts)
        columns = QHBoxLayout(sheet)
        columns.setContentsMargins(24, 18, 24, 16)
        columns.setSpacing(32)
        columns.addLayout(self._left(), 5)
        columns.addLayout(self._right(), 4)
        self._work_out()

    def _left(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(8)
        column.addWidget(heading(tr("What was delivered")))
        column.addWidget(self.delivery)
        column.addSpacing(8)
        column.addWidget(heading(tr("How it is inspected")))
        column.addWidget(self.sampling)
        self.following = muted()
        column.addWidget(self.following)
        self.words, self.trouble = text(), text("", "stop")
        self.source = muted()
        for label in (self.words, self.trouble, self.source):
            column.addWidget(label)
        row = QHBoxLayout()
        self.begin = _button(tr("Begin the lot"), tr("The lot and its plan go into the record"))
        self.begin.clicked.connect(self._begin)
        self.folder = _button(
            tr("Judge a folder…"),
            tr("Every capture in a folder at once, by this design and this plan"),
        )
        self.folder.clicked.connect(self.wants_folder)
        self.open_nominal = _button(tr("Open a nominal design…"), tr("What the parts should be"))
        self.open_nominal.clicked.connect(self.wants_nominal)
        for button in (self.begin, self.folder, self.open_nominal):
            row.addWidget(button)
        row.addStretch(1)
        column.addLayout(row)
        self.lack = Notice(tr("Open the nominal design first: it says what is judged."))
        column.addWidget(self.lack)
        column.addStretch(1)
        return column

    def _right(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(8)
        self.curve_title = heading(tr("How often lots are accepted"))
        self.curve = AcceptancePlot()
        self.chances = QWidget()
        self._grid = QGridLayout(self.chances)
        self._grid.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.curve_title)
        column.addWidget(self.curve, 3)
        column.addWidget(self.chances)
        column.addSpacing(6)
        self.lots_title = heading(tr("Lots in the record"))
        self.lots = QListWidget()
        self.lots.setAccessibleName(tr("Lots in the record, the newest first"))
        self.lots.setMinimumHeight(90)
        self.lots.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.lots.itemActivated.connect(self._go_on)
        self.lots.currentItemChanged.connect(self._offer_lot)
        self.resume = _button(tr("Go on"), tr("Open the chosen lot where it was left"))
        self.resume.clicked.connect(lambda: self._go_on(self.lots.currentItem()))
        column.addWidget(self.lots_title)
        column.addWidget(self.lots, 2)
        column.addWidget(self.resume, 0, Qt.AlignmentFlag.AlignLeft)
        self.show_lots(())
        return column

    def show_nominal(self, nominal: Nominal | None) -> None:
        """Begin lots of this design; its title and revision are offered."""
        self._nominal = nominal
        self.lack.setVisible(nominal is None)
        self.open_nominal.setVisible(nominal is None)
        if nominal is not None and self.texts.get("part", "") in ("", self._offered):
            self._offered = nominal.title
            self.texts |= {"part": nominal.title, "revision": nominal.revision}
            self.delivery.show_texts(self.texts)
            self._later.start()
        self._work_out()

    def show_lots(self, lots: Sequence[LotRow]) -> None:
        """List lots to go on with or to look at, the newest first."""
        self.lots.clear()
        for lot in lots:
            item = QListWidgetItem(_lot_words(lot))
            item.setToolTip(f"{item.text()}\n{full_time_words(lot.time)}")
            item.setData(Qt.ItemDataRole.UserRole, lot.key)
            item.setData(Qt.ItemDataRole.UserRole + 1, lot.conclusion is None)
            self.lots.addItem(item)
        for widget in (self.lots_title, self.lots, self.resume):
            widget.setVisible(bool(lots))
        if lots:
            self.lots.setCurrentRow(0)

    def _offer_lot(self, item: QListWidgetItem | None) -> None:
        is_open = item is not None and item.data(Qt.ItemDataRole.UserRole + 1)
        self.resume.setText(tr("Go on with this lot") if is_open else tr("Look at this lot"))

    def _go_on(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.wanted.emit(item.data(Qt.ItemDataRole.UserRole))

    def ask_history(self) -> None:
        """Have the record asked about the supplier and the part that are typed."""
        self._later.stop()
        names = [self.texts.get(key, "").strip() for key in _HISTORY]
        self.severity = self.severity.asking(*names)
        self.following.setText(self.severity.words)
        self.wants_history.emit(*names)

    def show_history(self, found: SupplierLots | None, *, partial: bool = False) -> None:
        """Propose how the lot is inspected, by the earlier ones; None where there is none.

        It is ``partial`` where the server of the record was away.
        """
        before, self.severity = (
            self.severity.proposed,
            self.severity.known(found, partial=partial),
        )
        same = self.severity.proposed == before and not self.severity.is_stopped
        if self.texts["severity"] == before:
            self.texts["severity"] = self.severity.proposed
            self.sampling.show_texts(self.texts)
        begins, self._asking, self._begins = self._begins, False, False
        self._work_out()
        if begins and same:
            self._begin()

    def _edit(self, key: str, words: str) -> None:
        self.texts[key] = words
        if key in _HISTORY:
            self._asking = True
            self._later.start()
        self._work_out()

    def _number(self, key: str) -> float:
        return float(plain(self.texts.get(key, "").strip().removesuffix("%")))

    def choice(self) -> PlanChoice:
        """Give what is chosen about sampling.

        Raises
        ------
        ValueError
            When a number is none.
        """
        texts = self.texts
        return PlanChoice(
            kind=texts["kind"],
            aql=float(texts["aql"]),
            level=texts["level"],
            severity=texts["severity"] if self._by_count else "normal",
            severity_why=self._why() if self._by_count else "",
            **self._shares(),
        )

    @property
    def _by_count(self) -> bool:
        return self.texts["kind"] == "attributes"

    def _why(self) -> str:
        return self.severity.reason(self.texts["severity"], self.texts.get("severity_why", ""))

    @property
    def _lacks_reason(self) -> bool:
        """Whether a person has to say why it is inspected otherwise than the record asks."""
        deviates = self._by_count and self.severity.deviates(self.texts["severity"])
        return deviates and not self.texts.get("severity_why", "").strip()

    def _shares(self) -> dict[str, float]:
        """Give the two percentages where the plan is made from them."""
        used = _BY_KIND[self.texts["kind"]]
        return {key: self._number(key) / 100 for key in _SHARES if key in used}

    def _wrong_share(self) -> str:
        """Give the percentage that is no number, "" where both are."""
        for key in _SHARES:
            try:
                self._number(key)
            except ValueError:
                return key
        return ""

    def form(self) -> LotForm:
        """Give what is stated about the delivery."""
        words = {blank.key: self.texts.get(blank.key, "").strip() for blank in _DELIVERY}
        quantity = int(words.pop("quantity") or 0)
        return LotForm(quantity=quantity, **words)

    def _work_out(self) -> None:
        """Show the plan for what is typed."""
        used = _BY_KIND[self.texts["kind"]]
        for key in ("aql", "level", "severity", "fraction", "risk"):
            for widget in (self.sampling.labels[key], self._entry(key)):
                widget.setVisible(key in used)
        deviates = self._by_count and self.severity.deviates(self.texts["severity"])
        for widget in (self.sampling.labels["severity_why"], self._entry("severity_why")):
            widget.setVisible(deviates)
        self.following.setText(self.severity.words if self._by_count else "")
        self.following.setVisible(bool(self.following.text()))
        self.plan, trouble, wrong = None, "", ""
        quantity = self.texts.get("quantity", "").strip()
        if quantity:
            try:
                self.plan = self.choice().plan(int(quantity))
            except BenchError as error:  # is a ValueError as well, and says more
                trouble = f"{error.message} {error.hint}"
            except ValueError:
                wrong = "" if not quantity.isdecimal() else self._wrong_share()
                trouble = tr("Type whole numbers for parts, and percentages as numbers.")
                set_wrong(self.delivery.fields["quantity"], wrong=not quantity.isdecimal())
        if not trouble:
            set_wrong(self.delivery.fields["quantity"], wrong=False)
        self.sampling.mark_wrong(wrong)
        self._show_plan(trouble)

    def _entry(self, key: str) -> QWidget:
        return self.sampling.choices.get(key) or self.sampling.fields[key]

    def _show_plan(self, trouble: str) -> None:
        plan = self.plan
        self.trouble.setText(trouble)
        self.trouble.setVisible(bool(trouble))
        ask = "" if trouble else tr("Type how many parts are in the lot: the plan follows.")
        self.words.setText(ask if plan is None else plan_words(plan))
        self.words.setVisible(bool(self.words.text()))
        self.source.setText(
            "" if plan is None else tr("Source: {words}.").format(words=plan.source)
        )
        pairs = [] if plan is None or plan.everything else acceptance_words(plan)
        self.curve.show_plan(plan if pairs else None, FRACTIONS)
        for widget in (self.curve_title, self.curve, self.chances):
            widget.setVisible(bool(pairs))
        self._show_chances(pairs)
        may = plan is not None and self._nominal is not None and not self._lacks_reason
        self.begin.setEnabled(may)
        tip = tr("The lot and its plan go into the record")
        if self._lacks_reason:
            tip = tr("Type the reason first: it is inspected otherwise than the record asks")
        self.begin.setToolTip(tip)
        set_role(self.begin, "main" if self.begin.isEnabled() else "")
        ready = self._nominal is not None and not trouble
        self.folder.setEnabled(ready and not (plan is not None and self._lacks_reason))

    def _show_chances(self, pairs: Sequence[tuple[str, str]]) -> None:
        while (item := self._grid.takeAt(0)) is not None:
            item.widget().hide()
            item.widget().deleteLater()
        if not pairs:
            return
        rows = (tr("nonconforming"), tr("accepted"))
        for row, (name, cells) in enumerate(zip(rows, zip(*pairs, strict=True), strict=True)):
            self._grid.addWidget(muted(name, wrap=False), row, 0)
            for column, words in enumerate(cells, start=1):
                label = text(words, wrap=False)
                label.setAlignment(Qt.AlignmentFlag.AlignRight)
                self._grid.addWidget(label, row, column)

    def _begin(self) -> None:
        """Begin, once the record has said how: what it proposes is seen before it holds."""
        if self._asking:
            self._begins = True
            self.ask_history()
        elif self.plan is not None:
            self.begun.emit(self.form(), self.plan)


def _lot_words(lot: LotRow) -> str:
    form, plan = lot.form, lot.plan
    names = [name for name in (form.order, form.date_code) if name]
    who = [name for name in (form.part, form.supplier) if name]
    taken = plural(lot.measurements, tr("1 measurement"), tr("%n measurements"))
    how = (
        tr("{taken}, sample of {of}").format(taken=taken, of=plan.n)
        if lot.conclusion is None
        else tr("concluded: {outcome}").format(outcome=tr(ENDED_WORDS[lot.conclusion.outcome]))
    )
    when = time_words(lot.time)
    return " · ".join([when, *names, how, *who])


def _button(words: str, tip: str) -> QPushButton:
    button = QPushButton(words)
    button.setToolTip(tip)
    return button
