"""What joins the stations Lot and Records to the window: pages, captures that come, the end."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QT_TR_NOOP, QObject, Qt, QTimer
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLabel, QMenu, QWidget

from benchapp.errors import BenchError
from benchapp.gui.desk import Desk
from benchapp.gui.labels import text
from benchapp.gui.memory import Memory
from benchapp.gui.planwords import count_words, decision_words
from benchapp.gui.recorder import Recorder
from benchapp.gui.scanner import Scanner
from benchapp.gui.session import Message, Part
from benchapp.gui.studystation import StudyStation
from benchapp.gui.watch import FolderWatch
from benchapp.gui.words import plural, tr
from benchapp.gui.worker import Worker
from benchapp.instruments import PARTIAL
from benchapp.jobs import JudgedLot, JudgeLot, LotRecipe, LotsOf, ReviewSupplier, SupplierLots
from benchapp.nominal import Nominal

if TYPE_CHECKING:
    from benchapp.gui.lotpage import LotPage
    from benchapp.gui.window import MainWindow

__all__ = ["LOT_VIEWS", "LotStation", "LotStrip"]

_CHOICE_MS = 1500  # without another choice, before what came of it is kept

LOT_VIEWS = (
    ("lot", QT_TR_NOOP("Inspect"), QT_TR_NOOP("Begin a lot, measure its parts, conclude it")),
    (
        "parts",
        QT_TR_NOOP("Parts and figures"),
        QT_TR_NOOP("Every part of the lot: table, histogram, run chart, all sweeps, capability"),
    ),
    (
        "supplier",
        QT_TR_NOOP("Supplier"),
        QT_TR_NOOP("The lots of a supplier: what became of them, and what drifts"),
    ),
    (
        "study",
        QT_TR_NOOP("Gauge study"),
        QT_TR_NOOP("How much of what is measured comes from measuring: parts, persons, trials"),
    ),
)
"""Key of the page, name and purpose of each view of the station Lot."""


class LotStrip(QWidget):
    """The count of the lot in large letters, for the full screen."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        row = QHBoxLayout(self)
        row.setContentsMargins(32, 10, 32, 4)
        self.count: QLabel = text("", "title", wrap=False)
        self.next: QLabel = text("", "title", wrap=False)
        row.addWidget(self.count, 1)
        row.addWidget(self.next, 0, Qt.AlignmentFlag.AlignRight)
        self.hide()
        desk.changed.connect(self.show_count)

    def show_count(self) -> None:
        """Show how far the lot is and what is next."""
        state = self._desk.state
        if state is None:
            self.hide()
            return
        self.count.setText(f"{count_words(state)} · {decision_words(state)[1]}")
        following = tr("next: {serial}").format(serial=self._desk.next_serial)
        if state.next_position is not None:
            following += tr(", number {n} of the delivery").format(n=state.next_position)
        self.next.setText(following if self._desk.is_counting else "")


class LotStation(QObject):
    """Lot, record and watched folder of one window."""

    def __init__(self, window: MainWindow, worker: Worker, memory: Memory) -> None:
        super().__init__(window)
        self._window, self._worker, self._memory = window, worker, memory
        self.recorder = Recorder(memory, self)
        self.desk = Desk(self.recorder, memory, self)
        self.scanner = Scanner(self.desk)
        self.watch = FolderWatch(self)
        self.studies = StudyStation(window, self.recorder)
        session = window.session
        self.recorder.examination = lambda: session.examination
        for source in (self.recorder, self.desk):
            source.told.connect(session.told)
        session.arrived.connect(self._arrived)
        self._choice = QTimer(self, singleShot=True, interval=_CHOICE_MS)
        self._choice.timeout.connect(self._keep_choices)
        session.result_changed.connect(self._follow_choices)
        self.desk.opened.connect(self._use)
        self.watch.found.connect(self._come)
        self._warned = 0
        self._came: set[str] = set()
        self._anew: set[str] = set()
        self.watch.lost.connect(self._lost)

    def add_choices(self, menu: QMenu) -> None:
        """Add to the menu what can be switched on and off."""
        keep = menu.addAction(tr("Keep everything that is measured"))
        keep.setCheckable(True)
        keep.setChecked(self._memory.keeps)
        keep.toggled.connect(lambda on: self.recorder.switch(on=on))
        sound = menu.addAction(tr("Sound at a part that is not good"))
        sound.setCheckable(True)
        sound.setChecked(self._memory.sounds)
        sound.toggled.connect(lambda on: setattr(self._memory, "sounds", on))

    def may_close(self) -> bool:
        """Whether nothing is lost by closing; the first time something is, the person is told."""
        lost = self.recorder.failed
        if not lost or self._warned == lost:
            return True
        self._warned = lost
        words = plural(
            lost,
            tr("1 measurement is not kept and would be lost."),
            tr("%n measurements are not kept and would be lost."),
        )
        hint = tr("Press Retry at the foot, or save it with Ctrl+S; close again to let it go.")
        self._window.session.told.emit(Message(text=words, hint=hint))
        return False

    def close(self) -> None:
        """Finish what is on its way into the record."""
        self.watch.stop()
        self.settle()
        self.recorder.close()

    def settle(self) -> None:
        """Keep what came of choices now, without waiting for the person to rest."""
        if self._choice.isActive():
            self._choice.stop()
            self._keep_choices()

    def _follow_choices(self) -> None:
        """Keep what came of the choices about a kept part once the person rests."""
        if self._chosen_anew():
            self._choice.start()

    def _chosen_anew(self) -> list[Part]:
        """Give the kept parts whose result is by other choices than the one that was kept."""
        return [
            part
            for part in self._window.session.parts
            if part.entry is not None
            and part.settled
            and part.result is not None
            and part.choices != part.kept
        ]

    def _keep_choices(self) -> None:
        for part in self._chosen_anew():
            self.recorder.keep_choice(part)

    def _use(self, nominal: Nominal) -> None:
        session = self._window.session
        if session.nominal is not nominal and session.nominal != nominal:
            session.use_nominal(nominal, nominal.source)

    def _arrived(self, part: Part) -> None:
        """Count a capture in the lot; keep what was measured here in any case."""
        whole = all(step.name != PARTIAL for step in part.capture.history)
        if whole and self.studies.takes(part):
            return
        if self.desk.is_counting and whole:
            self.desk.take(part, anew=part.path in self._anew)
            self._anew.discard(part.path)
        elif not part.path:
            self.recorder.keep_measured(part, self._window.session.nominal)

    def _come(self, path: str) -> None:
        """Open a capture that came into the watched folder, under a new name or its old one."""
        if path in self._came:
            self._anew.add(path)
        self._came.add(path)
        self._window.session.open([path])

    def _lost(self, error: BenchError) -> None:
        words = tr("The watched folder cannot be looked into any more: {why}")
        hint = tr("Choose it again, or open the captures one by one.")
        message = Message(text=words.format(why=error.message), hint=hint, mark="doubt")
        self._window.session.told.emit(message)

    def make_form(self) -> QWidget:
        """Make the form of a new lot, the costly piece of its page."""
        from benchapp.gui.lotform import LotStart  # start-up: when it is first shown

        return LotStart(self._memory.operator)

    def make_lot(self) -> QWidget:
        """Make the page of the lot on the bench."""
        from benchapp.gui.lotpage import LotPage  # start-up: when it is first shown

        window = self._window
        page = LotPage(
            self.desk,
            window.instrument,
            self._memory.operator,
            window.pieces.take("lot form"),
        )
        page.reference = lambda: window.coil.words
        page.wants_sweep.connect(window.take_sweep)
        page.wants_capture.connect(window.open_dialog)
        page.wants_watch.connect(partial(self._toggle_watch, page))
        page.wants_parts.connect(lambda: window.go("parts"))
        page.start.wants_nominal.connect(window.open_dialog)
        page.start.wants_folder.connect(partial(self._ask_folder, page))
        page.start.begun.connect(self._begin)
        page.start.wants_history.connect(partial(self._ask_history, page))
        window.session.nominal_changed.connect(
            lambda: page.start.show_nominal(window.session.nominal)
        )
        page.start.show_nominal(window.session.nominal)
        self.watch.changed.connect(lambda: page.show_watch(self.watch.folder))
        self.desk.changed.connect(lambda: self._list_lots(page))
        self._list_lots(page)
        return page

    def make_parts(self) -> QWidget:
        """Make the page with every part of the lot and its figures."""
        from benchapp.gui.lotfigures import LotFigures  # start-up: when it is first shown

        return LotFigures(self.desk, self._worker, self.recorder)

    def make_supplier(self) -> QWidget:
        """Make the page with the lots of a supplier."""
        from benchapp.gui.supplierpage import SupplierPage  # start-up: when it is first shown

        page = SupplierPage(self.desk, self._worker, self.recorder)
        page.wants_lot.connect(self._open_lot)
        return page

    def make_study(self) -> QWidget:
        """Make the page of the gauge study."""
        return self.studies.make_page(self._memory.folder)

    def make_records(self) -> QWidget:
        """Make the page on which the record is searched."""
        from benchapp.gui.recordspage import RecordsPage  # start-up: when it is first shown

        page = RecordsPage(self.recorder, self._worker, self._window.session)
        page.wants_capture_page.connect(lambda: self._window.go("capture"))
        page.wants_lot.connect(self._open_lot)
        return page

    def _open_lot(self, key: str) -> None:
        self.desk.resume(key)
        self._window.go("lot")

    def _begin(self, form: object, plan: object) -> None:
        nominal = self._window.session.nominal
        obstacle = self._window.session.lot_obstacle
        if obstacle:
            hint = tr("Check the reference coil at Set-up (Ctrl+2) first.")
            self._window.session.told.emit(Message(text=obstacle, hint=hint))
        elif nominal is not None:
            self.desk.begin(form, plan, nominal)

    def _ask_history(self, page: LotPage, supplier: str, part: str) -> None:
        """Ask the record how the next lot of a supplier and a part is inspected."""
        if not (supplier and part and self.recorder.may_exist):
            page.start.show_history(None)
            return

        def show(found: SupplierLots | None) -> None:
            page.start.show_history(found, partial=self.recorder.server.is_away)

        job = ReviewSupplier(record=self.recorder.address, supplier=supplier, part=part)
        self._worker.submit(
            "supplier", job, lambda found: show(found[0]), lambda _none: show(None)
        )

    def _list_lots(self, page: LotPage) -> None:
        if self.desk.state is not None:
            return
        if self.recorder.may_exist:
            page.start.ask_history()
            self._worker.submit("lots", LotsOf(record=self.recorder.address), page.start.show_lots)
        else:
            page.start.show_lots(())

    def _toggle_watch(self, page: LotPage) -> None:
        if self.watch.folder:
            self.watch.stop()
            return
        dialog = self._folder_dialog(tr("Watch the folder into which the instrument saves"))
        dialog.fileSelected.connect(self.watch.start)
        dialog.open()
        page.setFocus()

    def _folder_dialog(self, title: str) -> QFileDialog:
        dialog = QFileDialog(self._window, title, self._memory.folder)
        dialog.setFileMode(QFileDialog.FileMode.Directory)
        dialog.setOption(QFileDialog.Option.ShowDirsOnly)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        return dialog

    def _ask_folder(self, page: LotPage) -> None:
        dialog = self._folder_dialog(tr("Judge every capture in a folder"))
        dialog.fileSelected.connect(lambda folder: self.judge_folder(folder, page))
        dialog.open()

    def judge_folder(self, folder: str, page: LotPage) -> None:
        """Judge every capture in a folder as one lot, which is then the lot on the bench."""
        nominal = self._window.session.nominal
        if nominal is None:
            return
        start = page.start
        form, plan = start.form(), start.plan
        job = JudgeLot(
            folder=folder,
            recipe=LotRecipe(
                nominal=nominal,
                book=self._memory.book,
                examination=self._window.session.examination,
            ),
            form=form,
            choice=start.choice() if plan is not None else None,
            quantity=form.quantity or None,
            record=self.recorder.address,
        )
        self._worker.submit("lot folder", job, self._judged, self._failed)

    def _judged(self, found: JudgedLot) -> None:
        told = list(found.remarks)
        if found.unreadable:
            names = ", ".join(Path(one.path).name for one in found.unreadable[:5])
            words = plural(
                len(found.unreadable),
                tr("1 file gave no part: {names}"),
                tr("%n files gave no part: {names}"),
            )
            told.insert(0, words.format(names=names))
        text = plural(
            len(found.parts),
            tr("1 part was judged in {seconds} s and is kept."),
            tr("%n parts were judged in {seconds} s; all are kept."),
        )
        said = text.format(seconds=f"{found.seconds:.0f}")
        mark = "doubt" if found.unreadable else "good"
        self._window.session.told.emit(Message(text=said, hint="  ".join(told), mark=mark))
        self.desk.resume(found.lot)
        self._window.go("parts")

    def _failed(self, error: BenchError) -> None:
        self._window.session.told.emit(Message(text=error.message, hint=error.hint))
