"""Finding measurements by what a person remembers of them: their lot, their supplier, a part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.logbook import Choices, PartRow, Search, open_logbook
from benchapp.lot import LotForm

__all__ = ["FindParts", "FoundParts"]

_THERE = Choices(create=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundParts:
    """Measurements, and what was stated about the lots of the record, by the key of the lot.

    ``refits`` says how many newer results stand beside a measurement, by its key.
    """

    rows: tuple[PartRow, ...]
    lots: Mapping[str, LotForm]
    refits: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class FindParts:
    """List stored measurements, also by their lot and its supplier.

    ``lot`` is the beginning of its order, its date code or its key, ``supplier`` that of a name;
    capitals do not count. Empty leaves both open.

    Raises
    ------
    RecordError
        When the record cannot be opened or read.
    """

    record: str
    wanted: Search = field(default_factory=Search)
    lot: str = ""
    supplier: str = ""

    def __call__(self, progress: Progress, cancelled: Cancelled) -> FoundParts:
        """Look them up."""
        stop_if(cancelled)
        progress("searching the record", 0.0)
        with open_logbook(self.record, choices=_THERE) as book:
            forms = {row.key: row.form for row in book.lots()}
            stop_if(cancelled)
            return FoundParts(
                rows=book.search(self._narrowed(forms)),
                lots=MappingProxyType(forms),
                refits=MappingProxyType(book.refit_counts()),
            )

    def _narrowed(self, forms: Mapping[str, LotForm]) -> Search:
        if not (self.lot or self.supplier):
            return self.wanted
        keys = tuple(key for key, form in forms.items() if self._is_of(key, form))
        return replace(self.wanted, lots=keys)

    def _is_of(self, key: str, form: LotForm) -> bool:
        lot = any(_begins(text, self.lot) for text in (form.order, form.date_code, key))
        return lot and _begins(form.supplier, self.supplier)


def _begins(text: str, start: str) -> bool:
    return text.casefold().startswith(start.casefold())
