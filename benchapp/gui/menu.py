"""The menu of the window and the keys of its acts."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QApplication, QMenu

from benchapp.gui import theme
from benchapp.gui.memory import Memory
from benchapp.gui.startpage import sample_paths
from benchapp.gui.stations import STATIONS
from benchapp.gui.viewrow import NOMINAL_VIEWS
from benchapp.gui.words import tr

if TYPE_CHECKING:
    from benchapp.gui.window import MainWindow

__all__ = ["Menu"]


class Menu(QMenu):
    """Every act of the window with its key; what is always in sight has a key only."""

    def __init__(self, window: MainWindow, memory: Memory) -> None:
        super().__init__(window)
        self._window, self._memory = window, memory
        self._add_files()
        self.addSeparator()
        self._add_choices()
        self.addSeparator()
        self._add_looks()
        self.addSeparator()
        self._act(tr("Quit"), window.close, "Ctrl+Q")
        self._add_ways()
        self._act(tr("Take sweep"), window.take_sweep, "F8")
        self._act(tr("Output off"), window.instrument.switch_off, "F9")
        self._act(tr("Menu"), window.menu_button.showMenu, "F10", listed=False)

    def _act(
        self, words: str, act: Callable[[], object], *keys: str, listed: bool = True
    ) -> QAction:
        action = QAction(words, self._window)
        action.setShortcuts([QKeySequence(key) for key in keys])
        action.triggered.connect(lambda _on=False: act())
        self._window.addAction(action)
        if listed:
            self.addAction(action)
        return action

    def _add_files(self) -> None:
        window, session, files = self._window, self._window.session, self._window.files
        self._act(tr("Open capture or design…"), files.open_dialog, "Ctrl+O")
        self.recent = self.addMenu(tr("Open again"))
        self.recent.aboutToShow.connect(lambda: files.fill_recent(self.recent))
        if len(sample_paths()) == 2:
            self._act(tr("Open the sample"), lambda: session.open(sample_paths()))
            self._act(tr("Guided first run"), window.guide.begin)
        self._act(tr("Accuracy of the instrument…"), files.accuracy_dialog)
        self._act(tr("Facts beside the captures…"), files.facts_dialog)
        self._act(tr("Thresholds of the checks…"), lambda: window.go("thresholds"))
        self._act(tr("Save this capture…"), files.save_capture_dialog, "Ctrl+S")
        self._act(tr("Close this capture"), session.close_part, "Ctrl+W")

    def _add_choices(self) -> None:
        session = self._window.session
        self._act(tr("Undo"), self._window.undo, "Ctrl+Z")
        self._act(tr("Redo choice"), session.redo, "Ctrl+Shift+Z", "Ctrl+Y")
        self._act(tr("Fit again"), session.refit, "F5")
        self._act(tr("Next capture"), session.next_part, "Ctrl+PgDown")
        self._act(
            tr("Previous capture"),
            lambda: session.choose_part(session.position - 1),
            "Ctrl+PgUp",
        )

    def _add_looks(self) -> None:
        window = self._window
        self._act(tr("Copy the page as a picture"), window.copy_picture, "Ctrl+Shift+C")
        self._add_themes()
        window.lots.add_choices(self)
        self._act(tr("Full screen"), window.toggle_full_screen, "F11")

    def _add_ways(self) -> None:
        window = self._window
        for number, station in enumerate(STATIONS, start=1):
            self._act(
                tr("Go to {name}").format(name=tr(station.name)),
                partial(window.go_station, station.key),
                f"Ctrl+{number}",
                listed=False,
            )
        for number in range(1, len(NOMINAL_VIEWS) + 1):
            self._act(
                tr("Go to view {number}").format(number=number),
                partial(window.go_view, number),
                f"Alt+{number}",
                listed=False,
            )
        self._act(tr("Stop, or leave full screen"), window.escape, "Esc", listed=False)

    def _add_themes(self) -> None:
        colours = self.addMenu(tr("Colours"))
        choices = (("system", tr("as the desktop")), ("light", tr("light")), ("dark", tr("dark")))
        self.themes: dict[str, QAction] = {}
        for choice, words in choices:
            action = colours.addAction(words)
            action.setCheckable(True)
            action.triggered.connect(lambda _on=False, choice=choice: self.wear(choice))
            self.themes[choice] = action
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._follow_desktop)
        self._check_theme()

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
