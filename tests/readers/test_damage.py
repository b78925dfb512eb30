"""Files damaged by chance never do more than be refused, and never take long."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.errors import BenchError
from benchapp.readers import Reading, understand
from tests.readers.corpus import cases
from tests.readers.mutation import mutated
from tests.readers.writing import written

BASES = [case for case in cases() if case.variant != 68]


def outcome(path) -> Reading | BenchError:
    try:
        return understand(path)
    except BenchError as refusal:
        return refusal


def survives(path) -> None:
    start = time.perf_counter()
    found = outcome(path)
    assert time.perf_counter() - start < 2.0
    if isinstance(found, Reading):
        assert found.captures
    else:
        assert found.hint
        assert "\n" not in found.message


@pytest.mark.parametrize("seed", range(240))
def test_a_mutated_file_is_read_or_refused(tmp_path, seed):
    rng = np.random.default_rng([7, seed])
    case = BASES[rng.integers(len(BASES))]
    survives(written(tmp_path, case.name, mutated(case.data, rng)))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(st.binary(min_size=1, max_size=600), st.sampled_from(["a.csv", "a.s1p", "a.s2p", "a.ts"]))
def test_any_bytes_are_read_or_refused(tmp_path, data, name):
    survives(written(tmp_path, name, data))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(
    st.lists(
        st.lists(
            st.sampled_from(
                ["1", "-2.5", "1,5", "OL", "", "f (Hz)", "R", "X", "x", "1e9", "Sweep 2"]
            ),
            max_size=5,
        ),
        max_size=12,
    ),
    st.sampled_from([",", ";", "\t", " "]),
)
def test_any_cells_are_read_or_refused(tmp_path, rows, delimiter):
    text = "\n".join(delimiter.join(row) for row in rows) + "\n"
    survives(written(tmp_path, "a.csv", text))
