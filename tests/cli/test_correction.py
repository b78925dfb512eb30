"""Corrections at the command line: fit, compare and sweep with open, short and load."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from benchapp.__main__ import main
from benchapp.capture import Sweep
from benchapp.cli.correction import correction_json
from benchapp.fixture import Corrected, Validity
from benchapp.jobs import SAMPLE_NOMINAL, sample_folder
from benchapp.readers import read

DESIGN = str(sample_folder() / SAMPLE_NOMINAL)
SWEEP = ["--profile", "lcr-list", "--start", "114kHz", "--stop", "154kHz", "--points", "41"]


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """Saved readings of the empty clip, a short, a resistor and a tank."""
    folder = tmp_path_factory.mktemp("shelf")
    for part in ("open", "short", "load", "tank"):
        words = ["sweep", *SWEEP, "--resource", f"bench:{part}", "--level", "0.5V"]
        assert main([*words, "--out", str(folder / f"{part}.csv")]) == 0
    return folder


def run(capsys, *words):
    status = main([str(word) for word in words])
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    return status, shown.out, shown.err


def null(shelf):
    return ["--open", shelf / "open.csv", "--short", shelf / "short.csv"]


def test_fit_takes_the_clip_away_and_shows_before_and_after(capsys, shelf):
    status, out, err = run(capsys, "fit", shelf / "tank.csv", "--circuit", "tank", *null(shelf))
    assert status == 0
    assert "corrected, compensation: open, short, at its own frequencies; greatest change" in out
    assert "became" in out
    assert "before correction: L 1.6" in out
    assert "compensation: at " in err
    assert "compensation may add error there" in err


def test_the_capacitance_of_the_clip_is_gone_in_the_result(capsys, shelf):
    files = [shelf / "tank.csv", "--circuit", "tank", "--json"]
    raw = json.loads(run(capsys, "fit", *files)[1])
    more = [*null(shelf), "--load", shelf / "load.csv", "--load-value", "1kohm"]
    done = json.loads(run(capsys, "fit", *files, *more)[1])
    gone = raw["estimates"]["C"]["value"] - done["estimates"]["C"]["value"]
    assert gone == pytest.approx(2e-12, rel=0.3)
    assert raw["corrections"]["steps"] == []
    names = [step["name"] for step in done["corrections"]["steps"]]
    assert names == ["compensation", "check of the compensation"]
    rule = done["corrections"]["rule"]
    assert len(rule["valid"]) == len(rule["open_over_part"]) == 41


def test_delay_probe_and_resistor_are_steps_too(capsys, shelf):
    words = ["--delay", "4.9ns", "--probe-farad", "10pF", "--probe-ohm", "10Mohm"]
    out = run(capsys, "fit", shelf / "tank.csv", *words, "--source-ohm", "0.1ohm", "--json")[1]
    names = [step["name"] for step in json.loads(out)["corrections"]["steps"]]
    assert names == ["port delay", "series resistance", "probe"]


def test_compare_judges_the_corrected_part(capsys, shelf):
    words = ["compare", shelf / "tank.csv", "--nominal", DESIGN, *null(shelf)]
    _, out, _ = run(capsys, *words)
    assert "corrected, compensation: open, short" in out
    judged = json.loads(run(capsys, *words, "--json")[1])
    assert judged["corrections"]["steps"][0]["name"] == "compensation"


def test_a_sweep_is_corrected_at_once_and_the_raw_one_is_saved_beside_it(capsys, shelf, tmp_path):
    path = tmp_path / "part.csv"
    words = ["sweep", *SWEEP, "--resource", "bench", "--level", "0.5V", "--out", path]
    status, out, _ = run(capsys, *words, *null(shelf), "--fit")
    assert status == 0
    assert "corrected, compensation" in out
    corrected, raw = read(path)
    assert corrected.history[0].name == "compensation"
    assert raw.history == ()
    assert isinstance(raw, Sweep)


def test_a_sweep_that_cannot_be_corrected_is_kept_as_it_came(capsys, shelf, tmp_path):
    path = tmp_path / "part.csv"
    wide = ["--profile", "lcr-list", "--start", "60kHz", "--stop", "154kHz", "--points", "21"]
    words = ["sweep", *wide, "--resource", "bench", "--out", path, *null(shelf), "--fit"]
    status, _, err = run(capsys, *words)
    assert status == 4
    assert "open compensation: must reach over the sweep" in err
    assert "The sweep is kept as it came." in err
    (raw,) = read(path)
    assert raw.history == ()


def test_a_recheck_says_how_much_the_part_would_change(capsys, shelf):
    again = ["--recheck", shelf / "open.csv", shelf / "short.csv"]
    _, _, err = run(capsys, "fit", shelf / "tank.csv", *null(shelf), *again)
    assert "|Z| of the part would change by +0.00% at most" in err


def test_a_recheck_needs_what_it_is_compared_with(capsys, shelf):
    again = ["--recheck", shelf / "open.csv", shelf / "short.csv"]
    status, _, err = run(capsys, "fit", shelf / "tank.csv", *again)
    assert status == 2
    assert "--recheck: must come with --open or --short (got neither)." in err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--load-value", "1kohm"], "must have an open or a short reading"),
        (["--open", "nowhere.csv"], "nowhere.csv"),
        (["--delay=-1ns"], "must not be negative"),
        (["--delay", "soon"], "soon"),
    ],
)
def test_corrections_that_cannot_be_are_refused_in_a_sentence(capsys, shelf, words, told):
    status, _, err = run(capsys, "fit", shelf / "tank.csv", *words)
    assert status in (2, 4)
    assert told in err


def test_an_old_compensation_is_doubted(capsys, shelf, tmp_path):
    text = (shelf / "open.csv").read_text(encoding="ascii")
    old = tmp_path / "open.csv"
    old.write_text(re.sub(r"20\d\d-", "2001-", text), encoding="ascii")
    words = ["fit", shelf / "tank.csv", "--short", shelf / "short.csv", "--open"]
    assert "null the fixture again" not in run(capsys, *words, shelf / "open.csv")[2]
    assert "more than 8 h: null the fixture again" in run(capsys, *words, old)[2]
    patient = run(capsys, *words, old, "--oldest", "1000000")[2]
    assert "null the fixture again" not in patient


def test_a_ratio_without_an_end_is_null_in_json():
    f = np.array([1e3, 2e3])
    raw = Sweep(frequency=f, impedance=[1.0, 2.0])
    rule = Validity(
        frequency=f,
        open_ratio=np.array([np.inf, 3.0]),
        short_ratio=None,
        valid=np.array([True, False]),
    )
    found = correction_json(Corrected(capture=raw, raw=raw, rule=rule))["rule"]
    assert found["open_over_part"] == [None, 3.0]
    assert found["part_over_short"] is None
    assert found["valid"] == [True, False]
