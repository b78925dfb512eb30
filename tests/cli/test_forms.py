"""What scripts may rely on: the keys of each JSON object, clean text, plain refusals."""

from __future__ import annotations

import json
import math
import re
import shutil
from pathlib import Path

import pytest

from benchapp import cli
from benchapp.__main__ import main
from benchapp.jobs import SAMPLE_CAPTURE, SAMPLE_NOMINAL, sample_folder

FOLDER = sample_folder()
TANK, DESIGN = str(FOLDER / SAMPLE_CAPTURE), str(FOLDER / SAMPLE_NOMINAL)
RING, SERIES = str(FOLDER / "ga12_ring_down.csv"), str(FOLDER / "ga12_series.s1p")
COIL, LOT = str(FOLDER / "ga12_coil.csv"), str(FOLDER / "ga12_lot")
SHORTED = str(FOLDER / "ga12_lot" / "0209.csv")
ACCURACY, REFERENCE = (
    str(FOLDER / name) for name in ("bench_meter.accuracy.toml", "ga12_reference.toml")
)
PAGE = (Path(__file__).parents[2] / "docs" / "command_line.md").read_text(encoding="utf-8")

FIT = {
    *("schema", "file", "sha256", "label", "kind", "circuit", "estimates", "undetermined"),
    *("describes", "converged", "noise", "points", "alternatives", "opinions", "remarks"),
    *("checks", "combined", "corrections"),
}
VERDICT = {
    *("schema", "file", "sha256", "label", "outcome", "reason", "limits", "U_holds", "checks"),
    *("hypotheses", "corrections"),
}
LIMIT = {
    *("quantity", "at", "unit", "measured", "U", "lower", "upper", "guard", "outcome"),
    *("margin_percent", "probability_conforming", "probability_outside"),
    *("probability_false_accept", "probability_false_reject", "false_accept_at_limit"),
    *("uncertainty_ratio", "budget", "reason"),
}
CHECK = {"id", "level", "text", "advice", "points", "acknowledged"}
BUDGET = {"u", "dof", "terms", "dominant", "to_halve"}
TERM = {"name", "u", "share", "evaluation", "dof"}
HYPOTHESIS = {"id", "title", "share", "as_if", "evidence", "next_test"}
LOT_KEYS = {
    *("schema", "parts", "outcomes", "plan", "accepted", "why", "rejected", "statistics"),
    *("quarantine", "checks", "unreadable", "remarks", "lot", "seconds"),
}
GATE = {"schema", "serial", "open", "state", "reason", "age_hours", "last_good", "cautions"}


def run(capsys, *words):
    status = main(list(words))
    shown = capsys.readouterr()
    return status, shown.out, shown.err


def told(capsys, *words):
    _, out, _ = run(capsys, *words, "--json")
    (line,) = out.splitlines()
    return json.loads(line, parse_constant=lambda sign: pytest.fail(f"{sign} is no JSON"))


def documented(keys):
    return {key for key in keys if f"`{key}`" not in PAGE} - {"schema", "file"}


@pytest.mark.parametrize("path", [TANK, RING, SERIES, COIL])
def test_a_fit_has_the_keys_of_the_page_and_no_other(capsys, path):
    found = told(capsys, "fit", path)
    assert set(found) == FIT
    assert documented(FIT - {"corrections"}) == set()
    assert set(found["points"]) == {"read", "used", "set_aside"}
    assert found["points"]["read"] == found["points"]["used"] + found["points"]["set_aside"]
    for entry in found["estimates"].values():
        assert set(entry) == {"value", "u", "unit"}
    assert all(set(entry) == CHECK for entry in found["checks"])
    assert not set(found["estimates"]) & set(found["undetermined"])


def test_a_stated_accuracy_adds_what_is_combined_and_changes_no_value(capsys):
    plain, wide = told(capsys, "fit", TANK), told(capsys, "fit", TANK, "--accuracy", ACCURACY)
    assert plain["combined"] is None
    assert plain["estimates"] == wide["estimates"]
    assert wide["combined"]["holds"] == "scatter and instrument"
    assert set(wide["combined"]["u"]) == set(plain["estimates"])
    for name, u in wide["combined"]["u"].items():
        assert u > plain["estimates"][name]["u"]


@pytest.mark.parametrize("path", [TANK, SHORTED, COIL])
def test_a_verdict_has_the_keys_of_the_page_and_no_other(capsys, path):
    found = told(capsys, "compare", path, "--nominal", DESIGN)
    assert set(found) == VERDICT
    assert documented(VERDICT | LIMIT | CHECK | BUDGET | TERM | HYPOTHESIS) <= {"corrections"}
    assert [entry["quantity"] for entry in found["limits"]] == ["L", "f0", "Q", "ESR"]
    for entry in found["limits"]:
        assert set(entry) == LIMIT
        if entry["budget"] is not None:
            assert set(entry["budget"]) == BUDGET
            assert all(set(term) == TERM for term in entry["budget"]["terms"])
            assert sum(t["share"] for t in entry["budget"]["terms"]) == pytest.approx(1.0)


def test_the_numbers_of_a_limit_agree_with_each_other(capsys):
    for path in (TANK, SHORTED):
        for entry in told(capsys, "compare", path, "--nominal", DESIGN)["limits"]:
            inside, outside = entry["probability_conforming"], entry["probability_outside"]
            assert inside + outside == pytest.approx(1.0)
            accepted = entry["outcome"].endswith("pass")
            assert entry["probability_false_accept"] == (outside if accepted else None)
            assert entry["probability_false_reject"] == (None if accepted else inside)
            assert (entry["margin_percent"] > 0) == accepted
            assert entry["U"] == pytest.approx(2 * entry["budget"]["u"])
            sides = entry["lower"] is not None and entry["upper"] is not None
            assert (entry["uncertainty_ratio"] is not None) == sides


def test_only_a_failed_part_has_hypotheses(capsys):
    assert told(capsys, "compare", TANK, "--nominal", DESIGN)["hypotheses"] is None
    found = told(capsys, "compare", SHORTED, "--nominal", DESIGN)["hypotheses"]
    assert set(found) == {"found", "reason", "ranked"}
    assert all(set(entry) == HYPOTHESIS for entry in found["ranked"])
    assert 0 < sum(entry["share"] for entry in found["ranked"]) <= 1 + 1e-9


def test_a_lot_has_the_keys_of_the_page_and_no_other(capsys):
    found = told(capsys, "lot", LOT, "--nominal", DESIGN)
    assert set(found) == LOT_KEYS
    assert documented(LOT_KEYS) == set()
    assert sum(found["outcomes"].values()) == found["parts"] == 13
    for name, entry in found["statistics"].items():
        assert entry["min"] <= entry["mean"] <= entry["max"], name
        assert entry["n"] + entry["missing"] == 13
        assert 0 <= entry["normality_p"] <= 1


@pytest.mark.parametrize(("size", "accepted"), [(5, None), (12, False), (13, False), (200, None)])
def test_a_lot_stated_smaller_than_it_is_is_not_accepted(capsys, size, accepted):
    # One of the thirteen captures fails; a plan for five would count the first five, all good.
    status, out, _ = run(capsys, "lot", LOT, "--nominal", DESIGN, "--size", str(size), "--json")
    found = json.loads(out)
    assert (found["accepted"], status) == (accepted, {None: 3, False: 1}[accepted])
    assert any("are there" in remark for remark in found["remarks"]) == (size < 13)


def test_the_state_of_a_station_has_the_keys_of_the_page(capsys):
    found = told(capsys, "reference", REFERENCE)
    assert set(found) == GATE | {"last", "charts"}
    assert documented(GATE) == set()
    assert (found["open"], found["state"], found["last"]) == (False, "never", None)
    assert all(chart["points"] == chart["times"] == [] for chart in found["charts"])


def test_a_sweep_has_the_keys_of_the_page(capsys):
    words = ["--profile", "lcr-points", "--resource", "bench", "--points", "5"]
    found = told(capsys, "sweep", *words, "--start", "114kHz", "--stop", "154kHz")
    keys = {
        *("schema", "resource", "profile", "file", "partial", "trouble", "output", "bias"),
        *("warnings", "resonance", "set_aside", "notes", "captures", "corrections"),
    }
    assert set(found) == keys
    assert documented(keys) == set()
    (capture,) = found["captures"]
    assert len(capture["frequency"]) == len(capture["R"]) == len(capture["X"]) == 5
    assert capture["frequency"] == [114e3, 124e3, 134e3, 144e3, 154e3]
    assert (found["output"], found["bias"]) == ("off", "off")


@pytest.mark.parametrize(
    ("words", "schema"),
    [
        (["read", TANK], "benchapp.reading/1"),
        (["nominal", DESIGN], "benchapp.nominal/1"),
        (["answers"], "benchapp.answers/1"),
        (["explain", TANK, RING], "benchapp.explain/1"),
        (["bench", "--for", "1ms"], "benchapp.bench/1"),
        (["tank", "--L", "1.62mH", "--C", "868pF"], "benchapp.tank/1"),
        (["marking", "868pF"], "benchapp.marking/1"),
    ],
)
def test_every_object_names_its_form(capsys, words, schema):
    assert told(capsys, *words)["schema"] == schema


TEXTS = [
    ["read", TANK],
    ["read", SERIES],
    ["fit", TANK],
    ["fit", COIL],
    ["fit", RING],
    ["fit", RING, "--fix", "C=864pF ±1%"],
    ["fit", TANK, "--circuit", "inductor", "--band", "114kHz..120kHz"],
    ["fit", TANK, "--at", "134.2kHz", "--accuracy", ACCURACY],
    ["compare", TANK, COIL, RING, SHORTED, "--nominal", DESIGN],
    ["lot", LOT, "--nominal", DESIGN],
    ["nominal", DESIGN],
    ["explain", TANK, RING, SHORTED],
    ["tank", "--L", "1.62mH", "--C", "868pF"],
    ["tank", "--L", "1.62mH ±3%", "--C", "868pF ±1%", "--R", "17", "--tempco-L", "100ppm/K"],
    ["marking", "868"],
    ["reference", REFERENCE],
    ["answers"],
    ["gauge", "--plan", "2x2x2", "--seed", "4"],
]
FOREIGN = re.compile(r"\b(nan|None|inf|True|False|Traceback|Estimate|array)\b|\{|0x")


@pytest.mark.parametrize("words", TEXTS, ids=lambda words: " ".join(Path(w).name for w in words))
def test_text_for_people_holds_nothing_of_the_machine(capsys, words):
    status, out, err = run(capsys, *words)
    assert status in (0, 1, 3)
    assert out.strip()
    assert FOREIGN.search(out + err) is None
    assert all(line == line.rstrip() for line in out.splitlines() if not line.startswith(" "))
    assert "\t" not in out


@pytest.mark.parametrize("words", TEXTS, ids=lambda words: " ".join(Path(w).name for w in words))
def test_the_same_command_says_the_same_twice(capsys, words):
    first, second = (run(capsys, *words) for _ in range(2))
    if words[0] == "lot":  # its last line tells how long it took
        assert " parts a second" in first[1].splitlines()[-1]
        first, second = ((s, out.splitlines()[:-1], err) for s, out, err in (first, second))
    assert first == second


REFUSED = [
    (["fit", TANK, "--plot", "fit.jpg"], "--plot: must end in .png (got 'fit.jpg'). Use fit.png."),
    (["fit", TANK, "--band", "120kHz"], "--band: must be LOW..HIGH (got '120kHz')."),
    (["fit", TANK, "--band", "150kHz..120kHz"], "--band: LOW must be below HIGH"),
    (["fit", TANK, "--fix", "868pF"], "--fix: must be ELEMENT=VALUE (got '868pF')."),
    (["fit", TANK, "--fix", "Z=3"], "--fix: must be ELEMENT=VALUE (got 'Z=3')."),
    (["fit", TANK, "--fix", "C=17 ohm"], "ohm"),
    (["fit", TANK, "--at", "noon"], "noon"),
    (["fit", TANK, "--at", "3 pF"], "pF"),
    (["fit", TANK, "--circuit", "wheel"], "invalid choice: 'wheel'"),
    (["fit", TANK, "--port", "side"], "invalid choice: 'side'"),
    (["fit", TANK, "--reference", "50 H"], "50 H"),
    (["fit", TANK, "--answer", "port"], "--answer: must be NAME=VALUE (got 'port')."),
    (["fit", TANK, "--acknowledge", "x"], "--acknowledge: must be CHECK=NAME:REASON (got 'x')."),
    (["fit"], "the following arguments are required: FILE"),
    (["fit", TANK, "--circuit", "resonance"], "circuit: must be one of auto, series-rlc"),
    (["fit", TANK, "--delay", "3 m"], "--delay: must be a time below 10 µs (got '3 m')."),
    (["fit", TANK, "--delay", "3 mm"], "mm"),
    (["compare", TANK], "the following arguments are required: --nominal"),
    (["compare", TANK, "--nominal", DESIGN, "--report", "r.doc"], "report: must end in .pdf"),
    (["lot", LOT, "--nominal", DESIGN, "--level", "IX"], "--level: invalid choice: 'IX'"),
    (["lot", LOT, "--nominal", DESIGN, "--plan", "luck"], "--plan: invalid choice: 'luck'"),
    (["lot", LOT, "--nominal", DESIGN, "--size", "many"], "--size: invalid int value: 'many'"),
    (["explain", TANK], "must have two captures of one part or more (got 1)"),
    (["gauge", "--plan", "0x3x3"], "must"),
    (["gauge"], "must"),
    (["supplier", "--limit-number", "x"], "--limit-number: invalid int value: 'x'"),
    (["logbook", "list", "--limit", "0"], "--limit: must be at least 1 (got 0)."),
    (["logbook", "list", "--outcome", "good"], "--outcome: invalid choice: 'good'"),
    (["sweep", "--profile", "none-such", "--resource", "bench"], "none-such"),
    (["sweep", "--resource", "bench"], "--profile"),
    (["reference"], "the following arguments are required: COIL.toml"),
    (["bench", "--part", "chair"], "chair"),
    (["bench", "--for", "long"], "long"),
    (["tank", "--L", "1.62mH"], "must"),
    (["nominal", TANK], "must"),
    (["export", TANK], "--as"),
    (["compair", TANK], "Did you mean: benchapp compare?"),
]


@pytest.mark.parametrize(
    ("words", "said"), REFUSED, ids=lambda w: " ".join(Path(x).name for x in w[:4])
)
def test_what_was_not_understood_is_one_sentence_before_anything_is_printed(capsys, words, said):
    status, out, err = run(capsys, *words)
    assert status in (2, 4)
    assert out == ""
    (line,) = err.splitlines()
    assert line.startswith("benchapp: ")
    assert said in line
    assert "Traceback" not in line


@pytest.mark.parametrize("name", sorted(cli.COMMANDS))
def test_an_unknown_option_is_refused_by_every_command(capsys, name):
    first = {"logbook": ["list"], "coil": ["solenoid"], "marking": []}.get(name, [])
    status, out, err = run(capsys, name, *first, "--no-such-option")
    assert (status, out) == (2, "")
    assert "--no-such-option" in err or "required" in err
    assert err.count("\n") == 1


@pytest.mark.parametrize("name", ["fit", "read", "compare", "explain"])
def test_debug_adds_the_traceback_to_the_sentence(capsys, name, tmp_path):
    missing = str(tmp_path / "missing.csv")
    more = ["--nominal", DESIGN] if name == "compare" else []
    status, _, plain = run(capsys, name, missing, *more)
    assert (status, "Traceback" in plain) == (4, False)
    status, _, err = run(capsys, name, missing, *more, "--debug")
    assert status == 4
    assert plain.splitlines()[-1] in err


def test_the_gravest_status_of_several_files_counts(capsys, tmp_path):
    missing = str(tmp_path / "missing.csv")
    cases = [
        ((TANK,), 0),
        ((TANK, COIL), 3),
        ((COIL, SHORTED, TANK), 1),
        ((SHORTED, missing, TANK, COIL), 4),
    ]
    for files, expected in cases:
        status, out, _ = run(capsys, "compare", *files, "--nominal", DESIGN)
        assert status == expected
        judged = [line for line in out.splitlines() if line and not line.startswith(" ")]
        assert len(judged) == len([path for path in files if path != missing])


def test_a_band_and_a_fixed_element_are_those_of_the_result(capsys):
    whole = told(capsys, "fit", TANK)
    part = told(capsys, "fit", TANK, "--circuit", "tank", "--band", "130kHz..138kHz")
    assert part["points"]["used"] == 81
    assert part["points"]["read"] == 401
    held = told(capsys, "fit", TANK, "--circuit", "tank", "--fix", "C=864.186pF ±1%")
    assert held["estimates"]["C"]["value"] == pytest.approx(864.186e-12, rel=1e-12)
    u = held["estimates"]["C"]["u"] / held["estimates"]["C"]["value"]
    assert u == pytest.approx(0.01 / math.sqrt(3))
    ratio = held["estimates"]["L"]["value"] / whole["estimates"]["L"]["value"]
    assert ratio == pytest.approx(1.0, abs=2e-4)


def test_port_and_reference_say_how_an_analyser_was_connected(capsys):
    plain = told(capsys, "fit", SERIES, "--port", "reflection")
    assert told(capsys, "fit", SERIES, "--answer", "port=reflection") == plain
    other = told(capsys, "fit", SERIES, "--port", "reflection", "--reference", "75")
    for name, power in (("L", 1), ("C", -1), ("R", 1), ("f0", 0), ("Q", 0)):
        ratio = other["estimates"][name]["value"] / plain["estimates"][name]["value"]
        assert ratio == pytest.approx(1.5**power, rel=1e-9)


def test_several_captures_of_one_file_have_an_object_each(capsys, tmp_path):
    # Two runs of one sweep below each other.
    text = Path(TANK).read_text(encoding="utf-8")
    rows = [line for line in text.splitlines() if line[:1].isdigit()]
    path = tmp_path / "two.csv"
    path.write_text(text + "\n".join(rows) + "\n", encoding="utf-8")
    status, out, _ = run(capsys, "fit", str(path), "--json")
    found = [json.loads(line) for line in out.splitlines()]
    assert status == 0
    assert [entry["label"] for entry in found] == ["sweep 1", "sweep 2"]
    assert found[0]["estimates"] == found[1]["estimates"]
    assert all("2 sweeps" in entry["checks"][0]["text"] for entry in found)


def test_everything_that_can_stand_on_a_report_does(capsys, tmp_path):
    out = tmp_path / "r.html"
    given = {
        "--number": "R-2026-7",
        "--time": "2026-03-01T10:00:00Z",
        "--operator": "A. Brandt",
        "--authorised-by": "C. Dorn",
        "--customer": "Gate works",
        "--place": "Bench 3",
        "--paper": "Letter",
    }
    words = [word for pair in given.items() for word in pair]
    status, _, _ = run(capsys, "compare", TANK, "--nominal", DESIGN, "--report", str(out), *words)
    assert status == 0
    text = out.read_text(encoding="utf-8")
    assert all(value in text for name, value in given.items() if name != "--paper")
    assert "letter" in text.lower()


def test_settings_of_reports_are_read_from_their_file_before_anything_is_written(capsys, tmp_path):
    settings, out = tmp_path / "house.toml", tmp_path / "r.html"
    words = ["compare", TANK, "--nominal", DESIGN, "--report", str(out)]
    words += ["--report-settings", str(settings)]
    settings.write_text('house = "Coil works & sons"\n', encoding="utf-8")
    status, _, err = run(capsys, *words)
    assert status == 2
    assert "house must be a table (got 'Coil works & sons'). Begin it with [house]." in err
    assert not out.exists()
    settings.write_text('[house]\nname = "Coil works & sons"\n', encoding="utf-8")
    assert run(capsys, *words)[0] == 0
    assert "Coil works &amp; sons" in out.read_text(encoding="utf-8")


def test_a_delivery_is_kept_with_the_lot(capsys, tmp_path):
    folder = tmp_path / "few"
    folder.mkdir()
    for name in ("0201.csv", "0202.csv"):
        shutil.copy(FOLDER / "ga12_lot" / name, folder)
    record = str(tmp_path / "r.benchlog")
    delivery = ["--supplier", "Coil works", "--order", "4711", "--date-code", "2609"]
    status, _, _ = run(
        capsys, "lot", str(folder), "--nominal", DESIGN, *delivery, "--record", record
    )
    assert status == 0
    _, out, _ = run(capsys, "logbook", "list", "--lots", "--record", record, "--json")
    assert {"Coil works", "4711", "2609"} <= set(re.findall(r'"([^"]*)"', out))
    for words, count in (
        (["--since", "2000-01-01"], 2),
        (["--until", "2000-01-01"], 0),
        (["--part", "Gate antenna coil GA-12"], 2),
        (["--part", "another"], 0),
        (["--serial", "0201"], 1),
        (["--limit", "1"], 1),
        (["--outcome", "fail"], 0),
    ):
        _, out, _ = run(capsys, "logbook", "list", "--record", record, *words)
        assert len(out.splitlines()) == count, words
