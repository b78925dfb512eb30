"""The pictures in the documents are those that the one command makes, for every page."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from PySide6.QtGui import QImage

from benchapp.gui.stations import STATIONS
from benchapp.gui.theme import THEMES as DRESSES
from tests import pictures

SIZES = (*pictures.SIZES, pictures.SMALL)


def test_every_station_has_its_pictures():
    assert {station.key for station in STATIONS} <= set(pictures.PAGES)
    assert set(pictures.THEMES) == set(DRESSES)


@pytest.mark.parametrize("name", pictures.PAGES)
def test_the_pictures_of_a_page_are_kept_in_the_documents(name):
    for theme, (width, height) in itertools.product(pictures.THEMES, SIZES):
        path = pictures.FOLDER / f"{name}-{theme}-{width}x{height}.png"
        picture = QImage(str(path))
        assert (picture.width(), picture.height()) == (width, height), path.name
        ground = DRESSES[theme].color("paper").rgb()
        assert picture.pixel(3, 3) == ground or picture.pixel(width - 3, 3) == ground, path.name


def test_no_other_picture_lies_among_them():
    made = {
        f"{name}-{theme}-{width}x{height}.png"
        for name in pictures.PAGES
        for theme in pictures.THEMES
        for width, height in SIZES
    }
    kept = {path.name for path in pictures.FOLDER.glob("*.png")}
    assert kept == made


def test_the_small_screen_is_scaled_as_it_is_in_use(monkeypatch):
    """1366 x 768 at 125 %: the window has 1093 x 614 pixels of its own, drawn larger."""
    assert set(pictures.sizes().values()) == set(pictures.SIZES)
    monkeypatch.setenv("QT_SCALE_FACTOR", pictures.SCALE)
    assert pictures.sizes() == {"1366x768": (1093, 614)}


def test_a_picture_of_few_colours_loses_nothing():
    plain = QImage(8, 8, QImage.Format.Format_RGB32)
    for x, y in itertools.product(range(8), repeat=2):
        plain.setPixel(x, y, 0xFF000000 | (x * 30 << 16) | (y * 30 << 8) | 77)
    less = pictures.small(plain)
    assert less.format() == QImage.Format.Format_Indexed8
    assert all(
        less.pixel(x, y) == plain.pixel(x, y) for x, y in itertools.product(range(8), repeat=2)
    )


def test_a_picture_of_many_colours_changes_little():
    random = np.random.default_rng(4)
    plain = QImage(64, 64, QImage.Format.Format_RGB32)
    for x, y in itertools.product(range(64), repeat=2):
        grey = int(np.clip(x * 3 + random.normal(0, 2), 0, 255))
        plain.setPixel(x, y, 0xFF000000 | grey << 16 | grey << 8 | grey)
    less = pictures.small(plain)
    away = [
        abs((less.pixel(x, y) & 0xFF) - (plain.pixel(x, y) & 0xFF))
        for x, y in itertools.product(range(64), repeat=2)
    ]
    assert max(away) <= 6
