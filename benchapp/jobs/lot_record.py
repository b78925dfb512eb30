"""Keeping the parts of a lot in the record while they are judged."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

import benchapp
from benchapp.jobs.part import JudgedPart
from benchapp.logbook import PartEntry, open_logbook
from benchapp.lot import LotForm, LotPlan
from benchapp.nominal import Nominal

__all__ = ["LotKeeper", "bytes_read", "entry_of"]

_AT_ONCE = 100


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def entry_of(
    part: JudgedPart,
    serial: str,
    *,
    lot: str | None = None,
    nominal_text: str = "",
    operator: str = "",
) -> PartEntry:
    """Give what the record keeps of a judged part: the bytes of its file too, if it has one.

    A file that was changed since it was read is not kept: its digest stands in the capture.

    Parameters
    ----------
    part : JudgedPart
    serial : str
    lot : str, optional
        Key of the lot that it belongs to.
    nominal_text : str
        Text of the file of the design.
    operator : str
    """
    return PartEntry(
        serial=serial,
        time=_now(),
        lot=lot,
        instrument=part.capture.origin.source if _is_measured_here(part) else "",
        path=part.path,
        raw=bytes_read(part.path, part.sha256),
        capture=part.capture,
        assumptions=() if part.reading is None else part.reading.assumptions,
        nominal=part.nominal,
        nominal_text=nominal_text,
        accuracy_text=_accuracy_text(part),
        fit=part.fit,
        verdict=part.verdict,
        findings=part.findings,
        software=benchapp.__version__,
        operator=operator,
    )


def _is_measured_here(part: JudgedPart) -> bool:
    """Tell whether the capture came from an instrument: what comes from a file names no other."""
    return part.capture.origin.reader.startswith("profile ")


def _accuracy_text(part: JudgedPart) -> str:
    """Give the text of the file that states the accuracy, as far as it is as it was read."""
    stated = part.accuracy
    if stated is None:
        return ""
    return bytes_read(stated.source, stated.sha256).decode("utf-8", errors="replace")


def bytes_read(path: str, sha256: str) -> bytes:
    """Give the bytes that were read from a file: none where it is gone or was changed since.

    Parameters
    ----------
    path : str
        "" for what came from no file.
    sha256 : str
        Digest of what was read.
    """
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
    """

    def __init__(self, address: str, form: LotForm, plan: LotPlan, nominal: Nominal) -> None:
        self._address, self._form, self._plan, self._nominal = address, form, plan, nominal
        source = Path(nominal.source)
        self._text = source.read_text(encoding="utf-8") if source.is_file() else ""
        self._waiting: list[PartEntry] = []
        self.kept = 0
        self.lot = ""

    def __enter__(self) -> LotKeeper:
        """Open the record and begin the lot."""
        self._logbook = open_logbook(self._address)
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

    def add(self, part: JudgedPart, serial: str) -> None:
        """Keep one part, soon."""
        self._waiting.append(
            entry_of(
                part,
                serial,
                lot=self.lot,
                nominal_text=self._text,
                operator=self._form.operator,
            )
        )
        if len(self._waiting) >= _AT_ONCE:
            self._flush()

    def _flush(self) -> None:
        if self._waiting:
            self._logbook.add_all(self._waiting)
            self.kept += len(self._waiting)
            self._waiting = []
