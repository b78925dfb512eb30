"""The positions that a sample is drawn from, on paper: whoever draws the parts ticks them off."""

from __future__ import annotations

from collections.abc import Sequence

from benchapp.gui.reporter import Wish
from benchapp.gui.words import tr
from benchapp.gui.worker import Job
from benchapp.jobs import ReportChoices, WriteCalculation

__all__ = ["pick_list"]

_BOX = "[   ]"
_ABREAST = 5


def pick_list(positions: Sequence[int], about: tuple[tuple[str, str], ...]) -> Wish:
    """Wish for a sheet with every position and a box to tick.

    Parameters
    ----------
    positions : sequence of int
        In the order in which they are taken.
    about : tuple of (str, str)
        What is known of the lot: names and words.
    """
    title = tr("Parts to draw at random")
    rows = [positions[at : at + _ABREAST] for at in range(0, len(positions), _ABREAST)]
    lines = tuple(
        f"{1 + at * _ABREAST}\t" + "     ".join(f"{_BOX} {place}" for place in row)
        for at, row in enumerate(rows)
    )
    name = " ".join([title, *(words for _, words in about[:3])])

    def job(choices: ReportChoices) -> Job:
        from benchapp.report.design import Calculation  # start-up: reports only when needed

        found = Calculation(title=title, lines=lines, given=about)
        return WriteCalculation(found=found, choices=choices)

    return Wish(name=name, job=job)
