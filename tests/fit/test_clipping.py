"""Where a converter ends, as stated or as seen, and which samples that concerns."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Transient
from benchapp.fit.clipping import Rails, rails


def capture(voltage, **facts):
    v = np.asarray(voltage, dtype=float)
    return Transient(time=np.arange(float(v.size)), voltage=v, **facts)


def test_stated_limits_count_only_where_they_are_reached():
    found = rails(capture([0, 0.5, 1.0, 0.2], limits_volt=(-1.0, 1.0)))
    assert (found.low, found.high, found.stated) == (None, 1.0, True)


def test_limit_is_reached_within_a_quarter_of_a_step():
    found = rails(capture([0, 0.999, 0.3], limits_volt=(-1.0, 1.0), step_volt=0.01))
    assert found.high == pytest.approx(0.999)
    assert rails(capture([0, 0.99, 0.3], limits_volt=(-1.0, 1.0), step_volt=0.01)).high is None


def test_unstated_end_needs_three_equal_samples_in_a_row():
    assert rails(capture([0, 1, 1, 1, 0, -1, -1, 0])).high == 1
    assert rails(capture([0, 1, 1, 1, 0, -1, -1, 0])).low is None
    assert rails(capture([0, 1, 1, 0, 1, 0])).high is None


def test_samples_at_an_end_are_marked():
    ends = Rails(low=-1.0, high=1.0, stated=True)
    assert ends.reached(np.array([-1.0, -0.9, 0.0, 1.0, 1.2])).tolist() == [
        True, False, False, True, True,
    ]  # fmt: skip


def test_expected_voltage_decides_which_samples_the_end_bends():
    ends = Rails(low=None, high=1.0, stated=True)
    assert ends.beyond(np.array([0.0, 0.97, 0.99, 1.5]), 0.01).tolist() == [
        False, False, True, True,
    ]  # fmt: skip


def test_found_end_is_dropped_where_the_expected_voltage_does_not_pass_it():
    v = np.array([0.0, 1.0, 1.0, 1.0, 0.0])
    ends = rails(capture(v))
    assert ends.confirmed(np.array([0, 0.99, 1.01, 0.99, 0]), v, 0.01).high is None
    assert ends.confirmed(np.array([0, 1.2, 1.5, 1.2, 0]), v, 0.01).high == 1.0


def test_stated_end_needs_no_confirmation():
    ends = Rails(low=-1.0, high=1.0, stated=True)
    assert ends.confirmed(np.zeros(3), np.zeros(3), 0.01) is ends


def test_both_found_ends_are_judged_apart():
    v = np.array([0.0, 1.0, 1.0, 1.0, 0.0, -1.0, -1.0, -1.0])
    ends = rails(capture(v)).confirmed(np.array([0, 1.3, 1.5, 1.3, 0, -1, -1.01, -1]), v, 0.01)
    assert (ends.low, ends.high) == (None, 1.0)
