"""Styles drawn by chance are read rightly; damage never gives a wrong value in silence."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Sweep
from tests.readers.judging import DOUBTFUL, read_as_proposed, verdict
from tests.readers.styles import damaged_file, ratio_file, record_file, sweep_file
from tests.readers.writing import written


@pytest.mark.parametrize(
    "make", [sweep_file, record_file, ratio_file], ids=lambda make: make.__name__
)
@pytest.mark.parametrize("seed", range(60))
def test_a_style_drawn_by_chance_is_read_rightly(tmp_path, make, seed):
    case = make(np.random.default_rng([seed, 4]))
    found, why = verdict(case, written(tmp_path, case.name, case.data))
    assert found in {"right", "asked"}, why


def wrong_points(captures, truth) -> int:
    wrong = 0
    for capture in captures:
        assert isinstance(capture, Sweep)
        for f, z in zip(capture.frequency, capture.impedance, strict=True):
            at = int(np.argmin(np.abs(truth.axis - f)))
            off = abs(truth.axis[at] - f) > 1e-6 * f
            wrong += off or abs(z - truth.values[at]) > truth.rtol * abs(truth.values[at])
    return wrong


@pytest.mark.parametrize("seed", range(120))
def test_damage_costs_rows_but_never_gives_a_wrong_value_in_silence(tmp_path, seed):
    case = damaged_file(np.random.default_rng([seed, 5]))
    reading, answers = read_as_proposed(written(tmp_path, case.name, case.data))
    (truth,) = case.truth
    warned = (
        answers.given
        or reading.questions
        or any(made.confidence < DOUBTFUL for made in reading.assumptions)
    )
    assert wrong_points(reading.captures, truth) == 0 or warned
    kept = sum(capture.frequency.size for capture in reading.captures)
    assert kept >= truth.axis.size - 6
