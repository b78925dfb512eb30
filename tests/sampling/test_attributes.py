"""Plans by attributes against the whole tables of MIL-STD-105E in tests/truth/sampling."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.errors import UsageError
from benchapp.sampling import (
    AQLS,
    LETTERS,
    LEVELS,
    SEVERITIES,
    code_letter,
    letter_plan,
    single_plan,
)

FOLDER = Path(__file__).parent.parent / "truth" / "sampling"


def _rows(name):
    text = (FOLDER / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@pytest.mark.parametrize("severity", SEVERITIES)
def test_lot_2_and_4_all_416_cells_of_the_table_are_reproduced(severity):
    rows = _rows(f"single_{severity}.csv")
    assert len(rows) == 416
    wrong = []
    for row in rows:
        plan = letter_plan(row["code_letter"], float(row["AQL"]), severity)
        found = (plan.n, plan.accept, plan.reject, plan.arrow)
        if found != (int(row["n_used"]), int(row["Ac"]), int(row["Re"]), row["arrow"]):
            wrong.append((row, found))
    assert wrong == []


def test_the_tables_list_every_letter_and_aql_of_the_program():
    rows = _rows("single_normal.csv")
    assert "".join(dict.fromkeys(row["code_letter"] for row in rows)) == LETTERS
    assert tuple(dict.fromkeys(float(row["AQL"]) for row in rows)) == AQLS


@pytest.mark.parametrize("row", _rows("code_letters.csv"), ids=lambda row: row["lot_size"])
@pytest.mark.parametrize("level", LEVELS)
def test_lot_1_code_letters_at_both_ends_of_every_row(row, level):
    low, _, high = row["lot_size"].partition("-")
    for size in (int(low), int(high) if high else 10_000_000):
        assert code_letter(size, level) == row[level]


@pytest.mark.parametrize(
    ("letter", "aql", "n", "accept", "reject"),
    [
        ("L", 1.5, 200, 7, 8),
        ("J", 1.0, 80, 2, 3),
        ("K", 1.0, 125, 3, 4),
        ("A", 1.0, 13, 0, 1),
        ("J", 0.25, 50, 0, 1),
        ("R", 1.0, 1250, 21, 22),
    ],
)
def test_lot_3_spot_values(letter, aql, n, accept, reject):
    plan = letter_plan(letter, aql)
    assert (plan.n, plan.accept, plan.reject) == (n, accept, reject)


@pytest.mark.parametrize(
    ("size", "letter", "n"),
    [
        (2, "A", 2),
        (15, "B", 3),
        (25, "C", 5),
        (50, "D", 8),
        (90, "E", 13),
        (150, "F", 20),
        (280, "G", 32),
        (500, "H", 50),
        (1200, "J", 80),
        (3200, "K", 125),
        (10000, "L", 200),
    ],
)
def test_level_ii_letters_and_sizes_as_practice_has_them(size, letter, n):
    """Level II letters and their sample sizes as listed for incoming inspection."""
    assert code_letter(size) == letter
    direct = next(
        plan for plan in (letter_plan(letter, aql) for aql in AQLS) if plan.used_letter == letter
    )
    assert direct.n == n


def test_a_lot_gets_the_plan_of_its_letter():
    plan = single_plan(5000, 1.5)
    assert (plan.letter, plan.n, plan.accept, plan.reject) == ("L", 200, 7, 8)
    assert plan.everything is False
    assert plan.arrow == ""


@pytest.mark.parametrize(("size", "aql"), [(13, 1.0), (10, 0.65), (50, 0.010)])
def test_a_sample_as_large_as_the_lot_is_the_whole_lot(size, aql):
    plan = single_plan(size, aql)
    assert plan.everything is True
    assert plan.n == size
    assert plan.accept == 0


def test_arrows_lead_to_another_letter():
    down, up = letter_plan("A", 1.0), letter_plan("J", 0.25)
    assert (down.used_letter, down.arrow) == ("E", "down")
    assert (up.used_letter, up.arrow) == ("H", "up")


def test_reduced_inspection_has_a_gap():
    plan = letter_plan("K", 1.5, "reduced")
    assert plan.reject > plan.accept + 1


@settings(deadline=None)
@given(st.integers(2, 600_000), st.sampled_from(LEVELS), st.sampled_from(AQLS))
def test_every_lot_has_a_plan_that_hangs_together(size, level, aql):
    for severity in SEVERITIES:
        plan = single_plan(size, aql, level, severity)
        assert 1 <= plan.n <= size
        assert plan.reject > plan.accept >= 0
        assert plan.letter == code_letter(size, level)


@settings(deadline=None)
@given(st.sampled_from(LETTERS), st.sampled_from(AQLS))
def test_tightened_inspection_never_accepts_more_of_the_same_sample(letter, aql):
    normal, tightened = letter_plan(letter, aql), letter_plan(letter, aql, "tightened")
    assert tightened.accept / tightened.n <= normal.accept / normal.n
    assert letter_plan(letter, aql, "reduced").n <= normal.n


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: code_letter(1), "lot size: must be two or more"),
        (lambda: code_letter(100, "IV"), "inspection level: must be one of"),
        (lambda: letter_plan("I", 1.0), "code letter: must be one of"),
        (lambda: letter_plan("AB", 1.0), "code letter: must be one of"),
        (lambda: letter_plan("J", 1.0, "strict"), "severity: must be one of"),
        (lambda: letter_plan("J", 1.1), r"AQL: must be a value of the table \(got 1.1 %\)"),
        (lambda: letter_plan("J", -1.0), "AQL: must be a value of the table"),
    ],
)
def test_what_is_not_in_the_tables_is_refused(call, sentence):
    with pytest.raises(UsageError, match=sentence):
        call()


def test_the_nearest_aql_is_proposed():
    with pytest.raises(UsageError) as caught:
        letter_plan("J", 1.1)
    assert caught.value.hint == "The nearest is 1 %."


@pytest.mark.parametrize(
    ("aql", "letter", "accept"),
    [
        (0.65, "F", 0),
        (0.65, "J", 1),
        (0.65, "K", 2),
        (0.65, "L", 3),
        (1.0, "E", 0),
        (1.0, "H", 1),
        (1.0, "J", 2),
        (1.0, "K", 3),
        (1.0, "L", 5),
        (1.5, "D", 0),
        (1.5, "G", 1),
        (1.5, "H", 2),
        (1.5, "J", 3),
        (1.5, "K", 5),
        (2.5, "C", 0),
        (2.5, "F", 1),
        (2.5, "G", 2),
        (2.5, "H", 3),
        (2.5, "J", 5),
        (4.0, "B", 0),
        (4.0, "E", 1),
        (4.0, "F", 2),
        (4.0, "G", 3),
        (4.0, "H", 5),
    ],
)
def test_the_plans_that_incoming_inspection_uses_most(aql, letter, accept):
    """Common practice: AQL 0.65 to 4.0, level II, normal inspection; none of them is an arrow."""
    plan = letter_plan(letter, aql)
    assert (plan.accept, plan.reject) == (accept, accept + 1)
    assert plan.arrow == ""


@pytest.mark.parametrize(
    ("lot_size", "aql", "n", "accept"),
    [
        (8, 1.0, 8, 0),
        (100, 1.0, 13, 0),
        (200, 1.0, 50, 1),
        (500, 1.0, 50, 1),
        (1000, 1.0, 80, 2),
        (3000, 1.0, 125, 3),
        (10000, 1.0, 200, 5),
        (1000, 0.65, 80, 1),
        (1000, 2.5, 80, 5),
        (60, 4.0, 13, 1),
    ],
)
def test_plans_of_usual_lots(lot_size, aql, n, accept):
    """Read off Table II-A by hand; lot 100 has letter F, whose arrow leads up to 13 and 0."""
    plan = single_plan(lot_size, aql)
    assert (plan.n, plan.accept) == (n, accept)


@pytest.mark.parametrize(
    ("severity", "n", "accept", "reject"),
    [("normal", 80, 2, 3), ("tightened", 80, 1, 2), ("reduced", 32, 1, 3)],
)
def test_the_three_severities_of_one_lot(severity, n, accept, reject):
    plan = single_plan(1000, 1.0, severity=severity)
    assert (plan.n, plan.accept, plan.reject) == (n, accept, reject)
    assert plan.severity == severity


@pytest.mark.parametrize(
    ("level", "letter"),
    [
        ("S-1", "C"),
        ("S-2", "C"),
        ("S-3", "E"),
        ("S-4", "F"),
        ("I", "G"),
        ("II", "J"),
        ("III", "K"),
    ],
)
def test_the_levels_of_one_lot(level, letter):
    assert code_letter(1000, level) == letter
