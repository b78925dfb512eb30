"""Stored times are shown by the clock of this place, with its zone; days begin at its midnight."""

from __future__ import annotations

import pytest

from benchapp.gui.times import clock_words, day_bounds, full_time_words, time_words

SUMMER, WINTER = "2026-05-04T22:20:30.125Z", "2026-01-04T22:20:30Z"


def test_a_time_is_that_of_this_place_in_summer_and_in_winter(clock_of):
    clock_of("Europe/Berlin")
    assert time_words(SUMMER) == "2026-05-05 00:20 CEST"
    assert time_words(WINTER) == "2026-01-04 23:20 CET"
    assert clock_words(WINTER) == "23:20 CET"
    full = "2026-05-05 00:20:30 CEST = 2026-05-04 22:20:30 UTC"
    assert full_time_words(SUMMER) == full


@pytest.mark.parametrize(
    ("zone", "words"),
    [
        ("UTC", "2026-05-04 22:20 UTC"),
        ("Asia/Kathmandu", "2026-05-05 04:05 UTC+05:45"),
        ("America/Sao_Paulo", "2026-05-04 19:20 UTC-03:00"),
        ("Pacific/Auckland", "2026-05-05 10:20 NZST"),
    ],
)
def test_a_zone_without_a_name_in_letters_is_told_by_its_distance(clock_of, zone, words):
    clock_of(zone)
    assert time_words(SUMMER) == words


@pytest.mark.parametrize("stamp", ["", "yesterday", "2026-13-01"])
def test_what_is_no_time_stays_as_it_is(stamp):
    assert time_words(stamp) == clock_words(stamp) == full_time_words(stamp) == stamp


def test_a_day_lasts_from_midnight_to_midnight_here(clock_of):
    clock_of("Europe/Berlin")
    assert day_bounds("2026-05-04") == ("2026-05-03T22:00:00", "2026-05-04T22:00:00")
    assert day_bounds("2026-03-29") == ("2026-03-28T23:00:00", "2026-03-29T22:00:00")


def test_what_is_no_day_is_refused():
    with pytest.raises(ValueError, match="month"):
        day_bounds("2026-13-01")
