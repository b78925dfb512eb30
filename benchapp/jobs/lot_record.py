"""What the record keeps of a part, and keeping the parts of a lot while they are judged."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

import benchapp
from benchapp.capture import Capture
from benchapp.jobs.part import ComparePart, JudgedPart
from benchapp.logbook import Basis, PartEntry, open_logbook
from benchapp.lot import LotForm, LotPlan
from benchapp.nominal import Nominal
from benchapp.readers import Answers, Reading
from benchapp.uncertainty import Accuracy

if TYPE_CHECKING:
    from benchapp.logbook.store import Logbook

__all__ = ["LotKeeper", "Place", "basis_of", "entry_of", "is_running", "text_of", "where_met"]

_AT_ONCE = 100
_RUNNING = re.compile(r"\d{1,4}")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Whose measurement it is: the part, its lot, and who measured.

    ``attempt`` is the number that it has as far as is known; the record gives the next one where
    that is taken. ``cause`` of a retest; ``unexplained`` counts those before that have none.
    """

    serial: str
    lot: str | None = None
    position: int | None = None
    attempt: int = 1
    cause: str = ""
    unexplained: int = 0
    operator: str = ""


def entry_of(
    part: JudgedPart | ComparePart,
    place: Place,
    *,
    nominal_text: str | None = None,
    accuracy_text: str | None = None,
) -> PartEntry:
    """Give what the record keeps of a part: the bytes of its file too, if it has one.

    A file that was changed since it was read is not kept: its digest stands in the capture.

    Parameters
    ----------
    part : JudgedPart or ComparePart
        The latter where it could not be fitted: it is kept as it was measured.
    place : Place
    nominal_text, accuracy_text : str, optional
        Texts of the files of the design and of the accuracy, where they are at hand; without
        them the files are read.
    """
    judged = part if isinstance(part, JudgedPart) else None
    reading, corrected, accuracy = part.reading, part.corrected, part.examination.accuracy
    as_read = part.capture if corrected is None else corrected.raw
    return PartEntry(
        serial=place.serial,
        time=_now(),
        lot=place.lot,
        position=place.position,
        attempt=place.attempt,
        retest_reason=place.cause,
        operator=place.operator,
        instrument=_instrument(part.capture),
        path=part.path,
        raw=_bytes_of(part.path, part.sha256),
        sweep=_number(as_read, reading),
        capture=part.capture,
        measured=None if as_read is part.capture else as_read,
        corrections=None if corrected is None else corrected.by,
        answers=Answers() if reading is None else reading.answers,
        assumptions=() if reading is None else reading.assumptions,
        nominal=part.nominal,
        nominal_text=text_of(part.nominal) if nominal_text is None else nominal_text,
        accuracy_text=text_of(accuracy) if accuracy_text is None else accuracy_text,
        fit=None if judged is None else judged.fit,
        verdict=None if judged is None else judged.verdict,
        findings=() if judged is None else judged.findings,
        basis=basis_of(part),
        software=benchapp.__version__,
    )


def basis_of(part: JudgedPart | ComparePart) -> Basis:
    """Give how a result came out of its capture."""
    examination = part.examination
    return Basis(
        choices=part.choices,
        accuracy=examination.accuracy,
        thresholds=examination.thresholds,
        facts=examination.facts,
        thorough=part.thorough,
    )


def is_running(serial: str) -> bool:
    """Tell whether a serial is a number that every lot counts anew."""
    return _RUNNING.fullmatch(serial) is not None


def where_met(book: Logbook, lot: str, time: str) -> str:
    """Say in words where a part was measured before.

    Parameters
    ----------
    book : Logbook
    lot : str
        Key of the lot, "" outside of one.
    time : str
    """
    code = book.lot(lot).form.date_code if lot else ""
    where = f"in lot {code or lot}" if lot else "outside a lot"
    return f"{where}, on {time[:10]} UTC"


def text_of(stated: Nominal | Accuracy | None) -> str:
    """Give the text of the file that a design or an accuracy was read from.

    Nothing where there is no file, or where it was changed since.
    """
    if stated is None:
        return ""
    return _bytes_of(stated.source, stated.sha256).decode("utf-8", errors="replace")


def _instrument(capture: Capture) -> str:
    """Name the instrument that a capture was taken from: what comes from a file names none."""
    return capture.origin.source if capture.origin.reader.startswith("profile ") else ""


def _number(capture: Capture, reading: Reading | None) -> int | None:
    """Say which capture of its file it is, from 1; None for what came from no file."""
    captures = () if reading is None else reading.captures
    return next((at for at, one in enumerate(captures, 1) if one is capture), None)


def _bytes_of(path: str, sha256: str) -> bytes:
    """Give the bytes that were read from a file: none where it is gone or was changed since."""
    if not path:
        return b""
    try:
        found = Path(path).read_bytes()
    except OSError:
        return b""
    return found if hashlib.sha256(found).hexdigest() == sha256 else b""


class LotKeeper:
    """A lot in the record, its parts kept a hundred at a time. Use as a context.

    Parameters
    ----------
    address : str
        Of the record.
    form : LotForm
    plan : LotPlan
    nominal : Nominal
    accuracy : Accuracy, optional
        What is stated about the instrument.
    """

    def __init__(
        self,
        address: str,
        form: LotForm,
        plan: LotPlan,
        nominal: Nominal,
        accuracy: Accuracy | None = None,
    ) -> None:
        self._address, self._form, self._plan, self._nominal = address, form, plan, nominal
        self._texts = text_of(nominal), text_of(accuracy)
        self._waiting: list[PartEntry] = []
        self._met: Mapping[str, Sequence[tuple[str, str]]] = {}
        self._words: dict[tuple[str, str], str] = {}
        self.kept = 0
        self.lot = ""

    def __enter__(self) -> LotKeeper:
        """Open the record and begin the lot."""
        self._logbook = open_logbook(self._address)
        self._met = self._logbook.met(self._nominal.title)
        self.lot = self._logbook.begin_lot(self._form, self._plan, (), self._nominal)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Keep what waits, also where the work was stopped, and close the record."""
        try:
            self._flush()
        finally:
            self._logbook.close()

    def seen(self, serial: str) -> str | None:
        """Say where a part of this design had the same serial before; None where none had."""
        met = () if is_running(serial) else self._met.get(serial, ())
        if not met:
            return None
        lot, time = met[-1]
        place = (lot, time[:10])
        if place not in self._words:
            self._words[place] = where_met(self._logbook, *place)
        return self._words[place]

    def add(self, part: JudgedPart, serial: str) -> None:
        """Keep one part, soon."""
        place = Place(serial=serial, lot=self.lot, operator=self._form.operator)
        nominal, accuracy = self._texts
        self._waiting.append(entry_of(part, place, nominal_text=nominal, accuracy_text=accuracy))
        if len(self._waiting) >= _AT_ONCE:
            self._flush()

    def _flush(self) -> None:
        if self._waiting:
            self._logbook.add_all(self._waiting)
            self.kept += len(self._waiting)
            self._waiting = []
