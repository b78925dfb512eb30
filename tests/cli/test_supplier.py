"""``benchapp supplier``: what it prints of the lots in a record."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from benchapp.__main__ import main
from benchapp.logbook import open_logbook
from tests.jobs.lots import FORM, judged, keep_lot


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "parts.benchlog"
    for order, outcomes in (("1", "pp"), ("2", "fp"), ("3", "fp")):
        keep_lot(path, outcomes, replace(FORM, order=order))
    return path


def run(capsys, record, *words):
    status = main(["supplier", "--record", str(record), *words])
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    return status, shown.out, shown.err


def test_lots_next_plan_and_means_in_words(capsys, record):
    status, out, _ = run(capsys, record)
    assert status == 0
    assert out.startswith("Coil works, GA-12: 3 lots\n")
    assert "1                accept    0 of 2 nonconforming (attributes, normal)" in out
    assert "3                reject    1 of 2 nonconforming" in out
    assert "the next lot: tightened inspection (2 of the last 3 lots rejected)" in out
    assert "mean of the lots: 1.6" in out


def test_the_same_as_json(capsys, record):
    status, out, _ = run(capsys, record, "--json")
    found = json.loads(out)
    assert status == 0
    assert found["schema"] == "benchapp.supplier/1"
    assert found["next"]["severity"] == "tightened"
    assert [lot["decision"] for lot in found["lots"]] == ["accept", "reject", "reject"]
    trend = next(one for one in found["trends"] if one["quantity"] == "L")
    assert trend["lots"] == ["1", "2", "3"]
    assert trend["mean"][0] > trend["mean"][1] == trend["mean"][2]
    assert trend["lower"] < trend["centre"] < trend["upper"]


def test_testing_into_compliance_is_told(capsys, record):
    key = keep_lot(record, "fp", replace(FORM, order="4"))
    with open_logbook(record) as book:
        for attempt in (2, 3):
            book.add(replace(judged("p"), lot=key, serial="1", attempt=attempt))
    out = run(capsys, record)[1]
    assert "4: 1 measured again more than once without a reason" in out
    found = json.loads(run(capsys, record, "--json")[1])
    assert found["lots"][-1]["unlogged_retests"] == ["1"]


def test_reduced_inspection_is_offered_and_taken_only_with_agreement(capsys, tmp_path):
    record = tmp_path / "good.benchlog"
    for _ in range(10):
        keep_lot(record, "pp")
    assert "reduced inspection is possible" not in run(capsys, record)[1]
    assert "reduced inspection is possible" in run(capsys, record, "--limit-number", "2")[1]
    out = run(capsys, record, "--limit-number", "2", "--reduced-agreed")[1]
    assert "the next lot: reduced inspection (10 lots accepted" in out


def test_an_unknown_supplier_gives_one_sentence(capsys, record):
    status, out, err = run(capsys, record, "--supplier", "nobody")
    assert (status, out) == (4, "")
    assert "must hold a lot of this supplier and part (got none)" in err
