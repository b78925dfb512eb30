"""``benchapp gauge``: a plan is drawn, a study is worked out."""

from __future__ import annotations

import json

import numpy as np
import pytest

from benchapp.__main__ import main
from tests.coil.truth import values as sections
from tests.jobs.test_gauge_record import PLACES, keep

AIAG = sections("gauge_aiag.toml")


@pytest.fixture
def study(tmp_path):
    values = np.array(AIAG["values"]).reshape(10, 3, 3)
    rows = [
        f"{part + 1},{'ABC'[person]},{trial + 1},{float(value)!r}"
        for (part, person, trial), value in np.ndenumerate(values)
    ]
    path = tmp_path / "study.csv"
    path.write_text("\n".join(["part,person,trial,value", *rows]), encoding="utf-8")
    return path


def run(capsys, *words):
    status = main(["gauge", *map(str, words)])
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    return status, shown.out, shown.err


def test_the_published_study_in_words(capsys, study):
    status, out, _ = run(capsys, study)
    assert status == 0
    assert "10 parts, 3 persons, 3 trials: the gauge is CONDITIONALLY SUITABLE" in out
    assert "GRR  gauge             0.3024        27.9 % of the study" in out
    assert "ndc 4: as many classes of parts can be told apart, 5 or more are wanted" in out
    assert "persons by parts: F 0.434, p 0.974, counted as repeatability" in out
    assert "average and range:" in out


def test_the_published_study_as_json(capsys, study):
    status, out, _ = run(capsys, study, "--json")
    found = json.loads(out)
    assert status == 0
    assert found["schema"] == "benchapp.gauge/1"
    assert (found["ndc"], found["judgement"]) == (4, "conditionally suitable")
    for letter in ("EV", "AV", "GRR", "PV", "TV"):
        sigma = found["analysis_of_variance"][letter]["sigma"]
        assert sigma == pytest.approx(AIAG["pooled"][letter], rel=1e-12)
    table = {row["source"]: row for row in found["analysis_of_variance"]["table"]}
    assert table["interaction"]["p"] == pytest.approx(
        AIAG["sums_of_squares"]["interaction_p"], rel=1e-11
    )


def test_a_gauge_that_uses_up_the_tolerance_is_not_suitable(capsys, study):
    status, out, _ = run(capsys, study, "--tolerance", "2")
    assert status == 1
    assert "the gauge is NOT SUITABLE" in out
    assert "90.7 % of the tolerance" in out


def test_a_wide_tolerance_makes_it_suitable(capsys, study):
    assert "the gauge is SUITABLE" in run(capsys, study, "--tolerance", "40")[1]


def test_the_interaction_is_shown_where_it_is_kept(capsys, study):
    out = run(capsys, study, "--interaction", "keep")[1]
    assert "INT  persons by parts" in out
    assert "kept for itself" in out


def test_bias_and_linearity_are_told_where_references_are_stated(capsys, tmp_path):
    path = tmp_path / "bias.csv"
    rows = [
        f"RC-{part},A,{trial},{1.01 * part + 0.001 * trial} mH,{part} mH"
        for part in (1, 2, 3)
        for trial in (-1, 0, 1)
    ]
    path.write_text("\n".join(["part,person,trial,value,reference", *rows]), encoding="utf-8")
    status, out, _ = run(capsys, path)
    assert status == 0
    assert "bias of RC-2: 20.00 µH (17.52 µH to 22.48 µH), significant" in out
    assert "linearity: slope 1 % " in out
    found = json.loads(run(capsys, path, "--json")[1])
    assert [one["bias"] for one in found["bias"]] == pytest.approx([1e-5, 2e-5, 3e-5])
    assert found["linearity"]["slope"] == pytest.approx(0.01)
    assert found["analysis_of_variance"].keys() >= {"EV", "GRR", "PV", "TV"}
    assert "AV" not in found["analysis_of_variance"]


def test_a_plan_goes_to_a_new_file_only(capsys, tmp_path):
    path = tmp_path / "plan.csv"
    status, out, _ = run(capsys, "--plan", "10x3x3", "--out", path)
    assert status == 0
    assert "90 measurements in random order" in out
    before = path.read_bytes()
    assert before.count(b"\n") == 91
    status, _, err = run(capsys, "--plan", "2×1x2", "--out", path)
    assert status == 4
    assert "must be a new file that can be written (got File exists)" in err
    assert path.read_bytes() == before


def test_a_plan_without_a_file_is_printed(capsys):
    status, out, _ = run(capsys, "--plan", "2x1x2", "--seed", "3")
    assert status == 0
    assert out.splitlines()[0] == "order,blind,part,person,trial,value"
    assert len(out.splitlines()) == 5


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            (),
            "must have either a finished study, --plan, or lots of the record (got none of them)",
        ),
        (
            ("a.csv", "--plan", "2x1x2"),
            "must have either a finished study, --plan, or lots of the record (got more than one)",
        ),
        (("--plan", "10x3"), "--plan: must be PARTSxPERSONSxTRIALS (got '10x3')"),
        (("--plan", "axbxc"), "--plan: must be PARTSxPERSONSxTRIALS (got 'axbxc')"),
    ],
)
def test_what_cannot_be_meant_is_refused(capsys, words, said):
    status, _, err = run(capsys, *words)
    assert status == 2
    assert said in err


def test_a_table_that_is_no_study_is_refused(capsys, tmp_path):
    path = tmp_path / "x.csv"
    path.write_text("a,b\n1,2\n", encoding="utf-8")
    status, _, err = run(capsys, path)
    assert status == 4
    assert "must name the columns part, person, trial, value" in err


def test_a_plan_is_printed_as_json_too(capsys, tmp_path):
    path = tmp_path / "plan.csv"
    words = ("--plan", "3x2x2", "--seed", 7, "--quantity", "L", "--tolerance", "97.2uH", "--json")
    status, out, _ = run(capsys, *words, "--out", path)
    found = json.loads(out)
    assert status == 0
    assert (found["schema"], found["file"]) == ("benchapp.gauge-plan/1", str(path))
    assert (found["parts"], found["persons"], found["trials"], found["seed"]) == (3, 2, 2, 7)
    assert (found["quantity"], found["unit"], found["tolerance"]) == ("L", "H", 97.2e-6)
    rows = path.read_text(encoding="utf-8").splitlines()[1:]
    listed = [
        ",".join(str(one[name]) for name in ("order", "blind", "part", "person", "trial"))
        for one in found["measurements"]
    ]
    assert [row.rsplit(",,", 1)[0] for row in rows] == listed
    assert json.loads(run(capsys, *words)[1])["file"] is None


def test_a_plan_that_states_quantity_and_tolerance_needs_them_no_more(capsys, tmp_path):
    path = tmp_path / "plan.csv"
    run(capsys, "--plan", "2x1x2", "--quantity", "L", "--tolerance", "97.2uH", "--out", path)
    lines = path.read_text(encoding="utf-8").splitlines()
    filled = [line.replace(",,", f",1.62{at} mH,") for at, line in enumerate(lines[1:])]
    path.write_text("\n".join([lines[0], *filled]), encoding="utf-8")
    assert "% of the tolerance" in run(capsys, path)[1]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--tolerance", "0"), "the tolerance must be above zero"),
        (("--quantity", "loudness"), "quantity: must be one that a design can limit"),
        (("--quantity", "L", "--tolerance", "3 ohm"), "3 ohm"),
    ],
)
def test_a_plan_of_nothing_that_can_be_measured_is_refused(capsys, words, said):
    status, out, err = run(capsys, "--plan", "3x2x2", *words)
    assert (status, out) == (2, "")
    assert said in err


def test_a_lot_of_the_record_is_studied_in_place_of_a_table(capsys, tmp_path):
    record = str(tmp_path / "parts.benchlog")
    key = keep(record, PLACES)
    status, out, _ = run(capsys, "--record", record, "--lot", key, "--json")
    found = json.loads(out)
    assert (found["file"], found["parts"]) == (f"lot {key}", ["0201", "0202", "0203"])
    assert found["analysis_of_variance"]["GRR"]["percent_tolerance"] > 0
    assert status == (1 if found["judgement"] == "not suitable" else 0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--lot", "1-1", "--tolerance", "3"), "--tolerance: must be left out with --lot"),
        (("--lot", "1-1", "--plan", "3x2x2"), r"got more than one"),
        (("study.csv", "--quantity", "L"), "--quantity: must go with --plan or --lot"),
    ],
)
def test_what_does_not_go_together_is_refused(capsys, words, said):
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    assert said in err


def test_the_json_has_both_analyses_of_variance(capsys, study):
    found = json.loads(run(capsys, study, "--json")[1])
    assert found["without_interaction"] == found["analysis_of_variance"]
    kept = found["with_interaction"]
    assert kept["EV"]["sigma"] == pytest.approx(AIAG["kept"]["EV"], rel=1e-12)


def test_a_deviation_of_nothing_is_a_bare_zero(capsys, tmp_path):
    path = tmp_path / "alike.csv"
    rows = [f"{part},{who},{at},1.6{part}{at} mH" for part in "12" for who in "AB" for at in "12"]
    path.write_text("\n".join(["part,person,trial,value", *rows]), encoding="utf-8")
    out = run(capsys, path)[1]
    assert "AV   reproducibility   0  " in out
