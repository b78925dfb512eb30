"""What a lot and its gauge study know reaches the checks without a person who types it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.checks import Facts
from benchapp.errors import RecordAwayError, UsageError
from benchapp.jobs import (
    AnalyseStudy,
    Examination,
    FactsOfGauge,
    JudgeLot,
    KeepStudy,
    LotRecipe,
    OpenNominal,
    RecordNotes,
    SummarizeLot,
    facts_of_lot,
    not_cancelled,
    reference,
    sample_folder,
    silent,
)
from benchapp.jobs.lot_facts import examined_lot
from benchapp.lot import LotForm, LotPlan, LotState, PartRecord, begin, key_of, summarize
from benchapp.nominal import Outcome
from benchapp.units import Estimate

FORM = LotForm(part="GA-12", quantity=200)
SAMPLE = LotPlan(kind="attributes", quantity=200, n=32, accept=0, reject=1)
WIDTH = 97.2e-6  # H, of the limits of L in the sample design


def do(job):
    return job(silent, not_cancelled)


@pytest.fixture(scope="module")
def nominal():
    return do(OpenNominal(path=str(sample_folder() / "ga12.toml")))


def study_file(folder, scatter, quantity="L", unit=" H", tolerance="", name="study.csv"):
    """Write a study of five parts, two persons and three trials; scatter is that of a trial."""
    generator = np.random.default_rng(3)
    parts = 1.62e-3 + 20e-6 * generator.normal(size=5)
    values = [
        (part, person, trial, float(parts[part] + scatter * generator.normal()))
        for part in range(5)
        for person in ("A", "B")
        for trial in (1, 2, 3)
    ]
    rows = [
        f"{part + 1},{person},{trial},{value!r}{unit},{quantity},{tolerance}"
        for part, person, trial, value in values
    ]
    path = folder / name
    text = "part,person,trial,value,quantity,tolerance\n" + "\n".join(rows) + "\n"
    path.write_text(text, encoding="utf-8")
    return do(AnalyseStudy(path=str(path)))


def state_of(values, positions=(), plan=SAMPLE):
    parts = tuple(
        PartRecord(
            serial=f"{at:04d}",
            outcome=Outcome.PASS,
            estimates={"L": Estimate(name="L", value=value, u=1e-7, unit="H")},
        )
        for at, value in enumerate(values, 1)
    )
    return LotState(form=FORM, plan=plan, positions=positions, parts=parts)


def normal_values(count, seed=1):
    return 1.62e-3 + 5e-6 * np.random.default_rng(seed).normal(size=count)


def test_a_study_says_what_share_of_the_design_the_gauge_takes(tmp_path, nominal):
    study = study_file(tmp_path, 6e-6)
    sigma = study.variance.gauge.sigma
    found = do(FactsOfGauge(nominal=nominal, study=study))
    assert found == Facts(gauge_percent=pytest.approx(100 * 6 * sigma / WIDTH, rel=1e-9))
    assert 25 < found.gauge_percent < 50


def test_the_latest_study_of_the_record_for_this_part_counts(tmp_path, nominal):
    notes = RecordNotes(address=str(tmp_path / "r.benchlog"))
    assert do(FactsOfGauge(nominal=nominal, notes=notes)) == Facts()
    for scatter in (9e-6, 2e-6):
        do(KeepStudy(notes=notes, part=nominal.title, study=study_file(tmp_path, scatter)))
    other = study_file(tmp_path, 9e-6)
    do(KeepStudy(notes=notes, part="another part", study=other))
    latest = study_file(tmp_path, 2e-6).variance.gauge.sigma
    found = do(FactsOfGauge(nominal=nominal, notes=notes)).gauge_percent
    assert found == pytest.approx(100 * 6 * latest / WIDTH, rel=1e-9)
    given = do(FactsOfGauge(nominal=nominal, notes=notes, study=other)).gauge_percent
    assert given == pytest.approx(100 * 6 * other.variance.gauge.sigma / WIDTH, rel=1e-9)


def test_of_several_quantities_the_worst_counts_and_one_without_two_limits_does_not(
    tmp_path, nominal
):
    notes = RecordNotes(address=str(tmp_path / "r.benchlog"))
    one_sided = next(
        key_of(limit) for limit in nominal.limits if limit.lower is None or limit.upper is None
    )
    for quantity, unit in (("L", " H"), (one_sided, " ohm"), ("f0", " ohm")):
        study = study_file(tmp_path, 3e-6, quantity, unit)
        do(KeepStudy(notes=notes, part=nominal.title, study=study))
    sigma = study_file(tmp_path, 3e-6).variance.gauge.sigma
    found = do(FactsOfGauge(nominal=nominal, notes=notes)).gauge_percent
    assert found == pytest.approx(100 * 6 * sigma / WIDTH, rel=1e-9)


def test_a_study_of_something_else_goes_by_the_tolerance_that_it_states(tmp_path, nominal):
    study = study_file(tmp_path, 3e-6, quantity="", tolerance="50e-6 H")
    found = do(FactsOfGauge(nominal=nominal, study=study)).gauge_percent
    assert found == pytest.approx(100 * 6 * study.variance.gauge.sigma / 50e-6, rel=1e-9)
    bare = study_file(tmp_path, 3e-6, quantity="")
    with pytest.raises(UsageError, match="gauge study: must state a tolerance") as refusal:
        do(FactsOfGauge(nominal=nominal, study=bare))
    assert "in the column 'quantity': L" in refusal.value.hint


def test_a_study_without_its_quantity_is_not_kept(tmp_path, nominal):
    notes = RecordNotes(address=str(tmp_path / "r.benchlog"))
    with pytest.raises(UsageError, match="must state its quantity to be kept"):
        do(KeepStudy(notes=notes, part="x", study=study_file(tmp_path, 3e-6, quantity="")))
    assert not (tmp_path / "r.benchlog").exists()


def test_the_fewest_parts_of_a_capability_count(nominal):
    few, many = state_of(normal_values(29)), state_of(normal_values(30))
    for state, ids in ((few, ["capability-from-few"]), (many, [])):
        findings = examined_lot(state, nominal, Facts()).findings
        assert [one.id for one in findings if one.id == "capability-from-few"] == ids
    assert facts_of_lot(few, summarize(few, nominal)).capability_parts == 29
    mild = {"capability-from-few": {"parts": 20}}
    assert examined_lot(few, nominal, Facts(), mild).findings == ()


def test_drawn_places_make_a_random_sample_and_a_person_may_say_otherwise(nominal):
    drawn = begin(FORM, SAMPLE, np.random.default_rng(1))
    state = state_of(normal_values(32), positions=drawn.positions)
    assert facts_of_lot(state, summarize(state, nominal)).random_sample is True
    bare = state_of(normal_values(32))
    assert facts_of_lot(bare, summarize(bare, nominal)).random_sample is None
    (finding,) = examined_lot(state, nominal, Facts(random_sample=False)).findings
    assert finding.id == "sample-not-random"


def test_a_lot_of_two_makes_is_not_even_and_a_plain_one_is(nominal):
    mixed = np.concatenate([normal_values(40), normal_values(40, 2) + 40e-6])
    np.random.default_rng(4).shuffle(mixed)
    found = examined_lot(state_of(mixed), nominal, Facts()).findings
    assert {one.id for one in found} == {"lot-not-even"}
    assert all(one.text.startswith("L: ") for one in found)
    assert examined_lot(state_of(normal_values(80)), nominal, Facts()).findings == ()


def test_a_gauge_that_is_too_wide_is_told_for_the_lot(nominal):
    summary = examined_lot(state_of(normal_values(40)), nominal, Facts(gauge_percent=40.0))
    assert [one.id for one in summary.findings] == ["gauge-too-wide"]
    job = SummarizeLot(state=state_of(normal_values(29)), nominal=nominal)
    assert [one.id for one in do(job).findings] == ["capability-from-few"]


def test_the_figures_of_a_lot_ask_the_record_for_its_gauge(tmp_path, nominal, monkeypatch):
    record = str(tmp_path / "r.benchlog")
    study = study_file(tmp_path, 9e-6)
    do(KeepStudy(notes=RecordNotes(address=record), part=nominal.title, study=study))
    job = SummarizeLot(state=state_of(normal_values(40)), nominal=nominal, record=record)
    assert [one.id for one in do(job).findings] == ["gauge-too-wide"]
    assert do(replace(job, record="")).findings == ()
    assert do(replace(job, record=str(tmp_path / "none.benchlog"))).findings == ()
    known = Examination(facts=Facts(gauge_percent=12.0))
    assert do(replace(job, examination=known)).findings == ()

    def away(*_words, **_more):
        raise RecordAwayError("server: must answer")

    monkeypatch.setattr(reference, "open_logbook", away)
    assert do(job).findings == ()


def test_a_lot_of_files_is_examined_as_a_whole_and_its_parts_are_not_told_of_it(nominal):
    recipe = LotRecipe(nominal=nominal)
    job = JudgeLot(folder=str(sample_folder() / "ga12_lot"), recipe=recipe)
    found = do(replace(job, facts=Facts(gauge_percent=40.0, random_sample=False)))
    assert [one.id for one in found.summary.findings] == [
        *("gauge-too-wide", "capability-from-few", "sample-not-random")
    ]
    assert not any(
        one.id in ("gauge-too-wide", "sample-not-random")
        for part in found.parts
        for one in part.findings
    )


def test_a_study_of_a_ratio_has_no_unit_and_counts(tmp_path, nominal):
    limit = next(one for one in nominal.limits if one.quantity == "Q")
    study = study_file(tmp_path, 3e-6, key_of(limit), "")
    found = do(FactsOfGauge(nominal=nominal, study=study)).gauge_percent
    expected = 100 * 6 * study.variance.gauge.sigma / (limit.upper - limit.lower)
    assert found == pytest.approx(expected, rel=1e-9)
