"""The procedure of a measurement: outputs off, set up, coarse and fine sweep, outputs off.

A stop or a failure keeps the points so far. A broken link is taken up again at the point where it
broke. At the end the output is switched off over the link, opened anew if need be; where that
cannot be confirmed, the result says so.
"""

from __future__ import annotations

import datetime as dt
import re
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from benchapp.capture import Capture, Conditions, Noise, Origin, Step, Sweep
from benchapp.errors import BenchError, CancelledError, FitError, LinkError
from benchapp.fit import fit
from benchapp.instruments.answer import same
from benchapp.instruments.link import Link, never
from benchapp.instruments.plan import Plan, check, coarse_grid, fine_grid, settling
from benchapp.instruments.profile import Profile, Span
from benchapp.instruments.reading import READINGS, FloatArray, Point, Talk, record_of
from benchapp.uncertainty import Accuracy

__all__ = ["PARTIAL", "Aside", "Ending", "State", "Taken", "switch_off", "take"]

State = Literal["off", "on", "unknown"]
PARTIAL = "partial sweep"
"""Name of the step that marks a sweep which was broken off."""
MOST_ERRORS = 20  # read from an instrument's error queue
RAMP = (0.25, 0.5, 0.75, 1.0)  # of the bias on its way up, and back on its way down
RAMP_SECONDS = 0.05  # between two steps
ZERO_BIAS = 1e-3  # V: below it a bias counts as off
FEWEST_TO_FIND = 8
RETRY_SECONDS = 0.2  # before a broken link is taken up again, doubled each time
LEAVE_SECONDS = 2.0  # for one answer while switching off
LEAVE_ATTEMPTS = 3
_STEPPED = ("impedance-points", "gain-phase")

Progress = Callable[[str, float], None]
Watch = Callable[[Point], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Aside:
    """A point that is no reading, and why."""

    frequency: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """How the instrument was left: output and bias, and what a person must know about it."""

    output: State
    bias: State
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a measurement gave.

    ``captures`` holds the result first, the search before it second; with a failure or a stop it
    holds what there is, ``partial`` is set and ``trouble`` says why. ``resonance`` is (f0, Q) as
    the search found it. ``notes`` are plain sentences about what happened on the way. ``accuracy``
    and ``calibration_due`` are what the profile states about the instrument; ``dwell`` is the
    shortest wait at a point in s, None where the instrument steps by itself.
    """

    captures: tuple[Capture, ...]
    partial: bool
    trouble: BenchError | None
    ending: Ending
    aside: tuple[Aside, ...] = ()
    resonance: Span | None = None
    notes: tuple[str, ...] = ()
    reconnections: int = 0
    accuracy: Accuracy | None = None
    calibration_due: str | None = None
    dwell: float | None = None


def silent(_text: str, _fraction: float) -> None:
    """Take progress and tell nobody."""


def unwatched(_point: Point) -> None:
    """Take a point and show it to nobody."""


def take(
    link: Link,
    profile: Profile,
    plan: Plan,
    *,
    progress: Progress = silent,
    watch: Watch = unwatched,
) -> Taken:
    """Measure.

    Parameters
    ----------
    link : Link
        Opened if it is not; its ``cancelled`` stops the measurement. It is closed at the end.
    profile : Profile
    plan : Plan
    progress : callable
        Told in words what is done, and which fraction.
    watch : callable
        Shown each point as it comes.

    Returns
    -------
    Taken
        Also after a failure or a stop.

    Raises
    ------
    UsageError
        When the plan does not suit the profile or needs consent; nothing was switched then.
    """
    check(plan, profile)
    run = _Run(talk=Talk(link=link, profile=profile, plan=plan), progress=progress, watch=watch)
    trouble: BenchError | None = None
    try:
        run.measure()
    except (LinkError, CancelledError) as cause:
        trouble = cause
    finally:
        ending = _leave(run.talk)
    return Taken(
        captures=run.captures(),
        partial=trouble is not None,
        trouble=trouble,
        ending=ending,
        aside=tuple(run.aside),
        resonance=run.talk.resonance,
        notes=tuple(run.notes),
        reconnections=run.reconnections,
        accuracy=profile.accuracy,
        calibration_due=profile.calibration_due,
        dwell=run.dwell(),
    )


@dataclass(slots=True, kw_only=True)
class _Leg:
    """One pass over a grid, which part of the whole progress it takes, and what came of it."""

    label: str
    grid: FloatArray
    begun: float
    share: float
    points: list[Point] = field(default_factory=list)


@dataclass(slots=True, kw_only=True)
class _Run:
    """A measurement under way."""

    talk: Talk
    progress: Progress
    watch: Watch
    legs: list[_Leg] = field(default_factory=list)
    records: list[Capture] = field(default_factory=list)
    aside: list[Aside] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    reconnections: int = 0
    broken: str = ""
    taken: str = ""

    def measure(self) -> None:
        """Do the whole procedure; what it gives is kept on the way."""
        self.taken = dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")
        self.progress("connecting", 0.0)
        self._patiently(self._prepare)
        if self.talk.profile.method == "ring-down":
            self.progress("waiting for the ring-down", 0.5)
            self._patiently(self._record)
            return
        plan = self.talk.plan
        if plan.zoom:
            self._pass("coarse", coarse_grid(plan), (0.05, 0.4))
            self._zoom()
        else:
            self._pass("sweep", coarse_grid(plan), (0.05, 1.0))

    def captures(self) -> tuple[Capture, ...]:
        """Give the captures so far, the last pass first."""
        sweeps = [self._sweep(leg) for leg in reversed(self.legs)]
        return (*self.records, *(sweep for sweep in sweeps if sweep is not None))

    def dwell(self) -> float | None:
        """Give the shortest wait at a point of the last pass."""
        talk = self.talk
        if talk.profile.method not in _STEPPED or not self.legs:
            return None
        highest = float(self.legs[-1].grid.max())
        return settling(talk.plan, talk.profile, highest, talk.resonance)

    def _zoom(self) -> None:
        self.progress("looking for the resonance", 0.4)
        coarse = self._sweep(self.legs[-1])
        found = None if coarse is None else _find(coarse, self.talk.plan)
        plan = self.talk.plan
        if found is None:
            self.notes.append(
                "The coarse sweep shows no resonance: the points were laid over the whole range."
            )
            self._pass("fine", coarse_grid(replace(plan, zoom=False)), (0.4, 1.0))
            return
        self.talk.resonance = found
        self._pass("fine", fine_grid(plan, *found), (0.4, 1.0))

    def _pass(self, label: str, grid: FloatArray, share: Span) -> None:
        """Sweep up, down, or both; a broken link is taken up where it broke.

        ``share`` is the part of the whole progress that this takes, from and to.
        """
        directions = {"up": ("up",), "down": ("down",), "both": ("up", "down")}
        ways = directions[self.talk.plan.direction]
        for way, direction in enumerate(ways):
            leg = _Leg(
                label=f"{label} {direction}" if len(ways) > 1 else label,
                grid=grid if direction == "up" else grid[::-1],
                begun=share[0] + (share[1] - share[0]) * way / len(ways),
                share=(share[1] - share[0]) / len(ways),
            )
            self.legs.append(leg)
            self._patiently(lambda leg=leg: self._rest_of(leg))  # type: ignore[misc]

    def _rest_of(self, leg: _Leg) -> None:
        rest = leg.grid[len(leg.points) :]
        for point in READINGS[self.talk.profile.method](self.talk, rest):
            leg.points.append(point)
            if point.aside:
                self.aside.append(Aside(frequency=point.frequency, why=point.aside))
            else:
                self.watch(point)
            done = len(leg.points) / leg.grid.size
            text = f"{leg.label}: {len(leg.points)} of {leg.grid.size}"
            self.progress(text, leg.begun + leg.share * done)

    def _record(self) -> None:
        (record,) = record_of(self.talk, self.talk.plan.window, ("channel_1",))
        self.records = [
            replace(record, origin=self._origin("ring-down"), conditions=self._conditions())
        ]

    def _patiently(self, act: Callable[[], None]) -> None:
        """Do an act; after a broken link wait, open it anew, set up again, and go on.

        Points that came in between show that it was worth it: the count starts again.
        """
        failures = 0
        while True:
            done = self._done()
            try:
                if failures and self.talk.live:
                    self._prepare()
                act()
            except LinkError as cause:
                self.talk.link.close()
                failures = 1 if self._done() > done else failures + 1
                if failures > self.talk.plan.retries or cause.facts.get("final"):
                    raise
                self.broken = cause.message
                self.talk.wait(RETRY_SECONDS * 2**failures)
            else:
                return

    def _done(self) -> int:
        return sum(len(leg.points) for leg in self.legs)

    def _prepare(self) -> None:
        """Open the link, switch the output off, set everything, and only then switch it on."""
        talk = self.talk
        if not talk.link.is_open:
            talk.link.open()
        if self.broken:
            self.reconnections += 1
            self.notes.append(f"The link was taken up again after: {self.broken}")
            self.broken = ""
        talk.frequency = None  # what it was set to is not known any more
        talk.send("abort")
        talk.send("output_off")
        talk.send("start")
        _settings(talk)
        _refuse_errors(talk)
        talk.live = True
        talk.send("output_on")
        if talk.plan.bias:
            _ramp(talk, RAMP)
            _refuse_errors(talk)

    def _sweep(self, leg: _Leg) -> Sweep | None:
        good = sorted(
            (point for point in leg.points if not point.aside), key=lambda point: point.frequency
        )
        if not good:
            return None
        frequency = np.array([point.frequency for point in good])
        impedance = np.array([point.impedance for point in good])
        single = np.concatenate([[True], np.diff(frequency) > 0])
        label, marks = _marked(leg)
        return Sweep(
            frequency=frequency[single],
            impedance=impedance[single],
            noise=_noise(self.talk.profile),
            origin=self._origin(label),
            conditions=self._conditions(),
            history=marks,
        )

    def _origin(self, label: str) -> Origin:
        talk = self.talk
        return Origin(
            source=talk.link.identity or talk.link.address,
            reader=f"profile {talk.profile.source or talk.profile.title}",
            sha256=talk.digest.hexdigest(),
            taken=self.taken,
            label=label,
            part=talk.plan.part,
        )

    def _conditions(self) -> Conditions:
        plan = self.talk.plan
        stated = plan.conditions
        impedance = self.talk.profile.method.startswith("impedance")
        return replace(
            stated,
            level_volt=plan.level if impedance and plan.level else stated.level_volt,
            bias_volt=plan.bias if plan.bias is not None else stated.bias_volt,
        )


def _marked(leg: _Leg) -> tuple[str, tuple[Step, ...]]:
    """Give the label of a pass, and the step that marks it where it was broken off."""
    taken, wanted = len(leg.points), leg.grid.size
    if taken >= wanted:
        return leg.label, ()
    detail = f"broken off after {taken} of {wanted} points"
    return f"{leg.label}, partial", (Step(name=PARTIAL, detail=detail),)


def switch_off(link: Link, profile: Profile, bias: float | None = None) -> Ending:
    """Break off what runs, bring the bias to zero, switch the output off, and ask whether it is.

    Parameters
    ----------
    link : Link
        Opened if it is not, and closed at the end.
    profile : Profile
    bias : float, V, optional
        What was set last, so that it is brought down in steps.
    """
    plan = Plan(start=1.0, stop=2.0, bias=bias)
    return _leave(Talk(link=link, profile=profile, plan=plan, live=True))


def _settings(talk: Talk) -> None:
    plan = talk.plan
    for act, value in (("level", plan.level), ("averages", plan.averages)):
        if value is not None:
            talk.send(act, **{act: value})
    if plan.range_upper is None:
        talk.send("range_auto")
    else:
        talk.send("range_hold", range=plan.range_upper)


def _refuse_errors(talk: Talk) -> None:
    errors = _errors(talk)
    if errors:
        raise LinkError(
            f"{talk.link.address}: the instrument must accept the settings (got "
            f"{'; '.join(errors)}).",
            hint="Check the values, and that the profile suits the instrument.",
            final=all(re.match(r"[+-]?\d", error) for error in errors),
        )


def _errors(talk: Talk) -> list[str]:
    """Empty the instrument's error queue."""
    question = talk.profile.ask.get("error")
    found: list[str] = []
    while question is not None and len(found) < MOST_ERRORS:
        answer = talk.link.ask(question)
        if re.match(rf"[+]?{re.escape(talk.profile.no_error)}(?!\d)", answer):
            break
        found.append(answer)
    return found


def _noise(profile: Profile) -> Noise:
    if profile.method in {"reflection", "series-through", "shunt-through"}:
        return Noise(kind=profile.method, reference=profile.reference)
    return Noise()


def _find(coarse: Sweep, plan: Plan) -> Span | None:
    """Find f0 and Q of a resonance within the sweep; None where the data do not show one."""
    if coarse.frequency.size < FEWEST_TO_FIND:
        return None
    try:
        found = fit(coarse, "auto").estimates
    except FitError:
        return None
    f0, quality = found.get("f0"), found.get("Q")
    if f0 is None or quality is None or not plan.start < f0.value < plan.stop:
        return None
    return f0.value, quality.value


def _leave(talk: Talk) -> Ending:
    """Bring the bias to zero, switch the output off, and see whether it is.

    A stop must not stop this, and no answer is waited for as long as in a measurement.
    """
    link = talk.link
    before = link.cancelled, link.settings
    link.cancelled = never
    link.settings = replace(link.settings, timeout=min(link.settings.timeout, LEAVE_SECONDS))
    try:
        return _ending(talk)
    finally:
        link.close()
        link.cancelled, link.settings = before


def _ending(talk: Talk) -> Ending:
    link = talk.link
    output: State = "unknown"
    bias: State = "unknown" if talk.plan.bias else "off"
    warnings: list[str] = []
    for attempt in range(LEAVE_ATTEMPTS):
        try:
            if not link.is_open and talk.live:
                time.sleep(RETRY_SECONDS * attempt)
                link.open()
            if link.is_open:
                output, bias = _switch_off(talk)
                warnings = [f"The instrument reports: {error}" for error in _errors(talk)]
        except LinkError as cause:
            warnings = [f"Switching off failed: {cause.message}"]
        else:
            break
    if talk.live and output != "off":
        warnings.append(
            "It could not be confirmed that the output is off: switch it off at the instrument."
        )
    if talk.live and bias != "off":
        warnings.append(
            "The bias may still be on: do not disconnect the part; bring the bias to zero at the "
            "instrument and wait."
        )
    return Ending(output=output, bias=bias, warnings=tuple(warnings))


def _switch_off(talk: Talk) -> tuple[State, State]:
    talk.send("abort")
    biased = bool(talk.plan.bias) and talk.live
    if biased:
        _ramp(talk, (*reversed(RAMP[:-1]), 0.0))
    talk.send("output_off")
    return _is_off(talk, "output"), _is_off(talk, "bias") if biased else "off"


def _ramp(talk: Talk, shares: tuple[float, ...]) -> None:
    for share in shares:
        talk.send("bias", bias=(talk.plan.bias or 0.0) * share)
        time.sleep(RAMP_SECONDS)


def _is_off(talk: Talk, what: str) -> State:
    question = talk.profile.ask.get(what)
    if question is None:
        return "unknown"
    answer = talk.link.ask(question)
    if what == "output":
        return "off" if same(answer, talk.profile.off_answer) else "on"
    try:
        return "off" if abs(float(answer)) < ZERO_BIAS else "on"
    except ValueError:
        return "unknown"
