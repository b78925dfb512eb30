"""The main window: where it stands, what comes in, what is shown."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import (
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QGuiApplication,
    QKeyEvent,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QMainWindow,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.capture import Capture
from benchapp.gui.ahead import Ahead, Pieces, page_steps
from benchapp.gui.files import Files
from benchapp.gui.guide import Guide
from benchapp.gui.guidepanel import GuidePanel
from benchapp.gui.instrument import Instrument
from benchapp.gui.jobline import JobLine
from benchapp.gui.lotstation import LOT_VIEWS, LotStation, LotStrip
from benchapp.gui.memory import Memory
from benchapp.gui.menu import Menu
from benchapp.gui.pages import Pages
from benchapp.gui.plots import Plots
from benchapp.gui.referencecoil import ReferenceCoil
from benchapp.gui.reporter import Reporter
from benchapp.gui.session import Message, Session
from benchapp.gui.stations import STATIONS
from benchapp.gui.strips import FootStrip, MessageStrip
from benchapp.gui.takestrip import TakeStrip
from benchapp.gui.tanksheet import TankSheet
from benchapp.gui.viewrow import NOMINAL_VIEWS, ViewRow
from benchapp.gui.words import tr
from benchapp.gui.worker import Worker
from benchapp.jobs import facts_of_reference
from benchapp.readers import Reading

__all__ = ["MainWindow"]


class MainWindow(QMainWindow):
    """One window for the whole job."""

    def __init__(self, session: Session, worker: Worker, memory: Memory) -> None:
        super().__init__()
        self.session, self._worker, self._memory = session, worker, memory
        self.instrument = Instrument(self)
        self.instrument.recall(memory.instrument)
        self.coil = ReferenceCoil(worker, memory, self)
        session.gate = lambda: "" if memory.practises else self.coil.obstacle
        self.lots = LotStation(self, worker, memory)
        session.desk = self.desk = self.lots.desk
        self.setWindowTitle("benchapp")
        self.setAcceptDrops(True)
        self.setMinimumSize(760, 440)
        self._key = ""
        self._shown = {"nominal": "nominal", "lot": "lot"}
        self.sheet, self.reporter = TankSheet(self), Reporter(self, worker, memory)
        self.files = Files(self, session, self.instrument, worker, memory)
        self.pages = Pages(self, worker, memory)
        pieces = {"plots": Plots, "card": self.pages.make_card, "lot form": self.lots.make_form}
        self.pieces = Pieces(pieces, self)
        self.guide = Guide(self, memory)
        self._build()
        self._connect()
        self.menu = Menu(self, memory)
        self.menu_button.setMenu(self.menu)
        self.resize(1280, 800)
        if not memory.geometry.isEmpty():
            self.restoreGeometry(memory.geometry)
        self.go("start")
        self._refresh()
        self.ahead = Ahead(page_steps(self, worker), lambda: not self._worker.is_busy, self)

    def showEvent(self, event: QShowEvent) -> None:
        """Make the other pages ahead, once the window is there."""
        super().showEvent(event)
        self.ahead.start()

    def _build(self) -> None:
        self.line = JobLine([station.name for station in STATIONS])
        self.menu_button = QToolButton()
        self.menu_button.setText(tr("Menu"))
        self.menu_button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.line.add_at_end(self.menu_button)
        self.message, self.foot = MessageStrip(), FootStrip()
        self.strip = TakeStrip(self.instrument)
        self.views, self.lot_views = ViewRow(NOMINAL_VIEWS), ViewRow(LOT_VIEWS)
        self.rows = {"nominal": self.views, "lot": self.lot_views}
        self.count = LotStrip(self.desk)
        self.guide_panel = GuidePanel(self.guide)
        self.stack = QStackedWidget()
        self.stack.setObjectName("page")
        centre = QWidget()
        column = QVBoxLayout(centre)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for widget, stretch in (
            (self.line, 0),
            (self.message, 0),
            (self.views, 0),
            (self.lot_views, 0),
            (self.count, 0),
            (self.stack, 1),
            (self.guide_panel, 0),
            (self.strip, 0),
            (self.foot, 0),
        ):
            column.addWidget(widget, stretch)
        self.setCentralWidget(centre)

    def _connect(self) -> None:
        session = self.session
        self.line.chosen.connect(lambda at: self.go_station(STATIONS[at].key))
        for row in self.rows.values():
            row.chosen.connect(self.go)
        for source in (self.desk, self.lots.recorder):
            source.changed.connect(self._refresh)
        self.foot.cancelled.connect(session.cancel)
        self.foot.retried.connect(self.lots.recorder.retry)
        self._worker.busy.connect(lambda busy: self.foot.show_busy(busy=busy))
        self._worker.progressed.connect(self.foot.show_progress)
        for signal in (session.nominal_changed, session.parts_changed, session.result_changed):
            signal.connect(self._refresh)
        session.nominal_changed.connect(self.pages.offer_design)
        session.told.connect(self.message.tell)
        instrument = self.instrument
        instrument.told.connect(self.message.tell)
        instrument.changed.connect(self._refresh)
        instrument.grew.connect(self._refresh_stations)
        instrument.taken.connect(self._take_in)
        instrument.checked.connect(lambda capture: self.coil.check(capture, instrument.accuracy))
        self.coil.told.connect(self.message.tell)
        self.coil.changed.connect(self._refresh_stations)
        self.strip.asked.connect(self.take_sweep)
        session.opened.connect(self._arrive)
        session.asked.connect(self._ask)

    @property
    def key(self) -> str:
        """Key of the page that is shown."""
        return self._key

    def undo(self) -> None:
        """Undo the last choice about the shown part; in a lot, take the last part back."""
        watched = self._key == "verdict" and self.desk.is_open and not self.session.can_undo
        if self._key == "study":
            self.lots.studies.study.undo()
        elif watched or self._key in self.lot_views.buttons:
            self.desk.undo()
        else:
            self.session.undo()

    def page(self, key: str) -> QWidget:
        """Give a page, made when it is first wanted."""
        return self.pages.give(key)

    def open_dialog(self) -> None:
        """Let the person choose files to open."""
        self.files.open_dialog()

    def go_station(self, key: str) -> None:
        """Show a station, the Nominal one in the view that was shown there last."""
        away = key in self.rows and self._key not in self.rows[key].buttons
        self.go(self._shown[key] if away else key)

    def go_view(self, number: int) -> None:
        """Show a view of this station; of Nominal where the station has none."""
        row = self.lot_views if self._key in self.lot_views.buttons else self.views
        keys = list(row.buttons)
        if number <= len(keys):
            self.go(keys[number - 1])

    def go(self, key: str) -> None:
        """Show a page: a station's, one of the views of a station, or ``start`` or ``ask``."""
        self._key = station = key
        for name, row in self.rows.items():
            row.show_chosen(key)
            row.setVisible(key in row.buttons)
            if key in row.buttons:
                station = name
                self._shown[name] = key
        absent = {"nominal": self.session.nominal, "capture": self.session.part}.get(key, key)
        live = key == "capture" and self.instrument.is_sweeping
        page = self.page("live" if live else f"no_{key}" if absent is None else key)
        arrives = page is not self.stack.currentWidget()
        self.stack.setCurrentWidget(page)
        keys = [station.key for station in STATIONS]
        self.line.show_chosen(keys.index(station) if station in keys else -1)
        if arrives:  # a page that is shown already keeps the field that is being typed in
            page.setFocus()

    def _ask(self, reading: Reading) -> None:
        """Show a file beside what was read of it, with what it does not say."""
        self.page("ask").ask(reading)
        self.go("ask")

    def _arrive(self, path: str) -> None:
        """Show what was opened, unless the person watches the verdicts."""
        self._memory.remember(path)
        session = self.session
        if not self._stays and not session.is_reading:
            self.go("capture" if session.part is not None else "nominal")

    def _refresh(self) -> None:
        """Bring job line, foot and the page's presence up to date."""
        session = self.session
        self._refresh_stations()
        paths = [session.nominal_path, "" if session.part is None else session.part.path]
        recorder = self.lots.recorder
        self.foot.show_sources(
            [path for path in paths if path], recorder.words, lost=recorder.failed > 0
        )
        if self._key == "capture" and session.part is None and session.nominal is None:
            self.go("start")
        elif self._key in ("nominal", "capture"):
            self.go(self._key)

    def _refresh_stations(self) -> None:
        for button, station in zip(self.line.buttons, STATIONS, strict=True):
            button.set_state(station.state(self.session, self.instrument))

    def take_sweep(self) -> None:
        """Measure the part that is connected and show its points as they come."""
        obstacle = self.session.lot_obstacle if self.desk.is_counting else ""
        if obstacle:
            self.session.told.emit(Message(text=obstacle))
            return
        self.instrument.take()
        if self.instrument.is_sweeping and not self._stays:
            self.go("capture")

    @property
    def _stays(self) -> bool:
        """Whether the person watches verdicts or a lot: captures then come without a change."""
        in_lot = self._key in self.lot_views.buttons and self.desk.is_open
        return self._key == "verdict" or in_lot or self.lots.studies.is_measuring

    def _take_in(self, capture: Capture) -> None:
        """Show what was measured, unless the person watches the verdicts."""
        known = self.instrument.facts.completed(facts_of_reference(self.coil.gate))
        corrected = self.instrument.corrected.get(capture.digest)
        self.session.add_capture(capture, self.instrument.accuracy, known, corrected)
        if not self._stays:
            self.go("capture")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take what nothing else wants: the serial of the next part, Space to measure it."""
        if self.lots.scanner.takes(event):
            return
        if event.key() == Qt.Key.Key_Space and self.instrument.address:
            if not event.isAutoRepeat():
                self.take_sweep()
            return
        super().keyPressEvent(event)

    def escape(self) -> None:
        """Stop the instrument, or leave the full screen where it is at rest."""
        if self.instrument.is_busy:
            self.instrument.stop()
        else:
            self._leave_full_screen()

    def copy_picture(self) -> None:
        """Copy the shown page as a picture."""
        QGuiApplication.clipboard().setPixmap(self.stack.grab())
        self.session.told.emit(Message(text=tr("The page is on the clipboard."), mark="good"))

    def toggle_full_screen(self) -> None:
        """Fill the screen, or leave it; the verdict then stands alone, to be seen from afar."""
        full = not self.isFullScreen()
        alone = full and self._key == "verdict"
        for widget in (self.line, self.foot):
            widget.setVisible(not alone)
        self.guide_panel.setVisible(self.guide.is_on and not alone)
        self.count.setVisible(full and self._key == "verdict" and self.desk.state is not None)
        if full:
            self.showFullScreen()
        else:
            self.showNormal()

    def _leave_full_screen(self) -> None:
        if self.isFullScreen():
            self.toggle_full_screen()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open the files that were dropped."""
        paths = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
        event.acceptProposedAction()
        self.session.open(paths)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Keep the window's place, and end the work."""
        if not self.lots.may_close():
            event.ignore()
            return
        self.ahead.stop()
        self._memory.geometry = self.saveGeometry()
        self._memory.instrument = self.instrument.kept()
        self.guide.close()
        self._memory.flush()
        self.instrument.close()
        self.lots.close()
        self._worker.close()
        super().closeEvent(event)
