"""Jobs: the same act for the window, the command line and a test."""

from __future__ import annotations

import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import benchapp.instruments
from benchapp.capture import Sweep
from benchapp.checks import Acknowledgement
from benchapp.circuit import CIRCUITS
from benchapp.errors import CancelledError, FitError, NominalError, ReadError, UsageError
from benchapp.jobs import (
    SAMPLE_CAPTURE,
    SAMPLE_NOMINAL,
    ComparePart,
    Examination,
    FitCapture,
    FitChoices,
    FitOnce,
    OpenAccuracy,
    OpenFile,
    OpenNominal,
    OpenThresholds,
    fitted_once,
    not_cancelled,
    part_name,
    sample_folder,
    silent,
)
from benchapp.nominal import Outcome
from benchapp.units import Estimate

CAPTURE = str(sample_folder() / SAMPLE_CAPTURE)
NOMINAL = str(sample_folder() / SAMPLE_NOMINAL)


def run(job):
    return job(silent, not_cancelled)


@pytest.fixture(scope="module")
def reading():
    return run(OpenFile(path=CAPTURE))


@pytest.fixture(scope="module")
def nominal():
    return run(OpenNominal(path=NOMINAL))


def test_the_sample_is_read_fitted_and_passes_its_design(reading, nominal):
    part = run(
        ComparePart(capture=reading.captures[0], path=CAPTURE, nominal=nominal, reading=reading)
    )
    assert part.verdict.outcome is Outcome.PASS
    assert part.fit.circuit == nominal.circuit == "tank"
    assert part.envelope.frequency.size == reading.captures[0].frequency.size
    assert not [finding for finding in part.findings if finding.level == "stop"]
    assert part.reading is reading


def test_without_a_design_there_is_a_fit_and_no_verdict(reading):
    part = run(ComparePart(capture=reading.captures[0], path=CAPTURE))
    assert (part.nominal, part.verdict, part.envelope) == (None, None, None)
    assert part.fit.estimates["L"].value > 0


def test_the_circuit_of_the_design_is_used_unless_another_is_chosen(reading, nominal):
    capture = reading.captures[0]
    chosen = ComparePart(
        capture=capture, nominal=nominal, choices=FitChoices(circuit="parallel-rlc")
    )
    assert run(chosen).fit.circuit == "parallel-rlc"
    assert run(ComparePart(capture=capture, nominal=nominal)).fit.circuit == "tank"


def test_points_set_aside_by_a_person_are_kept_and_not_used(reading):
    capture = reading.captures[0]
    fit = run(FitCapture(capture=capture, choices=FitChoices(set_aside=(3, 200))))
    assert {3, 200} <= set(fit.set_aside)
    assert fit.used.size == capture.frequency.size


def test_a_band_and_a_known_element_reach_the_fit(reading):
    known = Estimate(name="C", value=868e-12, u=1e-12, unit="F")
    choices = FitChoices(circuit="tank", fix=(known,), band=(125e3, 145e3))
    fit = run(FitCapture(capture=reading.captures[0], choices=choices))
    assert fit.fixed == ("C",)
    inside = reading.captures[0].frequency
    assert np.array_equal(fit.used, (inside >= 125e3) & (inside <= 145e3))


def test_a_job_that_was_stopped_says_so(reading):
    for job in (
        OpenFile(path=CAPTURE),
        OpenNominal(path=NOMINAL),
        ComparePart(capture=reading.captures[0]),
    ):
        with pytest.raises(CancelledError, match="stopped before it was done"):
            job(silent, lambda: True)


def test_jobs_tell_what_they_do(reading, nominal):
    told: list[tuple[str, float]] = []
    job = ComparePart(capture=reading.captures[0], nominal=nominal)
    job(lambda text, fraction: told.append((text, fraction)), not_cancelled)
    assert [text for text, _ in told] == ["fitting", "judging"]
    assert all(0 <= fraction <= 1 for _, fraction in told)


def test_reading_a_long_record_tells_its_progress_and_can_be_stopped(tmp_path):
    path = tmp_path / "record.csv"
    rows = "".join(f"{n * 1e-8:.8e},{n % 97}\n" for n in range(400_000))
    path.write_text("time (s),voltage (V)\n" + rows, encoding="utf-8")
    fractions: list[float] = []
    job = OpenFile(path=str(path))
    reading = job(lambda _text, fraction: fractions.append(fraction), not_cancelled)
    assert reading.captures[0].time.size == 400_000
    assert len(set(fractions)) > 2
    assert fractions == sorted(fractions)
    told: list[float] = []
    with pytest.raises(CancelledError):
        job(lambda _text, fraction: told.append(fraction), lambda: len(told) > 1)


def test_jobs_cross_a_process_boundary(reading, nominal):
    job = ComparePart(capture=reading.captures[0], nominal=nominal)
    twin = run(pickle.loads(pickle.dumps(job)))
    assert twin.verdict == run(job).verdict


def test_a_part_is_called_by_its_serial_else_by_its_file():
    sweep = Sweep(frequency=[1e3, 2e3], impedance=[1 + 1j, 1 + 2j])
    assert part_name(sweep, "lots/7/coil_3.csv") == "coil_3.csv"
    assert part_name(sweep, "lots\\7\\coil_3.csv") == "coil_3.csv"


def test_what_cannot_be_read_or_fitted_is_told(tmp_path):
    (tmp_path / "empty.csv").write_bytes(b"")
    with pytest.raises(ReadError, match="empty"):
        run(OpenFile(path=str(tmp_path / "empty.csv")))
    (tmp_path / "design.toml").write_text("title = 7\n", encoding="utf-8")
    with pytest.raises(NominalError, match=r"design\.toml"):
        run(OpenNominal(path=str(tmp_path / "design.toml")))
    lonely = Sweep(frequency=[1e3], impedance=[1 + 1j])
    with pytest.raises(FitError, match="must have at least"):
        run(FitCapture(capture=lonely, choices=FitChoices(circuit="tank")))


def test_re_opening_a_file_gives_bit_identical_captures_and_results(reading):
    again = run(OpenFile(path=CAPTURE))
    assert [c.digest for c in again.captures] == [c.digest for c in reading.captures]
    first, second = (run(FitCapture(capture=each.captures[0])) for each in (reading, again))
    assert first.results == second.results
    assert np.array_equal(first.covariance, second.covariance)


def test_every_circuit_can_be_asked_for(reading):
    for name in CIRCUITS:
        fit = run(FitCapture(capture=reading.captures[0], choices=FitChoices(circuit=name)))
        assert fit.circuit == name


ACCURACY = '[instrument]\nreading = { bound = "±0.1 %", distribution = "normal" }\n'
WHO = Acknowledgement(check="accuracy-not-stated", name="A. Brandt", reason="comparison only")


def test_accuracy_and_thresholds_are_read_and_reach_the_verdict(tmp_path, reading, nominal):
    accuracy, checks = tmp_path / "meter.toml", tmp_path / "checks.toml"
    accuracy.write_text(ACCURACY, encoding="utf-8")
    checks.write_text("[low-q-resonance]\nq = 90\n", encoding="utf-8")
    examination = Examination(
        accuracy=run(OpenAccuracy(path=str(accuracy))),
        thresholds=run(OpenThresholds(path=str(checks))),
    )
    part = run(ComparePart(capture=reading.captures[0], nominal=nominal, examination=examination))
    assert part.verdict.U_holds == "scatter and instrument"
    assert part.accuracy.reading.u == pytest.approx(5e-4)
    assert part.verdict.limits[0].expanded > 5 * 2 * part.fit.estimates["L"].u
    names = {finding.id for finding in part.findings}
    assert "low-q-resonance" in names
    assert "accuracy-not-stated" not in names


def test_an_acknowledgement_travels_with_the_result(reading, nominal):
    part = run(
        ComparePart(
            capture=reading.captures[0],
            nominal=nominal,
            examination=Examination(acknowledged=(WHO,)),
        )
    )
    (finding,) = [each for each in part.findings if each.id == WHO.check]
    assert finding.acknowledged == WHO
    assert pickle.loads(pickle.dumps(part)).findings == part.findings


def test_reading_settings_can_be_cancelled(tmp_path):
    for job in (OpenAccuracy(path="x"), OpenThresholds(path="x")):
        with pytest.raises(CancelledError):
            job(silent, lambda: True)


def test_an_accuracy_is_taken_from_a_profile_that_states_one(tmp_path):
    shipped = Path(benchapp.instruments.__file__).parent / "profiles" / "lcr-points.toml"
    mine = tmp_path / "mine.toml"
    text = shipped.read_text(encoding="utf-8")
    mine.write_text(text + '\n[accuracy.instrument]\nreading = "±0.2 %"\n', encoding="utf-8")
    stated = OpenAccuracy(path=str(mine))(silent, not_cancelled)
    assert stated.reading.bound == pytest.approx(2e-3)
    with pytest.raises(UsageError, match=r"lcr-points: the profile must state an accuracy"):
        OpenAccuracy(path="lcr-points")(silent, not_cancelled)


def test_a_fit_that_two_threads_ask_for_is_worked_out_once(reading):
    job = FitOnce(capture=reading.captures[0])
    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(lambda _at: run(job), range(2))
    assert first is second
    assert first.values.tolist() == run(FitCapture(capture=reading.captures[0])).values.tolist()


def test_a_fit_that_was_stopped_is_done_again_for_the_next(reading):
    job = FitOnce(capture=reading.captures[0])
    with pytest.raises(CancelledError):
        job(silent, lambda: True)
    assert run(job).converged


def test_judgements_share_a_fit_as_long_as_it_is_by_the_same_choices(reading, nominal):
    capture = reading.captures[0]
    plain = ComparePart(capture=capture, nominal=nominal)
    fitting = fitted_once(plain)
    assert fitting.choices.circuit == nominal.circuit
    assert fitted_once(plain, fitting) is fitting
    first = run(replace(plain, fitting=fitting))
    stricter = replace(plain, fitting=fitting, examination=Examination(acknowledged=()))
    assert run(stricter).fit is first.fit
    other = replace(plain, fitting=fitting, choices=FitChoices(set_aside=(5,)))
    assert fitted_once(other, fitting) is not fitting
    assert 5 in run(other).fit.set_aside


def test_a_sweep_is_asked_for_second_opinions_unless_many_are_fitted(reading):
    capture = reading.captures[0]
    thorough = run(FitCapture(capture=capture))
    assert {opinion.estimate.name for opinion in thorough.opinions} == {"f0", "Q"}
    assert all(opinion.agrees for opinion in thorough.opinions)
    quick = run(FitCapture(capture=capture, thorough=False))
    assert quick.opinions == ()
    assert quick.results == thorough.results


def test_advice_is_looked_for_only_where_a_person_waits(reading):
    capture, choices = reading.captures[0], FitChoices(circuit="parallel-rlc")
    said = [
        next(remark.text for remark in run(job).remarks if remark.name == "misfit")
        for job in (
            FitCapture(capture=capture, choices=choices),
            FitCapture(capture=capture, choices=choices, thorough=False),
        )
    ]
    assert said[0] == f"{said[1]} The circuit tank ({CIRCUITS['tank'].title}) does."
