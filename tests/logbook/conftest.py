"""A judged part of the samples, and entries made from it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchapp.checks import Acknowledgement, Evidence, acknowledge, examine
from benchapp.fit import fit
from benchapp.logbook import PartEntry, open_logbook
from benchapp.lot import LotForm, LotPlan
from benchapp.nominal import judge, load_nominal
from benchapp.readers import Answers, Assumption, read
from tests.logbook.server import PASSWORD, Server, obstacle

SAMPLES = Path(__file__).resolve().parents[2] / "sample_captures"
CAPTURE = SAMPLES / "ga12_tank.csv"
NOMINAL = SAMPLES / "ga12.toml"
FORM = LotForm(part="GA-12", revision="C", supplier="Coil works", order="4711", quantity=150)
PLAN = LotPlan(kind="attributes", quantity=150, n=13, accept=0, reject=1, aql=1.0)
TIME = "2026-03-02T08:15:00Z"


def make_entry(serial="GA12-0001"):
    """Give an entry as the work on a lot makes it, with something in every field."""
    capture = read(CAPTURE)[0]
    nominal = load_nominal(NOMINAL)
    found = fit(capture, nominal.circuit)
    verdict = judge(nominal, found, capture)
    findings = examine(Evidence(capture=capture, fit=found, nominal=nominal, verdict=verdict))
    mild = [finding.id for finding in findings if finding.level != "stop"][:1]
    seen = [Acknowledgement(check=name, name="A. Brandt", reason="known") for name in mild]
    return PartEntry(
        serial=serial,
        time=TIME,
        position=7,
        operator="A. Brandt",
        instrument="bench analyser, serial 12",
        path=str(CAPTURE),
        raw=CAPTURE.read_bytes(),
        capture=capture,
        answers=Answers(port="reflection"),
        assumptions=(Assumption(subject="x", value="y", reason="z", confidence=0.9),),
        nominal=nominal,
        nominal_text=NOMINAL.read_text(encoding="utf-8"),
        accuracy_text="[instrument]\n# ±0,1 %\n",
        fit=found,
        verdict=verdict,
        findings=acknowledge(findings, seen),
        software="0.1.0",
    )


@pytest.fixture(scope="session")
def entry():
    return make_entry()


@pytest.fixture(scope="session")
def entries(entry):
    """Give a function that makes entries with serials of their own."""

    def several(count, first=1, **changes):
        return [
            replace(
                entry,
                serial=f"GA12-{number:04d}",
                raw=entry.raw + b"# %d\n" % number,
                position=number,
                **changes,
            )
            for number in range(first, first + count)
        ]

    return several


@pytest.fixture
def address(tmp_path):
    return str(tmp_path / "parts.benchlog")


@pytest.fixture
def book(address):
    with open_logbook(address, bench="bench A") as opened:
        yield opened


@pytest.fixture(scope="session")
def server():
    """Give a running server, or say why there is none."""
    reason = obstacle()
    if reason:
        pytest.skip(reason)
    running = Server()
    try:
        running.start()
        yield running
    finally:
        running.remove()


@pytest.fixture
def shared(server, request, monkeypatch):
    """Give the address of an empty database of one test's own."""
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    name = f"parts{abs(hash(request.node.name)):x}"
    server.make_database(name)
    return server.address(name)
