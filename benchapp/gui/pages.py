"""The pages of the window, each made when it is first wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QGraphicsView, QLineEdit, QWidget

from benchapp.gui.besidepage import BesidePage
from benchapp.gui.capturepage import CapturePage
from benchapp.gui.emptypage import no_capture, no_nominal
from benchapp.gui.memory import Memory
from benchapp.gui.nominalpage import NominalPage
from benchapp.gui.session import Message
from benchapp.gui.startpage import StartPage
from benchapp.gui.tanksheet import texts_from
from benchapp.gui.tankview import TankView
from benchapp.gui.verdictpage import VerdictPage
from benchapp.gui.words import tr
from benchapp.gui.worker import Worker

if TYPE_CHECKING:
    from benchapp.gui.proposal import Proposal
    from benchapp.gui.window import MainWindow

__all__ = ["Pages"]


class Pages(QObject):
    """Makes the pages of one window and joins them to it.

    A page ``key`` is made by ``_make_key`` here, or by ``make_key`` of the station Lot.
    """

    def __init__(self, window: MainWindow, worker: Worker, memory: Memory) -> None:
        super().__init__(window)
        self._window, self._worker, self._memory = window, worker, memory
        self._session, self._files = window.session, window.files
        self._made: dict[str, QWidget] = {}

    def give(self, key: str) -> QWidget:
        """Give a page, made when it is first wanted."""
        if key not in self._made:
            maker = getattr(self, f"_make_{key}", None)
            maker = maker or getattr(self._window.lots, f"make_{key}")
            page = maker()
            for child in page.findChildren(QLineEdit) + page.findChildren(QGraphicsView):
                child.setAcceptDrops(False)  # a file dropped here is for the window
            self._window.reporter.serve(page)
            self._made[key] = page
            self._window.stack.addWidget(page)
        return self._made[key]

    def made(self, key: str) -> QWidget | None:
        """Give a page if it was wanted already."""
        return self._made.get(key)

    def _make_start(self) -> QWidget:
        page = StartPage(self._memory)
        page.wants_paths.connect(self._session.open)
        page.wants_capture.connect(self._files.open_dialog)
        page.wants_nominal.connect(self._files.open_dialog)
        guide = self._window.guide
        page.wants_guide.connect(guide.begin)
        page.wants_bench.connect(self._start_bench)
        guide.changed.connect(lambda: page.show_guide(is_begun=guide.is_begun))
        page.show_guide(is_begun=guide.is_begun)
        return page

    def _start_bench(self) -> None:
        self._window.go("setup")
        self._window.instrument.start_bench("tank")

    def _make_nominal(self) -> QWidget:
        page = NominalPage(self._session)
        page.wants_file.connect(self._files.open_dialog)
        page.wants_place.connect(self._files.save_dialog)
        return page

    def _make_tank(self) -> QWidget:
        page = TankView(self._session, self._window.sheet, self._worker)
        page.proposed.connect(self._take_proposal)
        return page

    def _make_stress(self) -> QWidget:
        from benchapp.gui.stressview import StressView  # start-up: when it is first shown

        return StressView(self._window.sheet)

    def _make_marking(self) -> QWidget:
        from benchapp.gui.markingview import MarkingView  # start-up: when it is first shown

        page = MarkingView(self._window.sheet)
        page.used.connect(lambda: self._window.go("tank"))
        page.proposed.connect(self._take_proposal)
        return page

    def _make_coil(self) -> QWidget:
        from benchapp.gui.coilview import CoilView  # start-up: when it is first shown

        page = CoilView(self._window.sheet, self._worker)
        page.used.connect(lambda: self._window.go("tank"))
        page.proposed.connect(self._take_proposal)
        return page

    def _make_setup(self) -> QWidget:
        from benchapp.gui.setuppage import SetupPage  # start-up: when it is first shown

        return SetupPage(self._session, self._window.instrument, self._window.pieces.take("card"))

    def make_card(self) -> QWidget:
        """Make the card of the reference coil, the costly piece of Set-up."""
        from benchapp.gui.referencecard import ReferenceCard  # start-up: when it is first shown

        return ReferenceCard(self._window.coil, self._window.instrument)

    def _make_live(self) -> QWidget:
        from benchapp.gui.livepage import LivePage  # start-up: when it is first shown

        return LivePage(self._window.instrument)

    def _make_capture(self) -> QWidget:
        page = CapturePage(self._session, self._memory, self._window.pieces.take("plots"))
        page.wants_file.connect(self._files.open_dialog)
        return page

    def _make_verdict(self) -> QWidget:
        page = VerdictPage(self._session)
        page.wants_accuracy.connect(self._files.accuracy_dialog)
        page.wants_capture.connect(self._files.open_dialog)
        page.wants_nominal.connect(self._files.open_dialog)
        return page

    def _make_thresholds(self) -> QWidget:
        from benchapp.gui.thresholdpage import ThresholdPage  # start-up: when it is first shown

        page = ThresholdPage(self._session, self._memory.thresholds)
        page.left.connect(lambda: self._window.go("verdict"))
        return page

    def _make_no_nominal(self) -> QWidget:
        return no_nominal(self._files.open_dialog)

    def _make_no_capture(self) -> QWidget:
        return no_capture(self._files.open_dialog)

    def _make_ask(self) -> QWidget:
        return BesidePage(self._session)

    def offer_design(self) -> None:
        """Let the calculators start from the design."""
        if self._session.nominal is not None:
            self._window.sheet.offer(texts_from(self._session.nominal))

    def _take_proposal(self, proposal: Proposal) -> None:
        """Put the limits that a calculator proposes into the design, and show it."""
        self.give("nominal").take(proposal)
        self._window.go("nominal")
        words = tr("{names} are in the design now. Undo takes that back.")
        if len(proposal.names) == 1:
            words = tr("{names} is in the design now. Undo takes that back.")
        names = ", ".join(proposal.names)
        self._session.told.emit(Message(text=words.format(names=names), mark="good"))
