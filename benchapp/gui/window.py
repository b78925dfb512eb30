"""The main window: job line, pages, messages, shortcuts, files in and out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import (
    QAction,
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QApplication,
    QFileDialog,
    QGraphicsView,
    QLineEdit,
    QMainWindow,
    QMenu,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.capture import Capture
from benchapp.errors import BenchError
from benchapp.gui import theme
from benchapp.gui.ahead import Ahead, Pieces, page_steps
from benchapp.gui.besidepage import BesidePage
from benchapp.gui.capturepage import CapturePage
from benchapp.gui.emptypage import no_capture, no_nominal
from benchapp.gui.instrument import Instrument
from benchapp.gui.jobline import JobLine
from benchapp.gui.lotstation import LOT_VIEWS, LotStation, LotStrip
from benchapp.gui.memory import Memory
from benchapp.gui.nominalpage import NominalPage
from benchapp.gui.plots import Plots
from benchapp.gui.proposal import Proposal
from benchapp.gui.referencecoil import ReferenceCoil
from benchapp.gui.reporter import Reporter
from benchapp.gui.session import Message, Session
from benchapp.gui.startpage import StartPage, sample_paths
from benchapp.gui.stations import STATIONS
from benchapp.gui.strips import FootStrip, MessageStrip
from benchapp.gui.takestrip import TakeStrip
from benchapp.gui.tanksheet import TankSheet, texts_from
from benchapp.gui.tankview import TankView
from benchapp.gui.verdictpage import VerdictPage
from benchapp.gui.viewrow import NOMINAL_VIEWS, ViewRow
from benchapp.gui.words import tr
from benchapp.gui.worker import Worker
from benchapp.jobs import SaveCaptures, facts_of_reference
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
        session.gate = lambda: self.coil.obstacle
        self.lots = LotStation(self, worker, memory)
        session.desk = self.desk = self.lots.desk
        self.setWindowTitle("benchapp")
        self.setAcceptDrops(True)
        self.setMinimumSize(760, 440)
        self._pages: dict[str, QWidget] = {}
        pieces = {"plots": Plots, "card": self._make_card, "lot form": self.lots.make_form}
        self.pieces = Pieces(pieces, self)
        self._key = ""
        self._shown = {"nominal": "nominal", "lot": "lot"}
        self.sheet, self.reporter = TankSheet(self), Reporter(self, worker, memory)
        self._build()
        self._connect()
        self._add_actions()
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
        self._worker.busy.connect(lambda busy: self.foot.show_busy(busy=busy))
        self._worker.progressed.connect(self.foot.show_progress)
        for signal in (session.nominal_changed, session.parts_changed, session.result_changed):
            signal.connect(self._refresh)
        session.nominal_changed.connect(self._offer_design)
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

    def _add_actions(self) -> None:
        session = self.session
        self._menu = QMenu(self)
        self.menu_button.setMenu(self._menu)
        self._act(tr("Open capture or design…"), self.open_dialog, "Ctrl+O")
        self._recent = self._menu.addMenu(tr("Open again"))
        self._recent.aboutToShow.connect(self._fill_recent)
        if len(sample_paths()) == 2:
            self._act(tr("Open the sample"), lambda: session.open(sample_paths()))
        self._act(tr("Accuracy of the instrument…"), self.accuracy_dialog)
        self._act(tr("Facts beside the captures…"), self.facts_dialog)
        self._act(tr("Thresholds of the checks…"), lambda: self.go("thresholds"))
        self._act(tr("Save this capture…"), self.save_capture_dialog, "Ctrl+S")
        self._act(tr("Close this capture"), session.close_part, "Ctrl+W")
        self._menu.addSeparator()
        self._act(tr("Undo"), self.undo, "Ctrl+Z")
        self._act(tr("Redo choice"), session.redo, "Ctrl+Shift+Z", "Ctrl+Y")
        self._act(tr("Fit again"), session.refit, "F5")
        self._act(tr("Next capture"), session.next_part, "Ctrl+PgDown")
        self._act(
            tr("Previous capture"),
            lambda: session.choose_part(session.position - 1),
            "Ctrl+PgUp",
        )
        self._act(tr("Copy the page as a picture"), self._copy_picture, "Ctrl+Shift+C")
        self._menu.addSeparator()
        self._add_themes()
        self.lots.add_choices(self._menu)
        self._act(tr("Full screen"), self.toggle_full_screen, "F11")
        self._menu.addSeparator()
        self._act(tr("Quit"), self.close, "Ctrl+Q")
        for number, station in enumerate(STATIONS, start=1):
            self._act(
                tr("Go to {name}").format(name=tr(station.name)),
                lambda station=station: self.go_station(station.key),
                f"Ctrl+{number}",
                listed=False,
            )
        for number in range(1, len(NOMINAL_VIEWS) + 1):
            self._act(
                tr("Go to view {number}").format(number=number),
                partial(self.go_view, number),
                f"Alt+{number}",
                listed=False,
            )
        self._act(tr("Stop, or leave full screen"), self._escape, "Esc", listed=False)
        self._act(tr("Take sweep"), self.take_sweep, "F8")
        self._act(tr("Output off"), self.instrument.switch_off, "F9")
        self._act(tr("Menu"), self.menu_button.showMenu, "F10", listed=False)

    def _act(
        self, words: str, act: Callable[[], object], *keys: str, listed: bool = True
    ) -> QAction:
        action = QAction(words, self)
        action.setShortcuts([QKeySequence(key) for key in keys])
        action.triggered.connect(lambda _on=False: act())
        self.addAction(action)
        if listed:
            self._menu.addAction(action)
        return action

    def _add_themes(self) -> None:
        colours = self._menu.addMenu(tr("Colours"))
        choices = (("system", tr("as the desktop")), ("light", tr("light")), ("dark", tr("dark")))
        self.themes: dict[str, QAction] = {}
        for choice, words in choices:
            action = colours.addAction(words)
            action.setCheckable(True)
            action.triggered.connect(lambda _on=False, choice=choice: self.wear(choice))
            self.themes[choice] = action
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._follow_desktop)
        self._check_theme()

    def undo(self) -> None:
        """Undo the last choice about the shown part; at Lot, take the last part back."""
        if self._key in self.lot_views.buttons:
            self.desk.undo()
        else:
            self.session.undo()

    def _follow_desktop(self) -> None:
        if self._memory.theme == "system":
            self.wear("system")

    def _check_theme(self) -> None:
        for choice, action in self.themes.items():
            action.setChecked(choice == self._memory.theme)

    def wear(self, choice: str) -> None:
        """Wear the colours ``light``, ``dark`` or ``system``, now and at the next start."""
        self._memory.theme = choice
        theme.apply(QApplication.instance(), theme.chosen(choice))
        self._check_theme()

    def page(self, key: str) -> QWidget:
        """Give a page, made when it is first wanted."""
        if key not in self._pages:
            maker = getattr(self, f"_make_{key}", None) or getattr(self.lots, f"make_{key}")
            page = maker()
            for child in page.findChildren(QLineEdit) + page.findChildren(QGraphicsView):
                child.setAcceptDrops(False)  # a file dropped here is for the window
            self.reporter.serve(page)
            self._pages[key] = page
            self.stack.addWidget(page)
        return self._pages[key]

    def _make_start(self) -> QWidget:
        page = StartPage(self._memory)
        page.wants_paths.connect(self.session.open)
        page.wants_capture.connect(self.open_dialog)
        page.wants_nominal.connect(self.open_dialog)
        return page

    def _make_nominal(self) -> QWidget:
        page = NominalPage(self.session)
        page.wants_file.connect(self.open_dialog)
        page.wants_place.connect(self.save_dialog)
        return page

    def _make_tank(self) -> QWidget:
        page = TankView(self.session, self.sheet, self._worker)
        page.proposed.connect(self._take_proposal)
        return page

    def _make_stress(self) -> QWidget:
        from benchapp.gui.stressview import StressView  # start-up: when it is first shown

        return StressView(self.sheet)

    def _make_marking(self) -> QWidget:
        from benchapp.gui.markingview import MarkingView  # start-up: when it is first shown

        page = MarkingView(self.sheet)
        page.used.connect(lambda: self.go("tank"))
        page.proposed.connect(self._take_proposal)
        return page

    def _make_coil(self) -> QWidget:
        from benchapp.gui.coilview import CoilView  # start-up: when it is first shown

        page = CoilView(self.sheet, self._worker)
        page.used.connect(lambda: self.go("tank"))
        page.proposed.connect(self._take_proposal)
        return page

    def _make_setup(self) -> QWidget:
        from benchapp.gui.setuppage import SetupPage  # start-up: when it is first shown

        return SetupPage(self.session, self.instrument, self.pieces.take("card"))

    def _make_card(self) -> QWidget:
        from benchapp.gui.referencecard import ReferenceCard  # start-up: when it is first shown

        return ReferenceCard(self.coil, self.instrument)

    def _make_live(self) -> QWidget:
        from benchapp.gui.livepage import LivePage  # start-up: when it is first shown

        return LivePage(self.instrument)

    def _make_capture(self) -> QWidget:
        page = CapturePage(self.session, self._memory, self.pieces.take("plots"))
        page.wants_file.connect(self.open_dialog)
        return page

    def _make_verdict(self) -> QWidget:
        page = VerdictPage(self.session)
        page.wants_accuracy.connect(self.accuracy_dialog)
        page.wants_capture.connect(self.open_dialog)
        page.wants_nominal.connect(self.open_dialog)
        return page

    def _make_thresholds(self) -> QWidget:
        from benchapp.gui.thresholdpage import ThresholdPage  # start-up: when it is first shown

        page = ThresholdPage(self.session, self._memory.thresholds)
        page.left.connect(lambda: self.go("verdict"))
        return page

    def _make_no_nominal(self) -> QWidget:
        return no_nominal(self.open_dialog)

    def _make_no_capture(self) -> QWidget:
        return no_capture(self.open_dialog)

    def _make_ask(self) -> QWidget:
        return BesidePage(self.session)

    def _offer_design(self) -> None:
        """Let the calculators start from the design."""
        if self.session.nominal is not None:
            self.sheet.offer(texts_from(self.session.nominal))

    def _take_proposal(self, proposal: Proposal) -> None:
        """Put the limits that a calculator proposes into the design, and show it."""
        self.page("nominal").take(proposal)
        self.go("nominal")
        words = tr("{names} are in the design now. Undo takes that back.")
        if len(proposal.names) == 1:
            words = tr("{names} is in the design now. Undo takes that back.")
        names = ", ".join(proposal.names)
        self.session.told.emit(Message(text=words.format(names=names), mark="good"))

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
        self.foot.show_sources([path for path in paths if path], self.lots.recorder.words)
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
        return self._key == "verdict" or in_lot

    def _take_in(self, capture: Capture) -> None:
        """Show what was measured, unless the person watches the verdicts."""
        known = self.instrument.facts.completed(facts_of_reference(self.coil.gate))
        self.session.add_capture(capture, self.instrument.accuracy, known)
        if not self._stays:
            self.go("capture")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Space, where nothing else wants it, takes the next part."""
        if event.key() == Qt.Key.Key_Space and self.instrument.address:
            if not event.isAutoRepeat():
                self.take_sweep()
            return
        super().keyPressEvent(event)

    def _escape(self) -> None:
        if self.instrument.is_busy:
            self.instrument.stop()
        else:
            self._leave_full_screen()

    def save_capture_dialog(self) -> None:
        """Let the person choose where to save the shown capture."""
        if self.session.part is None:
            return
        dialog = QFileDialog(self, tr("Save the capture"), self._memory.folder)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setNameFilters([tr("Captures") + " (*.csv)"])
        dialog.setDefaultSuffix("csv")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(self.save_capture)
        dialog.open()

    def save_capture(self, path: str) -> None:
        """Save the shown capture, and the raw one it was corrected from."""
        capture = self.session.part.capture
        raw = self.instrument.raw.get(capture.digest)
        captures = (capture,) if raw is None else (capture, raw)
        job = SaveCaptures(path=path, captures=captures, overwrite=True)
        self._worker.submit("save", job, self._saved, self._not_saved)

    def _saved(self, path: str) -> None:
        words = tr("Saved as {name}.").format(name=Path(path).name)
        self.session.told.emit(Message(text=words, mark="good"))

    def _not_saved(self, error: BenchError) -> None:
        self.session.told.emit(Message(text=error.message, hint=error.hint))

    def open_dialog(self) -> None:
        """Let the person choose files to open, without holding up the window."""
        dialog = QFileDialog(self, tr("Open captures or a nominal design"), self._memory.folder)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
        dialog.setNameFilters(
            [
                tr("Captures and designs") + " (*.csv *.txt *.tsv *.dat *.s1p *.s2p *.toml)",
                tr("Nominal designs") + " (*.toml)",
                tr("All files") + " (*)",
            ]
        )
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.filesSelected.connect(self.session.open)
        dialog.open()

    def accuracy_dialog(self) -> None:
        """Let the person choose a file or a profile that states the instrument's errors."""
        title = tr("Open what is stated about the instrument")
        self._settings_dialog(title, self.session.open_accuracy)

    def facts_dialog(self) -> None:
        """Let the person choose a file of what is known beside the captures."""
        self._settings_dialog(tr("Open facts beside the captures"), self.session.open_facts)

    def _settings_dialog(self, title: str, take: Callable[[str], None]) -> None:
        dialog = QFileDialog(self, title, self._memory.folder)
        dialog.setNameFilters([tr("Settings") + " (*.toml)"])
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(take)
        dialog.open()

    def save_dialog(self, words: str) -> None:
        """Let the person choose where to save the text of a design."""
        dialog = QFileDialog(self, tr("Save the nominal design"), self._memory.folder)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setNameFilters([tr("Nominal designs") + " (*.toml)"])
        dialog.setDefaultSuffix("toml")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(lambda path: self.save(path, words))
        dialog.open()

    def save(self, path: str, words: str) -> None:
        """Save the text of a design and go on with that file."""
        try:
            Path(path).write_text(words, encoding="utf-8")
        except OSError as error:
            self.session.told.emit(
                Message(
                    text=tr("{path} cannot be written: {why}.").format(
                        path=path, why=error.strerror
                    ),
                    hint=tr("Choose another folder; the design is still open here."),
                )
            )
            return
        self._memory.remember(path)
        self.session.open_nominal(path)

    def _fill_recent(self) -> None:
        self._recent.clear()
        for path in self._memory.recent:
            action = self._recent.addAction(Path(path).name)
            action.setToolTip(path)
            action.triggered.connect(lambda _on=False, path=path: self.session.open([path]))
        if self._recent.isEmpty():
            self._recent.addAction(tr("nothing yet")).setEnabled(False)

    def _copy_picture(self) -> None:
        QGuiApplication.clipboard().setPixmap(self.stack.grab())
        self.session.told.emit(Message(text=tr("The page is on the clipboard."), mark="good"))

    def toggle_full_screen(self) -> None:
        """Fill the screen, or leave it; the verdict then stands alone, to be seen from afar."""
        full = not self.isFullScreen()
        for widget in (self.line, self.foot):
            widget.setVisible(not (full and self._key == "verdict"))
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
        self.ahead.stop()
        self._memory.geometry = self.saveGeometry()
        self._memory.instrument = self.instrument.kept()
        self._memory.flush()
        self.instrument.close()
        self.lots.close()
        self._worker.close()
        super().closeEvent(event)
