"""The legend stays on one line: what has no room is left out whole, never cut."""

from __future__ import annotations

import pytest

from benchapp.gui.legend import Legend, Sign

SIGNS = (
    Sign("dot", "ink", "measured"),
    Sign("line", "fit", "fitted"),
    Sign("band", "band", "allowed"),
    Sign("ring", "doubt", "set aside"),
    Sign("diamond", "fit", "half power"),
    Sign("plus", "ink", "imaginary residual"),
)


@pytest.fixture
def legend(qtbot):
    made = Legend()
    qtbot.addWidget(made)
    made.show_signs(SIGNS)
    return made


@pytest.mark.parametrize("width", [60, 150, 250, 350, 450, 900])
def test_what_is_shown_has_room(legend, width):
    legend.resize(width, 20)
    shown = legend.fitting()
    assert shown == SIGNS[: len(shown)]
    image = legend.grab().toImage()
    last = max((x for x in range(image.width()) if _inked(image, x)), default=0)
    assert last < width - 1


def _inked(image, x) -> bool:
    return any(image.pixel(x, y) != image.pixel(0, 0) for y in range(image.height()))


def test_a_wide_legend_shows_every_sign(legend):
    legend.resize(1200, 20)
    assert legend.fitting() == SIGNS


def test_what_is_left_out_is_still_told_on_hover_and_to_readers(legend):
    legend.resize(100, 20)
    assert legend.toolTip().splitlines() == [sign.words for sign in SIGNS]
    assert "imaginary residual" in legend.accessibleName()


def test_every_shape_is_drawn_differently(qtbot):
    pictures = []
    for sign in SIGNS:
        legend = Legend()
        qtbot.addWidget(legend)
        legend.show_signs([Sign(sign.shape, "ink", "")])
        legend.resize(200, 20)
        pictures.append(legend.grab().toImage())
    for at, one in enumerate(pictures):
        assert all(one != other for other in pictures[at + 1 :])
