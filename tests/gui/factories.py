"""Small realistic values for window tests: a tank near 134.2 kHz with everything about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from benchapp.capture import Conditions, Origin, Response, Sweep, Transient
from benchapp.checks import Finding
from benchapp.fit import Fit
from benchapp.jobs import JudgedPart
from benchapp.nominal import (
    Decision,
    Envelope,
    Limit,
    LimitVerdict,
    Nominal,
    Outcome,
    Verdict,
)
from benchapp.readers import Assumption, Question, Reading
from benchapp.units import Estimate

L, C, R = 1.62e-3, 868e-12, 17.5
L_LIMIT = Limit(quantity="L", unit="H", lower=1.5714e-3, upper=1.6686e-3, nominal=1.62e-3)
Q_LIMIT = Limit(quantity="Q", unit="1", lower=60.0, upper=110.0, at=134.2e3)
ESR_LIMIT = Limit(quantity="ESR", unit="ohm", upper=22.0, at=134.2e3)


def tank(frequency):
    """Impedance of a coil with series resistance across a capacitor."""
    s = 2j * np.pi * np.asarray(frequency)
    coil = R + s * L
    return coil / (1 + s * C * coil)


def sweep(points: int = 101, *, noise: float = 1e-3, seed: int = 7, **facts: Any) -> Sweep:
    """A sweep of the tank from 114 to 154 kHz with relative noise."""
    frequency = np.linspace(114e3, 154e3, points)
    random = np.random.default_rng(seed)
    scatter = random.normal(size=points) + 1j * random.normal(size=points)
    stated = facts.pop("conditions", Conditions(level_volt=1.0, temperature_celsius=23.0))
    return Sweep(
        frequency=frequency,
        impedance=tank(frequency) * (1 + noise / np.sqrt(2) * scatter),
        conditions=stated,
        origin=Origin(source="tank.csv", reader="table", sha256="ab" * 32, **facts),
    )


def response() -> Response:
    """A transmission past a resonator."""
    frequency = np.linspace(130e3, 140e3, 61)
    return Response(
        frequency=frequency,
        ratio=0.1 / (1 + 2j * 80 * (frequency / 134.2e3 - 1)),
        kind="transmission",
        origin=Origin(source="through.s2p"),
    )


def transient() -> Transient:
    """A ring-down of 2 ms."""
    time = np.linspace(0, 2e-3, 801)
    return Transient(
        time=time,
        voltage=np.exp(-time / 4e-4) * np.cos(2 * np.pi * 20e3 * time),
        origin=Origin(source="ring.csv"),
    )


def estimate(name: str, value: float, u: float | None, unit: str) -> Estimate:
    return Estimate(name=name, value=value, u=u, unit=unit)


RESULTS = (
    estimate("L", 1.6315e-3, 1.0e-6, "H"),
    estimate("C", 864.2e-12, 0.6e-12, "F"),
    estimate("R", 17.52, 0.05, "ohm"),
    estimate("f0", 134043.6, 12.0, "Hz"),
    estimate("Q", 78.43, 0.21, "1"),
)


def fit(capture: Any, *, aside: tuple[int, ...] = (), **changes: Any) -> Fit:
    """A fit of ``capture`` with the tank itself as its curve."""
    x = capture.time if isinstance(capture, Transient) else capture.frequency
    used = np.ones(x.size, dtype=bool)
    used[list(aside)] = False
    measured = {
        Sweep: lambda: capture.impedance,
        Response: lambda: capture.ratio,
        Transient: lambda: capture.voltage.astype(complex),
    }[type(capture)]()
    curve = tank(x) if isinstance(capture, Sweep) else measured
    values: dict[str, Any] = {
        "kind": type(capture).__name__.lower(),
        "circuit": "tank",
        "digest": capture.digest,
        "elements": ("L", "C", "R"),
        "values": np.array([L, C, R]),
        "covariance": np.diag([1e-12, 1e-25, 2.5e-3]),
        "results": RESULTS,
        "describes": True,
        "converged": True,
        "noise": 1e-3,
        "dof": x.size - 3,
        "used": used,
        "fitted": curve,
        "residual": (measured - curve) / (np.abs(curve) * 1e-3 / np.sqrt(2) + 1e-12),
    }
    return Fit(**(values | changes))


def judged_limit(
    outcome: Outcome = Outcome.PASS,
    *,
    limit: Limit = L_LIMIT,
    value: float = 1.6315e-3,
    expanded: float = 2.0e-6,
    margin: float | None = 2.2,
    chance: float | None = 0.0,
) -> LimitVerdict:
    return LimitVerdict(
        limit=limit,
        outcome=outcome,
        measured=estimate(limit.quantity, value, expanded / 2, limit.unit),
        expanded=expanded,
        guard=expanded,
        margin_percent=margin,
        probability_outside=chance,
        reason=f"{limit.quantity} is where it is",
    )


def verdict(outcome: Outcome = Outcome.PASS, **changes: Any) -> Verdict:
    entries = (
        judged_limit(outcome, **changes),
        judged_limit(limit=Q_LIMIT, value=78.5, expanded=0.42, margin=31.0),
        judged_limit(limit=ESR_LIMIT, value=17.52, expanded=0.1, margin=20.4),
    )
    return Verdict(outcome=outcome, limits=entries, reason="as the limits say")


def nominal(**changes: Any) -> Nominal:
    values: dict[str, Any] = {
        "title": "Gate antenna coil GA-12",
        "revision": "C",
        "circuit": "tank",
        "limits": (L_LIMIT, Q_LIMIT, ESR_LIMIT),
        "frequency": 134.2e3,
        "conditions": Conditions(level_volt=1.0),
        "decision": Decision(guard=1.0, coverage=2.0),
        "source": "ga12.toml",
    }
    return Nominal(**(values | changes))


def envelope(frequency) -> Envelope:
    """A band of 20 % and 10 degrees around the tank."""
    z = tank(frequency)
    angle = np.degrees(np.angle(z))
    return Envelope(
        frequency=frequency,
        magnitude_low=0.8 * np.abs(z),
        magnitude_high=1.2 * np.abs(z),
        theta_low_degrees=angle - 10,
        theta_high_degrees=angle + 10,
    )


FINDINGS = (
    Finding(id="aside", level="note", text="2 points lie off the curve.", points=(3, 40)),
    Finding(
        id="coarse",
        level="warn",
        text="Only 4 points lie within the half-power band.",
        advice="Measure 132 to 136 kHz with 101 points.",
        points=(50, 51),
    ),
)


def judged(capture: Any = None, **changes: Any) -> JudgedPart:
    """A judged part with everything about it."""
    capture = sweep() if capture is None else capture
    values: dict[str, Any] = {
        "path": capture.origin.source,
        "capture": capture,
        "fit": fit(capture),
        "findings": FINDINGS,
        "nominal": nominal(),
        "verdict": verdict(),
        "envelope": envelope(capture.frequency) if isinstance(capture, Sweep) else None,
        "reading": reading(capture),
    }
    return JudgedPart(**(values | changes))


def reading(*captures: Any, **changes: Any) -> Reading:
    values: dict[str, Any] = {
        "source": "tank.csv",
        "reader": "table",
        "sha256": "ab" * 32,
        "captures": captures,
        "assumptions": (
            Assumption(
                subject="phase unit",
                value="degrees",
                reason="values reach 89.6",
                confidence=0.95,
            ),
            Assumption(
                subject="decimal mark",
                value="point",
                reason="no comma stands between digits",
                confidence=0.6,
            ),
        ),
        "layout": ("table", "frequency", "R", "X"),
    }
    return Reading(**(values | changes))


PORT = Question(
    name="port",
    text="How was the part connected to the analyser?",
    choices=("reflection", "series-through", "shunt-through"),
    required=True,
)


@dataclass
class Task:
    """One job that was handed in, and how to answer it."""

    subject: str
    job: Any
    done: Any
    failed: Any


@dataclass
class DirectWorker:
    """Stands for the worker: keeps what is handed in until the test answers."""

    tasks: list[Task] = field(default_factory=list)
    cancelled: int = 0

    def submit(self, subject, job, done, failed=lambda _error: None):
        self.tasks.append(Task(subject, job, done, failed))

    def cancel(self):
        self.cancelled += 1
        self.tasks.clear()

    def take(self, subject: str) -> Task:
        """Take the newest job of a subject; older ones are forgotten, as the worker does."""
        mine = [task for task in self.tasks if task.subject == subject]
        self.tasks = [task for task in self.tasks if task.subject != subject]
        assert mine, f"no job for {subject}: {[task.subject for task in self.tasks]}"
        return mine[-1]
