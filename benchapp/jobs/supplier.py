"""The lots of one supplier and part in the record: how the next is inspected, what drifts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from benchapp.errors import RecordError
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.logbook import LotRow, open_logbook
from benchapp.lot import LotState, Trend, key_of, next_severity, trends
from benchapp.nominal import Nominal
from benchapp.sampling import State
from benchapp.units import Estimate

__all__ = ["ReviewSupplier", "SupplierLot", "SupplierLots"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SupplierLot:
    """One lot of the record as far as it is inspected."""

    row: LotRow
    state: LotState

    @property
    def name(self) -> str:
        """What to call it: its order and date code, or its key where neither is stated."""
        form = self.state.form
        return " ".join(text for text in (form.order, form.date_code) if text) or self.row.key


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SupplierLots:
    """The lots of one supplier and part, oldest first.

    ``following`` says how the next one is inspected. ``trends`` follow each quantity of the newest
    design over the lots.
    """

    supplier: str
    part: str
    lots: tuple[SupplierLot, ...]
    following: State
    trends: tuple[Trend, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewSupplier:
    """Look through the lots of a record, supplier by supplier and part by part.

    ``supplier`` and ``part`` None take all of them; capitals do not count. ``limit_number`` and
    ``reduced_agreed`` are those of `benchapp.sampling.switch`.

    Raises
    ------
    RecordError
        When the record cannot be opened, or holds no such lot.
    """

    record: str
    supplier: str | None = None
    part: str | None = None
    limit_number: int | None = None
    reduced_agreed: bool = False

    def __call__(self, progress: Progress, cancelled: Cancelled) -> tuple[SupplierLots, ...]:
        """Look through them; give the groups by name."""
        stop_if(cancelled)
        progress("listing the lots", 0.0)
        groups: dict[tuple[str, str], list[SupplierLot]] = {}
        with open_logbook(self.record, create=False) as book:
            rows = [row for row in reversed(book.lots()) if self._wants(row)]
            for done, row in enumerate(rows):
                stop_if(cancelled)
                progress(f"lot {done + 1} of {len(rows)}", done / len(rows))
                key = (row.form.supplier.casefold(), row.form.part.casefold())
                lot = SupplierLot(row=row, state=book.lot_state(row.key))
                groups.setdefault(key, []).append(lot)
        if not groups:
            raise RecordError(
                f"{self.record}: must hold a lot of this supplier and part (got none).",
                hint="'benchapp logbook list --lots' lists what is there.",
            )
        return tuple(self._group(groups[key]) for key in sorted(groups))

    def _wants(self, row: LotRow) -> bool:
        wanted = ((self.supplier, row.form.supplier), (self.part, row.form.part))
        return all(want is None or want.casefold() == stated.casefold() for want, stated in wanted)

    def _group(self, lots: Sequence[SupplierLot]) -> SupplierLots:
        newest = lots[-1].state.form
        design = next((lot.row.nominal for lot in reversed(lots) if lot.row.nominal), None)
        return SupplierLots(
            supplier=newest.supplier,
            part=newest.part,
            lots=tuple(lots),
            following=next_severity(
                [lot.state for lot in lots],
                limit_number=self.limit_number,
                reduced_agreed=self.reduced_agreed,
            ),
            trends=() if design is None else _trends(lots, design),
        )


def _trends(lots: Sequence[SupplierLot], design: Nominal) -> tuple[Trend, ...]:
    return trends([(lot.name, _values(lot.state, design)) for lot in lots], design)


def _values(state: LotState, design: Nominal) -> Mapping[str, Sequence[Estimate]]:
    """Give the last estimate of each part by the name of the limit."""
    names = [key_of(limit) for limit in design.limits]
    return MappingProxyType(
        {
            name: [
                record.estimates[name]
                for record in state.latest.values()
                if name in record.estimates
            ]
            for name in names
        }
    )
