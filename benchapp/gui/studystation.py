"""What joins the gauge study to the window: its page, and the captures that come for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from benchapp.gui.recorder import Recorder
from benchapp.gui.session import Part
from benchapp.gui.study import Study

if TYPE_CHECKING:
    from benchapp.gui.studypage import StudyPage
    from benchapp.gui.window import MainWindow

__all__ = ["StudyStation"]


class StudyStation(QObject):
    """The gauge study of one window."""

    def __init__(self, window: MainWindow, recorder: Recorder) -> None:
        super().__init__(window)
        self._window = window
        self.study = Study(recorder, window.session, self)
        self.study.told.connect(window.session.told)
        self._page: StudyPage | None = None

    def make_page(self, folder: str) -> QWidget:
        """Make its page; ``folder`` is where its files are looked for first."""
        from benchapp.gui.studypage import StudyPage  # start-up: when it is first shown

        window = self._window
        self._page = StudyPage(self.study, window.session, window.instrument, folder)
        self._page.wants_sweep.connect(window.take_sweep)
        self._page.wants_capture.connect(window.open_dialog)
        return self._page

    @property
    def is_measuring(self) -> bool:
        """Whether a capture that comes is a measurement of the study: its page is shown."""
        return self._page is not None and self._page.is_measuring

    def takes(self, part: Part) -> bool:
        """Take a capture that comes as a measurement of the study; False where it is none."""
        if not self.is_measuring:
            return False
        self.study.take_part(part)
        return True
