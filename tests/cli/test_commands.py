"""The command line as scripts and technicians use it: forms, exit status, plain errors."""

from __future__ import annotations

import json
import math
import subprocess
import sys

import pytest

from benchapp import __version__, cli
from benchapp.__main__ import main
from benchapp.jobs import SAMPLE_CAPTURE, SAMPLE_NOMINAL, sample_folder

CAPTURE = str(sample_folder() / SAMPLE_CAPTURE)
NOMINAL = str(sample_folder() / SAMPLE_NOMINAL)


def run(capsys, *words: str) -> tuple[int, str, str]:
    status = main(list(words))
    shown = capsys.readouterr()
    return status, shown.out, shown.err


def design(tmp_path, limits: str) -> str:
    path = tmp_path / "design.toml"
    path.write_text(
        f'title = "Test"\nrevision = "A"\ncircuit = "tank"\n{limits}', encoding="utf-8"
    )
    return str(path)


def test_fit_prints_values_with_uncertainty_and_unit(capsys):
    status, out, err = run(capsys, "fit", CAPTURE)
    assert (status, err) == (0, "")
    assert "401 of 401 points, 114 kHz to 154 kHz" in out
    assert "mH" in out
    assert "±" in out
    assert "circuit tank" in out


def test_fit_json_has_the_fields_of_the_contract(capsys):
    status, out, _ = run(capsys, "fit", CAPTURE, "--json")
    assert status == 0
    (line,) = out.splitlines()
    found = json.loads(line)
    assert found["schema"] == "benchapp.fit/1"
    assert found["file"] == CAPTURE
    assert len(found["sha256"]) == 64
    assert (found["kind"], found["circuit"]) == ("sweep", "tank")
    assert set(found["estimates"]) == {"L", "C", "R", "f0", "Q"}
    for name, unit in {"L": "H", "C": "F", "R": "ohm", "f0": "Hz", "Q": "1"}.items():
        entry = found["estimates"][name]
        assert set(entry) == {"value", "u", "unit"}
        assert entry["unit"] == unit
        assert 0 < entry["u"] < 0.01 * entry["value"]
    assert found["undetermined"] == []
    assert found["describes"] is True
    assert found["converged"] is True
    assert found["points"] == {"read": 401, "used": 401, "set_aside": 0}
    assert 0.0005 < found["noise"] < 0.002
    for finding in found["checks"]:
        assert set(finding) >= {"id", "level", "text", "advice"}
        assert finding["level"] in {"stop", "warn", "note"}


def test_fit_at_a_frequency_gives_q_and_esr_there(capsys):
    _, out, _ = run(capsys, "fit", CAPTURE, "--at", "134.2kHz", "--json")
    estimates = json.loads(out)["estimates"]
    inductance = estimates["L"]["value"]
    reactance = 2 * math.pi * 134.2e3 * inductance
    assert estimates["Q"]["value"] == pytest.approx(
        reactance / estimates["ESR"]["value"], rel=1e-9
    )


def test_fit_takes_a_band_a_circuit_and_a_known_element(capsys):
    status, out, _ = run(
        capsys,
        *("fit", CAPTURE, "--circuit", "tank", "--band", "125kHz..0.145 MHz"),
        *("--fix", "C=864.2pF ±1%", "--json"),
    )
    assert status == 0
    found = json.loads(out)
    assert found["points"]["used"] == 201
    assert found["estimates"]["C"]["value"] == pytest.approx(864.2e-12)
    # a stated tolerance of 1 % is a rectangular distribution: u = 1 % / sqrt(3)
    assert found["estimates"]["C"]["u"] == pytest.approx(8.642e-12 / math.sqrt(3), rel=1e-6)
    assert found["estimates"]["L"]["u"] > 0.005 * found["estimates"]["L"]["value"]


def test_fit_draws_a_picture(qapp, capsys, tmp_path):
    path = tmp_path / "fit.png"
    assert run(capsys, "fit", CAPTURE, "--plot", str(path))[0] == 0
    assert path.read_bytes().startswith(b"\x89PNG")
    status, _, err = run(capsys, "fit", CAPTURE, "--plot", str(tmp_path / "fit.bmp"))
    assert status == 2
    assert "must end in .png" in err
    path.write_text("precious", encoding="ascii")
    status, out, err = run(capsys, "fit", CAPTURE, "--plot", str(path))
    assert (status, out) == (2, "")
    assert "fit.png: must be a new file (it is there already)." in err
    assert path.read_bytes() == b"precious"
    assert run(capsys, "fit", CAPTURE, "--plot", str(path), "--force")[0] == 0
    assert path.read_bytes().startswith(b"\x89PNG")
    status, _, err = run(capsys, "fit", CAPTURE, "--plot", str(tmp_path / "none" / "fit.png"))
    assert status == 4
    assert "folder that can be written" in err


def test_compare_judges_the_sample_and_prints_every_limit(capsys):
    status, out, err = run(capsys, "compare", CAPTURE, "--nominal", NOMINAL)
    assert (status, err) == (0, "")
    assert "PASS (Gate antenna coil GA-12 rev C)" in out
    assert "1.5714 mH to 1.6686 mH" in out
    assert "at most 22 Ω" in out


def test_compare_json_has_the_fields_of_the_contract(capsys):
    status, out, _ = run(capsys, "compare", CAPTURE, "--nominal", NOMINAL, "--json")
    assert status == 0
    found = json.loads(out)
    assert found["schema"] == "benchapp.verdict/1"
    assert found["outcome"] == "pass"
    assert [limit["quantity"] for limit in found["limits"]] == ["L", "f0", "Q", "ESR"]
    for limit in found["limits"]:
        assert set(limit) >= {
            *("quantity", "measured", "U", "lower", "upper", "guard", "outcome"),
            "margin_percent",
        }
        assert limit["guard"] == pytest.approx(limit["U"])
        assert limit["outcome"] == "pass"
    assert isinstance(found["checks"], list)


@pytest.mark.parametrize(
    ("limits", "status", "outcome"),
    [
        ('[limits.L]\nlower = "1 mH"\nupper = "2 mH"\n', 0, "pass"),
        ('[limits.L]\nlower = "1.7 mH"\nupper = "2 mH"\n', 1, "fail"),
        ('[limits.DCR]\nupper = "20 ohm"\n', 3, "not-judged"),
    ],
)
def test_exit_status_tells_the_outcome(capsys, tmp_path, limits, status, outcome):
    found, out, _ = run(
        capsys, "compare", CAPTURE, "--nominal", design(tmp_path, limits), "--json"
    )
    assert found == status
    assert json.loads(out)["outcome"] == outcome


def test_one_bad_file_does_not_lose_the_verdicts_on_the_others(capsys, tmp_path):
    (tmp_path / "empty.csv").write_bytes(b"")
    status, out, err = run(
        capsys, "compare", str(tmp_path / "empty.csv"), CAPTURE, "--nominal", NOMINAL, "--json"
    )
    assert status == 4
    assert len(err.splitlines()) == 1
    assert json.loads(out)["outcome"] == "pass"


def test_read_lists_what_was_understood(capsys):
    status, out, _ = run(capsys, "read", CAPTURE, "--json")
    assert status == 0
    found = json.loads(out)
    assert found["schema"] == "benchapp.reading/1"
    assert found["captures"][0]["points"] == 401
    assert (found["captures"][0]["first"], found["captures"][0]["last"]) == (114e3, 154e3)
    status, out, _ = run(capsys, "read", CAPTURE)
    assert status == 0
    assert "sweep, 401 points, 114 kHz to 154 kHz" in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("fit",), "the following arguments are required: FILE"),
        (("fit", CAPTURE, "--circuit", "magic"), "invalid choice: 'magic'"),
        (("fit", CAPTURE, "--band", "120kHz"), "--band: must be LOW..HIGH"),
        (("fit", CAPTURE, "--band", "150kHz..120kHz"), "LOW must be below HIGH"),
        (("fit", CAPTURE, "--fix", "C"), "--fix: must be ELEMENT=VALUE"),
        (("fit", CAPTURE, "--fix", "C=868 mH"), "must be in F"),
        (("fit", CAPTURE, "--at", "soon"), "must be a number with a unit"),
        (("fit", CAPTURE, "--answer", "port"), "--answer: must be NAME=VALUE"),
        (("--frobnicate",), "unrecognized arguments"),
        (("fitt", CAPTURE), "Did you mean: benchapp fit?"),
        (("comparre",), "Did you mean: benchapp compare?"),
    ],
)
def test_a_wrong_option_gives_one_sentence_and_status_2(capsys, words, says):
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert says in err


def test_a_bad_design_gives_one_sentence_with_its_line(capsys, tmp_path):
    path = design(tmp_path, '[limits.L]\nnominal = "1.62"\ntolerance = "3 %"\n')
    status, _, err = run(capsys, "compare", CAPTURE, "--nominal", path)
    assert status == 4
    assert len(err.splitlines()) == 1
    assert "line 5" in err


def test_help_names_every_command(capsys):
    with pytest.raises(SystemExit) as left:
        main(["--help"])
    assert left.value.code == 0
    out = capsys.readouterr().out
    for name, summary in cli.COMMANDS.items():
        assert name in out
        assert summary in out


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_every_command_explains_itself(capsys, name):
    with pytest.raises(SystemExit) as left:
        main([name, "--help"])
    assert left.value.code == 0
    assert len(capsys.readouterr().out) > 200


def test_version_is_printed(capsys):
    with pytest.raises(SystemExit):
        main(["--version"])
    assert capsys.readouterr().out.strip() == f"benchapp {__version__}"


def test_without_a_display_the_window_command_prints_the_verdict(capsys, monkeypatch):
    monkeypatch.setattr("benchapp.gui.display.missing", lambda: "there is no display.")
    status, out, err = run(capsys, CAPTURE, NOMINAL)
    assert (status, err) == (0, "")
    assert out.splitlines()[0] == "No window: there is no display."
    assert "PASS (Gate antenna coil GA-12 rev C)" in out
    status, out, _ = run(capsys, CAPTURE)
    assert status == 0
    assert "circuit tank" in out
    assert run(capsys)[0] == 3


def test_an_unforeseen_error_is_one_sentence_and_debug_shows_more(capsys, monkeypatch):
    def broken(*_, **__):
        raise RuntimeError("unforeseen")

    monkeypatch.setattr("benchapp.jobs.opening.understand", broken)
    status, _, err = run(capsys, "fit", CAPTURE)
    assert status == 4
    assert len(err.splitlines()) == 1
    assert "--debug" in err
    status, _, err = run(capsys, "fit", CAPTURE, "--debug")
    assert status == 4
    assert "Traceback" in err


def test_a_closed_pipe_ends_quietly():
    done = subprocess.run(
        f"{sys.executable} -m benchapp fit {CAPTURE} --json | head -c 1",
        shell=True,
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.stderr == ""


def test_an_interrupt_ends_with_a_word(capsys, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("benchapp.jobs.opening.understand", interrupted)
    status, _, err = run(capsys, "fit", CAPTURE)
    assert status == 3
    assert err.strip() == "benchapp: stopped."
