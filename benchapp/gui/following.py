"""How the next lot of a supplier is inspected: what the record proposes, and what is done."""

from __future__ import annotations

from dataclasses import dataclass, replace

from benchapp.gui.words import plural, tr
from benchapp.jobs import SupplierLots

__all__ = ["Following"]

_STOPPED = "discontinued"


@dataclass(frozen=True, slots=True, kw_only=True)
class Following:
    """What the switching rules say by the earlier lots of one supplier and part.

    ``names`` are supplier and part as typed, ``found`` their lots, None where there is none;
    while it is ``asked`` the answer is still to come. It is ``partial`` where the server of the
    record was away, so that only the lots kept here were counted.
    """

    names: tuple[str, ...] = ("", "")
    found: SupplierLots | None = None
    asked: bool = False
    partial: bool = False

    def asking(self, *names: str) -> Following:
        """Give the same while the record is asked about a supplier and a part."""
        return replace(self, names=names, asked=True)

    def known(self, found: SupplierLots | None, *, partial: bool = False) -> Following:
        """Give the same with what the record said."""
        return replace(self, found=found, asked=False, partial=partial)

    @property
    def proposed(self) -> str:
        """The severity that the rules propose; after a stop the strictest there is."""
        if self.found is None:
            return "normal"
        severity = self.found.following.severity
        return "tightened" if severity == _STOPPED else severity

    @property
    def is_stopped(self) -> bool:
        """Whether the rules allow no further sampling."""
        return self.found is not None and self.found.following.severity == _STOPPED

    def deviates(self, severity: str) -> bool:
        """Tell whether a severity is not what the rules propose, so that a reason is due."""
        return self.is_stopped or severity != self.proposed

    @property
    def words(self) -> str:
        """Say what is proposed and why, and where lots may be missing."""
        away = tr("The server of the record is away: lots that only it holds are not counted.")
        return f"{self._said} {away}" if self.partial and not self.asked else self._said

    @property
    def _said(self) -> str:
        supplier, part = self.names
        if not (supplier and part):
            return tr("State supplier and part: the record then says how strictly to inspect.")
        if self.asked:
            return tr("The record is asked how strictly to inspect.")
        if self.found is None:
            words = tr("No lot of {supplier} and this part is in the record: normal inspection.")
            return words.format(supplier=supplier)
        state, count = self.found.following, len(self.found.lots)
        lots = plural(count, tr("1 lot in the record"), tr("%n lots in the record"))
        if self.is_stopped:
            words = tr(
                "The rules end sampling here: {why} ({lots}). Measure every part, or say why a "
                "sample is taken all the same."
            )
            return words.format(why=state.why, lots=lots)
        words = tr("The record proposes {severity} inspection: {why} ({lots}).")
        said = words.format(severity=tr(state.severity), why=state.why, lots=lots)
        if state.reduced_possible:
            said += " " + tr("Reduced is possible, if the responsible person agrees.")
        return said

    def reason(self, severity: str, typed: str) -> str:
        """Give what the record keeps as the reason of a severity."""
        rule = "" if self.found is None else self.found.following.why
        if not self.deviates(severity):
            return rule
        asked = self.found.following.severity if self.found is not None else "normal"
        against = f"{asked}: {rule}" if rule else asked
        return f"{typed.strip()} (the rules ask for {against})".strip()
