"""What stood on the bench before a guided run, and how it comes back after it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchapp.gui.fixturereadings import Standard
from benchapp.gui.guidesteps import STATED, state_delivery
from benchapp.gui.instrument import Instrument
from benchapp.gui.memory import Memory
from benchapp.gui.session import Part
from benchapp.nominal import Nominal

if TYPE_CHECKING:
    from benchapp.gui.window import MainWindow

__all__ = ["Before", "untie"]


def untie(parts: Iterable[Part]) -> dict[Part, int]:
    """Let open parts belong to no record, where another one is used from now on.

    Gives the number that each had in the record of before.
    """
    tied = {part: part.entry for part in parts if part.entry is not None}
    for part in tied:
        part.entry = None
    return tied


@dataclass(frozen=True, slots=True, kw_only=True)
class _SetUp:
    """How the instrument was set up; ``server`` is its simulated bench, if it had one."""

    kept: dict[str, str]
    texts: Mapping[str, str]
    standards: Mapping[str, Standard]
    server: Any

    @classmethod
    def of(cls, instrument: Instrument) -> _SetUp:
        return cls(
            kept=instrument.kept(),
            texts=dict(instrument.texts),
            standards=dict(instrument.standards),
            server=instrument.server,
        )

    def bring_back(self, instrument: Instrument) -> None:
        instrument.texts.clear()
        instrument.texts.update(self.texts)
        if self.server is None and instrument.server is not None:
            instrument.stop_bench(then=lambda: self._talk_again(instrument))
        else:
            instrument.changed.emit()

    def _talk_again(self, instrument: Instrument) -> None:
        instrument.recall(self.kept)
        instrument.standards.update(self.standards)
        instrument.changed.emit()


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """The work of a person, put aside for a while: lot, design, instrument, ties to the record."""

    lot: str
    operator: str
    delivery: Mapping[str, str]
    nominal: Nominal | None
    nominal_path: str
    instrument: _SetUp
    entries: Mapping[Part, int]

    @classmethod
    def of(cls, window: MainWindow, memory: Memory) -> Before:
        """Put aside what stands in the window; its open parts are tied to no record meanwhile."""
        session, page = window.session, window.pages.made("lot")
        window.lots.settle()
        return cls(
            lot=window.desk.key,
            operator=memory.operator,
            delivery={} if page is None else dict(page.start.texts),
            nominal=session.nominal,
            nominal_path=session.nominal_path,
            instrument=_SetUp.of(window.instrument),
            entries=untie(session.parts),
        )

    def bring_back(self, window: MainWindow, memory: Memory) -> None:
        """Bring design, instrument and ties back; the lot comes out of its record."""
        memory.operator = self.operator
        page = window.pages.made("lot")
        if page is not None:
            usual = {"operator": self.operator}
            texts = {key: {**usual, **self.delivery}.get(key, "") for key in STATED}
            state_delivery(page.start, texts)
        for part, entry in self.entries.items():
            part.entry = entry
        if window.session.nominal is not self.nominal:
            window.session.use_nominal(self.nominal, self.nominal_path)
        self.instrument.bring_back(window.instrument)
