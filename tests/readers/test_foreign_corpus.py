"""Captures of an independent writer: read rightly or honestly asked about, never guessed."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.readers.foreign_corpus import STYLES, VARIANTS, corpus, foreign
from tests.readers.foreign_judge import ASKED, PARTLY, REFUSED, RIGHT, SILENT, WARNED, judge

SEEDS = (1, 2, 3)
LEAST_RIGHT = 0.97


def judged(case, folder):
    path = folder / case.title / case.name
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(case.data)
    return judge(case, path)


def test_all_76_layouts_are_there():
    assert sorted(VARIANTS) == list(range(1, 77))


def test_the_corpus_is_the_same_for_a_seed_and_another_for_the_next():
    first, again, other = (foreign(37, "damaged", seed) for seed in (1, 1, 2))
    assert first.data == again.data != other.data


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("variant", sorted(VARIANTS))
def test_no_layout_is_read_wrongly_in_silence(tmp_path, variant, style, seed):
    found = judged(foreign(variant, style, seed), tmp_path)
    honest = {RIGHT, ASKED, REFUSED, PARTLY, WARNED} if style == "damaged" else {RIGHT, ASKED}
    assert found.verdict in honest, found.why


@pytest.mark.parametrize("seed", SEEDS)
def test_97_of_100_files_are_read_rightly(tmp_path, seed):
    found = Counter(judged(case, tmp_path).verdict for case in corpus(seed))
    assert found[RIGHT] + found[ASKED] >= LEAST_RIGHT * found.total(), dict(found)


def test_the_judge_sees_a_value_that_is_off_in_silence(tmp_path):
    case = foreign(1, "clean", 1)
    rows = case.data.decode().split("\n")
    cells = rows[9].split(",")
    first = "2" if cells[1][0] == "1" else "1"
    rows[9] = ",".join([cells[0], first + cells[1][1:], cells[2]])
    path = tmp_path / case.name
    path.write_text("\n".join(rows))
    found = judge(case, path)
    assert found.verdict == SILENT
    assert "1 of" in found.why


def test_the_judge_sees_points_that_are_missing_without_a_word(tmp_path):
    case = foreign(1, "clean", 1)
    rows = case.data.decode().split("\n")
    path = tmp_path / case.name
    path.write_text("\n".join(rows[:9] + rows[10:]))
    found = judge(case, path)
    assert found.verdict == SILENT
    assert found.why == "1 points lost, 0 rows said to be set aside"
