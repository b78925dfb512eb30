"""From a file to a judged part."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import benchapp
from benchapp.capture import Capture, Sweep
from benchapp.checks import (
    Acknowledgement,
    Evidence,
    Facts,
    Finding,
    acknowledge,
    examine,
    load_facts,
    load_thresholds,
    withhold,
)
from benchapp.diagnosis import Diagnosis, Disagreement, Subject, explain, hypotheses
from benchapp.errors import BenchError, FileAccessError, UsageError
from benchapp.fit import Fit, fit
from benchapp.fit.setting import FitChoices
from benchapp.fixture import Corrected
from benchapp.instruments import is_profile, load_profile
from benchapp.jobs.dates import dated
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.nominal import Envelope, Nominal, Outcome, Verdict, envelope, judge, load_nominal
from benchapp.readers import Reading, saved_text
from benchapp.uncertainty import Accuracy, combine, load_accuracy

__all__ = [
    "SAMPLE_CAPTURE",
    "SAMPLE_NOMINAL",
    "ComparePart",
    "Examination",
    "ExplainParts",
    "FitCapture",
    "FitChoices",
    "FitOnce",
    "JudgedPart",
    "OpenAccuracy",
    "OpenFacts",
    "OpenNominal",
    "OpenThresholds",
    "SaveCaptures",
    "Unreadable",
    "fitted_once",
    "part_name",
    "sample_folder",
    "with_facts",
]

_MISSED = "fit-misses-data"  # the one stop that a fault of the part itself may cause
SAMPLE_CAPTURE, SAMPLE_NOMINAL = "ga12_tank.csv", "ga12.toml"
"""The capture and the design that a first start offers."""


def sample_folder() -> Path:
    """Give the folder of the sample captures: inside the package, or beside it in a clone."""
    package = Path(benchapp.__file__).resolve().parent
    inside = package / "sample_captures"
    return inside if inside.is_dir() else package.parent / "sample_captures"


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """How a result is looked at.

    What is stated about the instrument, which thresholds differ from the defaults, which
    findings a person has accepted, and what is known beside the capture.
    """

    accuracy: Accuracy | None = None
    thresholds: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    acknowledged: tuple[Acknowledgement, ...] = ()
    facts: Facts = field(default_factory=Facts)


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedPart:
    """One capture with everything that was found out about it.

    ``fit`` holds the scatter of the capture only; the verdict and its budgets hold the accuracy
    of the instrument as well where it is stated. ``diagnosis`` is there for a part that failed,
    or whose sweep the circuit of the design misses. ``choices``, ``examination`` and ``thorough``
    are those of `ComparePart`, the facts with the day that they were held against;
    ``corrected`` says what was taken away before.
    """

    path: str
    capture: Capture
    fit: Fit
    findings: tuple[Finding, ...] = ()
    nominal: Nominal | None = None
    verdict: Verdict | None = None
    envelope: Envelope | None = None
    reading: Reading | None = None
    accuracy: Accuracy | None = None
    diagnosis: Diagnosis | None = None
    choices: FitChoices = field(default_factory=FitChoices)
    examination: Examination = field(default_factory=Examination)
    thorough: bool = True
    corrected: Corrected | None = None

    @property
    def name(self) -> str:
        """What to call the part on screen and paper."""
        return part_name(self.capture, self.path)

    @property
    def sha256(self) -> str:
        """Digest of the file that was read; of the instrument's answers where there is none."""
        return self.capture.origin.sha256 if self.reading is None else self.reading.sha256


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreadable:
    """A file that gave no capture, and why."""

    path: str
    error: BenchError


def part_name(capture: Capture, path: str = "") -> str:
    """Name a part: its serial where known, else the file, with the label of its sweep."""
    source = path or capture.origin.source
    base = capture.origin.part or source.replace("\\", "/").rsplit("/", 1)[-1]
    return f"{base} ({capture.origin.label})" if capture.origin.label else base


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenNominal:
    """Read a nominal design.

    Raises
    ------
    NominalError, FileAccessError
        When the file cannot be opened or breaks a rule of the format.
    """

    path: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Nominal:
        """Read the design."""
        stop_if(cancelled)
        progress(f"reading {self.path}", 0.0)
        return load_nominal(self.path)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenAccuracy:
    """Read the accuracy of an instrument, from a file of its own or from its profile.

    Raises
    ------
    UsageError, ProfileError, FileAccessError
        When the file cannot be opened, breaks a rule of the format, or is a profile without one.
    """

    path: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Accuracy:
        """Read the accuracy."""
        stop_if(cancelled)
        progress(f"reading {self.path}", 0.0)
        if not is_profile(self.path):
            return load_accuracy(self.path)
        stated = load_profile(self.path).accuracy
        if stated is None:
            raise UsageError(
                f"{self.path}: the profile must state an accuracy (got none).",
                hint="Add [accuracy.instrument] with what your instrument's data sheet says; "
                "generic profiles know no instrument.",
            )
        return stated


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenThresholds:
    """Read changed thresholds of checks.

    Raises
    ------
    UsageError, FileAccessError
        When the file cannot be opened or breaks a rule of the format.
    """

    path: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> dict[str, dict[str, float]]:
        """Read the thresholds."""
        stop_if(cancelled)
        progress(f"reading {self.path}", 0.0)
        return load_thresholds(self.path)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFacts:
    """Read what is known beside a capture.

    Raises
    ------
    UsageError, FileAccessError
        When the file cannot be opened or breaks a rule of the format.
    """

    path: str

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Facts:
        """Read the facts."""
        stop_if(cancelled)
        progress(f"reading {self.path}", 0.0)
        return load_facts(self.path)


@dataclass(frozen=True, slots=True, kw_only=True)
class FitCapture:
    """Fit one capture.

    ``thorough`` also asks other methods about the resonance of a sweep, and looks for what would
    describe it where the circuit does not.

    Raises
    ------
    FitError
        When the capture cannot be fitted at all.
    """

    capture: Capture
    choices: FitChoices = field(default_factory=FitChoices)
    thorough: bool = True

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Fit:
        """Fit the capture."""
        stop_if(cancelled)
        progress("fitting", 0.0)
        found = fit(
            self.capture,
            self.choices.circuit,
            fix={estimate.name: estimate for estimate in self.choices.fix} or None,
            band=self.choices.band,
            set_aside=self.choices.set_aside,
            advise=self.thorough,
        )
        if self.thorough and isinstance(self.capture, Sweep):
            from benchapp.fit.opinion import opinions  # start-up: only once a sweep was fitted

            return replace(found, opinions=opinions(self.capture, found))
        return found


@dataclass(slots=True, eq=False)
class _Once:
    """What was found, and who is at it."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    found: Fit | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FitOnce(FitCapture):
    """A `FitCapture` that several threads wait for and that is worked out once.

    The first to come works it out, the others take what it found. Where the first one is stopped
    or fails, the next does it again.
    """

    _once: _Once = field(init=False, repr=False, compare=False, default_factory=_Once)

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Fit:
        """Give the fit."""
        with self._once.lock:
            if self._once.found is None:
                self._once.found = FitCapture.__call__(self, progress, cancelled)
            return self._once.found


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparePart:
    """Fit one capture, judge it against the nominal design (if any) and examine the result.

    Without a chosen circuit a sweep is fitted with the circuit of the design. Where nobody looks
    at the sweep the envelope need not be worked out, and a lot need not be ``thorough``.
    ``fitting`` is a fit that others want too; ``corrected`` says how the capture came to be what
    it is, where something was taken away from it.

    Raises
    ------
    FitError
        When the capture cannot be fitted at all.
    UsageError
        When an acknowledgement is of a stop, or a threshold does not exist.
    """

    capture: Capture
    path: str = ""
    nominal: Nominal | None = None
    reading: Reading | None = None
    choices: FitChoices = field(default_factory=FitChoices)
    examination: Examination = field(default_factory=Examination)
    with_envelope: bool = True
    thorough: bool = True
    fitting: FitOnce | None = field(default=None, repr=False, compare=False)
    corrected: Corrected | None = field(default=None, repr=False, compare=False)

    @property
    def sha256(self) -> str:
        """Digest of the file that was read; of the instrument's answers where there is none."""
        return self.capture.origin.sha256 if self.reading is None else self.reading.sha256

    def __call__(self, progress: Progress, cancelled: Cancelled) -> JudgedPart:
        """Fit, judge, examine."""
        found = self._fitting()(progress, cancelled)
        stop_if(cancelled)
        progress("judging", 0.6)
        return self.look_at(found)

    def look_at(self, found: Fit) -> JudgedPart:
        """Judge and examine a fit of the capture."""
        verdict = None
        band = None
        accuracy = self.examination.accuracy
        if self.nominal is not None:
            verdict = judge(self.nominal, found, self.capture, accuracy)
            if self.with_envelope and isinstance(self.capture, Sweep):
                band = envelope(self.nominal, self.capture.frequency)
        examination = replace(self.examination, facts=dated(self.examination.facts, self.capture))
        findings = self._findings(found, verdict, examination)
        return JudgedPart(
            path=self.path,
            capture=self.capture,
            fit=found,
            findings=findings,
            nominal=self.nominal,
            verdict=None if verdict is None else withhold(verdict, findings),
            envelope=band,
            reading=self.reading,
            accuracy=accuracy,
            diagnosis=self._diagnosis(found, verdict, findings),
            choices=self.used_choices,
            examination=examination,
            thorough=self.thorough,
            corrected=self.corrected,
        )

    def _diagnosis(
        self, found: Fit, verdict: Verdict | None, findings: tuple[Finding, ...]
    ) -> Diagnosis | None:
        stops = {finding.id for finding in findings if finding.level == "stop"}
        if self.nominal is None or verdict is None or stops - {_MISSED}:
            return None
        failed = verdict.outcome in (Outcome.FAIL, Outcome.CONDITIONAL_FAIL)
        if not failed and _MISSED not in stops:
            return None
        return hypotheses(self.nominal, found, self.capture)

    def _findings(
        self, found: Fit, verdict: Verdict | None, examination: Examination
    ) -> tuple[Finding, ...]:
        seen = Evidence(
            capture=self.capture,
            fit=found,
            nominal=self.nominal,
            verdict=verdict,
            reading=self.reading,
            accuracy=examination.accuracy,
            facts=examination.facts,
        )
        findings = examine(seen, examination.thresholds)
        return acknowledge(findings, examination.acknowledged)

    def _fitting(self) -> FitCapture:
        choices = self.used_choices
        if self.fitting is not None and self.fitting.choices == choices:
            return self.fitting
        return FitCapture(capture=self.capture, choices=choices, thorough=self.thorough)

    @property
    def used_choices(self) -> FitChoices:
        """The choices, with the circuit of the design where the person chose none."""
        design = self.nominal
        if design is None or self.choices.circuit != "auto" or not isinstance(self.capture, Sweep):
            return self.choices
        return replace(self.choices, circuit=design.circuit)


def with_facts(part: JudgedPart, facts: Facts) -> JudgedPart:
    """Examine a judged part once more, knowing more than it was judged with.

    Parameters
    ----------
    part : JudgedPart
    facts : Facts
        What became known since; what was known stays.
    """
    known = replace(part.examination, facts=part.examination.facts.completed(facts))
    job = ComparePart(
        capture=part.capture,
        path=part.path,
        nominal=part.nominal,
        reading=part.reading,
        choices=part.choices,
        examination=known,
        with_envelope=part.envelope is not None,
        thorough=part.thorough,
        corrected=part.corrected,
    )
    return job.look_at(part.fit)


def fitted_once(compare: ComparePart, earlier: FitOnce | None = None) -> FitOnce:
    """Give the fit that a judgement needs: an earlier one of its capture where that still holds.

    Parameters
    ----------
    compare : ComparePart
    earlier : FitOnce, optional
    """
    choices = compare.used_choices
    if earlier is not None and earlier.capture is compare.capture and earlier.choices == choices:
        return earlier
    return FitOnce(capture=compare.capture, choices=choices)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplainParts:
    """Say why captures of one part disagree, each against the first.

    Raises
    ------
    UsageError
        With fewer than two captures.
    """

    parts: tuple[JudgedPart, ...]

    def __call__(self, progress: Progress, cancelled: Cancelled) -> tuple[Disagreement, ...]:
        """Compare them."""
        stop_if(cancelled)
        if len(self.parts) < 2:
            raise UsageError(
                f"comparison: must have two captures of one part or more (got {len(self.parts)}).",
                hint="Name the file of a second capture.",
            )
        progress("comparing", 0.0)
        return explain(
            [
                Subject(
                    name=part.name,
                    capture=part.capture,
                    fit=combine(part.fit, part.capture, part.accuracy),
                )
                for part in self.parts
            ]
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SaveCaptures:
    """Save captures to a file that `OpenFile` restores as they were.

    Raises
    ------
    FileAccessError
        When the file cannot be written, or is there already and ``overwrite`` is not set.
    """

    path: str
    captures: tuple[Capture, ...]
    overwrite: bool = False

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write the file; give its path."""
        stop_if(cancelled)
        progress(f"saving {self.path}", 0.0)
        try:
            with Path(self.path).open("w" if self.overwrite else "x", encoding="ascii") as file:
                file.write(saved_text(self.captures))
        except OSError as cause:
            there = isinstance(cause, FileExistsError)
            raise FileAccessError(
                f"{self.path}: must be a file that can be written (got {cause.strerror}).",
                hint="Choose another name, or say that it may be replaced."
                if there
                else "Choose another folder or name.",
            ) from cause
        return self.path
