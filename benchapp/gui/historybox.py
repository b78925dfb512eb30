"""The history of a design, and who changes it why."""

from __future__ import annotations

from datetime import date

from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from benchapp.gui.labels import heading, muted, text
from benchapp.gui.words import tr
from benchapp.nominal import Nominal, Revision, differences

__all__ = ["HistoryBox"]

_SHOWN = 6


class HistoryBox(QWidget):
    """Earlier revisions, the last one first, and two blanks that go into the next entry."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(5)
        column.addWidget(heading(tr("History")))
        self.entries = text("")
        column.addWidget(self.entries)
        form = QHBoxLayout()
        form.setSpacing(10)
        self.by, self.why = QLineEdit(), QLineEdit()
        for field, words, tip, stretch in (
            (self.by, tr("changed by"), tr("Your name, for the next entry of the history"), 1),
            (self.why, tr("reason"), tr("Why it changes; what changed is added to it"), 2),
        ):
            field.setAccessibleName(words)
            field.setToolTip(tip)
            field.setPlaceholderText(tr("not stated"))
            form.addWidget(muted(words, wrap=False))
            form.addWidget(field, stretch)
        column.addLayout(form)
        self.note = text("", "doubt")
        column.addWidget(self.note)

    def show_history(self, nominal: Nominal, before: Nominal | None) -> None:
        """Show the entries of a design, and say where it changed but its revision did not."""
        lines = [
            tr("{date}  rev {revision}  {by}: {change}").format(
                date=entry.date,
                revision=entry.revision,
                by=entry.by or tr("no name"),
                change=entry.change,
            )
            for entry in reversed(nominal.history[-_SHOWN:])
        ]
        self.entries.setText("\n".join(lines) or tr("No earlier revision is recorded."))
        stays = before is not None and before.revision == nominal.revision
        changed = stays and bool(differences(before, nominal))
        self.note.setVisible(changed)
        words = tr("The design changed, but its revision is still {revision}.")
        self.note.setText(words.format(revision=nominal.revision or tr("not stated")))

    def next_entry(self, before: Nominal | None, after: Nominal, today: date) -> Revision:
        """Make the entry for what changed from one design to the other."""
        changed = differences(before, after) if before is not None else ()
        what = "; ".join(changed) if before is not None else tr("first saved")
        why = self.why.text().strip()
        return Revision(
            revision=after.revision,
            date=today.isoformat(),
            by=self.by.text().strip(),
            change=f"{why} ({what})" if why and what else why or what,
        )
