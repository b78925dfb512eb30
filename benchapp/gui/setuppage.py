"""The Set-up station: the instrument, its examination, what is swept, and the fixture."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QT_TR_NOOP, QSignalBlocker, Qt
from PySide6.QtGui import QAction, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QCheckBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.capture import Sweep
from benchapp.errors import BenchError
from benchapp.gui.fixturereadings import STANDARDS
from benchapp.gui.form import Form, align
from benchapp.gui.instrument import Instrument
from benchapp.gui.labels import Choice, Notice, heading, muted, text
from benchapp.gui.marks import Mark
from benchapp.gui.ratioplot import RatioPlot
from benchapp.gui.referencecard import ReferenceCard
from benchapp.gui.session import Session
from benchapp.gui.setupblanks import CONDITIONS, CORRECTIONS, SWEEP, WHERE
from benchapp.gui.words import number, plural, quantity, sentence, tr
from benchapp.instruments import Examined, shipped_profiles

__all__ = ["BENCH_PARTS", "SetupPage"]

_NARROW = 1040  # pixels: below it the two columns stand one below the other
_MARK = 16
_TALLEST = 360  # pixels of the rule of 100
_MINUTE_OLD = 1

BENCH_PARTS = {
    "tank": QT_TR_NOOP("coil with its capacitor"),
    "drawn": QT_TR_NOOP("a tank drawn by chance"),
    "shorted-turn": QT_TR_NOOP("tank with a shorted turn"),
    "coil": QT_TR_NOOP("the coil alone"),
    "series": QT_TR_NOOP("coil and capacitor in series"),
    "open": QT_TR_NOOP("nothing: the empty clip"),
    "short": QT_TR_NOOP("a short"),
    "load": QT_TR_NOOP("a resistor of 1 kΩ"),
}
_STANDARD_WORDS = {
    "opened": (QT_TR_NOOP("Read open"), QT_TR_NOOP("Take the part out and leave the clip empty")),
    "shorted": (QT_TR_NOOP("Read short"), QT_TR_NOOP("Put a short in the place of the part")),
    "load": (QT_TR_NOOP("Read load"), QT_TR_NOOP("Put the known load in the place of the part")),
}


class Steps(QWidget):
    """The steps of an examination in words: mark, what was tried, what was found, what to do."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(2, 1)
        self.shown: list[Examined] = []

    def show_steps(self, steps: list[Examined]) -> None:
        """Show these steps; only new ones are added while an examination goes on."""
        if steps[: len(self.shown)] != self.shown:
            while (item := self._grid.takeAt(0)) is not None:
                item.widget().hide()
                item.widget().deleteLater()
            self.shown = []
        for step in steps[len(self.shown) :]:
            self._add(step, len(self.shown))
            self.shown.append(step)

    def _add(self, step: Examined, row: int) -> None:
        mark = Mark(_MARK)
        mark.set_mark(*(("good", tr("well")) if step.well else ("stop", tr("trouble"))))
        top = Qt.AlignmentFlag.AlignTop
        self._grid.addWidget(mark, row, 0, top)
        self._grid.addWidget(text(step.step, "heading", wrap=False), row, 1, top)
        self._grid.addWidget(text(f"{step.found} {step.advice}".strip()), row, 2)


class SetupPage(QScrollArea):
    """Everything that is settled before parts are measured."""

    def __init__(
        self,
        session: Session,
        instrument: Instrument,
        card: ReferenceCard,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._session, self._instrument, self.card = session, instrument, card
        self._build()
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self._columns = QHBoxLayout(sheet)
        self._columns.setContentsMargins(0, 0, 0, 0)
        self._columns.setSpacing(0)
        self._columns.addWidget(self._left(), 1)
        self._columns.addWidget(self._right(), 1)
        self.setWidget(sheet)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._connect()
        self.refresh()

    def _build(self) -> None:
        self.where = Form(WHERE)
        self.profiles = Choice(tr("Profile: how the instrument is talked to"))
        for name, profile in shipped_profiles().items():
            self.profiles.addItem(profile.title, name)
        self.other = QPushButton(tr("Own profile…"))
        self.examiner = QPushButton(tr("Examine the address"))
        self.trier = QPushButton(tr("Trial reading"))
        self.bench = QPushButton()
        self.parts = Choice(tr("What is in the clip of the simulated bench"))
        for name, words in BENCH_PARTS.items():
            self.parts.addItem(tr(words), name)
        self.says, self.trial = text(), text()
        self.steps = Steps()
        self.form, self.conditions = Form(SWEEP), Form(CONDITIONS)
        self.blanks = Form(CORRECTIONS)
        self.finder = QPushButton(tr("Look for instruments"))
        self.finder.setToolTip(
            tr("Asks every network and port around: it sends broadcasts, and takes seconds")
        )
        self.found_words, self.found = muted(), Choice(tr("Instruments that were found"))
        self.find = QCheckBox(tr("look for the resonance and lay the points around it"))
        self.consent = QCheckBox(tr("I have checked part, fixture and people: allow this"))
        self.caution = Notice(
            tr(
                "Above the profile's caution. A coil under bias gives a dangerous voltage when it "
                "is disconnected: do not touch it before the bias is reported off. Follow your "
                "workplace's rules; if unsure, ask the responsible person."
            )
        )
        self.before = Notice(
            tr(
                "Discharge a part before it touches the instrument. Keep the instrument off "
                "circuits that are connected to the mains, and never lift its earth. Follow your "
                "workplace's rules; if unsure, ask the responsible person."
            )
        )
        self.ringing = Notice(
            tr(
                "A tank that rings, or is driven at its resonance, can carry many times the drive "
                "voltage: do not touch it, and use probes rated for that."
            )
        )
        self.standards = {name: QPushButton(tr(_STANDARD_WORDS[name][0])) for name in STANDARDS}
        for name, button in self.standards.items():
            button.setToolTip(tr(_STANDARD_WORDS[name][1]))
        self.files = QPushButton(tr("From a file…"))
        self.files.setToolTip(tr("Use a reading of the fixture that was saved as a sweep"))
        self.saver = QPushButton(tr("Save…"))
        self.saver.setToolTip(tr("Keep a reading of the fixture in a file, for another day"))
        _menu(self.files, self._choose_standard)
        self.savings = _menu(self.saver, self._save_standard)
        self.forget = QPushButton(tr("Forget"))
        self.ages, self.rule, self.doubts = muted(), text(), muted()
        self.ratios = RatioPlot()
        self.ratios.setMaximumHeight(_TALLEST)
        align((self.form, self.conditions, self.blanks))
        self.lines = muted(tr("Solid: open over part. Dashed: part over short."))

    def _connect(self) -> None:
        instrument = self._instrument
        self.where.finished.connect(
            lambda key: instrument.choose(**{key: self.where.fields[key].text()})
        )
        for name, button in self.standards.items():
            button.clicked.connect(lambda _on=False, name=name: instrument.take_standard(name))
        self.finder.clicked.connect(lambda _on=False: instrument.discover())
        self.found.activated.connect(
            lambda _at: instrument.choose(address=self.found.currentText())
        )
        self.profiles.activated.connect(
            lambda _at: instrument.choose(profile=self.profiles.currentData())
        )
        self.other.clicked.connect(lambda _on=False: self._choose_profile())
        self.examiner.clicked.connect(lambda _on=False: instrument.examine())
        self.trier.clicked.connect(lambda _on=False: instrument.try_reading())
        self.bench.clicked.connect(lambda _on=False: self._toggle_bench())
        self.parts.activated.connect(lambda _at: instrument.clip(self.parts.currentData()))
        for form in (self.form, self.conditions, self.blanks):
            form.edited.connect(instrument.set_text)
        self.find.toggled.connect(lambda on: instrument.set_text("find", "yes" if on else "no"))
        self.consent.toggled.connect(
            lambda on: instrument.set_text("consent", "yes" if on else "no")
        )
        self.forget.clicked.connect(lambda _on=False: instrument.forget_standards())
        instrument.changed.connect(self.refresh)
        instrument.grew.connect(lambda: self.steps.show_steps(instrument.steps))
        self._session.parts_changed.connect(self._show_rule)

    def _left(self) -> QWidget:
        column, sheet = _column()
        column.addWidget(heading(tr("Instrument")))
        column.addWidget(self.where)
        column.addLayout(_row(self.profiles, self.other))
        column.addLayout(_row(self.examiner, self.trier, self.finder))
        column.addWidget(self.found_words)
        column.addWidget(self.found)
        column.addWidget(self.before)
        column.addWidget(self.ringing)
        column.addWidget(self.says)
        column.addWidget(self.trial)
        column.addSpacing(8)
        column.addWidget(heading(tr("Without an instrument")))
        column.addWidget(
            text(
                tr(
                    "The simulated bench runs in this program and answers as a real instrument "
                    "would, with noise, a fixture and time to settle. Nothing is switched."
                )
            )
        )
        column.addLayout(_row(self.bench, self.parts))
        column.addSpacing(8)
        column.addWidget(self.card)
        column.addSpacing(8)
        self.examined = heading(tr("Examination of the address"))
        column.addWidget(self.examined)
        column.addWidget(self.steps)
        column.addStretch(1)
        return sheet

    def _right(self) -> QWidget:
        column, sheet = _column()
        column.addWidget(heading(tr("Sweep")))
        column.addWidget(self.form)
        column.addWidget(self.conditions)
        column.addWidget(self.find)
        column.addWidget(self.caution)
        column.addWidget(self.consent)
        column.addSpacing(8)
        column.addWidget(heading(tr("Fixture")))
        column.addWidget(
            text(
                tr(
                    "Read open and short with the settings above, then every sweep is corrected; "
                    "the raw one is kept. With a known load a cable is taken away as well."
                )
            )
        )
        column.addLayout(_row(*self.standards.values()))
        column.addLayout(_row(self.files, self.saver, self.forget))
        column.addWidget(self.blanks)
        column.addWidget(self.ages)
        column.addWidget(self.rule)
        column.addWidget(self.doubts)
        column.addWidget(self.ratios, 100)
        column.addWidget(self.lines)
        column.addStretch(1)
        return sheet

    def showEvent(self, event: QShowEvent) -> None:
        """Bring ages up to date."""
        super().showEvent(event)
        self.refresh()
        self.card.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the columns one below the other where there is no room beside each other."""
        super().resizeEvent(event)
        narrow = self.viewport().width() < _NARROW
        way = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        if self._columns.direction() != way:
            self._columns.setDirection(way)

    def refresh(self) -> None:
        """Show what holds now."""
        instrument = self._instrument
        free = bool(instrument.address) and not instrument.is_busy
        shown = {"address": instrument.address, "backend": instrument.backend}
        for key, field in self.where.fields.items():
            if field.hasFocus() and instrument.server is None:
                shown[key] = field.text()
        self.where.show_texts(shown)
        with QSignalBlocker(self.profiles):
            at = self.profiles.findData(instrument.profile)
            if at < 0:
                self.profiles.addItem(Path(instrument.profile).name, instrument.profile)
                at = self.profiles.count() - 1
            self.profiles.setCurrentIndex(at)
        for button in (self.trier, self.examiner, *self.standards.values()):
            button.setEnabled(free)
        for form in (self.form, self.conditions, self.blanks):
            form.show_texts(instrument.texts)
        self._show_found()
        self._show_bench()
        self._show_what_it_says()
        for box, key in ((self.consent, "consent"), (self.find, "find")):
            with QSignalBlocker(box):
                box.setChecked(instrument.texts[key] == "yes")
        wants = instrument.wants_consent()
        self.caution.setVisible(wants)
        self.consent.setVisible(wants)
        self.ringing.setVisible(instrument.drives_a_tank)
        self.steps.show_steps(instrument.steps)
        self.examined.setVisible(bool(instrument.steps))
        self._mark_wrong()
        self._show_ages()
        self._show_rule()

    def _show_bench(self) -> None:
        instrument = self._instrument
        runs = instrument.server is not None
        if runs:
            self.parts.setCurrentIndex(self.parts.findData(instrument.clipped))
        self.bench.setText(
            tr("Stop the simulated bench") if runs else tr("Start the simulated bench")
        )
        self.bench.setEnabled(runs or not instrument.is_busy)
        self.profiles.setEnabled(not runs and not instrument.is_busy)
        self.other.setEnabled(not runs and not instrument.is_busy)
        self.where.fields["address"].setReadOnly(runs or instrument.is_busy)

    def _show_found(self) -> None:
        instrument = self._instrument
        self.finder.setEnabled(not instrument.is_busy and instrument.server is None)
        found = instrument.found
        looking = instrument.doing == "discovery"
        words = tr("Looking around: this takes seconds.") if looking else ""
        if found is not None:
            words = tr("Raw network sockets are never found: type their address.")
            if not found:
                words = f"{tr('Nothing was found.')} {words}"
        self.found_words.setText(words)
        self.found_words.setVisible(bool(words))
        self.found.setVisible(bool(found))
        if found and [self.found.itemText(at) for at in range(self.found.count())] != list(found):
            self.found.clear()
            self.found.addItems(list(found))
            self.found.setCurrentIndex(-1)

    def _show_what_it_says(self) -> None:
        instrument = self._instrument
        says = tr("It says of itself: {identity}").format(identity=instrument.identity)
        self.says.setText(says if instrument.identity else tr("It has not been asked yet."))
        point = instrument.trial
        self.trial.setVisible(point is not None)
        if point is not None:
            shown = tr("Trial reading at {at}: R {r}, X {x}.").format(
                at=quantity(point.frequency, "Hz"),
                r=quantity(point.impedance.real, "ohm"),
                x=quantity(point.impedance.imag, "ohm"),
            )
            self.trial.setText(
                tr("No reading: {why}.").format(why=point.aside) if point.aside else shown
            )

    def _mark_wrong(self) -> None:
        for act, forms in (
            (self._instrument.plan, (self.form, self.conditions)),
            (self._instrument.fixture.corrections, (self.blanks,)),
        ):
            wrong = ""
            try:
                act()
            except BenchError as error:
                wrong = str(error.facts.get("key", ""))
            for form in forms:
                form.mark_wrong(wrong)

    def _show_ages(self) -> None:
        now, parts = time.monotonic(), []
        for name, standard in self._instrument.standards.items():
            minutes = standard.minutes(now)
            if minutes is None:
                age = tr("of unknown age")
            elif minutes < _MINUTE_OLD:
                age = tr("just now")
            else:
                age = plural(minutes, tr("1 minute ago"), tr("%n minutes ago"))
            source = f" ({Path(standard.path).name})" if standard.path else ""
            parts.append(f"{tr(_NAMES[name])}: {age}{source}")
        self.ages.setText(number(" · ".join(parts)) if parts else tr("Nothing was read yet."))
        self.forget.setEnabled(bool(parts))
        self.saver.setEnabled(bool(parts))
        for name, action in self.savings.items():
            action.setEnabled(name in self._instrument.standards)

    def _show_rule(self) -> None:
        """Hold the rule of 100 against the shown part, as it was measured."""
        part, fixture = self._session.part, self._instrument.fixture
        shown, doubts = None, ()
        words = tr("Take a sweep of a part to see the rule of 100 over frequency.")
        if part is not None and isinstance(part.capture, Sweep):
            before = self._instrument.corrected.get(part.capture.digest)
            try:
                done = fixture.correct(part.capture if before is None else before.raw)
            except BenchError as error:
                words = f"{error.message} {error.hint}"
            else:
                shown, doubts = done.rule, done.cautions
        if shown is not None:
            bad = int((~shown.valid).sum())
            words = tr("Open is 100 times above and short 100 times below this part.")
            if bad:
                words = tr(
                    "At {n} of {all} points open or short lies within 100 times of this part: "
                    "compensation may add error there."
                ).format(n=bad, all=shown.valid.size)
                doubts = doubts[1:]
            self.ratios.show_rule(shown)
        self.rule.setVisible(bool(fixture.standards))
        self.rule.setText(words)
        self.doubts.setText(" ".join(f"{sentence(one)}." for one in doubts))
        self.doubts.setVisible(bool(doubts))
        self.ratios.setVisible(shown is not None)
        self.lines.setVisible(shown is not None)

    def _choose_standard(self, name: str) -> None:
        dialog = QFileDialog(self, tr("Choose a saved reading of the fixture"))
        dialog.setNameFilters([tr("Captures") + " (*.csv *.txt *.tsv *.dat *.s1p *.s2p)"])
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(partial(self._instrument.open_standard, name))
        dialog.open()

    def _save_standard(self, name: str) -> None:
        dialog = QFileDialog(self, tr("Save the reading of the fixture"), f"{_NAMES[name]}.csv")
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setNameFilters([tr("Captures") + " (*.csv)"])
        dialog.setDefaultSuffix("csv")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(partial(self._instrument.save_standard, name))
        dialog.open()

    def _toggle_bench(self) -> None:
        if self._instrument.server is not None:
            self._instrument.stop_bench()
        else:
            self._instrument.start_bench(self.parts.currentData())

    def _choose_profile(self) -> None:
        dialog = QFileDialog(self, tr("Choose a profile"))
        dialog.setNameFilters([tr("Profiles") + " (*.toml)"])
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(lambda path: self._instrument.choose(profile=path))
        dialog.open()


_NAMES = {
    "opened": QT_TR_NOOP("open"),
    "shorted": QT_TR_NOOP("short"),
    "load": QT_TR_NOOP("load"),
}


def _menu(button: QPushButton, act: Callable[[str], None]) -> dict[str, QAction]:
    """Give a button a menu of the readings of the fixture."""
    menu = QMenu(button)
    actions = {name: menu.addAction(tr(words)) for name, words in _NAMES.items()}
    for name, action in actions.items():
        action.triggered.connect(lambda _on=False, name=name: act(name))
    button.setMenu(menu)
    return actions


def _column() -> tuple[QVBoxLayout, QWidget]:
    sheet = QWidget()
    sheet.setObjectName("sheet")
    column = QVBoxLayout(sheet)
    column.setContentsMargins(24, 14, 20, 12)
    column.setSpacing(8)
    return column, sheet


def _row(*widgets: QWidget) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(8)
    for widget in widgets:
        row.addWidget(widget)
    row.addStretch(1)
    return row
