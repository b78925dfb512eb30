"""Every position that is drawn stands on paper once, in its order, with a box to tick."""

from __future__ import annotations

import re

from benchapp.gui.picklist import pick_list
from benchapp.jobs import ReportChoices, not_cancelled, silent

ABOUT = (("part", "GA-12 C"), ("supplier", "Coil works"), ("order", "4711"))
TIME = "2026-05-04T10:20:30Z"
POSITIONS = tuple(range(3, 500, 38))


def test_every_position_stands_there_once_with_its_box(tmp_path):
    wish = pick_list(POSITIONS, ABOUT)
    found = wish.job(ReportChoices(path=str(tmp_path / "list.html"), time=TIME)).found
    words = " ".join(found.lines)
    assert [int(one) for one in re.findall(r"\[   \] (\d+)", words)] == list(POSITIONS)
    assert found.given == ABOUT
    assert wish.name == "Parts to draw at random GA-12 C Coil works 4711"


def test_the_sheet_is_written(tmp_path):
    path = tmp_path / "list.html"
    pick_list(POSITIONS, ABOUT).job(ReportChoices(path=str(path), time=TIME))(
        silent, not_cancelled
    )
    words = path.read_text(encoding="utf-8")
    assert "Parts to draw at random" in words
    assert "Coil works" in words
    assert all(f"] {place}" in words for place in POSITIONS)
