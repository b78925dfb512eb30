"""The published gauge study, as coils that a person measures in the window."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
from PySide6.QtWidgets import QFileDialog

from benchapp.jobs import AnalyseSheet, not_cancelled, silent
from benchapp.lot import StudyPlan, StudySheet, draw_sheet
from tests.coil.truth import values as sections
from tests.gui.hand import press

__all__ = ["AIAG", "NAMES", "VALUES", "accept", "analysed", "by_hand", "coil_words", "filled"]

AIAG = sections("gauge_aiag.toml")
VALUES = np.array(AIAG["values"]).reshape(10, 3, 3)
NAMES = tuple(str(number) for number in range(1, 11))
_STEP_MH = 0.01


def coil_words(part: str, person: str, trial: str) -> str:
    """Give what the published study measures there, as a coil of 1.62 mH with steps of 10 uH.

    Percentages and classes do not depend on zero and unit of the values.
    """
    value = VALUES[NAMES.index(part), "ABC".index(person), int(trial) - 1]
    return f"{1.62 + _STEP_MH * value:.4f} mH"


def by_hand(path: str, person: str, label: str) -> dict[str, str]:
    """Look the label up in the file of the study, as whoever hands the parts out does."""
    with Path(path).open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["value"] == ""]
    return next(row for row in rows if (row["person"], row["blind"]) == (person, label))


def accept(qtbot, page, button, path):
    """Press a button that asks for a file, and choose that file."""
    press(qtbot, button)
    dialog = page.findChildren(QFileDialog)[-1]
    dialog.selectFile(str(path))
    dialog.fileSelected.emit(str(path))
    dialog.close()
    page.window().activateWindow()
    qtbot.waitActive(page.window())


def filled(parts=10, persons="ABC", trials=3, tolerance=97.2e-6, **stated) -> StudySheet:
    """Give the published study, or its first parts and trials, as a complete sheet."""
    study = StudyPlan(
        parts=NAMES[:parts],
        persons=tuple(persons),
        trials=trials,
        quantity="L",
        unit="H",
        tolerance=tolerance,
        **stated,
    )
    sheet = draw_sheet(study, np.random.default_rng(7))
    while (act := sheet.next) is not None:
        words = coil_words(act.part, act.person, act.trial)
        sheet = sheet.take(float(words.split()[0]) * 1e-3)
    return sheet


def analysed(**stated):
    """Work `filled` out."""
    return AnalyseSheet(sheet=filled(**stated))(silent, not_cancelled)
